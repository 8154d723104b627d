import errno
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mobile import carrying
from mobile.carrying import copy_to, take_in
from mobile.device.sticks import carry_files, sticks
from mobile.field_day import FieldDay
from shared_core import carry
from shared_core.errors import DamagedError, StrandlineError, UnknownError
from shared_core.logbook import Logbook
from shared_core.photo_folder import PhotoFolder
from shared_core.records.staff_gauge import GaugeReading


@pytest.fixture
def photos(tmp_path: Path) -> Any:
    folder = PhotoFolder(tmp_path / "photos")
    folder.put(b"not a real picture")
    return folder


@pytest.fixture
def stick(tmp_path: Path) -> Any:
    folder = tmp_path / "STICK"
    folder.mkdir()
    return folder


def test_a_copy_says_where_it_is_and_what_it_holds(
    day: FieldDay, photos: PhotoFolder, stick: Path, clock: Any
) -> None:
    copied = copy_to(stick, day.logbook, photos, clock())
    assert copied.path == stick / "HER-1-20260301-220000.strand"
    assert copied.entries == day.logbook.size()
    assert copied.says.startswith("Copied and read back: HER-1-20260301-220000.strand in ")
    assert f"holds {day.logbook.size()} entries and 1 photo (" in copied.says
    assert copied.short == "STICK/HER-1-20260301-220000.strand"
    assert carry_files(stick) == [copied.path]


def test_a_stick_that_is_not_there_is_a_clear_sentence(
    day: FieldDay, stick: Path, clock: Any
) -> None:
    stick.rmdir()
    with pytest.raises(UnknownError, match="is not there: put the stick in"):
        copy_to(stick, day.logbook, None, clock())


@pytest.mark.parametrize(
    ("number", "says"),
    [
        (errno.ENOSPC, "is full .*: nothing was copied. Make room"),
        (errno.EROFS, "cannot be written to: nothing was copied. Is it locked"),
        (errno.EIO, "went away while copying: nothing was copied. Put it in again"),
    ],
)
def test_a_stick_that_takes_nothing_is_a_clear_sentence(
    day: FieldDay, stick: Path, clock: Any, monkeypatch: pytest.MonkeyPatch, number: int, says: str
) -> None:
    def fails(_: int) -> None:
        raise OSError(number, "made up")

    monkeypatch.setattr("shared_core.photo_folder.os.fsync", fails)
    with pytest.raises(StrandlineError, match=says):
        copy_to(stick, day.logbook, None, clock())
    assert list(stick.iterdir()) == []


def test_a_copy_that_reads_back_otherwise_is_no_copy(
    day: FieldDay, stick: Path, clock: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    def spoiled(path: Path, *given: Any, **named: Any) -> Any:
        manifest = carry.write_carry(path, *given, **named)
        data = bytearray(path.read_bytes())
        data[len(data) // 2] ^= 0xFF
        path.write_bytes(data)
        return manifest

    monkeypatch.setattr(carrying, "write_carry", spoiled)
    with pytest.raises(DamagedError):
        copy_to(stick, day.logbook, None, clock())


def test_taking_in_says_what_is_new_and_what_was_here(
    day: FieldDay,
    photos: PhotoFolder,
    stick: Path,
    clock: Any,
    make_logbook: Callable[..., Logbook],
    tmp_path: Path,
) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    path = copy_to(stick, day.logbook, photos, clock()).path
    other, others_photos = make_logbook(device="BIT-1"), PhotoFolder(tmp_path / "others")
    size = day.logbook.size()
    says = take_in(path, other, others_photos)
    assert says == f"From HER-1: {size} new entries and 1 new photo taken in."
    assert other.digest() == day.logbook.digest()
    again = take_in(path, other, others_photos)
    assert again == (
        f"From HER-1: 0 new entries and 0 new photos taken in. {size} entries were here already."
    )


def test_lines_held_back_are_told_with_their_reason(
    day: FieldDay, stick: Path, clock: Any, make_logbook: Callable[..., Logbook]
) -> None:
    fork = make_logbook(device="HER-1")
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    from mobile import practice

    practice.prepare(fork, clock())  # the same numbers of the same device with other texts
    path = copy_to(stick, fork, None, clock()).path
    says = take_in(path, day.logbook, None)
    assert "held back, nothing is lost:" in says
    assert says.endswith("Tell your coordinator.")


def test_a_file_that_is_no_carry_file_is_a_clear_sentence(day: FieldDay, stick: Path) -> None:
    path = stick / "a.strand"
    path.write_text("hello")
    with pytest.raises(DamagedError, match="is no carry file"):
        take_in(path, day.logbook, None)


def test_only_what_is_mounted_counts_as_a_stick(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, ada = tmp_path / "media" / "ONE", tmp_path / "media" / "ada"
    two = ada / "TWO"
    for folder in (one, two, tmp_path / "media" / "no stick"):
        folder.mkdir(parents=True)
    monkeypatch.setattr("mobile.device.sticks.os.path.ismount", lambda path: path in (one, two))
    assert sticks([str(tmp_path / "media"), str(tmp_path / "nowhere")], "linux") == [one, two]


def test_a_folder_that_is_gone_holds_no_files(tmp_path: Path) -> None:
    assert carry_files(tmp_path / "gone") == []
