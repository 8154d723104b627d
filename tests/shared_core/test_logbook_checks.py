"""What verify prints: every flipped bit in a stored value, and nothing where all is well."""

import contextlib
import shutil
import sqlite3
from pathlib import Path
from typing import Any

import pytest

from shared_core.errors import StrandlineError
from shared_core.logbook import Logbook
from shared_core.logbook_checks import problems, rebuild
from shared_core.logbook_file import PeerPlace
from shared_core.merge import read_entry
from shared_core.records.staff_gauge import GaugeReading
from tests.hazards import line_with
from tests.logbooks import ANA, KIM, counting, logbook, reading

KINDS_HERE = (GaugeReading,)  # few views: the flips should meet rows, not the list of tables
SAID_ANYWAY = [
    "gap: lines 1 to 2 of tablet 3 are not here",
    "quarantine: 1 from tablet 2: the entry's 'seq' counts from 1",
]


def opened(path: Path) -> Logbook:
    return logbook("tablet 1", path, KINDS_HERE, new_id=counting("later"))


@pytest.fixture(name="path", scope="module")
def _path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a closed logbook with something in every table."""
    path = tmp_path_factory.mktemp("checks") / "a.logbook"
    with logbook("tablet 1", path, KINDS_HERE) as book, logbook("tablet 3") as other:
        for number in range(2):
            book.write(reading(number / 10, remark="gate open"), ANA)
        entry = book.write(reading(0.2, remark="gate open"), ANA)
        book.write(reading(1.4), ANA, record_id=entry.record, read=[entry.entry])
        book.write(reading(1.42), KIM, record_id=entry.record, read=[entry.entry])
        for number in range(4):
            other.write(reading(number / 10), ANA)
        book.absorb(other.lines_of("tablet 3", 2), source="server")  # after a gap
        book.absorb([line_with(device='"tablet 2"'), line_with(seq="0")], source="tablet 2")
        book.keep_draft("gauge", '{"stage_m": "1.4')
        book.keep_place("server", PeerPlace(log="its log", fetched=7))
        book.keep_sent("server", up_to=4, has=4)
    return path


@pytest.fixture(name="copy")
def _copy(path: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(path, tmp_path / "copy.logbook"))


def held(path: Path) -> Any:
    """Return all stored values, read without the logbook; None if SQLite cannot."""
    file = sqlite3.connect(path)
    try:
        tables = [row[0] for row in file.execute("select name from sqlite_master order by name")]
        wanted = [name for name in tables if not name.startswith("sqlite_autoindex")]
        return {
            name: sorted(file.execute(f'select * from "{name}"').fetchall(), key=repr)
            for name in wanted
            if name not in ("entry_record", "quarantine_device") and not name.startswith("current_")
        }
    except (sqlite3.DatabaseError, UnicodeDecodeError):
        return None
    finally:
        file.close()


def changed(path: Path, sql: str, *values: Any) -> list[str]:
    """Return what is found wrong after a change behind the logbook's back."""
    file = sqlite3.connect(path)
    with file:
        file.execute(sql, values)
    file.close()
    with opened(path) as book:
        return [problem for problem in problems(book) if problem not in SAID_ANYWAY]


def test_where_all_is_well_only_gaps_and_quarantine_are_named(copy: Path) -> None:
    with opened(copy) as book:
        assert problems(book) == SAID_ANYWAY
        assert book.write(reading(), ANA).seq == 6
        assert problems(book) == SAID_ANYWAY


def test_a_new_logbook_has_no_problems() -> None:
    with logbook() as book:
        assert problems(book) == []
        book.write(reading(), ANA)
        assert problems(book) == []


@pytest.mark.parametrize(
    ("sql", "sentence"),
    [
        ("update entry set line = replace(line, '0.1', '0.2') where seq = 2", "chain is broken"),
        ("update entry set line = replace(line, '0.2', '0.3') where device = 'tablet 3'", "seal"),
        ("update entry set line = replace(line, '{', '[') where seq = 2", "cannot be read"),
        ("update entry set arrived_at = '2027-03-01T00:00:00.000Z' where seq = 1", "seal"),
        ("update entry set site = 'REEDZ' where seq = 1", "filed under other values"),
        ("update entry set kind = 'bore_dip' where seq = 1", "filed under other values"),
        ("update entry set record = 'another' where seq = 1", "filed under other values"),
        ("update entry set entry = 'another' where seq = 1 and device = 'tablet 1'", "filed under other values"),
        ("update entry set place = 99 where seq = 1 and device = 'tablet 1'", "were given out"),
        ("delete from entry where seq = 2 and device = 'tablet 1'", "gap: lines 2 to 2 of tablet 1"),
        ("delete from entry where seq = 5 and device = 'tablet 1'", "were given out"),
        ("update current set body = replace(body, '0.1', '0.7')", "does not stand as its lines"),
        ("update current set disputed = null", "does not stand as its lines say"),
        ("update current set author = 'Eve Invented'", "does not stand as its lines say"),
        ("delete from current", "missing in the table current; rebuild it"),
        ("update current set record = 'made up' where device = 'tablet 1' and body like '%0.1%'", "record made up does not stand"),
        ("update device set unbroken = 3 where name = 'tablet 1'", "the mark of tablet 1 says 3"),
        ("delete from device where name = 'tablet 1'", "the mark of tablet 1 says None"),
        ("update peer set fetched = 8", "row 1 of the table peer is damaged"),
        ("update sent set has = 5", "row 1 of the table sent is damaged"),
        ("update quarantine set why = 'x'", "of the table quarantine is damaged"),
        ("update quarantine set line = 'x'", "of the table quarantine is damaged"),
        ("update draft set typed = '{}'", "row 1 of the table draft is damaged"),
        ("update about set value = 'x' where name = 'log'", "of the table about is damaged"),
        ("drop view gauge_reading", "view gauge_reading is not as this version makes it"),
        ("drop index current_point", "index or view current_point is not as this version"),
        ("pragma user_version = 0", "the file says it has format 0"),
    ],
)  # fmt: skip
def test_what_was_changed_is_named(copy: Path, sql: str, sentence: str) -> None:
    assert any(sentence in problem for problem in changed(copy, sql))


