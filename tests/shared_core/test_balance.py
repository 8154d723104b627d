"""What a balance does with signs, shares, errors and sentences, worked by hand on a flat pan."""

import dataclasses
import math
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import strategies as st
from numpy.typing import NDArray

from shared_core.balance import (
    DailyDepths,
    Inputs,
    PumpedSpan,
    period_balance,
    season_balance,
)
from shared_core.errors import OutsideRangeError
from shared_core.rating import Rating
from shared_core.stepping import LevelPath, LevelPoint
from tests.shared_core.seasons import (
    END,
    PAN_ROWS,
    START,
)

Numbers = NDArray[np.float64]
DAY = timedelta(days=1)
T0 = datetime(2023, 8, 31, 23, tzinfo=UTC)  # 1 September 2023, 09:00 standard time
MINUTES = st.integers(1, int((END - START) / timedelta(minutes=1)) - 1)


def pan(*levels: float | None, **changes: Any) -> Inputs:
    """Return inputs over the flat pan, one level a day, no pumping, no rain, 5 mm a day lost."""
    points = [
        LevelPoint(at=T0 + n * DAY, level_m=m, sd_m=0.0 if m is None else 0.007)
        for n, m in enumerate(levels)
    ]
    labels = [date(2023, 9, 2) + n * DAY for n in range(len(levels))]
    given: dict[str, Any] = {
        "site": "PAN",
        "path": LevelPath(points, Rating.from_rows(PAN_ROWS)),
        "pumped": (),
        "rain": DailyDepths(by_day={}, sd_fraction=0.08, source="rain"),
        "evaporation": DailyDepths(
            by_day=dict.fromkeys(labels, 5.0), sd_fraction=0.10, source="evap"
        ),
        "fit_fraction": 0.03,
        "offset_min": 600,
    }
    return Inputs(**{**given, **changes})


def pumped(start: float, end: float, volume_m3: float, **more: Any) -> PumpedSpan:
    """Return a span between two days after the first."""
    given = {"sd_fraction": 0.025, "source": "meter", **more}
    return PumpedSpan(start=T0 + start * DAY, end=T0 + end * DAY, volume_m3=volume_m3, **given)


# --- signs, shares and what adds how ---


def test_water_pumped_into_a_tight_pan_is_all_in_storage() -> None:
    # 0.10 m on 10 ha is 10,000 m3; 5 mm of evaporation is 500 m3.
    found = period_balance(pan(70.5, 70.6, pumped=[pumped(0, 1, 10_500.0)]), "P", T0, T0 + DAY)
    assert found.pumped.megalitres == pytest.approx(10.5)
    assert found.evaporation.megalitres == pytest.approx(0.5)
    assert found.storage_change.megalitres == pytest.approx(10.0)
    assert found.residual.megalitres == pytest.approx(0.0, abs=1e-9)


def test_a_fall_beyond_evaporation_is_infiltration() -> None:
    rain = DailyDepths(by_day={date(2023, 9, 2): 2.0}, sd_fraction=0.08, source="rain")
    found = period_balance(pan(70.5, 70.49, rain=rain), "P", T0, T0 + DAY)
    # falls 10 mm, rain brings 2 mm, 5 mm evaporate: 7 mm go into the ground.
    assert found.storage_change.megalitres == pytest.approx(-1.0)
    assert found.residual.megalitres == pytest.approx(0.7)
    rate = found.rate_mm_day
    assert rate is not None
    assert rate.value == pytest.approx(7.0)


def test_rain_counts_on_the_day_its_label_ends() -> None:
    rain = DailyDepths(by_day={date(2023, 9, 3): 10.0}, sd_fraction=0.08, source="rain")
    inputs = pan(70.5, 70.5, 70.5, 70.5, rain=rain)
    days = [period_balance(inputs, "P", T0 + n * DAY, T0 + (n + 1) * DAY) for n in range(3)]
    assert [day.rain.megalitres for day in days] == pytest.approx([0.0, 1.0, 0.0])


