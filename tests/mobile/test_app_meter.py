from collections.abc import Callable
from typing import Any

import pytest

from shared_core.records.pump_meter import MeterReading
from tests.mobile import pilot
from tests.mobile.pilot import Pilot


def kept(driver: Pilot) -> Any:
    day = driver.app.tablet.day
    every = day.logbook.known().every(MeterReading, day.site)
    return [s.record for s in every if s.record.visit == day.visit]


@pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
def test_a_meter_is_read_by_touch_with_its_leading_zeros(
    drive: Callable[..., Pilot], size: tuple[int, int]
) -> None:
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="meter_reading M1"))
    driver.keys("0121")
    assert [wheel.figure for wheel in driver.all(kind="Wheel")] == ["0", "1", "2", "1", "", ""]
    driver.keys("40")
    assert "The face counts kL" in driver.texts()
    driver.tap(driver.find(name="rolled no"))
    driver.tap(driver.find(name="dial_moving yes"))
    keep = driver.find(name="keep")
    driver.tap(keep)
    if not kept(driver):
        driver.tap(keep)
    (reading,) = kept(driver)
    assert (reading.display, reading.rolled, reading.dial_moving) == ("012140", False, True)


def test_a_meter_has_no_point_on_its_keypad(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="meter_reading M1"))
    assert driver.all(name="key .") == []
    assert len(driver.all(kind="Rubout")) == 1
