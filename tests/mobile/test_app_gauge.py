from collections.abc import Callable
from typing import Any

import pytest

from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_setup import RatingTable
from tests.mobile import pilot
from tests.mobile.pilot import Pilot

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])


def kept(driver: Pilot) -> Any:
    """Return the gauge readings written on this visit, oldest first."""
    day = driver.app.tablet.day
    every = day.logbook.known().every(GaugeReading, day.site)
    return [s.record for s in every if s.record.visit == day.visit]


def to_the_gauge(driver: Pilot) -> None:
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="gauge_reading G1"))


@BOTH
def test_a_reading_takes_five_touches_and_the_volume_appears(
    drive: Callable[..., Pilot], size: tuple[int, int]
) -> None:
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    touches = ["gauge_reading G1", "key .", "key 4", "key 2", "keep"]
    for name in touches[:-1]:
        driver.tap(driver.find(name=name))
    table = driver.app.tablet.logbook.known().every(RatingTable)[0].record
    volume = f"{table.rating.volume_at(50.42) / 1000:.2f}"
    assert driver.find(text="Volume")
    assert driver.find(text=volume)
    assert driver.find(name="keep").text == "Keep 0.42 m"
    driver.tap(driver.find(name=touches[-1]))
    assert [reading.stage_m for reading in kept(driver)] == [0.42]
    assert driver.app.router.current == "site"
    assert "To do today: 1 of 6" in driver.texts()


@BOTH
def test_the_drawn_staff_follows_the_number(
    drive: Callable[..., Pilot], size: tuple[int, int]
) -> None:
    driver = drive(size)
    to_the_gauge(driver)
    driver.keys(".42")
    driver.wait(0.5)
    assert driver.find(kind="Staff").level == pytest.approx(0.42)


@BOTH
def test_the_button_asks_to_look_again_and_the_second_touch_keeps(
    drive: Callable[..., Pilot], size: tuple[int, int]
) -> None:
    driver = drive(size)
    to_the_gauge(driver)
    driver.keys("4.2")
    keep = driver.find(name="keep")
    assert (keep.text, keep.tone) == ("Look again: 4.20 m", "look")
    driver.tap(keep)
    assert keep.text == "Seen twice: keep 4.20 m"
    assert kept(driver) == []
    driver.tap(driver.find(text="Photo taken"))
    driver.tap(keep)
    (reading,) = kept(driver)
    assert reading.stage_m == 4.2


def test_the_figures_can_be_typed_again_after_looking(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    to_the_gauge(driver)
    driver.keys("4.2")
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(text="Type it again"))
    driver.keys("<<<.42")
    assert driver.find(name="keep").text == "Keep 0.42 m"


@BOTH
def test_not_read_is_as_easy_to_touch_as_a_number(
    drive: Callable[..., Pilot], size: tuple[int, int]
) -> None:
    driver = drive(size)
    to_the_gauge(driver)
    driver.tap(driver.find(name="state not_read"))
    driver.tap(driver.find(text="Danger at the edge"))
    keep = driver.find(name="keep")
    driver.tap(keep)
    if not kept(driver):
        driver.tap(keep)
    (reading,) = kept(driver)
    assert (reading.state, reading.not_read_because) == ("not_read", "Danger at the edge")


def test_turning_the_tablet_keeps_what_is_typed(drive: Callable[..., Pilot]) -> None:
    driver = drive(pilot.WIDE)
    to_the_gauge(driver)
    driver.keys(".42")
    driver.turn(pilot.TALL)
    assert driver.find(name="keep").text == "Keep 0.42 m"
    assert len(driver.all(name="keep")) == 1
    driver.turn(pilot.WIDE)
    driver.tap(driver.find(name="keep"))
    assert [reading.stage_m for reading in kept(driver)] == [0.42]


def test_a_long_press_on_the_rubout_clears(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    to_the_gauge(driver)
    driver.keys("0.42")
    driver.tap(driver.find(name="rubout"), hold_s=0.8)
    assert driver.find(name="keep").text == "Type the reading"


def test_a_key_held_down_repeats(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    to_the_gauge(driver)
    driver.keys(".42")
    driver.tap(driver.find(text="+1 cm"), hold_s=0.6 + 0.12 * 3 + 0.05)
    assert driver.find(name="keep").text.endswith("0.47 m")


def test_back_leaves_the_draft_and_the_site_says_so(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    to_the_gauge(driver)
    driver.keys(".4")
    driver.press(27)
    assert driver.app.router.current == "site"
    assert "Begun, not kept yet" in driver.texts()


def test_the_rest_of_the_reading_is_one_touch_away(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    to_the_gauge(driver)
    driver.keys(".42")
    driver.tap(driver.find(name="more"))
    driver.tap(driver.find(name="waves ripples"))
    driver.tap(driver.find(name="keep"))
    (reading,) = kept(driver)
    assert (reading.stage_m, reading.waves) == (0.42, "ripples")
