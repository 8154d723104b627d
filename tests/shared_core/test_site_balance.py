"""From records to a balance: the season, the gauges, rain, evaporation, periods and sentences."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest

from demo_visits import scenario
from demo_visits.truth import EXPECTED_PERIODS, EXPECTED_SEASON
from shared_core.balance import Balance, Inputs, SeasonBalance
from shared_core.errors import OutsideRangeError, UnknownError
from shared_core.records.plan import WateringPlan
from shared_core.site_balance import balance_of, gather
from shared_core.units import megalitres
from tests.shared_core.seasons import (
    CUTS,
    END,
    PAN,
    PAN_START,
    START,
    Book,
    estimate,
    fitted,
    gauge_reading,
    meter_reading,
    pan_setup,
    season_book,
    site_record,
    weather_series,
)

T0 = PAN_START  # 1 September 2023, 09:00 standard time
DAY = timedelta(days=1)
FIRST = date(2023, 9, 1)


@pytest.fixture(scope="module")
def season() -> SeasonBalance:
    return balance_of(season_book().known, scenario.SITE)


@pytest.fixture
def book() -> Book:
    """Return the pan with its gauge, and weather of 5 mm a day without rain."""
    found = Book()
    found.write(*pan_setup(), weather_series(FIRST, 60))
    return found


def inputs(book: Book, days: float = 10, start: datetime = T0) -> Inputs:
    return gather(book.known, PAN, start, start + days * DAY)


def balance(book: Book, days: float = 10, start: datetime = T0, **more: Any) -> SeasonBalance:
    return balance_of(book.known, PAN, start=start, end=start + days * DAY, **more)


# --- the season of the scenario, off its records ---


@pytest.mark.parametrize("number", range(8), ids=[p.name for p in EXPECTED_PERIODS])
def test_the_records_of_the_season_reproduce_the_published_table(
    season: SeasonBalance, number: int
) -> None:
    """Scenario 4; levels are those that a gauge could show, so the last weeks have none."""
    found, expected = season.periods[number], EXPECTED_PERIODS[number]
    assert found.name == expected.name
    assert found.pumped.megalitres == pytest.approx(expected.pumped, abs=0.005)
    assert found.rain.megalitres == pytest.approx(expected.rain, abs=0.02)
    assert found.evaporation.megalitres == pytest.approx(expected.evaporation, abs=0.1)
    assert found.storage_change.megalitres == pytest.approx(expected.storage_change, abs=0.1)
    assert found.residual.megalitres == pytest.approx(expected.residual, abs=0.1)
    assert found.residual.sd_megalitres == pytest.approx(expected.residual_sd, abs=0.1)


def test_the_records_of_the_season_reproduce_its_published_line(season: SeasonBalance) -> None:
    whole, expected = season.season, EXPECTED_SEASON
    assert whole.pumped.megalitres == pytest.approx(expected.pumped)
    assert megalitres(whole.metered_m3) == pytest.approx(expected.metered)
    assert megalitres(whole.estimated_m3) == pytest.approx(expected.estimated)
    assert whole.residual.megalitres == pytest.approx(expected.residual_from_visits, abs=0.2)
    assert whole.rain.megalitres == pytest.approx(expected.rain_from_visits, abs=0.05)
    assert whole.evaporation.megalitres == pytest.approx(expected.evaporation_from_visits, abs=0.1)
    assert whole.residual.sd_megalitres == pytest.approx(expected.residual_sd, abs=0.5)
    assert season.sd_as_if_independent_megalitres() == pytest.approx(15.4, abs=0.1)
    assert season.rating_version == "DEM-S"
    wetting = season.first_wetting
    assert wetting is not None
    assert wetting.depth_mm.value == pytest.approx(158.0, abs=2.0)


def test_what_is_left_out_of_the_season_is_the_doubtful_gauge_after_the_knock(
    season: SeasonBalance,
) -> None:
    # scenario 10.4; each in a sentence, and nothing else
    assert season.left_out == tuple(
        f"SG2 of 2023-11-0{day} 09:00: doubtful, not used." for day in (2, 3, 4, 5)
    )


@pytest.mark.parametrize("kind", ["visits", "month"])
def test_however_the_season_is_cut_its_sum_and_its_uncertainty_stay(
    season: SeasonBalance, kind: str
) -> None:
    found = balance_of(season_book().known, scenario.SITE, period=kind)
    assert len(found.periods) != len(season.periods) or kind == "month"
    for one, other in zip(found.season.terms, season.season.terms, strict=True):
        assert one.megalitres == pytest.approx(other.megalitres, abs=1e-6)
        assert one.sd_megalitres == pytest.approx(other.sd_megalitres, abs=1e-6)


# --- pumping ---


def test_what_stands_in_the_way_of_pumping_is_told_with_the_rest(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3), gauge_reading(T0 + 10 * DAY, 0.3))
    book.write(fitted(T0, "998120"), meter_reading(T0 + DAY, "010340"))
    found = balance(book)
    assert found.season.pumped.megalitres == 0.0
    assert "M1 fell from 998120 to 010340 by 2023-09-02" in found.left_out[0]


def test_two_meters_are_two_sources_of_error_and_an_estimate_a_third(book: Book) -> None:
    book.write(gauge_reading(T0, 0.3), gauge_reading(T0 + 10 * DAY, 0.3))
    book.write(fitted(T0, "000000"), fitted(T0, "000000", meter="M2"))
    for point in ("M1", "M2"):
        book.write(meter_reading(T0 + DAY, "010000", point=point))
    book.write(estimate(T0 + 2 * DAY, T0 + 3 * DAY, 10.0))
    pumped = balance(book).season.pumped.volume_m3
    assert dict(pumped.parts) == pytest.approx(
        {"meter M1": 250.0, "meter M2": 250.0, "estimate M1": 500.0}
    )


# --- cuts ---


def plan(*periods: tuple[str, datetime], until: datetime, **more: Any) -> WateringPlan:
    given = {"site": PAN, "valid_from": T0 - 30 * DAY, "season": "2023-24", **more}
    return WateringPlan(periods=periods, until=until, **given)


def spans(found: SeasonBalance) -> list[tuple[str, float, float]]:
    def day(moment: datetime) -> float:
        return (moment - T0) / DAY

    return [(p.name, day(p.start), day(p.end)) for p in found.periods]


@pytest.fixture
def level_book(book: Book) -> Book:
    """Return the pan with a level every tenth day."""
    for n in range(0, 60, 10):
        book.write(gauge_reading(T0 + n * DAY, 0.9 - n / 100))
    return book


def test_a_plan_gives_first_and_last_day_and_its_own_periods(level_book: Book) -> None:
    periods = (("hold", T0 + 20 * DAY), ("fill", T0))  # written down in any order
    level_book.write(plan(*periods, until=T0 + 40 * DAY))
    assert spans(balance_of(level_book.known, PAN)) == [("fill", 0, 20), ("hold", 20, 40)]


def test_of_two_plans_the_one_of_the_time_asked_about_is_used(level_book: Book) -> None:
    level_book.write(plan(("old", T0), until=T0 + 30 * DAY))
    later = {"valid_from": T0 + 300 * DAY, "season": "2024-25"}
    level_book.write(plan(("new", T0 + 310 * DAY), until=T0 + 400 * DAY, **later))
    assert spans(balance(level_book, 20)) == [("old", 0, 20)]


def test_a_start_before_the_first_planned_period_has_one_of_its_own(level_book: Book) -> None:
    level_book.write(plan(("hold", T0 + 20 * DAY), until=T0 + 40 * DAY))
    assert spans(balance(level_book, 30)) == [("to begin with", 0, 20), ("hold", 20, 30)]


def test_by_visits_the_cuts_are_the_looks_named_by_standard_time(level_book: Book) -> None:
    found = spans(balance(level_book, 25, period="visits"))
    assert found == [
        ("2023-09-01 09:00", 0, 10), ("2023-09-11 09:00", 10, 20), ("2023-09-21 09:00", 20, 25)
    ]  # fmt: skip


def test_a_month_begins_with_the_day_that_ends_on_its_first_morning(level_book: Book) -> None:
    # rain read on 1 October at 09:00 fell before and belongs to October, as its label does
    found = spans(balance(level_book, 45, period="month"))
    assert found == [("2023-09", 0, 29), ("2023-10", 29, 45)]


def test_a_month_that_starts_on_its_first_morning_has_its_own_name(level_book: Book) -> None:
    start = T0 + 30 * DAY  # 1 October, 09:00: still September in UTC
    assert spans(balance(level_book, 10, start, period="month")) == [("2023-10", 30, 40)]
    start = T0 + 29 * DAY
    assert spans(balance(level_book, 10, start, period="month")) == [("2023-10", 29, 39)]


# --- sentences ---


def test_an_unknown_site_is_refused_with_those_that_are_known(book: Book) -> None:
    book.write(site_record("AAA"))
    with pytest.raises(UnknownError, match="no site 'XYZ' here; known are AAA, PAN"):
        balance_of(book.known, "XYZ")
    with pytest.raises(UnknownError, match="known are none yet"):
        balance_of(Book().known, "XYZ")


def test_a_site_without_a_rating_is_refused_with_what_would_make_one() -> None:
    book = Book()
    book.write(site_record(), gauge_reading(T0, 0.3))
    with pytest.raises(UnknownError, match="no rating table: make one from a terrain model"):
        balance(book)


def test_a_site_without_a_plan_needs_a_first_and_a_last_day(level_book: Book) -> None:
    with pytest.raises(UnknownError, match="give a first and a last day"):
        balance_of(level_book.known, PAN)
    with pytest.raises(UnknownError, match="give a first and a last day"):
        balance_of(level_book.known, PAN, start=T0)


def test_a_site_without_levels_is_refused(book: Book) -> None:
    with pytest.raises(OutsideRangeError, match="no level was read"):
        balance(book)


def test_a_wet_day_without_evaporation_is_named(level_book: Book) -> None:
    # the weather taken in ends on 30 October (60 days from 1 September)
    level_book.write(gauge_reading(T0 + 70 * DAY, 0.2))
    assert inputs(level_book, 70).evaporation.by_day[date(2023, 10, 30)] == 5.0
    with pytest.raises(OutsideRangeError, match="no evaporation for 2023-10-31"):
        balance(level_book, 70)


def test_an_end_before_the_start_is_refused(level_book: Book) -> None:
    for days in (0, -5):
        with pytest.raises(OutsideRangeError, match="must end after it starts, not 2023"):
            balance(level_book, days)


def test_a_time_beyond_the_last_level_is_refused(level_book: Book) -> None:
    with pytest.raises(OutsideRangeError, match="the last level was read 2023-10-20 23:00 UTC"):
        balance(level_book, 55)


def test_a_balance_by_an_unknown_kind_of_period_is_refused(level_book: Book) -> None:
    with pytest.raises(UnknownError, match="goes by plan, visits, month, not by 'week'"):
        balance(level_book, period="week")


def test_a_disputed_rating_is_named(level_book: Book) -> None:
    (table,) = {term.evidence[-1] for term in [balance(level_book).season.storage_change]}
    level_book.disputed(table, {"fit_fraction": 0.04}, {"fit_fraction": 0.05})
    assert "Rating table: fit_fraction is disputed" in balance(level_book).left_out[0]


def test_the_records_behind_the_terms_can_be_followed_back(level_book: Book) -> None:
    level_book.write(fitted(T0, "000000"), meter_reading(T0 + DAY, "010000"))
    whole: Balance = balance(level_book).season
    for term in (whole.pumped, whole.evaporation, whole.storage_change):
        assert term.evidence
        assert all(level_book.log.standing(name) is not None for name in term.evidence)


def test_the_seasons_periods_are_those_of_its_plan(season: SeasonBalance) -> None:
    assert [(p.name, p.start) for p in season.periods] == [
        (name, at.astimezone(UTC)) for name, at in CUTS
    ]
    assert season.season.start == START
    assert season.season.end == END
