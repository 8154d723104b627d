"""From stages to levels: zero history, doubtful spans, looks at the water and the lowest gauge."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from demo_visits import scenario
from shared_core.records.levels import (
    Level,
    last_good_level,
    level_of,
    lowest_gauge,
    one_look,
    reading_sd_m,
    zero_of,
)
from shared_core.records.site_setup import Gauge, GaugeZero
from shared_core.records.staff_gauge import GaugeReading
from tests.shared_core.seasons import PAN, Book, gauge_reading, morning

T0 = datetime(2023, 9, 1, 0, 0, tzinfo=UTC)
DAY = timedelta(days=1)


def zero(at: datetime, zero_m: float, **more: Any) -> GaugeZero:
    given = {"site": PAN, "gauge": "G1", "method": "levelled", **more}
    return GaugeZero(valid_from=at.astimezone(UTC), zero_m=zero_m, **given)


def gauge(name: str, ground_level_m: float | None, at: datetime = T0, **more: Any) -> Gauge:
    return Gauge(
        site=PAN, valid_from=at, gauge=name, ground_level_m=ground_level_m, plate_to_m=2.0, **more
    )


@pytest.fixture
def book() -> Book:
    found = Book()
    found.write(gauge("G1", 70.0), zero(T0, 70.2))
    return found


def level(book: Book, name: str) -> Level | None:
    readings = book.known.between(GaugeReading, PAN, T0 - 99 * DAY, T0 + 99 * DAY)
    (standing,) = (found for found in readings if found.record_id == name)
    return level_of(book.known, standing)


def level_m(book: Book, name: str) -> float | None:
    found = level(book, name)
    return None if found is None else found.level_m


def doubtful(book: Book, name: str) -> bool:
    found = level(book, name)
    assert found is not None
    return found.doubtful


def test_a_level_is_the_stage_plus_the_zero_of_its_time(book: Book) -> None:
    name = book.write(gauge_reading(T0 + DAY, 0.643))
    assert level_m(book, name) == pytest.approx(70.843)


def test_a_new_zero_moves_only_later_readings(book: Book) -> None:
    before = book.write(gauge_reading(T0 + DAY, 0.5))
    after = book.write(gauge_reading(T0 + 3 * DAY, 0.5))
    book.write(zero(T0 + 2 * DAY, 70.14))
    assert level_m(book, before) == pytest.approx(70.7)
    assert level_m(book, after) == pytest.approx(70.64)


def test_a_reading_at_the_moment_of_a_new_zero_uses_it_and_is_not_doubtful(book: Book) -> None:
    at = T0 + 2 * DAY
    book.write(zero(at, 70.14, doubtful_from=at - DAY))
    name = book.write(gauge_reading(at, 0.5))
    assert level_m(book, name) == pytest.approx(70.64)
    assert not doubtful(book, name)


def test_between_the_first_doubt_and_the_new_zero_a_level_is_doubtful(book: Book) -> None:
    # scenario 10.4: SG2 knocked on 3 November, new zero from 6 November.
    names = [book.write(gauge_reading(T0 + n * DAY, 0.5)) for n in range(1, 7)]
    book.write(zero(T0 + 5 * DAY, 70.14, doubtful_from=T0 + 3 * DAY))
    assert [doubtful(book, name) for name in names] == [False, False, True, True, False, False]


def test_before_the_first_zero_a_reading_has_no_level(book: Book) -> None:
    name = book.write(gauge_reading(T0 - DAY, 0.5))
    assert level_m(book, name) is None
    assert zero_of(book.known, PAN, "G1", T0 - DAY) is None


def test_another_gauges_zero_is_not_used(book: Book) -> None:
    book.write(gauge("G2", 70.5), zero(T0 + DAY, 71.0, gauge="G2"))
    name = book.write(gauge_reading(T0 + 2 * DAY, 0.5))
    assert level_m(book, name) == pytest.approx(70.7)


@pytest.mark.parametrize("state", ["over_plate", "below_zero", "dry", "not_read"])
def test_a_state_instead_of_a_number_has_no_level(book: Book, state: str) -> None:
    assert level_m(book, book.write(gauge_reading(T0 + DAY, state=state))) is None


def test_below_zero_with_water_is_not_the_zero_even_if_0_000_stayed_beside_it(book: Book) -> None:
    # scenario E23: 0.000 typed for "below zero, water present".
    name = book.write(gauge_reading(T0 + DAY, 0.0))
    assert level_m(book, name) == pytest.approx(70.2)
    book.correct(name, state="below_zero")
    assert level_m(book, name) is None


def test_a_disputed_stage_has_no_level(book: Book) -> None:
    name = book.write(gauge_reading(T0 + DAY, 0.5))
    book.disputed(name, {"stage_m": 0.6}, {"stage_m": 0.7})
    assert level_m(book, name) is None


def test_a_level_over_a_disputed_zero_is_doubtful(book: Book) -> None:
    setup = book.write(zero(T0 + DAY, 70.3))
    name = book.write(gauge_reading(T0 + 2 * DAY, 0.5))
    book.disputed(setup, {"zero_m": 70.31}, {"zero_m": 70.13})
    assert doubtful(book, name)


# --- how sure ---


@pytest.mark.parametrize(
    ("more", "expected_m"),
    [
        ({}, 0.005),
        ({"waves": "calm"}, 0.005),
        ({"waves": "waves"}, 0.010),
        ({"waves": "waves", "lowest_m": 0.46, "highest_m": 0.54}, 0.040),
        ({"waves": "waves", "lowest_m": 0.499, "highest_m": 0.501}, 0.010),
    ],
)
def test_a_plate_is_read_to_5_mm_calm_10_mm_in_waves_or_half_their_range(
    more: dict[str, Any], expected_m: float
) -> None:
    # common practice
    assert reading_sd_m(gauge_reading(T0, 0.5, **more)) == pytest.approx(expected_m)


@pytest.mark.parametrize(
    ("more", "expected_m"),
    [
        ({"method": "levelled"}, 0.0050),
        ({"method": "rtk"}, 0.025),
        ({"method": "dem"}, 0.150),
        ({"method": "dem", "uncertainty_m": 0.012}, 0.012),
    ],
)
def test_a_level_is_as_unsure_as_reading_and_zero_together(
    more: dict[str, Any], expected_m: float
) -> None:
    # common practice: 5 mm levelled, 20 to 30 mm by survey receiver, 150 mm off the terrain model
    book = Book()
    book.write(gauge("G1", 70.0), zero(T0, 70.2, **more))
    name = book.write(gauge_reading(T0 + DAY, 0.5))
    found = level(book, name)
    assert found is not None
    assert found.sd_m == pytest.approx((expected_m**2 + 0.005**2) ** 0.5)


# --- looks ---


def test_readings_within_two_hours_of_the_first_are_one_look(book: Book) -> None:
    for minutes in (0, 119, 120, 121, 240, 24 * 60):
        book.write(gauge_reading(T0 + DAY + timedelta(minutes=minutes), 0.5))
    readings = book.known.between(GaugeReading, PAN, T0, T0 + 9 * DAY)
    assert [len(look) for look in one_look(readings)] == [3, 2, 1]
    assert one_look([]) == []


# --- the lowest gauge ---


def test_the_lowest_gauge_is_the_one_with_the_lowest_ground_at_its_foot(book: Book) -> None:
    book.write(gauge("G2", 69.9), gauge("G3", 71.0))
    assert lowest_gauge(book.known, PAN, T0 + DAY) == "G2"


def test_a_gauge_fitted_later_is_not_yet_the_lowest(book: Book) -> None:
    book.write(gauge("G2", 69.9, T0 + 5 * DAY))
    assert lowest_gauge(book.known, PAN, T0 + DAY) == "G1"
    assert lowest_gauge(book.known, PAN, T0 + 6 * DAY) == "G2"


def test_where_the_ground_is_not_known_the_start_of_the_plate_stands_for_it() -> None:
    book = Book()
    book.write(gauge("G1", 71.0), gauge("G2", None), zero(T0, 70.5, gauge="G2"))
    assert lowest_gauge(book.known, PAN, T0 + DAY) == "G2"
    book.write(gauge("G3", None))  # nothing is known of its height
    assert lowest_gauge(book.known, PAN, T0 + DAY) == "G2"


def test_a_site_without_a_gauge_has_no_lowest_one() -> None:
    assert lowest_gauge(Book().known, PAN, T0) is None


# --- the last good level ---


def test_the_last_good_level_passes_over_what_is_doubtful_disputed_or_set_aside(book: Book) -> None:
    good = book.write(gauge_reading(T0 + DAY, 0.5))
    book.write(gauge_reading(T0 + 2 * DAY, 0.6, quality="doubtful"))
    book.write(gauge_reading(T0 + 3 * DAY, 0.6, quality="not_used"))
    name = book.write(gauge_reading(T0 + 4 * DAY, 0.6))
    book.disputed(name, {"stage_m": 0.61}, {"stage_m": 0.71})
    book.write(gauge_reading(T0 + 5 * DAY, state="below_zero"))
    found = last_good_level(book.known, PAN, T0 + 6 * DAY)
    assert found is not None
    assert found.reading_id == good
    assert last_good_level(book.known, PAN, T0 + DAY) is None
    assert last_good_level(book.known, PAN, T0 + 6 * DAY, gauge="G9") is None


def test_the_seasons_gauges_agree_in_overlap_before_and_after_the_knock() -> None:
    # scenario 6: V04 0.821 and 0.271 at 72.121; V17 0.823 and 0.333 at 72.123, SG2 sunk 0.060 m.
    book = Book()
    start = morning(date(2023, 7, 1))
    for mark in scenario.GAUGES:
        book.write(zero(start, mark.zero_level_m, gauge=mark.name))
    book.write(zero(morning(date(2023, 11, 6)), 71.790, gauge="SG2"))
    for day, one, other in ((date(2023, 8, 21), 0.821, 0.271), (date(2023, 11, 30), 0.823, 0.333)):
        first = book.write(gauge_reading(morning(day), one, point="SG1"))
        second = book.write(gauge_reading(morning(day), other, point="SG2"))
        assert level_m(book, first) == pytest.approx(level_m(book, second))
