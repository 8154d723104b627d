"""What was pumped: rollover, change of meter, estimates, gaps and slips of the log."""

from datetime import date, timedelta
from typing import Any

import pytest

from demo_visits import scenario
from demo_visits.truth import EXPECTED_SEASON
from shared_core.records.meter_setup import METER_UNITS_M3
from shared_core.records.pumping import counted, pumped_between, pumping
from shared_core.units import megalitres
from tests.shared_core.seasons import (
    END,
    PAN,
    PAN_LATER,
    PAN_START,
    START,
    Book,
    estimate,
    fitted,
    log,
    meter_reading,
    morning,
    problems,
    pump_book,
    season_book,
    total,
)

T0 = PAN_START
LONG = PAN_LATER
DAY = timedelta(days=1)


@pytest.fixture
def book() -> Book:
    return pump_book()


# --- the counter ---


@pytest.mark.parametrize(
    ("old", "new", "figures", "m3_per_count", "expected"),
    [
        (999950, 120, 6, 1.0, 170.0),
        (999950, 120, 6, 10.0, 1700.0),
        (123456, 123456, 6, 1.0, 0.0),
        (99990, 15, 5, 0.1, 2.5),
        (500, 400, 6, 1.0, 999900.0),
    ],
)
def test_a_counter_that_passed_zero_counts_on(
    old: int, new: int, figures: int, m3_per_count: float, expected: float
) -> None:
    # unit.rollover
    assert counted(old, new, figures, rolled=True) * m3_per_count == pytest.approx(expected)


def test_a_counter_that_fell_without_a_word_counts_back() -> None:
    assert counted(500, 400, 6) == -100
    assert counted(400, 500, 6, rolled=True) == 100


# --- rollover in the log ---


def test_a_confirmed_rollover_costs_no_water(book: Book) -> None:
    # scenario E04: 998120 to 010340 is 12,220 kL.
    book.write(fitted(T0, "998120"))
    log(book, "010340", rolled=True)
    assert total(book) == pytest.approx(12_220.0)
    assert problems(book) == ""


def test_a_rollover_nobody_confirmed_is_not_counted_and_said(book: Book) -> None:
    book.write(fitted(T0, "998120"))
    log(book, "010340", "022560")
    assert total(book) == pytest.approx(12_220.0)  # the second day alone
    assert "fell from 998120 to 010340 by 2023-09-02: confirm that it passed zero" in problems(book)


def test_a_face_that_fell_is_no_rollover_even_if_somebody_says_so(book: Book) -> None:
    # unit.rollover, last case: 999,900 must raise a warning.
    book.write(fitted(T0, "000500"))
    log(book, "000400", rolled=True)
    assert total(book) == 0.0
    assert "counted 999.90 ML by 2023-09-02, more than the pump's plate allows" in problems(book)


# --- change of meter ---


def test_a_change_of_meter_with_all_figures_loses_nothing(book: Book) -> None:
    change = T0 + 2 * DAY
    book.write(
        fitted(T0, "100000", removed_at=change, final_display="118000"),
        fitted(change, "000012", meter="M2", multiplier=10.0, replaces="M1"),
    )
    log(book, "110000")
    book.write(meter_reading(change + DAY, "001012", point="M2"))
    assert total(book) == pytest.approx(18_000.0 + 10_000.0)
    assert problems(book) == ""


def test_two_meters_are_never_subtracted_from_each_other(book: Book) -> None:
    # scenario E13: "difference becomes -181,408".
    book.write(fitted(T0, "181420"), fitted(T0 + DAY, "000012", meter="M2", multiplier=10.0))
    book.write(meter_reading(T0 + DAY, "181420"))
    book.write(meter_reading(T0 + 2 * DAY, "001234", point="M2"))
    assert total(book) == pytest.approx(12_220.0)
    assert problems(book) == ""


def test_a_new_meter_without_its_first_figures_counts_from_its_first_reading(book: Book) -> None:
    book.write(fitted(T0, None))
    log(book, "001000", "003000")
    assert total(book) == pytest.approx(2000.0)
    said = problems(book)
    assert (
        "no figures from the day it was fitted; it counts from its first reading, 2023-09-02"
        in (said)
    )


def test_a_first_reading_on_the_hour_of_fitting_stands_for_the_missing_figures(book: Book) -> None:
    book.write(fitted(T0, None))
    book.write(meter_reading(T0, "001000"), meter_reading(T0 + DAY, "003000"))
    assert total(book) == pytest.approx(2000.0)
    assert problems(book) == ""


def test_an_old_meter_without_its_last_figures_counts_to_its_last_reading(book: Book) -> None:
    book.write(fitted(T0, "000000", removed_at=T0 + 3 * DAY))
    log(book, "001000")
    assert total(book) == pytest.approx(1000.0)
    assert "no figures from the day it was removed; it counts to its last reading, 2023-09-02" in (
        problems(book)
    )


def test_a_meter_fitted_anew_is_not_counted_twice(book: Book) -> None:
    book.write(fitted(T0, "000000"), fitted(T0 + 2 * DAY, "002000", multiplier=10.0))
    log(book, "001000", "002000", "002100")
    assert total(book) == pytest.approx(2000.0 + 1000.0)
    assert problems(book) == ""


# --- units ---


