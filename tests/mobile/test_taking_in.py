"""Pictures taken into the photo folder: judged by the header, read, shown small."""

import os
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from mobile.device.camera import NoCamera, look_into, pictures_folder
from mobile.pictures import LARGEST_BYTES, SMALL, Pictures
from shared_core.errors import OutsideRangeError, UnknownError, UnreadableError
from shared_core.photo_folder import PhotoFolder
from tests.mobile.camera_files import camera_header, jpeg, pixel_bomb, put


@pytest.fixture
def pictures(tmp_path: Path) -> Any:
    return Pictures(PhotoFolder(tmp_path / "photos"), tmp_path / "thumbs", lambda: 600)


def test_a_picture_is_kept_byte_for_byte_under_its_fingerprint(
    pictures: Pictures, tmp_path: Path
) -> None:
    path = put(tmp_path / "card", data=jpeg(exif=camera_header()))
    taken = pictures.take_in(path)
    assert pictures.folder.hashes() == [taken.sha256]
    assert pictures.folder.path_of(taken.sha256).read_bytes() == path.read_bytes()
    assert pictures.folder.check() == []  # small copies lie elsewhere
    assert path.exists()  # what is on the card stays there


def test_what_the_camera_wrote_is_read(pictures: Pictures, tmp_path: Path) -> None:
    taken = pictures.take_in(put(tmp_path, data=jpeg(exif=camera_header())))
    assert taken.taken_at == datetime(2026, 3, 1, 22, 5, tzinfo=UTC)
    assert taken.position is not None
    assert (taken.position.lat_deg, taken.position.lon_deg) == (-36.5001, 155.5)
    assert (taken.bearing_deg, taken.north, taken.focal_35mm) == (47.0, "magnetic", 28.0)


def test_a_camera_without_an_offset_runs_on_the_devices(pictures: Pictures, tmp_path: Path) -> None:
    taken = pictures.take_in(put(tmp_path, data=jpeg(exif=camera_header(offset=None))))
    assert taken.taken_at == datetime(2026, 3, 1, 22, 5, tzinfo=UTC)


@pytest.mark.parametrize(
    "changes",
    [
        {"time": "0000:00:00 00:00:00"},
        {"offset": "later"},
        {"lat": ("S", (136.0, 0.0, 0.0))},
        {"lat": ("N", (0.0, 0.0, 0.0)), "lon": ("E", (0.0, 0.0, 0.0))},
        {"bearing": 720.0},
        {"focal": 0},
    ],
)
def test_one_wrong_word_of_the_camera_does_not_lose_the_others(
    pictures: Pictures, tmp_path: Path, changes: dict[str, Any]
) -> None:
    taken = pictures.take_in(put(tmp_path, data=jpeg(exif=camera_header(**changes))))
    said = (taken.taken_at, taken.position, taken.bearing_deg, taken.focal_35mm)
    assert sum(word is None for word in said) == 1


def test_a_picture_without_a_header_says_nothing(pictures: Pictures, tmp_path: Path) -> None:
    taken = pictures.take_in(put(tmp_path))
    assert (taken.taken_at, taken.position, taken.north) == (None, None, "")


def test_a_missing_file_is_told_in_a_sentence(pictures: Pictures, tmp_path: Path) -> None:
    with pytest.raises(UnknownError, match=r"gone\.jpg cannot be read"):
        pictures.take_in(tmp_path / "gone.jpg")


def test_a_file_that_is_no_picture_is_told_in_a_sentence(
    pictures: Pictures, tmp_path: Path
) -> None:
    path = put(tmp_path, "letter.jpg", b"Dear Sir or Madam")
    with pytest.raises(UnreadableError, match="is not a picture: a photo is a JPEG or a PNG"):
        pictures.take_in(path)
    assert pictures.folder.hashes() == []


