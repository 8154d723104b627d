from datetime import UTC, datetime, timedelta

import pytest

from mobile.time_words import clock_words, span_words, typed_time
from shared_core.errors import UnreadableError

NOON = datetime(2026, 3, 2, 2, 0, tzinfo=UTC)  # 12:00 at +10:00


@pytest.mark.parametrize(
    ("away", "words"),
    [
        (timedelta(0), "12:00"),
        (timedelta(hours=13), "01:00 tomorrow"),
        (timedelta(days=-1), "12:00 yesterday"),
        (timedelta(days=365), "12:00 on Tue 2 Mar 2027"),
    ],
)
def test_a_time_names_its_day_unless_it_is_today(away: timedelta, words: str) -> None:
    assert clock_words(NOON + away, NOON, 600) == words


@pytest.mark.parametrize(
    ("span", "words"),
    [
        (timedelta(seconds=40), "40 s"),
        (timedelta(minutes=-3), "3 min"),
        (timedelta(hours=1, minutes=5), "1 h 5 min"),
        (timedelta(hours=2), "2 h"),
        (timedelta(days=3), "3 days"),
        (timedelta(days=731), "731 days (2.0 years)"),
    ],
)
def test_a_span_is_said_in_the_units_that_matter(span: timedelta, words: str) -> None:
    assert span_words(span) == words


def test_a_time_without_a_day_is_the_nearest_such_time() -> None:
    late = NOON + timedelta(hours=11, minutes=58)  # 23:58
    assert typed_time("00:01", late, 600) - late == timedelta(minutes=3)
    early = NOON - timedelta(hours=11, minutes=58)  # 00:02
    assert typed_time("23:59", early, 600) - early == timedelta(minutes=-3)


def test_a_time_with_its_day_is_that_day() -> None:
    assert typed_time("2025-03-02 12:00", NOON, 600) == NOON - timedelta(days=365)


@pytest.mark.parametrize("text", ["", "noon", "25:00", "12:60", "2026-02-30 12:00", "12"])
def test_what_is_no_time_is_said(text: str) -> None:
    with pytest.raises(UnreadableError, match="type it as 17:30"):
        typed_time(text, NOON, 600)