@pytest.mark.parametrize(
    ("more", "expected_m3"),
    [
        ({"unit": "kL", "multiplier": 10.0}, 12_220.0),  # scenario E12: 1222 counts of 10 kL
        ({"unit": "kL"}, 1222.0),
        ({"unit": "m3"}, 1222.0),
        ({"unit": "ML", "decimals": 3}, 1222.0),
        ({"unit": "L"}, 1.222),
    ],
)
def test_a_count_is_worth_what_the_face_says(
    book: Book, more: dict[str, Any], expected_m3: float
) -> None:
    book.write(fitted(T0, "000012", **more))
    log(book, "001234")
    assert total(book) == pytest.approx(expected_m3)
    assert METER_UNITS_M3["kL"] == 1.0


# --- stuck, estimated, twice ---


def test_a_stuck_meter_with_an_estimate_gives_the_estimate(book: Book) -> None:
    # scenario E11: 35.5 h x 0.520 ML/h = 18.46 ML
    book.write(fitted(T0, "181420"))
    log(book, "181420", "181420")
    book.write(estimate(T0, T0 + 2 * DAY, 35.5, rate_megalitres_per_hour=0.520))
    found = pumped_between(book.known, PAN, T0, LONG)
    assert found.estimated_m3 == pytest.approx(18_460.0)
    assert found.metered_m3 == 0.0
    assert found.sd_m3 == pytest.approx(1846.0)
    assert found.problems == ()


def test_water_that_a_meter_counted_beside_an_estimate_is_said(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "", "", "030000")
    book.write(estimate(T0 + DAY, T0 + 2 * DAY, 20.0))
    assert total(book) == pytest.approx(40_000.0)
    assert "M1: 10.00 ML are counted within the time of the estimate" in problems(book)
    assert "from 2023-09-02 09:00 to 2023-09-03 09:00; see that no water is in both" in (
        problems(book)
    )


def test_an_estimate_written_twice_is_said(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    for _ in range(2):
        book.write(estimate(T0, T0 + DAY, 10.0))
    assert "M1: 5.00 ML are counted within the time of the estimate" in problems(book)


def test_estimates_of_one_pumps_rate_add_straight(book: Book) -> None:
    book.write(estimate(T0, T0 + DAY, 10.0), estimate(T0 + DAY, T0 + 2 * DAY, 10.0))
    assert pumped_between(book.known, PAN, T0, LONG).sd_m3 == pytest.approx(1000.0)


@pytest.mark.parametrize("days", [0, -1])
def test_an_estimate_that_ends_before_it_starts_is_not_counted_and_said(
    book: Book, days: int
) -> None:
    book.write(estimate(T0 + DAY, T0 + (1 + days) * DAY, 10.0))
    assert total(book) == 0.0
    assert "The estimate for M1 ends before it starts" in problems(book)


def test_figures_that_nobody_read_are_as_unsure_as_an_estimate(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "010000", estimate=True)
    found = pumped_between(book.known, PAN, T0, LONG)
    assert found.estimated_m3 == pytest.approx(10_000.0)
    assert found.sd_m3 == pytest.approx(1000.0)  # common practice: 10 % from hours


# --- several meters, and the season ---


def test_errors_of_one_meter_add_straight_and_of_two_in_squares(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "010000", "020000")
    assert pumped_between(book.known, PAN, T0, LONG).sd_m3 == pytest.approx(500.0)
    book.write(fitted(T0, "000000", meter="M2", sd_fraction=0.05))
    log(book, "010000", "020000", point="M2")
    both = pumped_between(book.known, PAN, T0, LONG)
    assert both.volume_m3 == pytest.approx(40_000.0)
    assert both.sd_m3 == pytest.approx((500.0**2 + 1000.0**2) ** 0.5)


def test_spans_of_all_meters_come_in_order_of_time_with_their_records(book: Book) -> None:
    setup = book.write(fitted(T0, "000000"))
    first, second = log(book, "010000", "020000")
    book.write(fitted(T0, "000000", meter="M2"))
    log(book, "000000", point="M2")
    spans = pumping(book.known, PAN, T0, LONG).spans
    assert [(span.meter, (span.start - T0).days) for span in spans] == [
        ("M1", 0), ("M2", 0), ("M1", 1)
    ]  # fmt: skip
    assert spans[0].evidence == (setup, first)
    assert spans[2].evidence == (first, second)
    assert {span.source for span in spans} == {"meter M1", "meter M2"}


def test_the_seasons_log_adds_up_to_what_was_pumped() -> None:
    # scenario 5: M1 274.82 + 35.36, estimated 18.46, M2 16.64
    book = season_book()
    found = pumped_between(book.known, scenario.SITE, START, END)
    assert megalitres(found.volume_m3) == pytest.approx(EXPECTED_SEASON.pumped)
    assert megalitres(found.metered_m3) == pytest.approx(EXPECTED_SEASON.metered)
    assert megalitres(found.estimated_m3) == pytest.approx(EXPECTED_SEASON.estimated)
    assert found.problems == ()
    first = pumped_between(book.known, scenario.SITE, START, morning(date(2023, 8, 30)))
    assert megalitres(first.volume_m3) == pytest.approx(274.82)
    idle = (morning(date(2023, 8, 30)), morning(date(2023, 10, 17)))
    assert pumped_between(book.known, scenario.SITE, *idle).volume_m3 == 0.0


def test_a_span_has_no_share_in_a_time_that_it_does_not_touch(book: Book) -> None:
    book.write(estimate(T0, T0 + 4 * DAY, 10.0))
    (span,) = pumping(book.known, PAN, T0, LONG).spans
    assert span.share(T0 + DAY, T0 + 2 * DAY) == pytest.approx(0.25)
    assert span.share(T0 - DAY, LONG) == 1.0
    assert span.share(T0 + 9 * DAY, LONG) == 0.0
