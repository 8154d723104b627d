"""The daily truth against its own period tables."""

from datetime import date, datetime, timedelta

import pytest

from demo_visits.scenario import DAYLIGHT, STANDARD
from demo_visits.truth import (
    EXPECTED_PERIODS,
    EXPECTED_SEASON,
    TRUE_PERIODS,
    TRUE_SEASON,
    ExpectedPeriod,
    TruePeriod,
    TruthDay,
    level_at,
    truth_days,
)
from demo_visits.visits import VISITS, Visit


def days_of(period: TruePeriod) -> list[TruthDay]:
    return [row for row in truth_days() if period.start < row.day <= period.end]


@pytest.mark.parametrize("period", TRUE_PERIODS, ids=lambda period: period.name)
def test_a_periods_terms_are_the_sums_of_its_days(period: TruePeriod) -> None:
    days = days_of(period)
    half_a_cent = 0.005 * len(days) + 0.006  # each day is rounded to 0.01 ML
    assert sum(day.pumped_megalitres for day in days) == pytest.approx(
        period.pumped, abs=half_a_cent
    )
    assert sum(day.evaporation_megalitres for day in days) == pytest.approx(
        period.evaporation, abs=half_a_cent
    )
    assert sum(day.seepage_megalitres for day in days) == pytest.approx(
        period.seepage, abs=half_a_cent
    )
    assert sum(day.uptake_megalitres for day in days) == pytest.approx(
        period.uptake, abs=half_a_cent
    )


@pytest.mark.parametrize("period", TRUE_PERIODS, ids=lambda period: period.name)
def test_water_in_less_water_out_is_what_the_store_gained(period: TruePeriod) -> None:
    gained = period.pumped + period.rain + period.run_off
    lost = period.evaporation + period.seepage + period.uptake
    assert gained - lost == pytest.approx(period.storage_change, abs=0.1)
    volumes = {row.day: row.volume_megalitres for row in truth_days()}
    stored = volumes[period.end] - volumes[period.start]
    assert stored == pytest.approx(period.storage_change, abs=0.06)


@pytest.mark.parametrize("period", EXPECTED_PERIODS, ids=lambda period: period.name)
def test_an_expected_residual_closes_its_line(period: ExpectedPeriod) -> None:
    residual = period.pumped + period.rain - period.evaporation - period.storage_change
    assert residual == pytest.approx(period.residual, abs=0.1)


def test_the_seasons_lines_are_the_sums_of_the_periods() -> None:
    assert sum(period.pumped for period in TRUE_PERIODS) == pytest.approx(TRUE_SEASON.pumped)
    assert sum(period.evaporation for period in TRUE_PERIODS) == pytest.approx(226.70, abs=0.011)
    assert sum(period.residual for period in EXPECTED_PERIODS) == pytest.approx(
        EXPECTED_SEASON.residual, abs=0.15
    )
    assert EXPECTED_SEASON.metered + EXPECTED_SEASON.estimated == pytest.approx(
        EXPECTED_SEASON.pumped
    )


def test_the_level_is_none_before_the_first_day_and_once_dry() -> None:
    assert level_at(datetime(2023, 8, 5, 12, tzinfo=STANDARD)) is None
    assert level_at(datetime(2023, 8, 6, 9, tzinfo=STANDARD)) == 71.273
    assert level_at(datetime(2024, 3, 30, 10, tzinfo=DAYLIGHT)) is None


def test_the_level_between_two_mornings_lies_on_a_straight_line() -> None:
    noon = datetime(2023, 8, 7, 21, tzinfo=STANDARD)  # half-way from 71.386 to 71.478
    assert level_at(noon) == pytest.approx((71.386 + 71.478) / 2)
    assert level_at(noon.astimezone(DAYLIGHT)) == level_at(noon)


@pytest.mark.parametrize("visit", VISITS, ids=lambda visit: visit.name)
def test_a_visits_level_is_the_true_level_of_its_hour(visit: Visit) -> None:
    level_m = level_at(visit.start)
    if visit.level_m is None:
        assert level_m is None
    else:
        assert level_m == pytest.approx(visit.level_m, abs=0.0015)


def test_no_day_is_missing() -> None:
    days = [row.day for row in truth_days()]
    assert days == [date(2023, 8, 5) + timedelta(days=number) for number in range(240)]
