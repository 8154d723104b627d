"""Rain (E27 of the invented season: one storm under two dates)."""

from datetime import date

from shared_core.records.base import Severity
from tests.shared_core.records.swamp import HERON, Swamp

STORM = date(2023, 10, 22)


def test_one_storm_under_two_dates_is_asked_about_on_both(swamp: Swamp) -> None:
    evening = swamp.rain("2023-10-21 20:30+11:00", date(2023, 10, 21), 18.4)
    morning = swamp.rain("2023-10-22 10:40+11:00", STORM, 18.4, observers=HERON)
    swamp.write(evening)
    assert swamp.the_alarm(morning).code == "rain-neighbour-day"
    swamp.write(morning)
    known = swamp.logbook.known()
    alarm = next(iter(evening.findings(known)))
    assert (alarm.code, alarm.suggests) == ("rain-neighbour-day", "2023-10-22")
    assert "read in the evening" in alarm.saw


def test_another_amount_the_next_day_is_another_rain(swamp: Swamp) -> None:
    swamp.write(swamp.rain("2023-10-21 10:00+11:00", date(2023, 10, 21), 5.2))
    assert swamp.finds(swamp.rain("2023-10-22 10:00+11:00", STORM, 18.4)) == []


def test_two_dry_days_are_no_copy(swamp: Swamp) -> None:
    swamp.write(swamp.rain("2023-10-21 10:00+11:00", date(2023, 10, 21), 0.0))
    assert swamp.finds(swamp.rain("2023-10-22 10:00+11:00", STORM, 0.0)) == []


def test_the_same_day_read_twice_asks_only_where_it_differs(swamp: Swamp) -> None:
    swamp.write(swamp.rain("2023-10-22 10:00+11:00", STORM, 18.4))
    same = swamp.finds(swamp.rain("2023-10-22 10:40+11:00", STORM, 18.4, observers=HERON))
    assert [f.severity for f in same] == [Severity.NOTE]
    differs = swamp.rain("2023-10-22 10:40+11:00", STORM, 14.8, observers=HERON)
    assert swamp.the_alarm(differs).code == "rain-same-day"


def test_a_sum_that_takes_in_a_day_with_its_own_entry_is_asked_about(swamp: Swamp) -> None:
    swamp.write(swamp.rain("2023-10-21 10:00+11:00", date(2023, 10, 21), 5.2))
    total = swamp.rain("2023-10-23 10:00+11:00", date(2023, 10, 23), 24.0, days_covered=3)
    assert swamp.the_alarm(total).code == "rain-counted-again"


def test_a_cloudburst_asks_whether_it_covers_several_days(swamp: Swamp) -> None:
    assert swamp.the_alarm(swamp.rain("2023-10-22 10:00+11:00", STORM, 120.0)).code == "rain-heavy"
    spread = swamp.rain("2023-10-22 10:00+11:00", STORM, 120.0, days_covered=3)
    assert swamp.finds(spread) == []
