"""The clock, the place and the end of a visit (E10, V14, E25 of the invented season)."""

from shared_core.records.base import Severity
from tests.shared_core.records.swamp import Swamp, at, place


def test_a_clock_left_at_standard_time_is_known_by_its_hour(swamp: Swamp) -> None:
    visit = swamp.visit(
        "2023-10-10 10:00+11:00",
        clock_shows=at("2023-10-10 10:00+11:00"),
        satellite_time=at("2023-10-10 11:00+11:00"),
    )
    alarm = swamp.the_alarm(visit)
    assert (alarm.code, alarm.field) == ("clock", "seen_at")
    assert "daylight saving" in alarm.expected
    assert alarm.suggests == "2023-10-10T11:00+11:00"


def test_morning_and_afternoon_mixed_up_are_twelve_hours(swamp: Swamp) -> None:
    visit = swamp.visit(
        "2023-11-06 23:40+11:00",
        clock_shows=at("2023-11-06 23:40+11:00"),
        satellite_time=at("2023-11-06 11:40+11:00"),
    )
    alarm = swamp.the_alarm(visit)
    assert "morning and afternoon" in alarm.expected
    assert alarm.suggests == "2023-11-06T11:40+11:00"


def test_a_visit_stamped_in_the_dark_is_asked_about_without_satellite_time(swamp: Swamp) -> None:
    assert swamp.the_alarm(swamp.visit("2023-11-06 23:40+11:00")).code == "clock-night"
    assert swamp.finds(swamp.visit("2023-11-06 11:40+11:00")) == []


def test_a_few_minutes_off_are_noted_and_two_are_not(swamp: Swamp) -> None:
    def off_by(seconds: int) -> list[Severity]:
        shows, true = (
            at("2023-08-11 11:30:00+10:00"),
            at(f"2023-08-11 11:3{seconds // 60}:00+10:00"),
        )
        visit = swamp.visit("2023-08-11 11:30+10:00", clock_shows=shows, satellite_time=true)
        return [finding.severity for finding in swamp.finds(visit)]

    assert off_by(120) == []
    assert off_by(300) == [Severity.NOTE]


def test_an_offset_that_the_date_does_not_have_is_asked_about(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(swamp.visit("2023-10-10 10:00+10:00"))
    assert (alarm.code, alarm.suggests) == ("clock-offset", "660")
    assert swamp.finds(swamp.visit("2023-09-26 10:30+10:00")) == []


def test_far_outside_the_site_the_other_site_is_named(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(swamp.visit("2023-08-11 11:30+10:00", position=place(3400, 0)))
    assert (alarm.code, alarm.severity) == ("site-distance", Severity.STOP)
    assert alarm.suggests == "SBL"
    assert swamp.finds(swamp.visit("2023-08-11 11:30+10:00", position=place(900, 0))) == []


def test_a_time_yet_to_come_stops(swamp: Swamp) -> None:
    visit = swamp.visit("2023-08-11 11:30+10:00")
    assert swamp.the_alarm(visit, now=at("2023-08-11 10:00+10:00")).code == "clock-future"
    assert swamp.alarms(visit, now=at("2023-08-11 11:31+10:00")) == []


def test_what_was_left_out_needs_a_reason(swamp: Swamp) -> None:
    left_out = swamp.visit("2023-08-11 11:30+10:00", not_done=("walk",))
    assert swamp.the_alarm(left_out).code == "not-done-why"
    said = swamp.visit("2023-08-11 11:30+10:00", not_done=("walk",), not_done_because="flooded")
    assert swamp.finds(said) == []
