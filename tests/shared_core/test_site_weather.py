"""Rain and evaporation of a balance, off the gauge, the weather file and the monthly table."""

from datetime import date, timedelta
from typing import Any

import pytest

from shared_core.balance import Inputs, Term
from shared_core.errors import OutsideRangeError
from shared_core.records.water_setup import EvaporationTable
from shared_core.site_balance import balance_of, gather
from tests.shared_core.seasons import (
    PAN,
    PAN_START,
    Book,
    gauge_reading,
    pan_setup,
    rain_reading,
    weather_series,
)

T0 = PAN_START  # 1 September 2023, 09:00 standard time
DAY = timedelta(days=1)
FIRST = date(2023, 9, 1)


@pytest.fixture
def book() -> Book:
    """Return the pan, half a metre deep all the time."""
    found = Book()
    found.write(*pan_setup(), gauge_reading(T0, 0.5), gauge_reading(T0 + 60 * DAY, 0.5))
    return found


def monthly(sd_fraction: float = 0.20, months: int = 12, **more: Any) -> EvaporationTable:
    """Return a table whose month n loses n mm of reference evaporation a day."""
    rows = tuple((float(n),) for n in range(1, months + 1))
    given = {"site": PAN, "valid_from": T0 - 50 * DAY, "open_water_factor": 1.0, **more}
    return EvaporationTable(monthly_mm_per_day=rows, sd_fraction=sd_fraction, **given)


def inputs(book: Book, days: int = 10) -> Inputs:
    return gather(book.known, PAN, T0, T0 + days * DAY)


def evaporation(book: Book, days: int = 10) -> Term:
    return balance_of(book.known, PAN, start=T0, end=T0 + days * DAY).season.evaporation


def rain(book: Book, days: int = 10) -> dict[date, float]:
    return {label: mm for label, mm in inputs(book, days).rain.by_day.items() if mm}


def said(book: Book, days: int = 10) -> str:
    return "\n".join(inputs(book, days).left_out)


# --- rain ---


def test_rain_is_put_on_the_day_it_was_read(book: Book) -> None:
    book.write(weather_series(FIRST, 60), rain_reading(date(2023, 9, 7), 2.2))
    assert rain(book) == {date(2023, 9, 7): 2.2}
    found = balance_of(book.known, PAN, start=T0, end=T0 + 10 * DAY).season.rain
    assert found.megalitres == pytest.approx(0.22)  # 1 mm on 10 ha is 0.1 ML
    assert found.sd_megalitres == pytest.approx(0.08 * 0.22)  # common practice: rain sd 8 %


def test_an_accumulation_is_spread_over_the_days_it_covers(book: Book) -> None:
    book.write(rain_reading(date(2023, 9, 8), 9.0, days_covered=3))
    assert rain(book) == {date(2023, 9, day): 3.0 for day in (6, 7, 8)}


def test_an_accumulation_read_after_the_last_day_counts_for_the_days_inside(book: Book) -> None:
    book.write(rain_reading(date(2023, 9, 13), 9.0, days_covered=3))  # 11, 12, 13; 11 is the last
    assert rain(book) == {date(2023, 9, 11): 3.0}


def test_an_accumulation_read_on_the_first_day_counts_for_that_day_alone(book: Book) -> None:
    book.write(rain_reading(date(2023, 9, 2), 9.0, days_covered=3))
    assert rain(book) == {date(2023, 9, 2): 3.0}


def test_a_gauge_read_twice_on_one_day_adds_up_and_two_gauges_are_averaged(book: Book) -> None:
    day = date(2023, 9, 7)
    book.write(rain_reading(day, 2.0), rain_reading(day, 4.0))
    assert rain(book) == {day: 6.0}
    book.write(rain_reading(day, 8.0, point="RG2"))
    assert rain(book) == {day: 7.0}


def test_rain_that_is_disputed_or_set_aside_is_left_out_with_a_sentence(book: Book) -> None:
    book.write(rain_reading(date(2023, 9, 5), 1.0))
    book.correct(book.write(rain_reading(date(2023, 9, 6), 18.4)), quality="not_used")
    name = book.write(rain_reading(date(2023, 9, 7), 18.4))
    book.disputed(name, {"rain_mm": 1.84}, {"rain_mm": 8.4})
    assert rain(book) == {date(2023, 9, 5): 1.0}
    assert "Rain of 2023-09-06: set aside, not used." in said(book)
    assert "Rain of 2023-09-07: rain_mm is disputed; settle it and it counts." in said(book)


