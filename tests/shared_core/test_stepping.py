"""Day by day between level readings, against a plain integral and against the calendar."""

import itertools
from datetime import UTC, date, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from demo_visits.scenario import DAYLIGHT, STANDARD
from shared_core.errors import OutsideRangeError
from shared_core.rating import Rating
from shared_core.stepping import (
    DaySlice,
    LevelPath,
    LevelPoint,
    day_label,
    days_between,
    total_of,
)
from tests.shared_core.seasons import (
    END,
    PAN_ROWS,
    START,
    daily_levels,
    morning,
    season_points,
    season_rating,
)

PAN = Rating.from_rows(PAN_ROWS)
CONE = Rating.from_rows([(70 + h / 100, 1000.0 * h, 5.0 * h * h) for h in range(201)])  # A ~ depth
DAY = timedelta(days=1)
T0 = datetime(2023, 8, 31, 23, tzinfo=UTC)  # 1 September 2023, 09:00 standard time
MINUTES = st.integers(0, int((END - START) / timedelta(minutes=1)))


def path(*levels: float | None, rating: Rating = CONE) -> LevelPath:
    """Return a path with one reading a day."""
    points = [LevelPoint(at=T0 + n * DAY, level_m=level_m) for n, level_m in enumerate(levels)]
    return LevelPath(points, rating)


def test_levels_between_two_readings_lie_on_a_straight_line() -> None:
    line = path(71.0, 71.2)
    assert line.level_at(T0 + DAY / 4) == pytest.approx(71.05)
    assert line.level_at(T0) == 71.0
    assert line.level_at(T0 + DAY) == 71.2


def test_readings_may_come_in_any_order() -> None:
    points = [LevelPoint(at=T0 + n * DAY, level_m=71 + n / 10) for n in (2, 0, 1)]
    assert LevelPath(points, CONE).level_at(T0 + 1.5 * DAY) == pytest.approx(71.15)


def test_from_dry_to_wet_the_line_begins_at_the_bottom_and_back_it_ends_there() -> None:
    line = path(None, 71.0, None)
    assert line.level_at(T0) is None
    assert line.level_at(T0 + DAY / 2) == pytest.approx(70.5)
    assert line.level_at(T0 + 1.5 * DAY) == pytest.approx(70.5)
    assert line.volume_at(T0 + 2 * DAY) == 0.0


def test_the_bottom_is_the_highest_level_without_water_not_the_first_row_of_a_long_table() -> None:
    long = Rating.from_rows([(60.0, 0.0, 0.0), *CONE.rows])
    assert path(None, 71.0, rating=long).level_at(T0 + DAY / 2) == pytest.approx(70.5)


def test_between_two_looks_at_a_dry_pool_it_stays_dry() -> None:
    line = path(71.0, None, None, 71.0)
    assert line.level_at(T0 + 1.5 * DAY) is None
    assert line.area_at(T0 + 1.5 * DAY) == 0.0
    (slice_,) = line.slices(T0 + DAY, T0 + 2 * DAY, 600)
    assert slice_.mean_area_m2 == 0.0


def test_a_dry_pool_is_dry_before_the_first_and_after_the_last_look() -> None:
    line = path(None, 71.0, None)
    assert line.level_at(T0 - 30 * DAY) is None
    assert line.level_at(T0 + 30 * DAY) is None
    assert line.mean_area(T0 - DAY, T0) == 0.0


@pytest.mark.parametrize(("days", "word"), [(-0.01, "first"), (1.01, "last")])
def test_a_time_outside_the_readings_of_a_wet_pool_is_refused_in_a_sentence(
    days: float, word: str
) -> None:
    with pytest.raises(OutsideRangeError, match=f"the {word} level was read .* the pool was wet"):
        path(71.0, 71.2).level_at(T0 + days * DAY)


def test_no_reading_at_all_is_refused_in_a_sentence() -> None:
    with pytest.raises(OutsideRangeError, match="no level was read"):
        LevelPath([], CONE)


def test_a_level_above_the_rating_is_refused() -> None:
    with pytest.raises(OutsideRangeError, match="above the surveyed range"):
        path(71.0, 99.0)


def test_the_mean_area_of_an_even_rise_in_a_cone_like_bowl_is_exact() -> None:
    # A = 100,000 m2 per metre of depth: from 0.5 m to 1.5 m the mean is 100,000 m2.
    assert path(70.5, 71.5).mean_area(T0, T0 + DAY) == pytest.approx(100_000.0, rel=1e-12)


@settings(max_examples=60, deadline=None)
@given(a=MINUTES, b=MINUTES)
def test_the_mean_area_agrees_with_a_fine_sum(a: int, b: int) -> None:
    """Judge: numpy, a level every minute interpolated between the readings, areas likewise."""
    first, last = sorted((a, b))
    if last == first:
        return
    days = np.array([(morning(d) - START) / DAY for d, _ in daily_levels()])
    levels = np.array([71.10 if m is None else m for _, m in daily_levels()])
    rows = np.array(season_rating().rows)
    middles = (np.arange(first, last) + 0.5) / 1440
    areas = np.interp(np.interp(middles, days, levels), rows[:, 0], rows[:, 1])
    found = LevelPath(season_points(), season_rating()).mean_area(
        START + timedelta(minutes=first), START + timedelta(minutes=last)
    )
    assert found == pytest.approx(areas.mean(), rel=1e-3, abs=20.0)


