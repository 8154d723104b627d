from collections.abc import Callable
from datetime import timedelta
from typing import Any

from mobile.field_day import FieldDay
from mobile.trip import Trip, back_again, out_shown
from shared_core.records.rain import RainReading
from tests.mobile.kept import record_of


def filled(day: FieldDay) -> Trip:
    trip = Trip(day)
    trip.type("people", "Ada, Bert")
    trip.type("route", "White ute, levee track")
    trip.type("called_if_late", "Ruth, at the depot")
    trip.due_in(6)
    return trip


def test_the_card_as_text_says_who_where_until_when_and_who_is_called(day: FieldDay) -> None:
    message = filled(day).message
    assert message.splitlines() == [
        "Ada, Bert, team Ada",
        "To: Practice Pool (invented) (PRA)",
        "Vehicle and route: White ute, levee track",
        "Leaving: 08:00",
        "Due back: 14:00",
        "Not back by then: call Ruth, at the depot",
    ]


def test_a_card_says_what_it_does_not_say(day: FieldDay) -> None:
    shown = Trip(day).shown()
    assert "when you are due back and who is called if you are late" in shown.missing
    assert filled(day).shown().missing == ""


def test_a_time_of_day_is_the_next_such_time(day: FieldDay) -> None:
    trip = Trip(day)
    trip.type_due("17:30")
    assert trip.shown().due_words == "Due back at 17:30."
    trip.type_due("07:00")  # it is 08:00 now
    assert trip.shown().due_words == "Due back at 07:00 tomorrow."


def test_what_is_no_time_is_said_and_the_time_before_stays(day: FieldDay) -> None:
    trip = filled(day)
    trip.type_due("half past")
    assert "'half past' is no time" in trip.shown().due_words
    assert "Due back: 14:00" in trip.message


def test_home_counts_down_and_then_says_overdue(day: FieldDay, clock: Any) -> None:
    filled(day).go()
    out = out_shown(day.logbook, day.here())
    assert out is not None
    assert (out.title, out.overdue) == ("Out since 08:00, due back 14:00", False)
    clock.now += timedelta(hours=7, minutes=5)
    late = out_shown(day.logbook, day.here())
    assert late is not None
    assert (late.title, late.overdue) == ("Overdue by 1 h 5 min", True)
    assert "Tell Ruth, at the depot where you are: this app calls nobody." in late.says


def test_exactly_on_time_is_not_late(day: FieldDay, clock: Any) -> None:
    filled(day).go()
    clock.now += timedelta(hours=6)
    out = out_shown(day.logbook, day.here())
    assert out is not None
    assert not out.overdue


def test_who_is_back_is_not_out(day: FieldDay) -> None:
    filled(day).go()
    back_again(day.logbook)
    assert out_shown(day.logbook, day.here()) is None


def test_changing_the_card_keeps_the_hour_of_leaving(day: FieldDay, clock: Any) -> None:
    filled(day).go()
    clock.now += timedelta(hours=2)
    trip = Trip(day)
    trip.due_in(8)
    trip.go()
    out = out_shown(day.logbook, day.here())
    assert out is not None
    assert out.title == "Out since 08:00, due back 18:00"


def test_the_next_site_of_the_same_trip_takes_the_card_over(day: FieldDay) -> None:
    filled(day).go()
    day.arrive("PRA", [day.author])
    trip = Trip(day)
    assert trip.text("people") == "Ada, Bert"
    assert "Due back: 14:00" in trip.message


def test_everybody_on_the_card_is_named_in_the_records(day: FieldDay) -> None:
    filled(day)
    saved = day.record(RainReading, "R1", {"rain_mm": "3", "read_on": "2026-03-02"})
    assert record_of(day, saved).observers == ("Ada", "Bert")


def test_the_card_is_on_disk_at_every_letter(
    day: FieldDay, make_day: Callable[..., FieldDay]
) -> None:
    day.take_up("PRA")
    filled(day)
    again = make_day(day.logbook)
    again.take_up("PRA")
    assert Trip(again).message == Trip(day).message
