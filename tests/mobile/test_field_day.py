from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from mobile import practice
from mobile.field_day import FieldDay
from shared_core.errors import UnknownError
from shared_core.exchange import LogbookPeer, exchange
from shared_core.logbook import Logbook
from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from shared_core.records.staff_gauge import GaugeReading
from tests.mobile.kept import record_of, standing_of


def test_what_is_due_stands_in_the_order_of_the_feet(day: FieldDay) -> None:
    assert [item.title for item in day.to_do()] == [
        "Staff gauge G1",
        "Pump meter M1",
        "Rain gauge R1",
        "Photo point P1",
        "Vegetation plot Q1",
        "Bore B1",
    ]


def test_an_item_is_done_once_its_record_is_written(day: FieldDay) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    assert [item.title for item in day.to_do() if item.done] == ["Staff gauge G1"]


def test_a_record_of_another_visit_does_not_make_an_item_done(day: FieldDay) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    day.arrive(practice.SITE, ["Ada"])
    assert not day.to_do()[0].done


def test_what_is_left_out_says_why(day: FieldDay) -> None:
    day.leave_out(day.to_do()[2], "Locked gate")
    assert [(item.title, item.because) for item in day.to_do() if item.because] == [
        ("Rain gauge R1", "Locked gate")
    ]


def test_a_site_that_is_not_here_is_named_with_those_that_are(day: FieldDay) -> None:
    with pytest.raises(UnknownError, match=r"no site LRS.*knows PRA"):
        day.arrive("LRS", ["Ada"])


def test_a_visit_is_taken_up_again_on_the_same_day(day: FieldDay, clock: Any) -> None:
    visit = day.take_up(practice.SITE)
    clock.now += timedelta(hours=5)
    assert day.take_up(practice.SITE) == visit


def test_the_next_day_begins_another_visit(day: FieldDay, clock: Any) -> None:
    visit = day.take_up(practice.SITE)
    clock.now += timedelta(hours=20)
    assert day.take_up(practice.SITE) != visit


def test_a_planned_visit_is_begun_under_its_own_code(day: FieldDay) -> None:
    day.take_up(practice.SITE)
    assert day.take_up(practice.SITE, code="V07") == "V07"
    assert day.take_up(practice.SITE) == "V07"


def test_a_record_holds_who_when_and_what_was_typed(day: FieldDay, clock: Any) -> None:
    saved = day.record(GaugeReading, "G1", {"stage_m": " 0,42 "})
    reading = record_of(day, saved)
    assert reading.stage_m == 0.42
    assert reading.as_typed == {"stage_m": " 0,42 "}
    assert (reading.observers, reading.seen_at) == (("Ada",), clock.now)
    assert (reading.offset_min, reading.visit) == (600, day.visit)


def test_a_correction_begins_with_the_present_values_and_keeps_the_head(day: FieldDay) -> None:
    saved = day.record(GaugeReading, "G1", {"stage_m": "0.42", "waves": "calm"})
    draft = day.correct(saved.entry.record)
    assert draft.typed == {"stage_m": "0.42", "waves": "calm"}
    draft.type("stage_m", "0.24")
    draft.save(reason="figures swapped")
    standing = standing_of(day, saved)
    assert standing.record.stage_m == 0.24
    assert standing.record.seen_at == day.logbook.history(saved.entry.record)[0].written_at
    assert standing.corrected


def test_a_record_is_set_aside_with_a_reason_and_its_value_stays(day: FieldDay) -> None:
    saved = day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    entry = day.set_quality(saved.entry.record, "not_used", "wrong post")
    standing = standing_of(day, saved)
    assert (standing.record.stage_m, standing.record.unused) == (0.42, True)
    assert entry.note == "wrong post"


def test_a_quality_that_does_not_exist_is_refused(day: FieldDay) -> None:
    saved = day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    with pytest.raises(UnknownError, match="quality is one of"):
        day.set_quality(saved.entry.record, "splendid", "")


def test_a_correction_by_another_is_news_and_ones_own_is_not(
    day: FieldDay, make_logbook: Callable[..., Logbook], make_day: Callable[..., FieldDay]
) -> None:
    kept = day.record(MeterReading, "M1", {"display": "012140"})
    day.record(RainReading, "R1", {"rain_mm": "3", "read_on": "2026-03-02"})
    office = make_logbook(device="OFFICE")
    exchange(day.logbook, LogbookPeer(office, name="server", device=day.logbook.device))
    desk = make_day(office, author="Ruth")
    draft = desk.correct(kept.entry.record)
    draft.type("display", "012410")
    draft.save(reason="the photo shows 012410")
    _, place = day.news()
    exchange(day.logbook, LogbookPeer(office, name="server", device=day.logbook.device))
    (news,), _ = day.news(place)
    assert (news.by, news.reason) == ("Ruth", "the photo shows 012410")
    assert ("Figures on the face", "012140", "012410") in news.changed
    assert day.news(place)[0] == [news]
