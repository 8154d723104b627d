"""Gaps and slips of a pump log: what costs no water, what is left out, and what is said of it."""

from datetime import timedelta

import pytest

from tests.shared_core.seasons import (
    PAN_LATER,
    PAN_START,
    Book,
    fitted,
    log,
    meter_reading,
    problems,
    pump,
    pump_book,
    site_record,
    total,
)

T0 = PAN_START
LONG = PAN_LATER
DAY = timedelta(days=1)


@pytest.fixture
def book() -> Book:
    return pump_book()


# --- gaps and slips ---


def test_a_gap_in_the_log_costs_no_water(book: Book) -> None:
    # scenario E05: 24 to 26 August not logged; 067540 to 116420.
    book.write(fitted(T0, "067540"))
    log(book, "", "", "", "116420")
    assert total(book) == pytest.approx(48_880.0)
    assert problems(book) == ""


def test_a_span_that_reaches_beyond_the_time_counts_by_its_share(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "", "", "", "040000")
    assert total(book, T0 + DAY, T0 + 2 * DAY) == pytest.approx(10_000.0)
    assert total(book, T0 - DAY, T0 + DAY) == pytest.approx(10_000.0)
    assert total(book, T0 - 2 * DAY, T0) == 0.0
    assert total(book, T0 + 4 * DAY, T0 + 9 * DAY) == 0.0


def test_swapped_digits_make_one_day_too_large_and_the_next_too_small(book: Book) -> None:
    # scenario E03: 965520 for 956520.
    book.write(fitted(T0, "944300"))
    log(book, "965520", "968740")
    assert total(book) == pytest.approx(24_440.0)
    assert total(book, T0, T0 + DAY) == pytest.approx(21_220.0)


@pytest.mark.parametrize("slip", ["998520", "914300"])
def test_one_reading_outside_its_neighbours_costs_no_water(book: Book, slip: str) -> None:
    book.write(fitted(T0, "932080"))
    log(book, "944300", slip, "968740", "980960")
    assert total(book) == pytest.approx(48_880.0)
    assert f"shows {slip} on 2023-09-03, outside 944300 before and 968740 after" in problems(book)


@pytest.mark.parametrize(
    ("displays", "left_out"),
    [
        (("010000", "020000", "010500", "040000"), "010500"),
        (("010000", "020000", "019000", "040000"), "019000"),
    ],
)
def test_of_two_that_do_not_fit_the_one_that_what_follows_speaks_against_is_left_out(
    book: Book, displays: tuple[str, ...], left_out: str
) -> None:
    book.write(fitted(T0, "000000"))
    log(book, *displays)
    assert total(book) == pytest.approx(40_000.0)
    assert problems(book).count("left out") == 1
    assert f"shows {left_out}" in problems(book)


def test_a_last_reading_that_fell_does_not_speak_against_the_one_before(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "010000", "020000", "010500")
    assert total(book) == pytest.approx(20_000.0)
    assert "fell from 020000 to 010500" in problems(book)


def test_two_readings_at_one_time_count_once(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "010000")
    log(book, "010000", "020000")
    assert total(book) == pytest.approx(20_000.0)
    assert problems(book) == ""


def test_two_different_readings_at_one_time_lose_no_water_and_are_said(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "010000")
    log(book, "010500", "020000")
    assert total(book) == pytest.approx(20_000.0)
    assert "two readings at the same time on 2023-09-02: 010000 counts, 010500 does not" in (
        problems(book)
    )


def test_no_rate_above_five_times_the_plate_is_counted(book: Book) -> None:
    # 0.55 ML/h x 24 h x 5 = 66 ML a day
    book.write(fitted(T0, "000000"))
    log(book, "065000")
    assert total(book) == pytest.approx(65_000.0)
    log(book, "", "132000")
    assert total(book) == pytest.approx(65_000.0)
    assert "counted 67.00 ML by 2023-09-03, more than the pump's plate allows" in problems(book)


def test_the_plate_is_that_of_the_pump_of_the_day(book: Book) -> None:
    book.write(pump(T0 + 2 * DAY, nameplate_megalitres_per_hour=2.0))
    book.write(fitted(T0, "000000"))
    log(book, "", "", "100000", "200000")
    assert total(book) == pytest.approx(200_000.0)


def test_without_a_pump_nothing_is_held_against_a_plate() -> None:
    book = Book()
    book.write(site_record(), fitted(T0, "000000"))
    log(book, "132000")
    assert total(book) == pytest.approx(132_000.0)


def test_two_readings_a_minute_apart_are_not_judged_by_their_rate(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "010000")
    book.write(meter_reading(T0 + DAY + timedelta(minutes=1), "010002"))
    assert total(book) == pytest.approx(10_002.0)


# --- set aside, disputed ---


def test_a_reading_set_aside_is_left_out_with_a_sentence(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    (slip, _) = log(book, "015000", "020000")
    book.correct(slip, quality="not_used")
    assert total(book) == pytest.approx(20_000.0)
    assert total(book, T0, T0 + DAY) == pytest.approx(10_000.0)
    assert "M1 of 2023-09-02 09:00: set aside, not used." in problems(book)


def test_a_disputed_reading_is_left_out_with_a_sentence(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    (name, _) = log(book, "012000", "020000")
    book.disputed(name, {"display": "013000"}, {"display": "014000"})
    assert total(book, T0, T0 + DAY) == pytest.approx(10_000.0)
    assert "M1 of 2023-09-02 09:00: display is disputed; settle it and it counts." in problems(book)


def test_a_disputed_fitting_is_named(book: Book) -> None:
    name = book.write(fitted(T0, "000000"))
    log(book, "001000")
    book.disputed(name, {"multiplier": 10.0}, {"multiplier": 100.0})
    assert "M1: multiplier is disputed" in problems(book)


def test_only_problems_of_the_time_asked_about_are_told(book: Book) -> None:
    book.write(fitted(T0, "000000"))
    log(book, "010000", "020000", "009000", "010500")
    assert "fell from" in problems(book, T0 + 2 * DAY, T0 + 3 * DAY)
    assert problems(book, T0, T0 + 2 * DAY) == ""
    assert problems(book, T0 + 10 * DAY, T0 + 11 * DAY) == ""
