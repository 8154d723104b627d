"""Which gauge readings make the levels of a balance, and what is said of the others."""

from datetime import date, timedelta
from typing import Any

import pytest

from shared_core.balance import Inputs
from shared_core.records.site_setup import Gauge, GaugeZero
from shared_core.site_balance import gather
from tests.shared_core.seasons import (
    PAN,
    PAN_START,
    Book,
    gauge_reading,
    pan_setup,
    weather_series,
)

T0 = PAN_START  # 1 September 2023, 09:00 standard time
DAY = timedelta(days=1)
FIRST = date(2023, 9, 1)


@pytest.fixture
def book() -> Book:
    """Return the pan with its gauge, and weather of 5 mm a day without rain."""
    found = Book()
    found.write(*pan_setup(), weather_series(FIRST, 60))
    return found


def inputs(book: Book, days: float = 10) -> Inputs:
    return gather(book.known, PAN, T0, T0 + days * DAY)


def levels(found: Inputs) -> list[float | None]:
    return [
        None if point.level_m is None else round(point.level_m, 6) for point in found.path.points
    ]


def said(found: Inputs) -> str:
    return "\n".join(found.left_out)


def second_gauge(zero_m: float = 70.5, ground_level_m: float | None = 70.5, **more: Any) -> Any:
    at: dict[str, Any] = {"site": PAN, "valid_from": T0 - 50 * DAY, "gauge": "G2"}
    method = {"method": "levelled", **more}
    return [
        Gauge(**at, ground_level_m=ground_level_m, plate_to_m=2.0),
        GaugeZero(**at, zero_m=zero_m, **method),
    ]


def test_two_gauges_in_one_look_give_their_mean_and_the_better_ones_uncertainty(book: Book) -> None:
    book.write(*second_gauge())
    book.write(gauge_reading(T0, 0.800), gauge_reading(T0, 0.310, point="G2"))
    found = inputs(book)
    assert levels(found) == [70.805]
    assert found.path.points[0].sd_m == pytest.approx((0.005**2 + 0.005**2) ** 0.5)
    assert len(found.path.points[0].evidence) == 2
    assert said(found) == ""


def test_a_poorly_known_zero_has_little_weight_in_the_mean(book: Book) -> None:
    # common practice: 5 mm levelled, 150 mm off a terrain model
    book.write(*second_gauge(method="dem"))
    book.write(gauge_reading(T0, 0.800), gauge_reading(T0, 0.320, point="G2"))
    (level_m,) = levels(inputs(book))
    assert level_m == pytest.approx(70.800, abs=0.0002)


def test_two_gauges_that_cannot_both_be_right_are_said_and_make_the_level_unsure(
    book: Book,
) -> None:
    # scenario E02: 72.121 by one gauge, 72.221 by the other; common practice: never average silently
    book.write(*second_gauge())
    book.write(gauge_reading(T0, 0.821), gauge_reading(T0, 0.421, point="G2"))
    found = inputs(book)
    assert "G1 and G2 of 2023-09-01 09:00: the readings differ by 0.100 m" in said(found)
    assert found.path.points[0].sd_m == pytest.approx(0.050)


def test_a_look_is_put_at_the_mean_time_of_the_gauges_that_count(book: Book) -> None:
    book.write(*second_gauge())
    book.write(gauge_reading(T0, state="over_plate"))
    book.write(gauge_reading(T0 + timedelta(minutes=20), 0.3, point="G2"))
    book.write(gauge_reading(T0 + timedelta(minutes=40), 0.3, point="G2"))
    (point,) = inputs(book).path.points
    assert point.at == T0 + timedelta(minutes=30)


def test_over_the_plate_the_other_gauge_speaks(book: Book) -> None:
    book.write(*second_gauge())
    book.write(gauge_reading(T0, state="over_plate"), gauge_reading(T0, 0.3, point="G2"))
    assert levels(inputs(book)) == [70.8]


def test_below_zero_with_water_is_neither_the_zero_nor_dry(book: Book) -> None:
    # scenario 10.7
    book.write(gauge_reading(T0, 0.3))
    book.write(gauge_reading(T0 + 5 * DAY, state="below_zero"))
    book.write(gauge_reading(T0 + 10 * DAY, state="dry"))
    found = inputs(book)
    assert levels(found) == [70.3, None]
    assert found.path.level_at(T0 + 5 * DAY) == pytest.approx(70.15)


def test_a_zero_typed_beside_below_zero_does_not_count_and_is_said(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3), gauge_reading(T0 + DAY, 0.0, state="below_zero"))
    found = inputs(book)
    assert levels(found) == [70.3]
    assert "G1 of 2023-09-02 09:00: a stage, and 'Below zero with water'; no level." in said(found)