def test_errors_of_one_source_add_straight_and_of_different_ones_in_squares() -> None:
    def sd(*sources: str) -> float:
        spans = [pumped(n, n + 1, 1000.0, source=name) for n, name in enumerate(sources)]
        whole = period_balance(pan(70.5, 70.5, 70.5, pumped=spans), "P", T0, T0 + 2 * DAY)
        return whole.pumped.sd_megalitres

    assert sd("meter M1", "meter M1") == pytest.approx(0.050)  # 2.5 % of 2 ML
    assert sd("meter M1", "meter M2") == pytest.approx(0.025 * math.sqrt(2))


def test_a_level_read_between_two_periods_cancels_in_their_sum() -> None:
    inputs = pan(70.5, 70.45, 70.4)
    found = season_balance(inputs, [("a", T0), ("b", T0 + DAY)], T0 + 2 * DAY)
    end_m3 = 100_000.0 * 0.007
    rating_m3 = 0.03 * 10_000.0
    expected = math.hypot(end_m3, end_m3, rating_m3) / 1000
    assert found.season.storage_change.sd_megalitres == pytest.approx(expected)
    one = found.periods[0].storage_change.sd_megalitres
    assert one == pytest.approx(math.hypot(end_m3, end_m3, 0.03 * 5000) / 1000)


def test_evaporation_and_rain_errors_run_against_each_other_only_if_they_are_one_source() -> None:
    rain = DailyDepths(by_day={date(2023, 9, 2): 5.0}, sd_fraction=0.10, source="evap")
    same = period_balance(pan(70.5, 70.5, rain=rain), "P", T0, T0 + DAY).residual.volume_m3
    apart = dataclasses.replace(rain, source="rain")
    other = period_balance(pan(70.5, 70.5, rain=apart), "P", T0, T0 + DAY).residual.volume_m3
    assert same.parts.get("evap", 0.0) == pytest.approx(0.0, abs=1e-9)
    assert other.parts["evap"] == pytest.approx(-50.0)
    assert other.parts["rain"] == pytest.approx(50.0)


def test_a_day_that_rests_on_less_has_an_uncertainty_of_its_own() -> None:
    days = {date(2023, 9, 2): 5.0, date(2023, 9, 3): 5.0}
    depths = DailyDepths(
        by_day=days, sd_fraction=0.10, source="evap", sd_by_day={date(2023, 9, 3): 0.20}
    )
    found = period_balance(pan(70.5, 70.5, 70.5, evaporation=depths), "P", T0, T0 + 2 * DAY)
    assert found.evaporation.megalitres == pytest.approx(1.0)
    assert found.evaporation.sd_megalitres == pytest.approx(0.05 + 0.10)


def test_a_cut_between_two_readings_carries_the_error_of_the_line_not_of_one_of_them() -> None:
    points = [LevelPoint(at=T0 + n * DAY, level_m=70.5, sd_m=0.007) for n in (0, 10)]
    inputs = pan(*[70.5] * 10, path=LevelPath(points, Rating.from_rows(PAN_ROWS)))
    found = period_balance(inputs, "P", T0 + 1 * DAY, T0 + 4 * DAY)
    # 3 of 10 days along a line between two readings that are 7 mm off, each for itself
    expected_m3 = 0.3 * math.hypot(700.0, 700.0)
    assert found.storage_change.sd_megalitres == pytest.approx(expected_m3 / 1000)


def test_on_the_way_to_dry_the_error_of_the_level_fades() -> None:
    inputs = pan(70.51, None)
    first = period_balance(inputs, "P", T0, T0 + 0.9 * DAY).storage_change.volume_m3
    last = period_balance(inputs, "Q", T0 + 0.9 * DAY, T0 + DAY).storage_change.volume_m3
    assert first.parts["level 2023-08-31 23:00"] == pytest.approx(-700.0 * 0.9)
    assert last.parts["level 2023-08-31 23:00"] == pytest.approx(-700.0 * 0.1)


# --- pumping in a period ---


