"""The logbook: written once, never changed, nothing lost, nothing doubled."""

import dataclasses
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from shared_core.errors import StrandlineError, UnknownError, UnreadableError
from shared_core.logbook import Logbook, Said
from shared_core.merge import NO_CHAIN, Entry, written
from shared_core.records.staff_gauge import GaugeReading
from tests.logbooks import ANA, KIM, START, logbook, reading


@pytest.fixture(name="book")
def _book() -> Iterator[Logbook]:
    with logbook() as book:
        yield book


def entry_of(device: str, seq: int, chain: str = NO_CHAIN, **changes: Any) -> Entry:
    """Return an entry as another device would have written it."""
    entry = Entry(
        entry=f"{device}/{seq}", record=f"r {device} {seq}", kind="gauge_reading", site="REEDY",
        body=reading().encoded(), replaces=(), author="Ana Invented", device=device, seq=seq,
        written_at=START,
    )  # fmt: skip
    return written(dataclasses.replace(entry, **changes), chain)


def series_of(device: str, count: int) -> list[Entry]:
    made: list[Entry] = []
    for seq in range(1, count + 1):
        made.append(entry_of(device, seq, made[-1].chain if made else NO_CHAIN))
    return made


# durable


def test_every_write_is_on_disk_before_the_call_returns(tmp_path: Path) -> None:
    with logbook(path=tmp_path / "a.logbook") as book:
        assert list(book.rows("pragma journal_mode")) == [("wal",)]
        assert list(book.rows("pragma synchronous")) == [(2,)]  # 2 is FULL, SQLite pragma page
    with logbook(path=tmp_path / "a.logbook") as again:
        assert list(again.rows("pragma synchronous")) == [(2,)]


