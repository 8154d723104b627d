import math
from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from mobile import history
from mobile.field_day import FieldDay
from mobile.history import RecordHistory, own_records
from shared_core.errors import UnknownError, UnreadableError
from shared_core.logbook import Logbook
from shared_core.records.rain import RainReading
from shared_core.records.staff_gauge import GaugeReading
from tests.mobile.kept import record_of

HOUR = timedelta(hours=1)


@pytest.fixture
def office(make_logbook: Callable[..., Logbook], make_day: Callable[..., FieldDay]) -> FieldDay:
    """The coordinator's logbook."""
    return make_day(make_logbook(device="OFFICE"), author="Ruth")


def read(day: FieldDay, stage: str = "0.42") -> str:
    return day.record(GaugeReading, "G1", {"stage_m": stage}).entry.record


def pass_on(one: Logbook, other: Logbook) -> None:
    entries, place = one.since(0)
    assert len(entries) < 500, place
    other.absorb([entry.line for entry in entries], source="test")


def correct(day: FieldDay, record_id: str, stage: str, reason: str) -> None:
    draft = day.correct(record_id)
    draft.type("stage_m", stage)
    draft.save(reason=reason)


def test_a_record_says_who_wrote_what_when_and_where(day: FieldDay) -> None:
    shown = RecordHistory(day, read(day)).shown()
    (first,) = shown.sayings
    assert (first.what, first.who, first.device) == ("Written", "Ada", "HER-1")
    assert first.when == "2 Mar 2026, 08:00"
    assert [(c.label, c.after) for c in first.changes] == [("Stage", "0.420 m")]
    assert first.raw == (("Stage", "0.42"),)
    assert shown.title == "Staff gauge G1"


def test_a_correction_shows_both_values_and_its_reason(day: FieldDay, clock: Any) -> None:
    record_id = read(day)
    clock.now += HOUR
    correct(day, record_id, "0.24", "the photo shows it")
    newest, first = RecordHistory(day, record_id).shown().sayings
    assert [(c.label, c.before, c.after) for c in newest.changes] == [
        ("Stage", "0.420 m", "0.240 m")
    ]
    assert (newest.what, newest.reason, newest.raw) == ("Corrected", "the photo shows it", ())
    assert first.raw == (("Stage", "0.42"),)


def test_what_two_people_wrote_unread_stands_side_by_side(
    day: FieldDay, office: FieldDay, clock: Any
) -> None:
    record_id = read(day)
    pass_on(day.logbook, office.logbook)
    clock.now += HOUR
    correct(day, record_id, "0.24", "I read it again")
    correct(office, record_id, "0.44", "off the photo")
    pass_on(office.logbook, day.logbook)
    (dispute,) = RecordHistory(day, record_id).shown().disputes
    assert dispute.label == "Stage"
    assert {(who.partition(",")[0], value) for who, value in dispute.sides} == {
        ("Ada", "0.240 m"),
        ("Ruth", "0.440 m"),
    }


def test_a_correction_by_the_office_is_answered_by_an_entry_that_has_read_it(
    day: FieldDay, office: FieldDay, clock: Any
) -> None:
    record_id = read(day)
    pass_on(day.logbook, office.logbook)
    clock.now += HOUR
    correct(office, record_id, "0.24", "the photo shows it")
    pass_on(office.logbook, day.logbook)
    clock.now += HOUR
    correct(day, record_id, "0.42", "the photo is of G2")
    standing = day.logbook.standing(record_id)
    assert standing is not None
    assert isinstance(standing.record, GaugeReading)
    assert (standing.record.stage_m, standing.disputed) == (0.42, {})
    assert [s.who for s in RecordHistory(day, record_id).shown().sayings] == ["Ada", "Ruth", "Ada"]


def test_an_own_record_is_withdrawn_with_a_reason_and_its_history_stays(
    day: FieldDay, clock: Any
) -> None:
    record_id = read(day)
    clock.now += HOUR
    opened = RecordHistory(day, record_id)
    with pytest.raises(UnreadableError, match="needs its reason"):
        opened.withdraw(" ")
    opened.withdraw("wrong gauge")
    shown = RecordHistory(day, record_id).shown()
    assert [(s.what, s.reason) for s in shown.sayings] == [
        ("Withdrawn", "wrong gauge"),
        ("Written", ""),
    ]
    assert not shown.may_change
    with pytest.raises(UnreadableError, match="is withdrawn"):
        RecordHistory(day, record_id).withdraw("again")


