"""The file under a logbook: opening it, and the notes that never travel."""

import json
import shutil
import sqlite3
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path

import pytest

from shared_core.errors import DamagedError
from shared_core.logbook import Logbook
from shared_core.logbook_file import PeerPlace, sqlite_warning
from shared_core.logbook_tables import FORMAT
from shared_core.records import KINDS
from shared_core.records.base import Record
from tests.logbooks import ANA, START, counting, logbook, reading, ticking


@pytest.fixture(name="book")
def _book() -> Iterator[Logbook]:
    with logbook() as book:
        yield book


# notes that never travel


def test_drafts_survive_a_crash(tmp_path: Path) -> None:
    path = tmp_path / "a.logbook"
    crashed = logbook(path=path)
    crashed.keep_draft("gauge", '{"stage_m": "1.4')
    crashed.keep_draft("meter", "0084")
    crashed.keep_draft("gauge", '{"stage_m": "1.42')
    shutil.copytree(tmp_path, tmp_path.with_name("as_it_was_left"))
    crashed.close()
    with logbook(path=tmp_path.with_name("as_it_was_left") / "a.logbook") as again:
        assert again.drafts() == {"meter": "0084", "gauge": '{"stage_m": "1.42'}
        again.drop_draft("meter")
        assert list(again.drafts()) == ["gauge"]
        assert again.size() == 0


def test_places_are_kept_for_each_peer(book: Logbook) -> None:
    assert book.place_with("server") == PeerPlace(log="", fetched=0)
    book.keep_place("server", PeerPlace(log="x", fetched=7))
    book.keep_sent("server", up_to=3, has=4)
    assert book.place_with("server") == PeerPlace(log="x", fetched=7)
    assert (book.unsent_after("server"), book.unsent_after("stick")) == (3, 0)


# opening


def test_a_logbook_keeps_its_name_and_another_has_another(tmp_path: Path) -> None:
    with logbook(path=tmp_path / "a.logbook") as first:
        name = first.log
    with logbook(path=tmp_path / "a.logbook", new_id=counting("x")) as again:
        assert again.log == name
    with logbook(path=tmp_path / "b.logbook", new_id=counting("y")) as other:
        assert other.log != name


def refused(path: Path, sentence: str) -> None:
    before = path.read_bytes()
    with pytest.raises(DamagedError, match=sentence):
        logbook(path=path)
    assert path.read_bytes() == before


def test_a_file_that_is_no_logbook_is_left_as_it_was(tmp_path: Path) -> None:
    text = tmp_path / "notes.txt"
    text.write_text("Stage 1.42 at the footbridge. " * 50)
    refused(text, r"notes\.txt cannot be read as a logbook")
    other = tmp_path / "other.db"
    file = sqlite3.connect(other)
    file.execute("create table song (title text)")
    file.close()
    refused(other, "not a logbook; choose the file that is one")


def test_a_logbook_of_a_newer_version_is_left_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "new.logbook"
    with logbook(path=path) as book:
        book.write(reading(), ANA)
    file = sqlite3.connect(path)
    file.execute(f"pragma user_version={FORMAT + 1}")
    file.close()
    refused(path, f"has format {FORMAT + 1}, written by a newer version.*update the program")


def test_a_damaged_logbook_is_left_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "a.logbook"
    with logbook(path=path) as book:
        book.write(reading(), ANA)
    raw = bytearray(path.read_bytes())
    raw[100:2000] = b"\xff" * 1900  # the list of tables
    path.write_bytes(raw)
    refused(path, r"a\.logbook cannot be read as a logbook")


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(DamagedError, match="cannot be opened as a logbook"):
        logbook(path=tmp_path / "no" / "a.logbook")


def test_an_old_sqlite_is_warned_of(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 51, 2))
    assert "older than 3.51.3" in sqlite_warning()
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 51, 3))
    assert sqlite_warning() == ""


def test_a_damaged_last_line_does_not_stop_the_next_one(tmp_path: Path) -> None:
    path = tmp_path / "a.logbook"
    with logbook(path=path) as book:
        book.write(reading(), ANA)
    file = sqlite3.connect(path)
    file.execute("update entry set line = replace(line, '\"}', 'x}')")
    file.commit()
    file.close()
    with logbook(path=path, new_id=counting("later")) as book:
        assert book.write(reading(), ANA).seq == 2


# files of every release open


def test_a_logbook_of_format_1_opens_and_holds_what_it_held(tmp_path: Path) -> None:
    data = Path(__file__).parents[1] / "data"
    path = tmp_path / "copy.logbook"
    shutil.copy(data / "logbook_format_1.logbook", path)
    held = json.loads((data / "logbook_format_1.json").read_text(encoding="utf-8"))
    with logbook("reader", path) as book:
        assert book.digest() == held["digest"]
        for record_id, values in held["records"].items():
            standing = book.standing(record_id)
            assert standing is not None
            assert type(standing.record).kind == values["kind"]
            assert standing.record.encoded() == values["body"]
        assert {values["kind"] for values in held["records"].values()} == set(held["kinds"])
        assert set(held["kinds"]) <= {kind.kind for kind in KINDS}
        assert book.drafts() == {"gauge": '{"stage_m": "1.4'}
        assert len(book.quarantined()) == 1
        # and it can be written on
        book.write(reading(), ANA)


def test_every_kind_of_today_stands_in_a_view(book: Logbook) -> None:
    views = {name for (name,) in book.rows("select name from sqlite_master where type = 'view'")}
    assert views == {kind.kind for kind in KINDS}
    for kind in KINDS:
        assert issubclass(kind, Record)
        assert list(book.rows(f'select * from "{kind.kind}"')) == []


def test_the_clock_is_read_only_where_it_was_handed_in() -> None:
    with logbook(clock=ticking(START + timedelta(days=400))) as book:
        assert book.write(reading(), ANA).written_at.year == 2027