def test_a_span_that_reaches_beyond_a_period_counts_by_its_share() -> None:
    inputs = pan(70.5, 70.5, 70.5, 70.5, pumped=[pumped(0, 3, 3000.0, estimated=True)])
    found = period_balance(inputs, "P", T0 + DAY, T0 + 2 * DAY)
    assert found.pumped.megalitres == pytest.approx(1.0)
    assert found.estimated_m3 == pytest.approx(1000.0)
    assert found.metered_m3 == pytest.approx(0.0)


def test_a_span_outside_a_period_does_not_count() -> None:
    inputs = pan(70.5, 70.5, 70.5, pumped=[pumped(1, 2, 3000.0, evidence=("x",))])
    found = period_balance(inputs, "P", T0, T0 + DAY)
    assert found.pumped.megalitres == 0.0
    assert found.pumped.evidence == ()


def test_a_span_without_length_is_the_programmers_mistake() -> None:
    with pytest.raises(ValueError, match="ends after it starts"):
        pumped(1, 1, 10.0)


# --- what is odd is said, not mended ---


def test_a_negative_residual_is_shown_as_it_is_and_remarked_beyond_two_sd() -> None:
    # a rise of 50 mm that nobody pumped; 5 mm evaporate
    found = period_balance(pan(70.5, 70.55), "P", T0, T0 + DAY)
    assert found.residual.megalitres == pytest.approx(-5.5)
    assert found.residual.megalitres < -2 * found.residual.sd_megalitres
    assert any("below zero" in remark for remark in found.remarks)


def test_a_negative_residual_within_its_uncertainty_is_not_remarked() -> None:
    found = period_balance(pan(70.5, 70.505), "P", T0, T0 + DAY)
    assert -2 * found.residual.sd_megalitres < found.residual.megalitres < 0
    assert not any("below zero" in remark for remark in found.remarks)


@pytest.mark.parametrize(
    ("levels", "short"),
    [
        ((70.5, 70.45), True),
        ((70.5, 70.39), False),
        ((None, 70.5), False),
        ((70.5, None), False),
        ((70.5,) * 15, False),
        ((None, None), True),
    ],
)
def test_a_rate_over_few_days_and_little_change_is_called_too_short(
    levels: tuple[float | None, ...], short: bool
) -> None:
    # common practice: 14 days, or a fall of ten times the level's uncertainty, about 100 mm.
    found = period_balance(pan(*levels), "P", T0, T0 + (len(levels) - 1) * DAY)
    assert any("Too short" in remark for remark in found.remarks) == short


def test_a_local_datum_near_zero_does_not_make_a_filled_pan_look_unmoved() -> None:
    rows = [(level_m - 70.0, area_m2, volume_m3) for level_m, area_m2, volume_m3 in PAN_ROWS]
    points = [LevelPoint(at=T0, level_m=None), LevelPoint(at=T0 + DAY, level_m=0.05, sd_m=0.007)]
    inputs = pan(None, 70.5, path=LevelPath(points, Rating.from_rows(rows)))
    assert not period_balance(inputs, "P", T0, T0 + DAY).remarks[1:]
    assert "Too short" not in "".join(period_balance(inputs, "P", T0, T0 + DAY).remarks)


def test_a_dry_pool_has_a_balance_of_nothing_and_no_rate() -> None:
    found = period_balance(pan(None, None), "P", T0, T0 + DAY)
    assert [term.megalitres for term in found.terms] == [0.0] * 5
    assert found.residual.sd_megalitres == 0.0
    assert found.rate_mm_day is None


def test_from_dry_to_wet_and_back_nothing_is_left_in_storage() -> None:
    inputs = pan(None, 70.5, None, pumped=[pumped(0, 1, 60_000.0)])
    filled = period_balance(inputs, "P", T0, T0 + DAY)
    emptied = period_balance(inputs, "Q", T0 + DAY, T0 + 2 * DAY)
    # 0.49 m over 10 ha and the wedge of 500 m3 below: 49,500 m3
    assert filled.storage_change.megalitres == pytest.approx(49.5)
    assert emptied.storage_change.megalitres == pytest.approx(-49.5)
    assert filled.start_level_m is None
    assert emptied.end_level_m is None