def test_a_withdrawal_does_not_undo_what_came_in_after_the_page_was_opened(
    day: FieldDay, office: FieldDay, clock: Any
) -> None:
    record_id = read(day)
    pass_on(day.logbook, office.logbook)
    opened = RecordHistory(day, record_id)
    clock.now += HOUR
    correct(office, record_id, "0.24", "the photo shows it")
    pass_on(office.logbook, day.logbook)
    opened.withdraw("wrong gauge")
    standing = day.logbook.standing(record_id)
    assert standing is not None
    assert standing.disputed
    assert RecordHistory(day, record_id).shown().disputes[0].label == "The whole record"


def test_somebody_elses_record_is_shown_and_left_alone(day: FieldDay, office: FieldDay) -> None:
    record_id = read(office)
    pass_on(office.logbook, day.logbook)
    opened = RecordHistory(day, record_id)
    assert not opened.shown().may_change
    with pytest.raises(UnreadableError, match="tell the coordinator"):
        opened.withdraw("no")


def test_a_record_that_is_not_here_is_said_so(day: FieldDay) -> None:
    with pytest.raises(UnknownError):
        RecordHistory(day, "nowhere")


def test_own_records_say_what_became_of_them(day: FieldDay, office: FieldDay, clock: Any) -> None:
    sent, fixed, gone = read(day), read(day, "0.43"), read(day, "0.44")
    day.logbook.keep_sent("server", up_to=day.logbook.last_seq(), has=day.logbook.last_seq())
    waits = day.record(RainReading, "R1", {"rain_mm": "3", "read_on": "2026-03-02"}).entry.record
    pass_on(day.logbook, office.logbook)
    clock.now += HOUR
    correct(office, fixed, "0.34", "off the photo")
    pass_on(office.logbook, day.logbook)
    RecordHistory(day, gone).withdraw("wrong gauge")
    own = {sent, fixed, gone, waits}
    rows = {
        row.record_id: row
        for visit in own_records(day.logbook, "server").visits
        for row in visit.rows
        if row.record_id in own
    }
    assert rows[sent].state_words == "Sent"
    assert rows[waits].state_words == "Kept here, not sent yet"
    assert rows[fixed].state_words == "Corrected by Ruth: off the photo"
    assert rows[gone].state_words == "Withdrawn by you: wrong gauge"
    assert rows[waits].says.startswith("Rain: 3.0 mm")


def test_a_page_of_own_records_costs_the_same_after_many_visits(
    make_logbook: Callable[..., Logbook], make_day: Callable[..., FieldDay], monkeypatch: Any
) -> None:
    day = make_day(make_logbook())
    earlier = sum(len(visit.rows) for visit in own_records(day.logbook, "server").visits)
    for number in range(30):
        day.visit = f"V{number}"
        for _ in range(10):
            read(day, f"0.{number + 20}")
    asked: list[int] = []
    lines_of = day.logbook.lines_of

    def counted(device: str, after: int, limit: int) -> list[str]:
        asked.append(limit)
        return lines_of(device, after, limit)

    monkeypatch.setattr(day.logbook, "lines_of", counted)
    seen: list[str] = []
    before, pages = 0, 0
    while pages == 0 or before:
        page = own_records(day.logbook, "server", before)
        seen += [row.record_id for visit in page.visits for row in visit.rows]
        before, pages = page.older, pages + 1
        assert sum(asked) <= 2 * history._LINES_AT_ONCE, "a page reads no more than it shows"
        asked.clear()
    assert len(seen) == len(set(seen)) == 300 + earlier
    assert pages == math.ceil((300 + earlier) / history.PAGE)


def test_visits_stand_apart_with_the_newest_first(day: FieldDay, clock: Any) -> None:
    read(day)
    clock.now += timedelta(days=1)
    day.arrive(day.site, ["Ada"], code="later")
    read(day, "0.41")
    headings = [visit.heading for visit in own_records(day.logbook, "server").visits]
    assert headings[:2] == ["PRA, 3 Mar 2026, 08:00", "PRA, 2 Mar 2026, 08:00"]


def test_a_corrected_record_stands_as_it_stands_now(day: FieldDay, clock: Any) -> None:
    saved = day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    clock.now += HOUR
    correct(day, saved.entry.record, "0.24", "I typed it wrong")
    assert record_of(day, saved).stage_m == 0.24
    row = own_records(day.logbook, "server").visits[0].rows[0]
    assert (row.says, row.state_words) == ("Stage: 0.240 m", "Corrected by you: I typed it wrong")
