"""Stories at the pump meter; figures, hours and dates from the invented season (E03 to E13)."""

from datetime import timedelta
from types import SimpleNamespace
from typing import cast

import pytest

from shared_core.records.base import Severity
from shared_core.records.meter_setup import MeterFitted, PumpedEstimate
from shared_core.records.plan import Licence
from shared_core.records.pump_meter_checks import Look
from shared_core.records.pump_meter_words import slipped
from shared_core.slips import Slip
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at, meter_m1


@pytest.fixture
def august(swamp: Swamp) -> Swamp:
    swamp.pump_log((10, "932080", 4427.2), (11, "944300", 4450.7))
    return swamp


def _m2(**more: object) -> MeterFitted:
    return meter_m1(
        meter="M2",
        serial="LR-31108",
        multiplier=10.0,
        valid_from=at("2023-10-22 10:00+11:00"),
        start_display="000012",
        replaces="M1",
    ).changed(**more)


# E03 ---------------------------------------------------------------------------------------------


def test_swapped_figures_of_a_meter_are_turned_back(august: Swamp) -> None:
    alarm = august.the_alarm(august.meter("M1", "2023-08-12 09:00+10:00", "965520"))
    assert (alarm.code, alarm.severity) == ("digit-swap", Severity.STOP)
    assert alarm.suggests == "956520"
    assert "21.22 ML" in alarm.saw
    assert august.finds(august.meter("M1", "2023-08-12 09:00+10:00", "956520")) == []


def test_the_day_after_swapped_figures_is_not_blamed_for_them(august: Swamp) -> None:
    august.pump_log((12, "965520", 4474.2))
    august.write(august.hours("2023-08-13 09:03+10:00", 4497.7))
    found = august.finds(august.meter("M1", "2023-08-13 09:00+10:00", "968740"))
    assert [(f.code, f.severity) for f in found] == [("last-figures-odd", Severity.NOTE)]
    assert "965520 of 12 August" in found[0].saw


def test_more_than_the_licence_allows_in_a_day_is_a_matter_for_the_coordinator(
    swamp: Swamp,
) -> None:
    swamp.write(Licence(site=SITE, valid_from=JULY, licence="WL-1", daily_limit_megalitres=12.0))
    swamp.pump_log((10, "932080", 4427.2))
    alarm = swamp.the_alarm(swamp.meter("M1", "2023-08-11 09:00+10:00", "944300"))
    assert alarm.code == "daily-volume"
    assert "may exceed the daily limit of 12 ML on licence WL-1" in alarm.expected


# E04 ---------------------------------------------------------------------------------------------


@pytest.fixture
def before_rollover(swamp: Swamp) -> Swamp:
    swamp.pump_log((16, "985900", 4530.7), (17, "998120", 4554.2))
    return swamp


def test_a_rollover_that_fits_asks_to_be_confirmed_and_refuses_nothing(
    before_rollover: Swamp,
) -> None:
    alarm = before_rollover.the_alarm(
        before_rollover.meter("M1", "2023-08-18 09:00+10:00", "010340")
    )
    assert (alarm.code, alarm.severity) == ("meter-rolled", Severity.ASK)
    assert (alarm.field, alarm.suggests) == ("rolled", "yes")
    assert "12.22 ML" in alarm.expected


def test_a_confirmed_rollover_is_a_quiet_note(before_rollover: Swamp) -> None:
    rolled = before_rollover.meter("M1", "2023-08-18 09:00+10:00", "010340", rolled=True)
    found = before_rollover.finds(rolled)
    assert [(f.code, f.severity) for f in found] == [("meter-rolled", Severity.NOTE)]
    told = before_rollover.told(rolled)
    assert told["Pumped since last reading"].value == pytest.approx(12_220)


def test_figures_that_fall_without_passing_zero_ask_for_a_change_of_meter(
    before_rollover: Swamp,
) -> None:
    alarm = before_rollover.the_alarm(
        before_rollover.meter("M1", "2023-08-18 09:00+10:00", "700000")
    )
    assert alarm.code == "meter-changed"
    assert "passed zero" not in alarm.expected


# E05 ---------------------------------------------------------------------------------------------


def test_a_gap_in_the_log_costs_nothing_and_is_noted(swamp: Swamp) -> None:
    swamp.pump_log((22, "055320", 4664.2), (23, "067540", 4687.7))
    swamp.write(swamp.hours("2023-08-27 09:03+10:00", 4781.7))
    after = swamp.meter("M1", "2023-08-27 09:00+10:00", "116420")
    found = swamp.finds(after)
    assert [(f.code, f.severity) for f in found] == [("log-gap", Severity.NOTE)]
    assert swamp.told(after)["Pumped since last reading"].value == pytest.approx(48_880)


def test_a_gap_with_the_pump_off_is_no_gap(swamp: Swamp) -> None:
    swamp.pump_log((29, "140860", 4828.7), (30, "146060", 4838.7))
    swamp.write(swamp.hours("2023-10-17 10:03+11:00", 4838.7))
    assert swamp.finds(swamp.meter("M1", "2023-10-17 10:00+11:00", "146060")) == []


# E11 ---------------------------------------------------------------------------------------------


@pytest.fixture
def stuck(swamp: Swamp) -> Swamp:
    swamp.write(
        swamp.meter("M1", "2023-10-19 10:00+11:00", "169200"),
        swamp.meter("M1", "2023-10-20 10:00+11:00", "181420"),
        swamp.hours("2023-10-19 10:03+11:00", 4883.2),
        swamp.hours("2023-10-20 10:03+11:00", 4906.7),
        swamp.hours("2023-10-21 10:03+11:00", 4930.2),
    )
    return swamp