def test_where_no_gauge_is_read_rain_comes_out_of_the_weather(book: Book) -> None:
    book.write(weather_series(FIRST, 60, rain_mm=1.5))
    found = inputs(book)
    assert found.rain.source == "rain in the weather file"
    assert set(found.rain.by_day.values()) == {1.5}
    assert said(book) == ""


def test_rain_in_the_weather_that_no_gauge_saw_is_said(book: Book) -> None:
    book.write(weather_series(FIRST, 60, rain_mm=1.5), rain_reading(date(2023, 9, 5), 1.0))
    assert inputs(book).rain.source == "rain gauge"
    assert rain(book) == {date(2023, 9, 5): 1.0}
    assert "the weather file has 13.5 mm on 9 days without a reading of the rain gauge" in said(
        book
    )


def test_days_of_which_no_rain_is_known_are_said(book: Book) -> None:
    book.write(weather_series(FIRST, 7), monthly())
    assert "Rain: nothing is known of 4 days; they are taken as dry." in said(book)


# --- evaporation ---


def test_daily_weather_is_used_with_its_own_factor_and_uncertainty(book: Book) -> None:
    book.write(monthly(), weather_series(FIRST, 60, open_water_factor=1.05))
    found = evaporation(book)
    assert found.megalitres == pytest.approx(5.25)  # 10 days x 5 mm x 1.05 on 10 ha
    assert found.sd_megalitres == pytest.approx(0.525)  # common practice: 10 % with daily data
    assert "monthly" not in said(book)


def test_without_daily_weather_the_monthly_table_is_used_and_said(book: Book) -> None:
    book.write(monthly())
    found = evaporation(book)
    assert found.megalitres == pytest.approx(9.0)  # September: 9 mm a day
    assert found.sd_megalitres == pytest.approx(1.8)  # common practice: 20 % with monthly means
    assert "Evaporation of 10 of 10 days comes from the monthly table." in said(book)


def test_the_month_is_that_of_the_label(book: Book) -> None:
    book.write(monthly())
    found = gather(book.known, PAN, T0 + 28 * DAY, T0 + 30 * DAY).evaporation.by_day
    assert found == {date(2023, 9, 30): 9.0, date(2023, 10, 1): 10.0}


def test_where_part_of_the_days_come_from_the_table_each_has_its_own_uncertainty(
    book: Book,
) -> None:
    book.write(monthly(), weather_series(FIRST, 6))  # labels 1 to 6; the days are 2 to 11
    found = evaporation(book)
    assert found.megalitres == pytest.approx(5 * 0.5 + 5 * 0.9)
    # the factor for open water is in both, so one error moves both: they add straight
    assert found.sd_megalitres == pytest.approx(0.10 * 2.5 + 0.20 * 4.5)
    assert "Evaporation of 5 of 10 days comes from the monthly table." in said(book)


def test_weather_in_two_files_is_as_sure_as_in_one(book: Book) -> None:
    book.write(weather_series(FIRST, 6), weather_series(FIRST + 6 * DAY, 30))
    found = evaporation(book)
    assert found.megalitres == pytest.approx(5.0)
    assert found.sd_megalitres == pytest.approx(0.5)


def test_a_day_missing_in_the_file_is_filled_from_the_table_or_named(book: Book) -> None:
    book.write(weather_series(FIRST, 60, eto_mm=None))
    with pytest.raises(OutsideRangeError, match="no evaporation for 2023-09-02"):
        evaporation(book)
    book.write(monthly())
    assert evaporation(book).megalitres == pytest.approx(9.0)


def test_a_table_that_has_not_twelve_months_is_not_used_and_said(book: Book) -> None:
    book.write(monthly(months=11))
    assert "twelve rows are needed; the table is not used" in said(book)
    assert inputs(book).evaporation.by_day == {}


def test_a_disputed_table_is_named(book: Book) -> None:
    name = book.write(monthly())
    book.disputed(name, {"open_water_factor": 1.05}, {"open_water_factor": 0.65})
    assert "Evaporation by month: open_water_factor is disputed" in said(book)
