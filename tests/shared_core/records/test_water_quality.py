"""Water samples (E28 of the invented season: mS/cm typed for uS/cm)."""

import pytest

from shared_core.records.base import Severity
from tests.shared_core.records.swamp import BITTERN, Swamp


@pytest.fixture
def january(swamp: Swamp) -> Swamp:
    """V22: 451 uS/cm at 71.708 m, and the level of V24 a month later, 71.417 m."""
    swamp.write(
        swamp.gauge("SG1", "2024-01-16 10:10+11:00", 0.410),
        swamp.water("2024-01-16 10:12+11:00", ec_us_cm=451.0, water_c=27.0, oxygen_mg_l=4.6),
        swamp.gauge("SG1", "2024-02-16 10:00+11:00", 0.115, who=BITTERN),
    )
    return swamp


def test_millisiemens_are_offered_as_microsiemens(january: Swamp) -> None:
    alarm = january.the_alarm(january.water("2024-02-16 10:02+11:00", ec_us_cm=1.13))
    assert (alarm.code, alarm.suggests) == ("ec-unit", "1130")


def test_salt_left_behind_by_evaporation_is_no_alarm(january: Swamp) -> None:
    """1127 is 2.5 times 451, in 0.29 of the water: 0.73 of the salt is left (scenario 8)."""
    assert january.finds(january.water("2024-02-16 10:02+11:00", ec_us_cm=1127.0)) == []


def test_more_salt_than_there_was_is_asked_about(january: Swamp) -> None:
    alarm = january.the_alarm(january.water("2024-02-16 10:02+11:00", ec_us_cm=1900.0))
    assert alarm.code == "ec-change"
    assert "fall in volume does not account" in alarm.expected


def test_the_sample_after_a_unit_slip_is_judged_by_the_one_before(january: Swamp) -> None:
    january.write(january.water("2024-02-16 10:02+11:00", ec_us_cm=1.13))
    january.write(january.gauge("SG1", "2024-03-01 10:30+11:00", 0.005))
    assert january.finds(january.water("2024-03-01 10:32+11:00", ec_us_cm=2061.0)) == []


def test_low_oxygen_is_noted_and_very_low_oxygen_asks(swamp: Swamp) -> None:
    when = "2024-02-16 10:02+11:00"
    assert swamp.finds(swamp.water(when, oxygen_mg_l=4.1)) == []
    low = swamp.finds(swamp.water(when, oxygen_mg_l=3.8))
    assert [(f.code, f.severity) for f in low] == [("oxygen-low", Severity.NOTE)]
    alarm = swamp.the_alarm(swamp.water(when, oxygen_mg_l=1.8))
    assert alarm.code == "oxygen-very-low"
    assert "coordinator" in alarm.do


def test_more_oxygen_than_water_holds_is_asked_about(swamp: Swamp) -> None:
    """8.26 mg/L saturate fresh water at 25 degrees (check value of Benson and Krause)."""
    when = "2024-02-16 10:02+11:00"
    over = swamp.water(when, oxygen_mg_l=11.5, water_c=25.0)
    assert swamp.the_alarm(over).code == "oxygen-saturation"
    assert swamp.finds(swamp.water(when, oxygen_mg_l=9.0, water_c=25.0)) == []
    assert "oxygen-range" in swamp.codes(swamp.water(when, oxygen_mg_l=85.0))


def test_water_too_warm_to_be_water_here_is_asked_about(swamp: Swamp) -> None:
    assert swamp.the_alarm(swamp.water("2024-02-16 10:02+11:00", water_c=72.0)).code == (
        "water-temperature"
    )