def test_a_meter_that_stands_still_while_the_pump_runs_stops(stuck: Swamp) -> None:
    alarm = stuck.the_alarm(stuck.meter("M1", "2023-10-21 10:00+11:00", "181420"))
    assert (alarm.code, alarm.severity) == ("meter-flat", Severity.STOP)
    assert alarm.effect_megalitres == pytest.approx(-12.22)
    assert stuck.alarms(stuck.meter("M1", "2023-10-21 10:00+11:00", "193640")) == []


def test_a_written_estimate_answers_for_a_meter_that_stood_still(stuck: Swamp) -> None:
    stuck.write(
        PumpedEstimate(
            site=SITE,
            valid_from=at("2023-10-20 10:00+11:00"),
            meter="M1",
            until=at("2023-10-22 10:00+11:00"),
            hours=35.5,
            rate_megalitres_per_hour=0.52,
            basis="hour meter times measured rate",
        )
    )
    assert stuck.alarms(stuck.meter("M1", "2023-10-21 10:00+11:00", "181420")) == []


# E12, E13 ----------------------------------------------------------------------------------------


def test_a_count_worth_ten_is_seen_against_the_hours(swamp: Swamp) -> None:
    swamp.write(_m2(multiplier=1.0))
    swamp.write(
        swamp.hours("2023-10-22 10:03+11:00", 4942.2), swamp.hours("2023-10-23 10:03+11:00", 4965.7)
    )
    alarm = swamp.the_alarm(swamp.meter("M2", "2023-10-23 10:00+11:00", "001234"))
    assert (alarm.code, alarm.severity) == ("unit-times-ten", Severity.STOP)
    assert "10 times" in alarm.expected
    assert alarm.effect_megalitres == pytest.approx(-11.0, abs=0.01)


def test_figures_left_out_in_front_are_noted(swamp: Swamp) -> None:
    swamp.write(_m2())
    swamp.write(
        swamp.hours("2023-10-22 10:03+11:00", 4942.2), swamp.hours("2023-10-23 10:03+11:00", 4965.7)
    )
    found = swamp.finds(swamp.meter("M2", "2023-10-23 10:00+11:00", "1234"))
    assert [(f.code, f.severity, f.suggests) for f in found] == [
        ("figures-count", Severity.NOTE, "001234")
    ]
    assert swamp.finds(swamp.meter("M2", "2023-10-23 10:00+11:00", "001234")) == []


def test_a_new_meter_without_its_first_figures_is_asked_about(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(_m2(start_display=None))
    assert (alarm.code, alarm.field) == ("meter-start-missing", "start_display")
    assert "meter-final-missing" in swamp.codes(_m2(start_display=None))


def test_a_change_of_meter_with_both_figures_raises_nothing(swamp: Swamp) -> None:
    swamp.write(meter_m1(removed_at=at("2023-10-22 10:00+11:00"), final_display="181420"))
    assert swamp.finds(_m2()) == []


def test_two_meters_are_never_differenced(swamp: Swamp) -> None:
    swamp.write(_m2(start_display=None))
    swamp.write(swamp.meter("M1", "2023-10-22 09:30+11:00", "181420"))
    first = swamp.meter("M2", "2023-10-22 10:24+11:00", "000012")
    assert [(f.code, f.severity) for f in swamp.finds(first)] == [("meter-no-start", Severity.NOTE)]
    assert "Pumped since last reading" not in swamp.told(first)


def test_an_unknown_meter_is_asked_about(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(swamp.meter("M9", "2023-08-12 09:00+10:00", "1"))
    assert alarm.code == "meter-unknown"


def test_too_many_figures_are_asked_about(august: Swamp) -> None:
    alarm = august.the_alarm(august.meter("M1", "2023-08-12 09:00+10:00", "9565200"))
    assert alarm.field == "display"


# answers -----------------------------------------------------------------------------------------


def test_a_reading_tells_volume_rate_and_share_used(august: Swamp) -> None:
    august.write(august.hours("2023-08-12 09:03+10:00", 4474.2))
    told = august.told(august.meter("M1", "2023-08-12 09:00+10:00", "956520"))
    assert told["Pumped since last reading"].value == pytest.approx(12_220)
    assert told["Rate"].value == pytest.approx(0.52)
    # 956520 - 871240 kL since the start, of 400 ML
    assert told["Used of EW-LRS-2324"].value == pytest.approx(85.28 / 400)


def test_most_of_the_water_used_is_noted_and_then_asked_about(swamp: Swamp) -> None:
    start = at("2023-08-05 09:00+10:00")
    for share, severity in ((0.85, Severity.NOTE), (0.97, Severity.ASK)):
        counts = 871240 + int(share * 400_000)
        when = start + timedelta(days=60)
        reading = swamp.meter("M1", when.isoformat(), f"{counts % 1_000_000:06d}", rolled=True)
        used = [f for f in swamp.finds(reading) if f.code == "used-up"]
        assert [f.severity for f in used] == [severity]


def test_a_slip_of_a_pump_without_a_rate_reads_as_whole_sentences(swamp: Swamp) -> None:
    look = cast("Look", SimpleNamespace(rate=None, volume_m3=None))
    slip = Slip(code="meter-rolled", says="the meter passed 999999", suggests="yes", fit=1.0)
    says = slipped(swamp.meter("M1", "2023-08-17 12:00+10:00", "0121"), look, slip).says
    assert says.startswith("0121 does not fit. The meter passed 999999. Read the figures")