def test_a_write_is_one_transaction(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.logbook"
    with logbook(path=path) as book:
        kept = book.write(reading(), ANA)
        monkeypatch.setattr(Logbook, "_refresh", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            book.write(reading(9.9), ANA)
        monkeypatch.undo()
        assert book.size() == 1
        assert book.write(reading(1.5), ANA).seq == 2  # the number was not used up
    with logbook(path=path) as again:
        assert [entry.entry for entry in again.history(kept.record)] == [kept.entry]


def write_many(book: Logbook) -> None:
    for _ in range(200):
        book.write(reading(remark="x" * 500), ANA)


def test_a_full_disk_is_told_in_words_and_one_can_go_on(book: Logbook) -> None:
    book.write(reading(), ANA)
    (pages,) = next(book.rows("pragma page_count"))
    list(book.rows(f"pragma max_page_count={pages}"))
    with pytest.raises(StrandlineError, match=r"nothing was kept.* full.*make room"):
        write_many(book)
    size = book.size()
    with pytest.raises(StrandlineError, match="nothing was kept"):
        book.keep_draft("gauge", "x" * 100_000)
    list(book.rows("pragma max_page_count=1000000"))
    book.write(reading(), ANA)
    assert book.size() == size + 1


def test_a_commit_that_fails_leaves_nothing_half_open(book: Logbook) -> None:
    class Failing:
        """A connection whose next commit meets an input or output error."""

        def __init__(self, real: sqlite3.Connection) -> None:
            self.real, self.left = real, 1

        @property
        def in_transaction(self) -> bool:
            return self.real.in_transaction

        def execute(self, sql: str, *values: Any) -> sqlite3.Cursor:
            if sql == "commit" and self.left:
                self.left -= 1
                raise sqlite3.OperationalError("disk I/O error")
            return self.real.execute(sql, *values)

    real = book._file
    book._file = Failing(real)  # type: ignore[assignment]  # stands in for a failing disk
    with pytest.raises(StrandlineError, match="disk I/O error"):
        book.write(reading(), ANA)
    book.write(reading(), ANA)
    book._file = real
    assert book.size() == 1


# writing and correcting


def test_a_correction_replaces_what_was_there_and_history_stays(book: Logbook) -> None:
    first = book.write(reading(14.2), ANA)
    second = book.write(
        reading(1.42), Said(author="Kim Invented", note="point"), record_id=first.record
    )
    assert second.replaces == (first.entry,)
    standing = book.standing(first.record)
    assert standing is not None
    assert isinstance(standing.record, GaugeReading)
    assert (standing.record.stage_m, standing.author, standing.corrected) == (
        1.42,
        "Kim Invented",
        True,
    )
    assert [entry.note for entry in book.history(first.record)] == ["", "point"]


def test_what_came_in_while_a_form_was_open_is_not_undone(book: Logbook) -> None:
    first = book.write(reading(14.2), ANA)
    on_screen = book.standing(first.record)
    assert on_screen is not None
    other = entry_of(
        "tablet 2",
        1,
        record=first.record,
        replaces=(first.entry,),
        body=reading(14.2, remark="gate open").encoded(),
    )
    book.absorb([other.line], source="test")
    book.write(reading(1.42), KIM, record_id=first.record, read=on_screen.heads)
    standing = book.standing(first.record)
    assert standing is not None
    assert standing.record == reading(1.42, remark="gate open")
    assert standing.disputed == {}


def test_a_correction_of_what_was_not_read_is_disputed(book: Logbook) -> None:
    first = book.write(reading(14.2), ANA)
    book.write(reading(1.4), ANA, record_id=first.record, read=[first.entry])
    book.write(reading(1.42), KIM, record_id=first.record, read=[first.entry])
    assert book.disputed() == book.disputed("REEDY") == [first.record]
    assert book.disputed("ELSEWHERE") == []
    book.write(reading(1.42), KIM, record_id=first.record)
    assert book.disputed() == []


def test_a_withdrawn_record_is_gone_from_sight_and_not_from_history(book: Logbook) -> None:
    first = book.write(reading(), ANA)
    book.withdraw(first.record, ANA)
    assert book.standing(first.record) is None
    assert book.known().every(GaugeReading) == []
    assert len(book.history(first.record)) == 2
    again = book.write(reading(1.0), ANA, record_id=first.record)
    assert again.seq == 3
    assert book.standing(first.record) is not None


def test_withdrawing_what_is_not_here_is_told(book: Logbook) -> None:
    with pytest.raises(UnknownError, match="no record nowhere in this logbook"):
        book.withdraw("nowhere", ANA)


def test_a_value_no_store_holds_is_refused_and_nothing_is_kept(book: Logbook) -> None:
    with pytest.raises(UnreadableError, match="stage_m holds nan"):
        book.write(reading(float("nan")), ANA)
    assert book.size() == 0


def test_who_says_so_and_how_sure_the_clock_is_stand_in_the_entry(book: Logbook) -> None:
    clock = {"source": "gnss", "error_s": 0.5}
    entry = book.write(
        reading(), Said(author="Ana Invented", note="n", offset_min=600, clock=clock)
    )
    (back,) = book.history(entry.record)
    assert (back.author, back.note, back.offset_min, back.clock, back.device, back.seq) == (
        "Ana Invented", "n", 600, clock, "tablet 1", 1,
    )  # fmt: skip


# taking in


def test_lines_already_here_change_nothing(book: Logbook) -> None:
    lines = [entry.line for entry in series_of("tablet 2", 3)]
    assert [verdict.outcome for verdict in book.absorb(lines, source="a")] == ["taken"] * 3
    before = book.digest(), book.since(0)[1], book.size()
    assert [verdict.outcome for verdict in book.absorb(lines, source="b")] == ["had it"] * 3
    assert [verdict.outcome for verdict in book.absorb(lines[:1] * 2, source="c")] == ["had it"] * 2
    assert (book.digest(), book.since(0)[1], book.size()) == before
    assert book.quarantined() == []


def test_lines_are_passed_on_to_the_last_byte(book: Logbook) -> None:
    entry = entry_of("tablet 2", 1)
    spaced = entry.line.replace(',"record":', ', "record" : ').rpartition(',"chain"')[0]
    import hashlib

    line = f'{spaced},"chain":"{hashlib.sha256(bytes(32) + spaced.encode()).hexdigest()}"}}'
    assert book.absorb([line], source="test")[0].outcome == "taken"
    assert book.lines_of("tablet 2", 0) == [line]


def test_a_forked_history_goes_to_quarantine_and_is_shown(book: Logbook) -> None:
    lines = series_of("tablet 2", 2)
    book.absorb([entry.line for entry in lines], source="tablet 2")
    other = entry_of("tablet 2", 2, lines[0].chain, entry="another", note="after an old copy")
    (verdict,) = book.absorb([other.line], source="tablet 2")
    assert verdict.outcome == "quarantined"
    assert "forked" in verdict.why
    (held,) = book.quarantined()
    assert (held.line, held.device, held.seq, held.source) == (
        other.line,
        "tablet 2",
        2,
        "tablet 2",
    )
    assert book.lines_of("tablet 2", 0) == [entry.line for entry in lines]


def test_one_name_for_two_texts_goes_to_quarantine(book: Logbook) -> None:
    book.absorb([entry_of("tablet 2", 1).line], source="test")
    other = entry_of("tablet 3", 1, entry="tablet 2/1")
    assert "another text" in book.absorb([other.line], source="test")[0].why


def test_a_broken_chain_goes_to_quarantine(book: Logbook) -> None:
    first, second, third = series_of("tablet 2", 3)
    altered = second.line.replace("1.42", "1.43")
    verdicts = book.absorb([first.line, altered], source="test")
    assert [verdict.outcome for verdict in verdicts] == ["taken", "quarantined"]
    assert "does not follow" in verdicts[1].why
    assert book.absorb([second.line, third.line], source="test")[1].outcome == "taken"


def test_a_line_that_the_next_one_does_not_follow_goes_to_quarantine(book: Logbook) -> None:
    first, second = series_of("tablet 2", 2)
    book.absorb([second.line], source="test")  # the one before is not here yet
    altered = entry_of("tablet 2", 1, note="other")
    assert "already here" in book.absorb([altered.line], source="test")[0].why
    assert book.absorb([first.line], source="test")[0].outcome == "taken"


def test_lines_in_any_order_make_the_same_logbook(book: Logbook) -> None:
    lines = [entry.line for entry in series_of("tablet 2", 5)]
    book.absorb(lines[::-1], source="test")
    with logbook("other") as other:
        other.absorb(lines, source="test")
        assert other.digest() == book.digest()
        assert other.unbroken("tablet 2") == book.unbroken("tablet 2") == 5


def test_the_unbroken_mark_stops_at_a_missing_line(book: Logbook) -> None:
    lines = [entry.line for entry in series_of("tablet 2", 4)]
    book.absorb([lines[0], lines[1], lines[3]], source="test")
    assert book.unbroken("tablet 2") == 2
    book.absorb([lines[2]], source="test")
    assert book.unbroken("tablet 2") == 4


def test_a_refused_line_is_held_not_dropped(book: Logbook) -> None:
    line = entry_of("tablet 2", 1).line
    (verdict,) = book.absorb([line], source="tablet 2", refuse=lambda entry: f"no {entry.device}")
    assert (verdict.outcome, verdict.why) == ("quarantined", "no tablet 2")
    assert [held.line for held in book.quarantined()] == [line]
    assert book.unbroken("tablet 2") == 1  # handed in: it need not be sent again
    book.absorb([line], source="tablet 2", refuse=lambda _: "still no")
    assert len(book.quarantined()) == 1


# what a newer version wrote


def test_an_unknown_kind_is_kept_and_passed_on(book: Logbook) -> None:
    entry = entry_of("tablet 2", 1, kind="frog_call", body={"callers": 7})
    book.absorb([entry.line], source="test")
    assert book.standing(entry.record) is None
    assert book.kind_of(entry.record) == "frog_call"
    assert book.kind_of("nothing") is None
    assert [found.line for found in book.since(0)[0]] == [entry.line]


def test_unknown_fields_are_kept_when_a_known_one_is_corrected(book: Logbook) -> None:
    body = {**reading(14.2).encoded(), "algae_pct": 5.0}
    entry = entry_of("tablet 2", 1, body=body)
    book.absorb([entry.line], source="test")
    standing = book.standing(entry.record)
    assert standing is not None
    book.write(standing.record.changed(stage_m=1.42), ANA, record_id=entry.record)
    assert book.history(entry.record)[-1].body == {**body, "stage_m": 1.42}


def test_a_shape_this_version_cannot_read_is_kept_and_not_shown(book: Logbook) -> None:
    entry = entry_of("tablet 2", 1, body={**reading().encoded(), "stage_m": "one and a bit"})
    assert book.absorb([entry.line], source="test")[0].outcome == "taken"
    assert book.standing(entry.record) is None
    assert book.known().every(GaugeReading) == []