@settings(max_examples=60, deadline=None)
@given(cuts=st.lists(MINUTES, max_size=6))
def test_area_times_time_of_any_parts_adds_to_the_whole(cuts: list[int]) -> None:
    line = LevelPath(season_points(), season_rating())
    at = [START + timedelta(minutes=m) for m in sorted({*cuts, 0}) if START < END]
    ends = [*at[1:], END]
    parts = sum(
        line.mean_area(a, b) * ((b - a) / DAY) for a, b in zip(at, ends, strict=True) if b > a
    )
    assert parts == pytest.approx(line.mean_area(START, END) * ((END - START) / DAY), rel=1e-9)


# --- the hydrological day ---


def test_a_day_carries_the_date_on_which_it_ends() -> None:
    assert day_label(datetime(2023, 9, 7, 9, 0, tzinfo=STANDARD), 600) == date(2023, 9, 8)
    assert day_label(datetime(2023, 9, 7, 8, 59, 59, tzinfo=STANDARD), 600) == date(2023, 9, 7)
    assert day_label(datetime(2023, 9, 7, 0, 0, tzinfo=STANDARD), 600) == date(2023, 9, 7)
    assert day_label(datetime(2023, 12, 31, 9, 0, tzinfo=STANDARD), 600) == date(2024, 1, 1)


def test_in_summer_the_day_still_turns_at_nine_standard_time_which_is_ten_on_the_wall() -> None:
    assert day_label(datetime(2023, 12, 7, 9, 30, tzinfo=DAYLIGHT), 600) == date(2023, 12, 7)
    assert day_label(datetime(2023, 12, 7, 10, 0, tzinfo=DAYLIGHT), 600) == date(2023, 12, 8)


def test_days_have_24_hours_when_the_clocks_change() -> None:
    # Clocks go forward on 1 October 2023 at 02:00 (scenario 1).
    days = list(
        days_between(
            datetime(2023, 9, 29, 9, tzinfo=STANDARD),
            datetime(2023, 10, 3, 10, tzinfo=DAYLIGHT),
            600,
        )
    )
    assert [label for label, _, _ in days] == [
        date(2023, 9, 30), date(2023, 10, 1), date(2023, 10, 2), date(2023, 10, 3)
    ]  # fmt: skip
    assert {until - since for _, since, until in days} == {DAY}


@given(
    minute=st.integers(0, 400_000),
    written=st.integers(-12, 14),
    offset_min=st.sampled_from([-570, -210, 0, 345, 570, 600, 780]),
)
def test_a_label_does_not_depend_on_how_the_moment_is_written(
    minute: int, written: int, offset_min: int
) -> None:
    moment = T0 + timedelta(minutes=minute)
    elsewhere = moment.astimezone(timezone(timedelta(hours=written)))
    label = day_label(elsewhere, offset_min)
    assert label == day_label(moment, offset_min)
    # Judge: the 24 hours that end at 09:00 of the label, by plain arithmetic on UTC.
    ends = datetime(label.year, label.month, label.day, 9, tzinfo=UTC)
    ends -= timedelta(minutes=offset_min)
    assert ends - DAY <= moment < ends


@given(start=st.integers(0, 20_000), length=st.integers(1, 20_000))
def test_days_join_on_without_gap_or_overlap(start: int, length: int) -> None:
    first = T0 + timedelta(minutes=start)
    last = first + timedelta(minutes=length)
    days = list(days_between(first, last, 600))
    assert days[0][1] == first
    assert days[-1][2] == last
    assert all(a[2] == b[1] and b[0] - a[0] == DAY for a, b in itertools.pairwise(days))
    assert all(day_label(since, 600) == label for label, since, _ in days)


def test_part_of_a_day_has_its_share() -> None:
    slices = list(path(71.0, 71.0, 71.0).slices(T0 + DAY / 4, T0 + 1.5 * DAY, 600))
    assert [s.share for s in slices] == pytest.approx([0.75, 0.5])
    assert [s.label for s in slices] == [date(2023, 9, 2), date(2023, 9, 3)]


def test_a_millimetre_on_ten_hectares_is_a_tenth_of_a_megalitre() -> None:
    # 1 mm on 1 ha is 0.01 ML.
    slices = list(path(71.0, 71.0, rating=PAN).slices(T0, T0 + DAY, 600))
    assert total_of(slices, lambda _: 1.0) == pytest.approx(100.0)
    assert total_of(slices, lambda day: 7.0 if day == date(2023, 9, 2) else 0.0) == (
        pytest.approx(700.0)
    )


def test_a_day_without_water_is_not_asked_for_its_depth() -> None:
    def ask(label: date) -> float:
        raise AssertionError(label)

    assert total_of([DaySlice(label=date(2023, 9, 1), share=1.0, mean_area_m2=0.0)], ask) == 0.0


def test_a_level_between_two_readings_rests_on_both() -> None:
    line = path(71.0, 71.4, None)
    first, second, dry = line.points
    assert line.resting_on(T0) == ((first, 1.0),)
    assert line.resting_on(T0 + DAY / 4) == ((first, 0.75), (second, 0.25))
    assert line.resting_on(T0 + 9 * DAY) == ((dry, 1.0),)
    assert line.nearest(T0 + 0.6 * DAY) is second
