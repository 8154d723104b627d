"""The level logger (E22 of the invented season: set anew before the check was noted)."""

from datetime import timedelta

import pytest

from shared_core.records.base import Severity
from shared_core.records.logger_check import LoggerSeries
from tests.shared_core.records.swamp import SITE, Swamp, at


@pytest.fixture
def drifting(swamp: Swamp) -> Swamp:
    """Logger minus staff +29 mm in December, +37 mm in January."""
    swamp.write(swamp.logger("2023-12-11 10:32+11:00", 72.049, 72.020))
    swamp.write(swamp.logger("2024-01-16 10:22+11:00", 71.745, 71.708))
    return swamp


def test_a_blank_check_is_asked_about(drifting: Swamp) -> None:
    alarm = drifting.the_alarm(drifting.logger("2024-02-16 10:12+11:00", None, 71.417))
    assert (alarm.code, alarm.field) == ("logger-blank", "logged_level_m")


def test_a_drift_that_goes_on_is_a_note(drifting: Swamp) -> None:
    found = drifting.finds(drifting.logger("2024-02-16 10:12+11:00", 71.461, 71.417))
    assert [(f.code, f.severity) for f in found] == [("logger-off", Severity.NOTE)]


def test_a_difference_gone_at_once_means_set_anew(drifting: Swamp) -> None:
    alarm = drifting.the_alarm(drifting.logger("2024-02-16 10:12+11:00", 71.417, 71.417))
    assert (alarm.code, alarm.suggests) == ("logger-set-anew", "yes")


def test_the_first_large_difference_asks(swamp: Swamp) -> None:
    when = "2023-08-11 11:42+10:00"
    assert swamp.finds(swamp.logger(when, 71.709, 71.700)) == []
    noted = swamp.finds(swamp.logger(when, 71.715, 71.700))
    assert [f.severity for f in noted] == [Severity.NOTE]
    assert swamp.the_alarm(swamp.logger(when, 71.725, 71.700)).code == "logger-off"


def test_a_clock_off_by_more_than_two_minutes_is_noted(swamp: Swamp) -> None:
    off = swamp.logger("2023-08-11 11:42+10:00", 71.700, 71.700, clock_difference_s=-300.0)
    assert swamp.codes(off) == {"logger-clock"}


def _series(step_m: float) -> LoggerSeries:
    """Return two days of hourly depths, falling 8 mm a day, with a step at 10:10."""
    start = at("2024-02-15 10:10+11:00")
    values = tuple(
        (start + timedelta(hours=hour), 0.35 - hour / 3000 + (step_m if hour >= 24 else 0.0))
        for hour in range(48)
    )
    return LoggerSeries(site=SITE, valid_from=start, logger="PT1", file_sha256="0", values=values)


def test_a_step_in_the_series_is_dated(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(_series(-0.044))
    assert alarm.code == "logger-step"
    assert "-44 mm at 2024-02-15 23:10 UTC" in alarm.saw
    assert swamp.finds(_series(0.0)) == []
