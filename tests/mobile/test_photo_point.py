"""A photo point: the presenter, and its screen by touch."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from mobile.entering import Mood
from mobile.field_day import Device, FieldDay
from mobile.photo_entry import EMPTY, PhotoEntry
from mobile.pictures import Pictures
from shared_core.photo_folder import PhotoFolder
from shared_core.records.photo_point import PhotoTaken
from tests.mobile import pilot
from tests.mobile.camera_files import camera_header, jpeg, put
from tests.mobile.kept import record_of
from tests.mobile.pilot import Pilot

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])


@pytest.fixture
def pictures(tmp_path: Path) -> Any:
    return Pictures(PhotoFolder(tmp_path / "photos"), tmp_path / "thumbs", lambda: 600)


@pytest.fixture
def begin(day: FieldDay, clock: Any, pictures: Pictures) -> Any:
    """begin() -> the entry of photo point P1"""
    return lambda **here: PhotoEntry(
        day.draft(PhotoTaken, "P1"),
        day,
        "P1",
        Device(now=clock(), offset_min=600, **here),
        pictures,
    )


def shot(folder: Path, name: str = "shot.jpg", **header: Any) -> Path:
    return put(folder, name, jpeg((320, 240), (90, 90, 15 * len(name)), camera_header(**header)))


def test_without_a_photo_nothing_is_kept(begin: Callable[..., Any]) -> None:
    entry = begin()
    entry.type("bearing_deg", "45")
    assert entry.shown().seen.button.words == EMPTY
    assert entry.keep() is None


def test_the_camera_fills_in_what_it_knows(
    begin: Callable[..., Any], day: FieldDay, tmp_path: Path
) -> None:
    entry = begin()
    assert entry.take(shot(tmp_path, north="T", bearing=44.0)) == ""
    assert (entry.text("bearing_deg"), entry.text("north")) == ("44", "true")
    photo = record_of(day, entry.keep())
    assert (photo.focal_35mm, photo.bearing_deg, photo.sequence) == (28.0, 44.0, 1)
    assert photo.position is not None
    assert photo.camera_time is not None
    assert photo.compared_with is None  # there was nothing to line up with


def test_a_bearing_that_was_typed_is_not_overwritten(
    begin: Callable[..., Any], tmp_path: Path
) -> None:
    entry = begin()
    entry.type("bearing_deg", "50")
    entry.take(shot(tmp_path))
    assert (entry.text("bearing_deg"), entry.text("north")) == ("50", "")


def test_the_last_photo_is_the_ghost_and_is_named_as_lined_up_with(
    begin: Callable[..., Any], day: FieldDay, clock: Any, tmp_path: Path
) -> None:
    first = begin()
    first.take(shot(tmp_path))
    before = record_of(day, first.keep())
    clock.now += timedelta(days=30)
    day.arrive("PRA", ["Ada"])
    second = begin()
    shown = second.shown().frame
    assert shown.ghost.endswith(f"{before.sha256}-1280.jpg")
    assert shown.ghost_words == "Last photo, 2 Mar 2026"
    second.take(shot(tmp_path, "later.jpg"))
    assert record_of(day, second.keep()).compared_with == before.sha256


def test_a_last_photo_from_another_device_is_told_and_not_named(
    begin: Callable[..., Any], day: FieldDay, clock: Any, tmp_path: Path, pictures: Pictures
) -> None:
    first = begin()
    first.take(shot(tmp_path))
    pictures.drop(record_of(day, first.keep()).sha256)
    clock.now += timedelta(days=30)
    day.arrive("PRA", ["Ada"])
    second = begin()
    assert second.shown().frame.ghost == ""
    assert second.shown().frame.ghost_words.endswith("is not on this device")
    second.take(shot(tmp_path, "later.jpg"))
    assert record_of(day, second.keep()).compared_with is None


def test_the_points_own_bearing_and_the_distance_to_its_peg_are_shown(
    begin: Callable[..., Any],
) -> None:
    shown = begin(position=(-36.5001, 155.5001, 4.0)).shown().frame
    assert shown.peg_words == "Looks along 45° from true north, lens 28 mm."
    assert shown.distance_words == "9 m from the peg (±4 m)."  # 0.0001° of longitude at 36.5° S
    assert begin().shown().frame.distance_words.startswith("No position here")


def test_a_bearing_far_off_is_asked_about(begin: Callable[..., Any], tmp_path: Path) -> None:
    entry = begin()
    entry.take(shot(tmp_path, north="T", bearing=80.0))
    assert entry.shown().seen.mood is Mood.LOOK
    assert any("35° from the point's bearing" in line.says for line in entry.shown().seen.lines)


def test_a_frame_taken_again_replaces_the_file_once_it_is_kept(
    begin: Callable[..., Any], day: FieldDay, tmp_path: Path, pictures: Pictures
) -> None:
    entry = begin()
    entry.take(shot(tmp_path, north="T", bearing=44.0))
    entry.take(shot(tmp_path, "again.jpg", north="T", bearing=44.0))
    assert len(pictures.folder.hashes()) == 2
    photo = record_of(day, entry.keep())
    assert pictures.folder.hashes() == [photo.sha256]


def test_a_file_that_is_no_photo_leaves_the_frame_as_it_was(
    begin: Callable[..., Any], tmp_path: Path
) -> None:
    entry = begin()
    assert "is not a picture" in entry.take(put(tmp_path, "letter.jpg", b"Dear Sir"))
    assert entry.shown().frame.path == ""


@BOTH
def test_a_frame_is_taken_lined_up_and_kept_by_touch(
    drive: Callable[..., Pilot], tmp_path: Path, monkeypatch: pytest.MonkeyPatch,
    size: tuple[int, int],
) -> None:  # fmt: skip
    monkeypatch.setenv("XDG_PICTURES_DIR", str(tmp_path / "card"))
    shot(tmp_path / "card", north="T", bearing=44.0)
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="photo_taken P1"))
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(name="file shot.jpg"))
    assert driver.find(name="box bearing_deg").text == "44"
    driver.tap(driver.find(name="keep"))
    day = driver.app.tablet.day
    (standing,) = day.logbook.known().every(PhotoTaken, day.site)
    assert standing.record.sha256 in driver.app.tablet.pictures.folder.hashes()
    assert driver.app.router.current == "site"


def test_the_fader_follows_the_finger(drive: Callable[..., Pilot]) -> None:
    from kivy.tests.common import UnitTestTouch

    driver = drive()
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="photo_taken P1"))
    (fader,) = [w for w in driver.walk() if getattr(w, "test_id", "") == "fader"]
    x, y = fader.to_window(*fader.pos)
    touch = UnitTestTouch(x + 1, y + fader.height / 2)
    touch.touch_down()
    assert fader.share < 0.05
    touch.touch_move(x + fader.width * 0.75, y + fader.height / 2)
    touch.touch_up()
    assert fader.share == pytest.approx(0.75, abs=0.02)


def test_a_killed_app_still_has_the_frame(
    drive: Callable[..., Pilot], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_PICTURES_DIR", str(tmp_path / "card"))
    shot(tmp_path / "card", north="T", bearing=44.0)
    driver = drive(folder=tmp_path / "it")
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="photo_taken P1"))
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(name="file shot.jpg"))
    killed = driver.app.tablet.logbook
    driver.kill()
    again = drive(folder=tmp_path / "it")
    again.tap(again.find(name="site PRA"))
    again.tap(again.find(name="photo_taken P1"))
    assert again.find(name="keep").text == "Keep frame 1"
    killed.close()
