"""Photos by fingerprint: whole or not there, once or not at all."""

import contextlib
import hashlib
import os
import stat
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.errors import StrandlineError, UnknownError
from shared_core.photo_folder import PhotoFolder, whole_file

PHOTO = b"\xff\xd8 an invented photo \xff\xd9"
SHA256 = hashlib.sha256(PHOTO).hexdigest()


def test_a_photo_is_kept_under_its_fingerprint(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path / "photos")
    assert folder.put(PHOTO) == SHA256
    assert folder.path_of(SHA256) == tmp_path / "photos" / SHA256[:2] / SHA256
    assert folder.path_of(SHA256).read_bytes() == PHOTO
    assert folder.has(SHA256)
    assert folder.hashes() == [SHA256]
    assert folder.check() == []


def test_the_published_fingerprint_of_abc(tmp_path: Path) -> None:
    # FIPS 180-4, the example "abc"
    assert PhotoFolder(tmp_path).put(b"abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


def test_the_same_photo_is_kept_once(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path)
    folder.put(PHOTO)
    before = folder.path_of(SHA256).stat()
    folder.put(PHOTO)
    assert folder.path_of(SHA256).stat().st_mtime_ns == before.st_mtime_ns
    assert len(list(tmp_path.rglob("*"))) == 2


def test_a_photo_that_is_not_here_is_told(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path)
    with pytest.raises(UnknownError, match="is not on this device"):
        folder.path_of(SHA256)
    assert not folder.has(SHA256)


@given(st.text())
def test_no_name_leads_out_of_the_folder(name: str) -> None:
    folder = PhotoFolder(Path(__file__).parent)
    assert not folder.has(name)
    with pytest.raises(UnknownError):
        folder.path_of(name)


@pytest.mark.parametrize("name", ["", "..", "../../etc/passwd", SHA256.upper(), SHA256 + "\n"])
def test_only_a_fingerprint_is_a_name(tmp_path: Path, name: str) -> None:
    folder = PhotoFolder(tmp_path)
    folder.put(PHOTO)
    assert not folder.has(name)


def test_damage_is_named_and_a_new_copy_heals_it(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path)
    folder.put(PHOTO)
    path = folder.path_of(SHA256)
    raw = bytearray(PHOTO)
    raw[5] ^= 1
    path.write_bytes(raw)
    assert folder.check() == [
        f"{SHA256[:2]}/{SHA256} is damaged: its bytes do not have this fingerprint"
    ]
    folder.put(PHOTO)
    assert folder.check() == []


def test_what_does_not_belong_there_is_named(tmp_path: Path) -> None:
    folder = PhotoFolder(tmp_path)
    folder.put(PHOTO)
    (tmp_path / "notes.txt").write_text("x")
    (tmp_path / SHA256[:2] / ".x.1-2.part").write_text("x")
    (tmp_path / SHA256).write_bytes(PHOTO)
    problems = folder.check()
    assert len(problems) == 3
    assert sum("no photo of this folder" in problem for problem in problems) == 2
    assert sum("delete it" in problem for problem in problems) == 1
    assert folder.hashes() == [SHA256]


@pytest.mark.parametrize("where", ["fsync", "replace", "mkdir"])
@pytest.mark.parametrize("nth", [1, 2, 3])
def test_an_error_of_the_disk_leaves_all_or_nothing(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, where: str, nth: int
) -> None:
    folder = PhotoFolder(tmp_path / "photos")
    owner: Any = os if where == "fsync" else Path
    real, left = getattr(owner, where), [nth]

    def failing(*values: Any, **named: Any) -> Any:
        left[0] -= 1
        if left[0] == 0:
            raise OSError(28, "No space left on device")
        return real(*values, **named)

    monkeypatch.setattr(owner, where, failing)
    with contextlib.suppress(StrandlineError):
        folder.put(PHOTO)
    monkeypatch.undo()
    assert left[0] > 0 or not folder.has(SHA256) or folder.path_of(SHA256).read_bytes() == PHOTO
    assert folder.check() == []  # no half file, and nothing left over
    folder.put(PHOTO)
    assert folder.path_of(SHA256).read_bytes() == PHOTO


def test_a_full_disk_is_told_in_words(tmp_path: Path) -> None:
    def fill() -> None:
        with whole_file(tmp_path / "a.jpg") as file:
            file.write(b"half")
            raise OSError(28, "No space left on device")

    with pytest.raises(StrandlineError, match=r"a\.jpg could not be put on disk .*No space left"):
        fill()
    assert list(tmp_path.iterdir()) == []


def test_the_file_is_on_disk_before_it_has_its_name(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[str] = []
    real_fsync, real_replace = os.fsync, Path.replace

    def fsync(handle: int) -> None:
        told.append("folder" if stat.S_ISDIR(os.fstat(handle).st_mode) else "file")
        real_fsync(handle)

    def replace(path: Path, target: Path) -> Path:
        told.append("name")
        return real_replace(path, target)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(Path, "replace", replace)
    PhotoFolder(tmp_path).put(PHOTO)
    assert told == ["folder", "file", "name", "folder"]


def test_two_writers_of_one_file_do_not_meet(tmp_path: Path) -> None:
    path = tmp_path / "a"
    with whole_file(path) as one:
        one.write(b"one, ")
        with whole_file(path) as other:
            other.write(b"other")
        assert path.read_bytes() == b"other"
        one.write(b"whole")
    assert path.read_bytes() == b"one, whole"
    assert list(tmp_path.iterdir()) == [path]


def test_a_mistake_while_writing_leaves_nothing(tmp_path: Path) -> None:
    def go_wrong() -> None:
        with whole_file(tmp_path / "a") as file:
            file.write(b"half")
            raise KeyError

    with pytest.raises(KeyError):
        go_wrong()
    assert list(tmp_path.iterdir()) == []
