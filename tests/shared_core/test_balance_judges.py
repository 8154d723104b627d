"""The balance against the invented season's published table, a second computation and chance."""

import itertools
import math
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from demo_visits.truth import EXPECTED_PERIODS, EXPECTED_SEASON, ExpectedPeriod
from shared_core.balance import Balance, SeasonBalance, period_balance, season_balance
from shared_core.units import MM_PER_M, megalitres
from tests.shared_core.seasons import (
    CUTS,
    END,
    START,
    daily_levels,
    morning,
    season_inputs,
    season_pumped,
    season_rating,
)

Numbers = NDArray[np.float64]
DAY = timedelta(days=1)
MINUTES = st.integers(1, int((END - START) / timedelta(minutes=1)) - 1)


@pytest.fixture(scope="module")
def season() -> SeasonBalance:
    return season_balance(season_inputs(), CUTS, END)


# --- the season of the scenario, section 4, second table ---


@pytest.mark.parametrize("number", range(8), ids=[p.name for p in EXPECTED_PERIODS])
def test_a_period_of_the_season_reproduces_the_published_table(
    season: SeasonBalance, number: int
) -> None:
    found, expected = season.periods[number], EXPECTED_PERIODS[number]
    assert found.name == expected.name
    assert found.pumped.megalitres == pytest.approx(expected.pumped, abs=0.005)
    assert found.rain.megalitres == pytest.approx(expected.rain, abs=0.02)
    assert found.evaporation.megalitres == pytest.approx(expected.evaporation, abs=0.02)
    assert found.storage_change.megalitres == pytest.approx(expected.storage_change, abs=0.1)
    assert found.residual.megalitres == pytest.approx(expected.residual, abs=0.1)
    assert found.residual.sd_megalitres == pytest.approx(expected.residual_sd, abs=0.1)
    assert _ends(found) == _expected_ends(expected)
    rate = found.rate_mm_day
    assert rate is not None
    assert rate.value == pytest.approx(expected.residual_mm_day, abs=0.06)
    assert rate.sd == pytest.approx(expected.residual_mm_day_sd, abs=0.06)


def _ends(found: Balance) -> tuple[float | None, float | None]:
    return found.start_level_m, found.end_level_m


def _expected_ends(expected: ExpectedPeriod) -> tuple[float | None, float | None]:
    return expected.start_level_m, expected.end_level_m


def test_the_season_reproduces_the_published_line(season: SeasonBalance) -> None:
    whole, expected = season.season, EXPECTED_SEASON
    assert whole.pumped.megalitres == pytest.approx(expected.pumped, abs=0.005)
    assert megalitres(whole.metered_m3) == pytest.approx(expected.metered, abs=0.005)
    assert megalitres(whole.estimated_m3) == pytest.approx(expected.estimated, abs=0.005)
    assert whole.rain.megalitres == pytest.approx(expected.rain, abs=0.05)
    assert whole.evaporation.megalitres == pytest.approx(expected.evaporation, abs=0.1)
    assert whole.storage_change.megalitres == pytest.approx(0.0, abs=1e-9)
    assert whole.residual.megalitres == pytest.approx(expected.residual, abs=0.2)
    assert whole.residual.sd_megalitres == pytest.approx(expected.residual_sd, abs=0.5)


def test_periods_as_if_independent_would_state_too_little(season: SeasonBalance) -> None:
    # scenario 4: "Summing the periods as if independent gives 15 ML, which is too small."
    assert season.sd_as_if_independent_megalitres() == pytest.approx(15.4, abs=0.1)
    assert season.sd_as_if_independent_megalitres() < season.season.residual.sd_megalitres