def test_a_made_up_line_with_everything_else_right_is_named(copy: Path) -> None:
    """Whoever can compute seals still cannot put another line into the chain."""
    from shared_core.logbook_tables import seal_of

    file = sqlite3.connect(copy)
    line, arrived = file.execute(
        "select line, arrived_at from entry where device = 'tablet 1' and seq = 2"
    ).fetchone()
    file.close()
    forged = line.replace('"stage_m":0.1', '"stage_m":0.9')
    assert read_entry(forged).seq == 2
    found = changed(
        copy,
        "update entry set line = ?, seal = ? where device = 'tablet 1' and seq = 2",
        forged,
        seal_of(forged, arrived),
    )
    assert any("the chain is broken" in problem for problem in found)


@pytest.mark.parametrize("part", range(4))
def test_every_flipped_bit_in_a_stored_value_is_reported(
    path: Path, tmp_path: Path, part: int
) -> None:
    raw = path.read_bytes()
    before = held(path)
    flips = reported = 0
    for place in range(101 + part * 61, len(raw), 4 * 61):
        flipped = bytearray(raw)
        flipped[place] ^= 1 << (place % 8)
        target = tmp_path / "flipped.logbook"
        target.write_bytes(flipped)
        after = held(target)
        if after == before:
            continue  # an unused byte, or one that only the list of pages uses
        flips += 1
        reported += said_after_opening(target, before)
        for left in tmp_path.glob("flipped.logbook*"):
            left.unlink()
    assert flips > 40
    assert reported == flips


def said_after_opening(path: Path, before: Any) -> bool:
    """Tell whether opening or checking reports a problem, or opening has mended it."""
    with contextlib.suppress(StrandlineError), opened(path) as book:
        return problems(book) != SAID_ANYWAY or held(path) == before
    return True  # not opened as a logbook: told in words


def test_rebuilding_mends_what_is_derived(copy: Path) -> None:
    spoil = ("delete from device", "update current set body = null, author = 'x'")
    for sql in (*spoil, "drop view gauge_reading"):
        assert changed(copy, sql)
    with opened(copy) as book:
        rebuild(book)
        assert problems(book) == SAID_ANYWAY
        assert len(list(book.rows("select * from gauge_reading"))) == 6


def test_rebuilding_is_one_transaction(copy: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    with opened(copy) as book:
        monkeypatch.setattr(Logbook, "_advance", lambda *_: 1 / 0)
        with pytest.raises(ZeroDivisionError):
            rebuild(book)
        monkeypatch.undo()
        assert problems(book) == SAID_ANYWAY


def test_rebuilding_steps_over_a_line_that_cannot_be_read(copy: Path) -> None:
    assert changed(copy, "update entry set line = 'x' where seq = 1 and device = 'tablet 1'")
    with opened(copy) as book:
        rebuild(book)
        found = problems(book)
        assert any("line 1 of tablet 1" in problem for problem in found)
        assert len(list(book.rows("select 1 from current"))) == 5


def test_many_problems_of_one_kind_are_counted_not_listed(copy: Path) -> None:
    with opened(copy) as book:
        for number in range(150):
            book.write(reading(number / 1000), ANA)
    found = changed(copy, "update current set author = 'Eve Invented'")
    assert len(found) == 101
    assert found[-1] == "and more of this kind"


@pytest.fixture(name="unreadable")
def _unreadable(copy: Path) -> Path:
    raw = bytearray(copy.read_bytes())
    place = raw.index(b'"remark":"gate')
    raw[place + 12] = 0xFF  # no longer text
    copy.write_bytes(raw)
    return copy


def test_bytes_that_are_no_text_are_reported_and_the_other_checks_go_on(unreadable: Path) -> None:
    with opened(unreadable) as book:
        found = problems(book)
    assert any("cannot be read any further" in problem for problem in found)
    assert SAID_ANYWAY[1] in found
