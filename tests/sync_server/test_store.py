"""The central store, its folder, and copies to read from."""

import os
import sqlite3
from pathlib import Path

import pytest

from shared_core.errors import DamagedError, RefusedError, UnknownError
from shared_core.logbook import Logbook, Said
from sync_server import data_folder
from sync_server.data_folder import LOGBOOK_NAME, reading_copy
from sync_server.logbook_lines import lines_of, lines_of_logbook
from sync_server.store import Store, photos_of
from tests.sync_server.rooms import Clock, Names, gauge


def opened(folder: Path) -> Store:
    return Store(folder, clock=Clock(), new_id=Names())


def test_only_one_program_opens_a_data_folder(tmp_path: Path) -> None:
    first = opened(tmp_path)
    with pytest.raises(RefusedError, match="stop it first"):
        opened(tmp_path)
    first.close()
    opened(tmp_path).close()


def test_the_central_logbook_is_durable_at_power_loss(tmp_path: Path) -> None:
    store = opened(tmp_path)
    with store.opened() as logbook:
        assert logbook._file.execute("pragma synchronous").fetchone() == (2,)
        assert logbook._file.execute("pragma journal_mode").fetchone() == ("wal",)
    store.close()


def test_a_copy_to_read_is_whole_while_the_server_writes(tmp_path: Path) -> None:
    store = opened(tmp_path)
    with store.opened() as logbook:
        logbook.write(gauge(), Said(author="Kim"))
    assert len(lines_of_logbook(tmp_path / LOGBOOK_NAME)) == 1
    with store.opened() as logbook:
        logbook.write(gauge(), Said(author="Kim"))
    assert len(lines_of_logbook(tmp_path / LOGBOOK_NAME)) == 2
    store.close()


def test_a_logbook_is_read_from_a_folder_nobody_may_write_to(tmp_path: Path) -> None:
    path = tmp_path / "a.logbook"
    with Logbook(path, device="A", clock=Clock(), new_id=Names()) as logbook:
        logbook.write(gauge(), Said(author="Ana"))
    before = path.read_bytes()
    tmp_path.chmod(0o500)
    try:
        with reading_copy(path) as copy:
            assert copy.stat().st_size > 0
    finally:
        tmp_path.chmod(0o700)
    assert path.read_bytes() == before


def test_a_logbook_on_a_disc_that_takes_no_side_files_is_read(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "a.logbook"
    with Logbook(path, device="A", clock=Clock(), new_id=Names()) as logbook:
        logbook.write(gauge(), Said(author="Ana"))
    real = data_folder._backup

    def like_a_disc(address: str, copy: Path) -> None:
        if "immutable" not in address:
            raise sqlite3.OperationalError("unable to open database file")
        real(address, copy)

    monkeypatch.setattr(data_folder, "_backup", like_a_disc)
    assert len(lines_of_logbook(path)) == 1


def test_what_is_no_logbook_says_so(tmp_path: Path) -> None:
    path = tmp_path / "x"
    with pytest.raises(UnknownError):
        lines_of(path)
    for content in (b"", b"text", b"SQLite format 3\0" + os.urandom(4000)):
        path.write_bytes(content)
        with pytest.raises(DamagedError):
            lines_of(path)
    path.unlink()
    with sqlite3.connect(path) as file:
        file.execute("create table other (x)")
    file.close()
    with pytest.raises(DamagedError, match="not a logbook"):
        lines_of(path)


def test_a_logbook_of_a_newer_version_is_not_read_and_not_changed(tmp_path: Path) -> None:
    path = tmp_path / "a.logbook"
    with Logbook(path, device="A", clock=Clock(), new_id=Names()) as logbook:
        logbook.write(gauge(), Said(author="Ana"))
    with sqlite3.connect(path) as file:
        file.execute("pragma user_version=99")
    file.close()
    before = path.read_bytes()
    with pytest.raises(DamagedError, match="newer version"):
        lines_of(path)
    assert path.read_bytes() == before


def test_the_photos_an_entry_names_are_found_wherever_it_names_them() -> None:
    with Logbook(":memory:", device="A", clock=Clock(), new_id=Names()) as logbook:
        entry = logbook.write(gauge(photos=("a" * 64, "b" * 64)), Said(author="Ana"))
    assert photos_of(entry) == {"a" * 64, "b" * 64}


def test_waiting_lines_that_do_not_exist_cannot_be_admitted(tmp_path: Path) -> None:
    store = opened(tmp_path)
    with pytest.raises(UnknownError):
        store.admit(1, by="Kim")
    store.close()