def test_no_first_wetting_is_claimed_without_a_period_to_know_the_steady_rate_from() -> None:
    inputs = pan(None, 70.5, 70.4, pumped=[pumped(0, 1, 60_000.0)])
    only = season_balance(inputs, [("a", T0)], T0 + DAY)
    assert only.first_wetting is None
    both = season_balance(inputs, [("a", T0), ("b", T0 + DAY)], T0 + 2 * DAY)
    assert both.first_wetting is not None


def test_no_first_wetting_is_claimed_where_no_new_ground_was_covered() -> None:
    inputs = pan(70.5, 70.6, 70.5, pumped=[pumped(0, 1, 10_000.0)])
    found = season_balance(inputs, [("a", T0), ("b", T0 + DAY)], T0 + 2 * DAY)
    assert found.first_wetting is None


def test_there_are_no_shares_of_no_input() -> None:
    assert season_balance(pan(70.5, 70.4), [("a", T0)], T0 + DAY).shares() == {}


# --- sentences ---


def test_a_day_with_water_and_without_evaporation_is_named() -> None:
    depths = DailyDepths(by_day={}, sd_fraction=0.1, source="evap")
    with pytest.raises(OutsideRangeError, match="no evaporation for 2023-09-02"):
        period_balance(pan(70.5, 70.5, evaporation=depths), "P", T0, T0 + DAY)


def test_a_dry_day_needs_no_evaporation() -> None:
    depths = DailyDepths(by_day={}, sd_fraction=0.1, source="evap")
    found = period_balance(pan(None, None, evaporation=depths), "P", T0, T0 + DAY)
    assert found.evaporation.megalitres == 0.0


@pytest.mark.parametrize("days", [0, -1])
def test_a_period_that_ends_before_it_starts_is_refused(days: int) -> None:
    with pytest.raises(OutsideRangeError, match="must end after it starts"):
        period_balance(pan(70.5, 70.5), "P", T0 + DAY, T0 + DAY + days * DAY)
    with pytest.raises(OutsideRangeError, match="must end after it starts"):
        season_balance(pan(70.5, 70.5), [("a", T0 + DAY)], T0 + DAY + days * DAY)


def test_a_balance_without_a_period_is_refused() -> None:
    with pytest.raises(OutsideRangeError, match="at least one period"):
        season_balance(pan(70.5, 70.5), [], T0 + DAY)


def test_a_period_outside_the_levels_is_refused() -> None:
    with pytest.raises(OutsideRangeError, match="lies outside the readings"):
        period_balance(pan(70.5, 70.5), "P", T0, T0 + 2 * DAY)


# --- evidence ---


def test_every_term_names_the_records_behind_it_once() -> None:
    points = [
        LevelPoint(at=T0 + n * DAY, level_m=70.5, sd_m=0.007, evidence=(f"level {n}",))
        for n in range(4)
    ]
    labels = [date(2023, 9, 2) + n * DAY for n in range(3)]
    evaporation = DailyDepths(
        by_day=dict.fromkeys(labels, 5.0),
        sd_fraction=0.1,
        source="evap",
        evidence=dict.fromkeys(labels, ("weather",)),
    )
    inputs = pan(
        *[70.5] * 4,
        path=LevelPath(points, Rating.from_rows(PAN_ROWS)),
        evaporation=evaporation,
        pumped=[pumped(0, 1, 10.0, evidence=("m0", "m1")), pumped(1, 2, 10.0, evidence=("m1",))],
        rating_evidence="table",
    )
    found = season_balance(inputs, [("a", T0), ("b", T0 + DAY)], T0 + 2 * DAY).season
    assert found.pumped.evidence == ("m0", "m1")
    assert found.evaporation.evidence == ("weather",)
    assert set(found.storage_change.evidence) == {"level 0", "level 1", "level 2", "table"}


def test_no_nameless_record_stands_behind_a_term() -> None:
    found = period_balance(pan(70.5, 70.4), "P", T0, T0 + DAY)
    assert found.storage_change.evidence == ()
