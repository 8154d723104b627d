from collections.abc import Iterator
from typing import ClassVar

import pytest

from mobile.field_day import FieldDay
from shared_core.errors import OutsideRangeError, UnreadableError
from shared_core.fields import number, record
from shared_core.records.base import Answer, Finding, Known, Seen, Severity
from shared_core.records.rain import RainReading
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_quality import WaterSample
from tests.mobile.kept import record_of


@record
class Odd(Seen):
    """A kind whose checks cannot be made."""

    kind: ClassVar[str] = "odd"
    title: ClassVar[str] = "Odd"

    depth_m: float = number("Depth", "m")

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
        raise OutsideRangeError("nothing was surveyed there")

    def tells(self, known: Known) -> Iterator[Answer]:
        yield from super().tells(known)
        raise OutsideRangeError("nothing was surveyed there")


def test_each_key_is_on_disk_when_the_call_returns(day: FieldDay) -> None:
    day.draft(GaugeReading, "G1").type("stage_m", "0.4")
    assert day.draft(GaugeReading, "G1").typed == {"stage_m": "0.4"}


def test_drafts_of_two_points_are_kept_apart(day: FieldDay) -> None:
    day.draft(GaugeReading, "G1").type("stage_m", "0.4")
    assert day.draft(GaugeReading, "G2").typed == {}


def test_a_field_that_the_kind_lacks_is_refused(day: FieldDay) -> None:
    with pytest.raises(UnreadableError, match="no field called"):
        day.draft(GaugeReading, "G1").type("pressure", "1")


def test_what_the_device_knows_itself_is_not_asked(day: FieldDay) -> None:
    asked = {field.name for field in day.draft(RainReading, "R1").fields}
    assert asked == {"rain_mm", "days_covered", "read_on", "remark", "photos"}


def test_a_box_left_empty_takes_the_default(day: FieldDay) -> None:
    saved = day.record(RainReading, "R1", {"rain_mm": "3.5", "read_on": "2026-03-02"})
    assert record_of(day, saved).days_covered == 1


def test_a_needed_box_that_cannot_be_read_keeps_the_draft(day: FieldDay) -> None:
    draft = day.draft(RainReading, "R1")
    draft.type("rain_mm", "3.5.1")
    (unread, missing) = draft.findings()
    assert "a number in mm" in unread.saw
    assert missing.field == "read_on"
    with pytest.raises(UnreadableError):
        draft.save(keep_unread=True)
    assert day.draft(RainReading, "R1").typed == {"rain_mm": "3.5.1"}


def test_an_optional_box_that_cannot_be_read_is_kept_as_it_was_typed(day: FieldDay) -> None:
    draft = day.draft(WaterSample, "edge")
    draft.type("ec_us_cm", "320")
    draft.type("ph", "about 7")
    with pytest.raises(UnreadableError):
        draft.save()
    saved = draft.save(reason="Read twice", keep_unread=True)
    sample = record_of(day, saved)
    assert (sample.ec_us_cm, sample.ph) == (320.0, None)
    assert sample.as_typed["ph"] == "about 7"


def test_saving_drops_the_draft_and_keeps_the_reason(day: FieldDay) -> None:
    draft = day.draft(GaugeReading, "G1")
    draft.type("stage_m", "0.42")
    saved = draft.save(reason="Read twice")
    assert saved.entry.note == "Read twice"
    assert day.draft(GaugeReading, "G1").typed == {}


def test_a_draft_thrown_away_is_gone(day: FieldDay) -> None:
    draft = day.draft(GaugeReading, "G1")
    draft.type("stage_m", "0.42")
    draft.discard()
    assert day.draft(GaugeReading, "G1").typed == {}
    assert day.logbook.drafts() == {}


def test_a_check_that_cannot_be_made_never_stops_a_record(day: FieldDay) -> None:
    draft = day.draft(Odd, "O1")
    draft.type("depth_m", "4")
    (finding,) = draft.findings()
    assert (finding.code, finding.severity) == ("not-judged", Severity.NOTE)
    assert "nothing was surveyed there" in finding.saw
    assert draft.answers() == []
    assert dict(draft.save().entry.body or {})["depth_m"] == 4.0


def test_nothing_is_told_before_something_is_typed(day: FieldDay) -> None:
    assert day.draft(GaugeReading, "G1").answers() == []
