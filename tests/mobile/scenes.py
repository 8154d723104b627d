"""The situations in which every screen is looked at and measured."""

from tests.mobile.own_scenes import OWN_SCENES
from tests.mobile.pilot import Pilot
from tests.mobile.record_scenes import RECORD_SCENES
from tests.mobile.visit_scenes import VISIT_SCENES, many_sites
from tests.mobile.walk_scenes import WALK_SCENES


def start_afresh(driver: Pilot) -> None:
    """Go to the practice site's home screen with nothing half-typed."""
    tablet = driver.app.tablet
    for name in tablet.logbook.drafts():
        tablet.logbook.drop_draft(name)
    if not tablet.practice:
        driver.app.turn(on=True)
    driver.app.router.start("home")
    driver.frames(4)


def home(driver: Pilot) -> None:
    """The practice site on the home screen."""


def empty(driver: Pilot) -> None:
    """No site yet."""
    driver.tap(driver.find(name="practice"))


def site(driver: Pilot) -> None:
    driver.tap(driver.find(name="site PRA"))


def leaving_out(driver: Pilot) -> None:
    site(driver)
    driver.tap(driver.find(name="leave out rain_reading R1"))


def gauge(driver: Pilot, keys: str = "") -> None:
    site(driver)
    driver.tap(driver.find(name="gauge_reading G1"))
    driver.keys(keys)
    driver.wait(0.5)


def gauge_good(driver: Pilot) -> None:
    gauge(driver, ".42")


def gauge_finding(driver: Pilot) -> None:
    gauge(driver, ".92")


def gauge_asking(driver: Pilot) -> None:
    gauge(driver, ".92")
    driver.tap(driver.find(name="keep"))


def gauge_over(driver: Pilot) -> None:
    gauge(driver, "4.2")


def gauge_not_read(driver: Pilot) -> None:
    gauge(driver)
    driver.tap(driver.find(name="state not_read"))


def gauge_dry(driver: Pilot) -> None:
    gauge(driver)
    driver.tap(driver.find(name="state dry"))
    driver.wait(0.5)


def meter(driver: Pilot, keys: str = "0121") -> None:
    site(driver)
    driver.tap(driver.find(name="meter_reading M1"))
    driver.keys(keys)


def meter_full(driver: Pilot) -> None:
    meter(driver, "012140")


def form(driver: Pilot) -> None:
    site(driver)
    driver.tap(driver.find(name="rain_reading R1"))
    driver.tap(driver.find(name="box rain_mm"))
    driver.keys("12.5")


def form_finding(driver: Pilot) -> None:
    site(driver)
    driver.tap(driver.find(name="water_sample site"))
    driver.tap(driver.find(name="box ph"))
    driver.keys("71")


def enrol(driver: Pilot) -> None:
    driver.tap(driver.find(name="practice"))
    driver.tap(driver.find(name="enrol"))


def news(driver: Pilot) -> None:
    driver.tap(driver.find(name="news"))


SCENES = {
    scene.__name__: scene
    for scene in (
        home, empty, site, leaving_out, gauge, gauge_good, gauge_finding, gauge_asking, gauge_over,
        gauge_not_read, gauge_dry, meter, meter_full, form, form_finding, enrol, news,
        *VISIT_SCENES, *OWN_SCENES, *WALK_SCENES, *RECORD_SCENES,
        many_sites,  # last: its sites stay
    )
}  # fmt: skip
