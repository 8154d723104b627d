"""A kind of record declared here and nowhere else: all else follows from its declaration."""

import sqlite3
from pathlib import Path
from typing import ClassVar

import pytest

from shared_core.errors import UnreadableError
from shared_core.exchange import LogbookPeer, exchange
from shared_core.fields import choice, fields_of, number, record, whole
from shared_core.records import KINDS
from shared_core.records.base import Seen, Severity
from tests.logbooks import ANA, START, logbook


@record
class FrogCall(Seen):
    """Frogs heard in five minutes after dusk; an invented kind."""

    kind: ClassVar[str] = "frog_call"
    title: ClassVar[str] = "Frogs heard"

    callers: int = whole("Callers", "", (0, 50))
    air_c: float | None = number("Air temperature", "°C", (-5.0, 45.0), default=None, decimals=1)
    chorus: str | None = choice("Chorus", {"none": "None", "full": "Full"}, default=None)


WITH_FROGS = (*KINDS, FrogCall)


def heard(callers: int = 7) -> FrogCall:
    return FrogCall(
        site="REEDY", visit="V1", point="P1", seen_at=START, offset_min=600, time_source="gnss",
        observers=("Ana Invented",), callers=callers, air_c=14.5, chorus="full",
    )  # fmt: skip


def test_it_is_stored_and_found() -> None:
    with logbook(kinds=WITH_FROGS) as book:
        entry = book.write(heard(), ANA)
        standing = book.standing(entry.record)
        assert standing is not None
        assert standing.record == heard()
        assert [found.record for found in book.known().every(FrogCall)] == [heard()]


def test_it_is_exchanged_even_past_a_server_that_does_not_know_it() -> None:
    with (
        logbook("tablet 1", kinds=WITH_FROGS) as one,
        logbook("server") as server,
        logbook("tablet 2", kinds=WITH_FROGS) as two,
    ):
        entry = one.write(heard(), ANA)
        exchange(one, LogbookPeer(server, name="server", device="tablet 1"))
        assert server.standing(entry.record) is None  # kept and passed on, just not shown
        assert server.kind_of(entry.record) == "frog_call"
        exchange(two, LogbookPeer(server, name="server", device="tablet 2"))
        standing = two.standing(entry.record)
        assert standing is not None
        assert standing.record == heard()


def test_it_is_a_table_to_anyone_who_opens_the_file(tmp_path: Path) -> None:
    path = tmp_path / "frogs.logbook"
    with logbook(path=path, kinds=WITH_FROGS) as book:
        book.write(heard(), ANA)
    with sqlite3.connect(path) as file:
        columns = {row[1]: row[2] for row in file.execute("pragma table_info(frog_call)")}
        row = file.execute("select callers, air_c, chorus, written_by from frog_call").fetchone()
    file.close()
    assert set(columns) >= {field.name for field in fields_of(FrogCall)}
    assert row == (7, 14.5, "full", "Ana Invented")


def test_its_headings_and_its_form_follow() -> None:
    own = fields_of(FrogCall)[-3:]
    assert [field.heading for field in own] == ["Callers", "Air temperature [°C]", "Chorus"]
    assert [field.read(text) for field, text in zip(own, ("7", "14,5", "Full"), strict=True)] == [
        7,
        14.5,
        "full",
    ]
    with pytest.raises(UnreadableError, match="Callers: a whole number, not 'some'"):
        own[0].read("some")


def test_its_unlikely_values_are_found() -> None:
    with logbook(kinds=WITH_FROGS) as book:
        (finding,) = heard(callers=700).findings(book.known())
    assert (finding.field, finding.severity) == ("callers", Severity.ASK)
    assert finding.says.startswith("Callers 700 is outside the usual 0 to 50")


def test_it_shows_once_a_version_that_knows_it_opens_the_file(tmp_path: Path) -> None:
    path = tmp_path / "kept.logbook"
    with logbook("tablet 1", kinds=WITH_FROGS) as one, logbook("tablet 2", path) as two:
        entry = one.write(heard(), ANA)
        two.absorb(one.lines_of("tablet 1", 0), source="test")
        assert two.standing(entry.record) is None
    with logbook("tablet 2", path, kinds=WITH_FROGS) as newer:
        assert [found.record for found in newer.known().every(FrogCall, "REEDY")] == [heard()]
