"""The landholder's page, histories, settings and the page about the app."""

from typing import Final

from tests.mobile.pilot import Pilot

SITE: Final = "PRA"


def landholder(driver: Pilot, keys: str = "0121") -> None:
    driver.app.router.go("landholder", site=SITE)
    driver.frames(4)
    driver.keys(keys)


def landholder_told(driver: Pilot) -> None:
    """Volume since last time, and something to look at."""
    landholder(driver, "012140")
    driver.tap(driver.find(name="log rain_reading R1"))
    driver.keys("412")


def landholder_asking(driver: Pilot) -> None:
    landholder_told(driver)
    driver.tap(driver.find(name="keep"))


def landholder_no_number(driver: Pilot) -> None:
    landholder(driver, "")
    driver.tap(driver.find(name="log gauge_reading G1"))
    driver.tap(driver.find(name="key none"))


def landholder_photo(driver: Pilot) -> None:
    landholder(driver)
    driver.tap(driver.find(name="photo meter_reading M1"))


def landholder_kept(driver: Pilot) -> None:
    landholder(driver, "012140")
    driver.tap(driver.find(name="keep"))


def own(driver: Pilot) -> None:
    landholder_kept(driver)
    driver.app.router.go("own")


def history(driver: Pilot) -> None:
    """A record that was corrected once."""
    own(driver)
    driver.frames(2)
    rows = [row for row in driver.all(kind="RowKey") if row.title.startswith("Pump meter")]
    record = rows[0].test_id.removeprefix("own ")
    draft = driver.app.tablet.day.correct(record)
    draft.type("display", "012104")
    draft.save(reason="I typed it wrong")
    driver.tap(rows[0])


def history_changing(driver: Pilot) -> None:
    history(driver)
    driver.tap(driver.find(name="change"))
    driver.tap(driver.find(text="I read it again"))


def settings(driver: Pilot) -> None:
    driver.tap(driver.find(name="settings"))


def about(driver: Pilot) -> None:
    driver.tap(driver.find(name="about"))


def about_checked(driver: Pilot) -> None:
    about(driver)
    driver.tap(driver.find(name="check"))
    driver.until(lambda: any("Whole:" in text for text in driver.texts()))


OWN_SCENES = (
    landholder, landholder_told, landholder_asking, landholder_no_number, landholder_photo,
    landholder_kept, own, history, history_changing, settings, about, about_checked,
)  # fmt: skip