def test_the_shares_are_those_published_and_add_to_a_hundred(season: SeasonBalance) -> None:
    shares = season.shares()
    assert shares["pumped"] == pytest.approx(EXPECTED_SEASON.pumped_percent, abs=0.05)
    assert shares["rain"] == pytest.approx(EXPECTED_SEASON.rain_percent, abs=0.05)
    assert shares["evaporation"] == pytest.approx(EXPECTED_SEASON.evaporation_percent, abs=0.05)
    assert shares["residual"] == pytest.approx(EXPECTED_SEASON.residual_percent, abs=0.05)
    assert shares["pumped"] + shares["rain"] == pytest.approx(100.0)
    out = shares["evaporation"] + shares["residual"] + shares["storage_change"]
    assert out == pytest.approx(100.0)


def test_first_wetting_takes_about_158_mm(season: SeasonBalance) -> None:
    # scenario 4: (58.1 - 2.5 mm/day x 19.3 ha x 25 d) / 29.2 ha = 158 mm; truth 140 mm.
    found = season.first_wetting
    assert found is not None
    assert found.depth_mm.value == pytest.approx(158.0, abs=2.0)
    assert found.newly_wet_m2 == pytest.approx(292_000.0, abs=1000.0)
    assert found.steady_mm_day.value == pytest.approx(2.5, abs=0.05)
    assert abs(found.depth_mm.value - 140.0) < 2 * found.depth_mm.sd


# --- a second computation, and chance ---


def _depths(mm_of: Any, labels: list[date]) -> Numbers:
    return np.array([mm_of.get(label, 0.0) for label in labels])


def plain_terms(levels_m: Numbers, start: date, end: date) -> tuple[Numbers, Numbers, Numbers]:
    """Return rain, evaporation and storage change [ML] of whole days, 24 steps each.

    Own code: levels are those at 09:00 (last axis), rating and levels interpolated by numpy.
    """
    inputs, rows = season_inputs(), np.array(season_rating().rows)
    first = (start - CUTS[0][1].date()).days
    count = (end - start).days
    labels = [start + (n + 1) * DAY for n in range(count)]  # named after the day they end on
    left, right = (levels_m[..., first + n : first + n + count] for n in (0, 1))
    areas = sum(
        np.interp(left + (hour + 0.5) / 24 * (right - left), rows[:, 0], rows[:, 1]) / 24
        for hour in range(24)
    )
    rain = (areas * _depths(inputs.rain.by_day, labels)).sum(axis=-1) / MM_PER_M / 1000
    evaporation = areas * _depths(inputs.evaporation.by_day, labels)
    stored = [np.interp(z[..., at], rows[:, 0], rows[:, 2]) for z, at in ((right, -1), (left, 0))]
    return rain, evaporation.sum(axis=-1) / MM_PER_M / 1000, (stored[0] - stored[1]) / 1000


def true_levels() -> Numbers:
    return np.array([71.10 if m is None else m for _, m in daily_levels()])  # 71.10: the bottom


@pytest.mark.parametrize("number", range(8), ids=[p.name for p in EXPECTED_PERIODS])
def test_a_plain_daily_loop_finds_the_same_terms(season: SeasonBalance, number: int) -> None:
    found, dates = season.periods[number], EXPECTED_PERIODS[number]
    rain, evaporation, storage = plain_terms(true_levels(), dates.start, dates.end)
    assert found.rain.megalitres == pytest.approx(rain, abs=0.002)
    assert found.evaporation.megalitres == pytest.approx(evaporation, abs=0.005)
    assert found.storage_change.megalitres == pytest.approx(storage, abs=1e-6)
    residual = dates.pumped + rain - evaporation - storage
    assert found.residual.megalitres == pytest.approx(residual, abs=0.01)


DRAWS = 4000