@pytest.mark.parametrize(
    ("lower", "upper", "dry"),
    [
        ({"state": "dry"}, {"state": "dry"}, True),
        ({"state": "dry"}, {"state": "not_read", "not_read_because": "mud"}, True),
        ({"state": "not_read", "not_read_because": "mud"}, {"state": "dry"}, False),
        ({"state": "below_zero"}, {"state": "dry"}, False),
        ({"state": "dry"}, {"state": "below_zero"}, False),
        ({"state": "dry"}, {"state": "over_plate"}, False),
        ({"state": "dry"}, {"stage_m": 9.0}, False),  # outside the rating, but water
        ({"state": "dry"}, None, True),
        (None, {"state": "dry"}, False),
    ],
)
def test_the_pool_is_dry_only_when_the_lowest_gauge_is_and_no_other_saw_water(
    book: Book, lower: dict[str, Any] | None, upper: dict[str, Any] | None, dry: bool
) -> None:
    book.write(*second_gauge())
    book.write(gauge_reading(T0 - DAY, 0.4))
    for point, more in (("G1", lower), ("G2", upper)):
        if more is not None:
            book.write(gauge_reading(T0, point=point, **more))
    assert levels(inputs(book)) == ([70.4, None] if dry else [70.4])


def test_a_dry_pool_that_is_disputed_is_not_taken_as_dry(book: Book) -> None:
    book.write(gauge_reading(T0 - DAY, 0.4))
    name = book.write(gauge_reading(T0, state="dry"))
    book.disputed(name, {"state": "below_zero"}, {"state": "not_read"})
    found = inputs(book)
    assert levels(found) == [70.4]
    assert "G1 of 2023-09-01 09:00: state is disputed; settle it and it counts." in said(found)


def test_a_disputed_stage_is_left_out_and_a_disputed_remark_is_not(book: Book) -> None:
    stage = book.write(gauge_reading(T0, 0.3))
    remark = book.write(gauge_reading(T0 + DAY, 0.29))
    book.disputed(stage, {"stage_m": 0.31}, {"stage_m": 0.32})
    book.disputed(remark, {"remark": "calm"}, {"remark": "windy"})
    found = inputs(book)
    assert levels(found) == [70.29]
    assert "G1 of 2023-09-01 09:00: stage_m is disputed; settle it and it counts." in said(found)


def test_a_reading_set_aside_is_left_out_with_a_sentence(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3))
    name = book.write(gauge_reading(T0 + DAY, 0.9))
    book.correct(name, quality="not_used")
    found = inputs(book)
    assert levels(found) == [70.3]
    assert said(found) == "G1 of 2023-09-02 09:00: set aside, not used."


def test_a_doubtful_reading_is_left_out_with_a_sentence(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3), gauge_reading(T0 + DAY, 0.9, quality="doubtful"))
    assert levels(inputs(book)) == [70.3]
    assert said(inputs(book)) == "G1 of 2023-09-02 09:00: doubtful, not used."


def test_a_level_outside_the_rating_is_left_out_with_a_sentence(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3), gauge_reading(T0 + DAY, 40.0))  # scenario E01: 40 for 0.40
    found = inputs(book)
    assert levels(found) == [70.3]
    assert said(found) == (
        "G1 of 2023-09-02 09:00: level 110.000 m lies outside the rating, 70.00 to 72.00 m;"
        " not used."
    )


def test_a_gauge_without_a_zero_is_left_out_with_a_sentence(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3), gauge_reading(T0 + DAY, 0.3, point="G7"))
    assert said(inputs(book)) == "G7 of 2023-09-02 09:00: G7 has no zero at that time."


def test_a_sentence_shows_the_clock_on_the_wall(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3))
    book.write(gauge_reading(T0 + DAY, 0.3, offset_min=660, quality="doubtful"))
    assert said(inputs(book)) == "G1 of 2023-09-02 10:00: doubtful, not used."


def test_what_is_left_out_long_after_the_time_asked_about_is_not_told(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3), gauge_reading(T0 + 10 * DAY, 0.3))
    book.write(gauge_reading(T0 + 40 * DAY, 0.9, quality="doubtful"))
    assert said(inputs(book)) == ""


def test_a_new_zero_moves_only_the_levels_after_it(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3), gauge_reading(T0 + 4 * DAY, 0.3))
    sunk = {"zero_m": 69.94, "method": "levelled"}
    book.write(GaugeZero(site=PAN, gauge="G1", valid_from=T0 + 2 * DAY, **sunk))  # type: ignore[arg-type]
    assert levels(inputs(book)) == [70.3, 70.24]
