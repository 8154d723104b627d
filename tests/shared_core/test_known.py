"""What a logbook knows, and that each answer is found by an index."""

import sqlite3
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest

from shared_core.logbook import Logbook
from shared_core.records.staff_gauge import GaugeReading
from tests.logbooks import ANA, START, logbook, reading


@pytest.fixture(name="book")
def _book() -> Iterator[Logbook]:
    with logbook() as book:
        yield book


def filled(book: Logbook) -> None:
    for minutes, point, stage_m in ((0, "G1", 1.0), (60, "G2", 2.0), (120, "G1", 1.1)):
        book.write(reading(stage_m, point=point, seen_at=START + timedelta(minutes=minutes)), ANA)


def stages(found: Any) -> list[float]:
    return [standing.record.stage_m for standing in found]


def test_before_after_between_and_in_force(book: Logbook) -> None:
    filled(book)
    known, hour = book.known(), timedelta(minutes=60)
    assert stages(known.before(GaugeReading, "REEDY", START + hour)) == [1.0]
    assert stages(known.before(GaugeReading, "REEDY", START + 3 * hour, limit=5)) == [1.1, 2.0, 1.0]
    assert stages(known.before(GaugeReading, "REEDY", START + 3 * hour, point="G2")) == [2.0]
    assert stages(known.after(GaugeReading, "REEDY", START + hour)) == [2.0]
    assert stages(known.between(GaugeReading, "REEDY", START, START + hour)) == [1.0, 2.0]
    assert stages(known.every(GaugeReading)) == stages(known.every(GaugeReading, "REEDY"))
    in_force = known.in_force(GaugeReading, "REEDY", START + hour)
    assert in_force is not None
    assert in_force.record.stage_m == 2.0
    assert known.in_force(GaugeReading, "REEDY", START - hour) is None
    assert known.in_force(GaugeReading, "ELSEWHERE", START + hour) is None
    assert known.now is None
    assert book.known(now=START).now == START


def test_what_was_set_aside_is_left_out_unless_asked_for(book: Logbook) -> None:
    filled(book)
    book.write(reading(9.9, quality="not_used", seen_at=START + timedelta(minutes=30)), ANA)
    known, end = book.known(), START + timedelta(hours=9)
    assert 9.9 not in stages(known.before(GaugeReading, "REEDY", end, limit=9))
    assert 9.9 not in stages(known.after(GaugeReading, "REEDY", START, limit=9))
    assert 9.9 not in stages(known.between(GaugeReading, "REEDY", START, end))
    assert 9.9 in stages(known.between(GaugeReading, "REEDY", START, end, also_unused=True))
    assert 9.9 in stages(known.every(GaugeReading))


def test_the_record_being_judged_does_not_judge_itself(book: Logbook) -> None:
    entry = book.write(reading(), ANA)
    known = book.known(without=entry.record)
    assert known.every(GaugeReading) == known.every(GaugeReading, "REEDY") == []
    assert known.in_force(GaugeReading, "REEDY", START) is None


def test_every_question_is_answered_by_an_index(book: Logbook) -> None:
    filled(book)
    asked: list[str] = []

    class Watched:
        def execute(self, sql: str, values: Any = ()) -> sqlite3.Cursor:
            plan = book._file.execute(f"explain query plan {sql}", values)
            asked.extend(row[3] for row in plan)
            return book._file.execute(sql, values)

    known = book.known()
    known._file = Watched()  # type: ignore[assignment]  # looks over SQLite's shoulder
    for point in (None, "G1"):
        known.before(GaugeReading, "REEDY", START, point=point)
        known.after(GaugeReading, "REEDY", START, point=point)
        known.between(GaugeReading, "REEDY", START, START, point=point)
        known.in_force(GaugeReading, "REEDY", START, point=point)
    known.every(GaugeReading, "REEDY")
    assert len(asked) >= 9
    for line in asked:  # the index gives the order in time; only records of one time are sorted
        assert "USING INDEX" in line or "RIGHT PART OF ORDER BY" in line or "LAST" in line, line
    asked.clear()
    known.every(GaugeReading)
    assert "USING INDEX" in asked[0]


@pytest.mark.parametrize(
    "sql",
    [
        "select line from entry where record = 'r'",
        "select place, line from entry where place > 1 order by place limit 5",
        "select line from entry where device = 'd' and seq > 1 order by seq limit 5",
        "select record from current where disputed is not null and (null is null or site = null)",
        "select 1 from quarantine where device = 'd' and seq = 1",
    ],
)
def test_the_logbooks_own_questions_use_an_index(book: Logbook, sql: str) -> None:
    plan = [row[3] for row in book.rows(f"explain query plan {sql}")]
    assert all("INDEX" in line or "INTEGER PRIMARY KEY" in line for line in plan), plan
