"""Pump hours beside the clock and the meter; figures from the invented season (E06, E11)."""

import pytest

from shared_core.records.base import Severity
from shared_core.records.meter_setup import Pump
from shared_core.records.plan import Licence
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at


@pytest.fixture
def august(swamp: Swamp) -> Swamp:
    swamp.pump_log((13, "968740", 4497.7), (14, "980960", 4521.2))
    swamp.write(swamp.meter("M1", "2023-08-15 09:00+10:00", "985900"))
    return swamp


def test_hours_typed_as_usual_show_too_little_water(august: Swamp) -> None:
    alarm = august.the_alarm(august.hours("2023-08-15 09:03+10:00", 4544.7))
    assert alarm.code == "hours-without-water"
    assert "0.21 ML/h" in alarm.saw
    assert august.finds(august.hours("2023-08-15 09:03+10:00", 4530.7)) == []


def test_the_day_after_wrong_hours_is_not_blamed_for_them(august: Swamp) -> None:
    august.write(august.hours("2023-08-15 09:03+10:00", 4544.7))
    found = august.finds(august.hours("2023-08-16 09:03+10:00", 4530.7))
    assert [(f.code, f.severity) for f in found] == [("last-hours-odd", Severity.NOTE)]


def test_hours_with_a_meter_that_stood_still_ask(swamp: Swamp) -> None:
    for day, hours in ((20, 4906.7), (21, 4930.2)):
        swamp.write(swamp.meter("M1", f"2023-10-{day} 10:00+11:00", "181420"))
        if day == 20:
            swamp.write(swamp.hours(f"2023-10-{day} 10:03+11:00", hours))
    alarm = swamp.the_alarm(swamp.hours("2023-10-21 10:03+11:00", 4930.2))
    assert alarm.code == "hours-without-water"


def test_more_hours_than_the_clock_stop(august: Swamp) -> None:
    alarm = august.the_alarm(august.hours("2023-08-15 09:03+10:00", 4547.0))
    assert (alarm.code, alarm.severity) == ("hours-too-many", Severity.STOP)
    assert "24.0 h have gone by" in alarm.expected


def test_an_hour_meter_that_falls_stops(august: Swamp) -> None:
    alarm = august.the_alarm(august.hours("2023-08-15 09:03+10:00", 4430.7))
    assert (alarm.code, alarm.severity) == ("hours-fall", Severity.STOP)


def test_a_river_below_the_licence_is_a_matter_for_the_coordinator(august: Swamp) -> None:
    licence = Licence(site=SITE, valid_from=JULY, licence="WL-0417", river_at_least_m=1.20)
    august.write(licence)
    low = august.hours("2023-08-15 09:03+10:00", 4530.7, river_level_m=1.15)
    assert august.the_alarm(low).code == "river-low"
    high = august.hours("2023-08-15 09:03+10:00", 4530.7, river_level_m=1.25)
    assert august.finds(high) == []


def test_fuel_out_of_all_proportion_is_noted(august: Swamp) -> None:
    """6 m of head takes 6.5 L/ML (computed); 4.94 ML takes 32 L."""
    august.write(
        Pump(
            site=SITE,
            valid_from=JULY,
            pump="PU1",
            nameplate_megalitres_per_hour=0.55,
            measured_megalitres_per_hour=0.52,
            head_m=6.0,
        )
    )
    usual = august.hours("2023-08-15 09:03+10:00", 4530.7, fuel_litres=32.0)
    assert august.finds(usual) == []
    much = august.hours("2023-08-15 09:03+10:00", 4530.7, fuel_litres=90.0)
    assert august.codes(much) == {"fuel"}


def test_a_stop_before_the_start_is_asked_about(swamp: Swamp) -> None:
    times = {"started": at("2023-08-15 19:00+10:00"), "stopped": at("2023-08-15 07:00+10:00")}
    assert swamp.the_alarm(swamp.hours("2023-08-15 20:00+10:00", None, **times)).code == (
        "stop-before-start"
    )
    assert swamp.the_alarm(swamp.hours("2023-08-15 20:00+10:00", None)).code == "no-hours"


def test_hours_tell_how_long_the_pump_ran(august: Swamp) -> None:
    told = august.told(august.hours("2023-08-15 09:03+10:00", 4530.7))
    assert told["Pumped since last look"].value == pytest.approx(9.5)