@pytest.fixture(scope="module")
def drawn() -> dict[str, Numbers]:
    """Draw every source of error 4,000 times and return the residual [ML] of each period.

    One draw of the meter's scale, the estimate, the evaporation factor, the rain gauge's catch and
    the rating's factor holds for the whole season; each level is misread by itself.
    """
    draw = np.random.default_rng(20232024)
    true = true_levels()
    noise = draw.normal(0.0, 0.007, (DRAWS, true.size))
    noise[:, [0, -1]] = 0.0  # dry is dry
    levels = np.maximum(true + noise, 71.10)
    scale = {
        name: 1.0 + draw.normal(0.0, sd, DRAWS)
        for name, sd in (
            ("meter", 0.025), ("estimate", 0.10), ("rain", 0.08), ("evap", 0.10), ("rating", 0.03)
        )
    }  # fmt: skip
    stuck = {"P4": 18.46}  # scenario 5: 35.5 h x 0.520 ML/h
    found = {}
    for dates in EXPECTED_PERIODS:
        rain, evaporation, storage = plain_terms(levels, dates.start, dates.end)
        estimated = stuck.get(dates.name, 0.0)
        metered = dates.pumped - estimated
        found[dates.name] = (
            metered * scale["meter"]
            + estimated * scale["estimate"]
            + rain * scale["rain"]
            - evaporation * scale["evap"]
            - storage * scale["rating"]
        )
    return found


@pytest.mark.parametrize("number", range(8), ids=[p.name for p in EXPECTED_PERIODS])
def test_a_periods_uncertainty_is_what_chance_makes_of_it(
    season: SeasonBalance, drawn: dict[str, Numbers], number: int
) -> None:
    period = season.periods[number]
    assert period.residual.sd_megalitres == pytest.approx(drawn[period.name].std(), rel=0.05)
    assert period.residual.megalitres == pytest.approx(drawn[period.name].mean(), abs=0.4)


def test_the_seasons_uncertainty_is_what_chance_makes_of_it(
    season: SeasonBalance, drawn: dict[str, Numbers]
) -> None:
    whole = np.sum(list(drawn.values()), axis=0)
    assert season.season.residual.sd_megalitres == pytest.approx(whole.std(), rel=0.05)
    independent = math.sqrt(sum(period.var() for period in drawn.values()))
    assert season.sd_as_if_independent_megalitres() == pytest.approx(independent, rel=0.05)


# --- any split ---


@settings(max_examples=40, deadline=None)
@given(cuts=st.lists(MINUTES, min_size=1, max_size=8, unique=True))
def test_the_sum_of_any_split_equals_the_whole_and_is_not_surer(cuts: list[int]) -> None:
    inputs = season_inputs()
    whole = period_balance(inputs, "whole", START, END)
    starts = [START, *(START + timedelta(minutes=m) for m in sorted(cuts))]
    split = season_balance(inputs, [(str(n), at) for n, at in enumerate(starts)], END).season
    for one, other in zip(whole.terms, split.terms, strict=True):
        assert other.megalitres == pytest.approx(one.megalitres, rel=1e-9, abs=1e-7)
        assert other.sd_megalitres == pytest.approx(one.sd_megalitres, rel=1e-7, abs=1e-7)
    assert split.estimated_m3 == pytest.approx(whole.estimated_m3)
    assert split.mean_area_m2 == pytest.approx(whole.mean_area_m2)
    assert split.residual.sd_megalitres >= whole.residual.sd_megalitres * (1 - 1e-9)


def test_a_period_ends_with_the_water_the_next_begins_with(season: SeasonBalance) -> None:
    for one, following in itertools.pairwise(season.periods):
        assert one.end == following.start
        assert one.end_level_m == following.start_level_m


def test_an_estimate_left_out_is_missing_from_the_residual(season: SeasonBalance) -> None:
    # scenario 5: "If E11 is missed the season loses 18.46 ML".
    metered = [span for span in season_pumped() if not span.estimated]
    without = season_balance(season_inputs(pumped=metered), CUTS, END)
    lost = season.season.residual.megalitres - without.season.residual.megalitres
    assert lost == pytest.approx(18.46, abs=0.005)


def test_the_share_that_no_meter_counted_is_remarked(season: SeasonBalance) -> None:
    assert season.season.remarks == ("5.3 % of what was pumped is estimated, not metered.",)


def test_the_season_runs_from_the_first_to_the_last_morning(season: SeasonBalance) -> None:
    assert season.season.start == morning(date(2023, 8, 5))
    assert season.season.days == pytest.approx(238)  # scenario 4