def test_a_picture_that_breaks_off_is_not_kept(pictures: Pictures, tmp_path: Path) -> None:
    whole = jpeg((640, 480))
    path = put(tmp_path, "half.jpg", whole[: len(whole) // 2])
    with pytest.raises(UnreadableError, match=r"half\.jpg is a broken picture"):
        pictures.take_in(path)
    assert pictures.folder.hashes() == []


def test_a_file_too_large_is_refused_before_it_is_read(pictures: Pictures, tmp_path: Path) -> None:
    path = put(tmp_path, "huge.jpg")
    os.truncate(path, LARGEST_BYTES + 1)
    with pytest.raises(OutsideRangeError, match=r"huge\.jpg has 40 MB"):
        pictures.take_in(path)


@pytest.mark.parametrize("side", [9_000, 30_000])
def test_a_small_file_of_too_many_pixels_is_refused_by_its_header(
    pictures: Pictures, tmp_path: Path, side: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def decoded(*_: object, **__: object) -> None:
        raise AssertionError("it was decoded")

    monkeypatch.setattr("PIL.ImageFile.ImageFile.load", decoded)
    data = pixel_bomb(side)
    assert len(data) < 100_000
    with pytest.raises(OutsideRangeError, match="more than 64 million pixels"):
        pictures.take_in(put(tmp_path, "bomb.png", data))


def test_a_thumbnail_is_small_and_the_right_way_up(pictures: Pictures, tmp_path: Path) -> None:
    sideways = jpeg((1200, 800), exif=camera_header(turned=6))  # EXIF 0x0112: a quarter turn
    taken = pictures.take_in(put(tmp_path, data=sideways))
    thumb = pictures.thumbnail(taken.sha256)
    assert thumb is not None
    with Image.open(thumb) as image:
        assert image.size == (320, SMALL)


def test_a_thumbnail_is_made_once(pictures: Pictures, tmp_path: Path) -> None:
    taken = pictures.take_in(put(tmp_path))
    first = pictures.thumbnail(taken.sha256)
    assert first is not None
    made = first.stat().st_mtime_ns
    assert pictures.thumbnail(taken.sha256) == first
    assert first.stat().st_mtime_ns == made


def test_a_photo_that_is_not_here_has_no_thumbnail(pictures: Pictures) -> None:
    assert pictures.thumbnail("a" * 64) is None


def test_a_dropped_picture_takes_its_small_copies_with_it(
    pictures: Pictures, tmp_path: Path
) -> None:
    taken = pictures.take_in(put(tmp_path))
    pictures.drop(taken.sha256)
    assert pictures.folder.hashes() == []
    assert list((tmp_path / "thumbs").iterdir()) == []


def test_a_folder_shows_the_newest_picture_first_and_no_other_files(tmp_path: Path) -> None:
    for name, age in (("old.jpg", 300), ("new.PNG", 100), ("notes.txt", 1), (".hidden.jpg", 1)):
        os.utime(put(tmp_path, name), (1_700_000_000 - age,) * 2)
    (tmp_path / "DCIM").mkdir()
    seen = look_into(tmp_path)
    assert [picture.path.name for picture in seen.pictures] == ["new.PNG", "old.jpg"]
    assert [folder.name for folder in seen.folders] == ["DCIM"]
    assert seen.above == tmp_path.parent


def test_a_folder_that_is_gone_says_so(tmp_path: Path) -> None:
    assert "cannot be read" in look_into(tmp_path / "stick").trouble


def test_the_first_folder_is_one_that_is_there(tmp_path: Path) -> None:
    around = {"HOME": str(tmp_path), "XDG_PICTURES_DIR": str(tmp_path / "none")}
    assert pictures_folder(around) == tmp_path
    (tmp_path / "Pictures").mkdir()
    assert pictures_folder(around) == tmp_path / "Pictures"


def test_without_a_camera_a_file_is_to_be_chosen() -> None:
    assert not NoCamera().take(lambda _: None)
