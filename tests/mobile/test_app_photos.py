"""Photos on the records of a visit, by touch."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from shared_core.records.staff_gauge import GaugeReading
from tests.mobile import pilot
from tests.mobile.camera_files import jpeg, pixel_bomb, put
from tests.mobile.pilot import Pilot

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])


@pytest.fixture
def card(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder that a camera writes into, found at once."""
    folder = tmp_path / "card"
    folder.mkdir()
    monkeypatch.setenv("XDG_PICTURES_DIR", str(folder))
    return folder


def photos_here(driver: Pilot) -> Any:
    return driver.app.tablet.pictures.folder.hashes()


def kept(driver: Pilot, kind: Any) -> Any:
    day = driver.app.tablet.day
    every = day.logbook.known().every(kind, day.site)
    return [s.record for s in every if s.record.visit == day.visit]


def choose(driver: Pilot, name: str) -> None:
    driver.tap(driver.find(name=f"file {name}"))
    driver.frames(3)


def to_the_gauge(driver: Pilot) -> None:
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="gauge_reading G1"))


@BOTH
def test_the_plate_is_photographed_on_the_gauge_screen(
    drive: Callable[..., Pilot], card: Path, size: tuple[int, int]
) -> None:
    put(card, "plate.jpg")
    driver = drive(size)
    to_the_gauge(driver)
    driver.keys(".42")
    driver.tap(driver.find(name="photos"))
    choose(driver, "plate.jpg")
    assert driver.find(name="photos").text == "1 photo"
    assert driver.find(name="keep").text == "Keep 0.42 m"
    driver.tap(driver.find(name="keep"))
    (reading,) = kept(driver, GaugeReading)
    assert list(reading.photos) == photos_here(driver)
    assert len(reading.photos) == 1


def test_the_face_is_photographed_on_the_meter_screen(
    drive: Callable[..., Pilot], card: Path
) -> None:
    put(card, "face.jpg")
    driver = drive()
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="meter_reading M1"))
    driver.keys("012140")
    driver.tap(driver.find(name="photos"))
    choose(driver, "face.jpg")
    driver.tap(driver.find(name="keep"))
    if not kept(driver, MeterReading):
        driver.tap(driver.find(name="keep"))
    (reading,) = kept(driver, MeterReading)
    assert list(reading.photos) == photos_here(driver)


@BOTH
def test_any_form_takes_photos_and_gives_them_back(
    drive: Callable[..., Pilot], card: Path, size: tuple[int, int]
) -> None:
    put(card, "one.jpg", jpeg(colour=(1, 2, 3)))
    put(card, "two.jpg", jpeg(colour=(200, 2, 3)))
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="rain_reading R1"))
    driver.tap(driver.find(name="box rain_mm"))
    driver.keys("12.5")
    driver.tap(driver.find(name="now read_on"))
    for name in ("one.jpg", "two.jpg"):
        driver.tap(driver.find(name="add photo"))
        choose(driver, name)
    both = photos_here(driver)
    assert len(both) == 2
    driver.tap(driver.find(name="photo 1"))
    driver.tap(driver.find(name="off 1"))
    assert photos_here(driver) == both  # the file stays until the record is kept
    driver.press(27)
    assert driver.app.router.current == "form"
    driver.tap(driver.find(name="keep"))
    (rain,) = kept(driver, RainReading)
    assert list(rain.photos) == photos_here(driver)
    assert len(rain.photos) == 1


def test_a_photo_taken_off_stays_where_another_record_names_it(
    drive: Callable[..., Pilot], card: Path
) -> None:
    put(card, "plate.jpg")
    driver = drive()
    to_the_gauge(driver)
    driver.keys(".42")
    driver.tap(driver.find(name="photos"))
    choose(driver, "plate.jpg")
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(name="rain_reading R1"))
    driver.tap(driver.find(name="box rain_mm"))
    driver.keys("3")
    driver.tap(driver.find(name="now read_on"))
    driver.tap(driver.find(name="add photo"))
    choose(driver, "plate.jpg")
    driver.tap(driver.find(name="photo 1"))
    driver.tap(driver.find(name="off 1"))
    driver.tap(driver.find(name="keep"))
    (gauge,) = kept(driver, GaugeReading)
    assert list(gauge.photos) == photos_here(driver)
    assert [rain.photos for rain in kept(driver, RainReading)] == [()]


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("letter.jpg", b"Dear Sir", "is not a picture"),
        ("bomb.png", pixel_bomb(), "more than 64 million pixels"),
        ("half.jpg", jpeg((640, 480))[:2000], "is a broken picture"),
    ],
)
def test_what_cannot_be_a_photo_is_told_where_it_was_chosen(
    drive: Callable[..., Pilot], card: Path, name: str, data: bytes, says: str
) -> None:
    put(card, name, data)
    driver = drive()
    to_the_gauge(driver)
    driver.keys(".42")
    driver.tap(driver.find(name="photos"))
    choose(driver, name)
    assert says in driver.find(name="trouble").text
    driver.press(27)
    assert driver.find(name="photos").text == "Photo"
    assert driver.find(name="keep").text == "Keep 0.42 m"
    assert photos_here(driver) == []


def test_a_file_that_went_with_its_card_is_told(drive: Callable[..., Pilot], card: Path) -> None:
    path = put(card, "gone.jpg")
    driver = drive()
    to_the_gauge(driver)
    driver.tap(driver.find(name="photos"))
    path.unlink()
    choose(driver, "gone.jpg")
    assert "gone.jpg cannot be read" in driver.find(name="trouble").text


def test_a_photo_that_is_missing_says_so_in_the_strip(
    drive: Callable[..., Pilot], card: Path
) -> None:
    driver = drive()
    driver.tap(driver.find(name="site PRA"))
    driver.app.tablet.day.draft(RainReading, "R1").type("photos", "a" * 64)
    driver.tap(driver.find(name="rain_reading R1"))
    assert driver.find(name="photo 1").text == "Photo 1 is not on this device"


def test_folders_are_walked_by_touch(drive: Callable[..., Pilot], card: Path) -> None:
    put(card / "DCIM" / "100", "deep.jpg")
    driver = drive()
    to_the_gauge(driver)
    driver.keys(".42")
    driver.tap(driver.find(name="photos"))
    for name in ("folder DCIM", "up", "folder DCIM", "folder 100"):
        driver.tap(driver.find(name=name))
    choose(driver, "deep.jpg")
    assert driver.find(name="photos").text == "1 photo"
    driver.tap(driver.find(name="photos"))
    driver.tap(driver.find(name="add photo"))
    assert driver.find(name="file deep.jpg")  # the folder is remembered


@BOTH
def test_what_can_hardly_be_is_kept_with_a_reason_and_a_photo(
    drive: Callable[..., Pilot], card: Path, size: tuple[int, int]
) -> None:
    put(card, "plate.jpg")
    driver = drive(size)
    to_the_gauge(driver)
    driver.keys("4.2")
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(text="Add a photo of it"))
    choose(driver, "plate.jpg")
    assert driver.find(name="keep").text == "Seen twice: keep 4.20 m"  # still asked about
    assert driver.all(text="Add a photo of it") == []
    driver.tap(driver.find(text="Second person read it"))
    driver.tap(driver.find(name="keep"))
    (reading,) = kept(driver, GaugeReading)
    assert (reading.stage_m, len(reading.photos)) == (4.2, 1)


def test_a_killed_app_still_has_the_photo(
    drive: Callable[..., Pilot], card: Path, tmp_path: Path
) -> None:
    put(card, "plate.jpg")
    driver = drive(folder=tmp_path / "it")
    to_the_gauge(driver)
    driver.keys(".4")
    driver.tap(driver.find(name="photos"))
    choose(driver, "plate.jpg")
    killed = driver.app.tablet.logbook
    driver.kill()
    again = drive(folder=tmp_path / "it")
    to_the_gauge(again)
    assert again.find(name="photos").text == "1 photo"
    killed.close()


def test_turning_the_tablet_keeps_the_choice_of_a_file_open(
    drive: Callable[..., Pilot], card: Path
) -> None:
    put(card, "plate.jpg")
    driver = drive(pilot.WIDE)
    to_the_gauge(driver)
    driver.keys(".42")
    driver.tap(driver.find(name="photos"))
    driver.turn(pilot.TALL)
    choose(driver, "plate.jpg")
    assert driver.find(name="photos").text == "1 photo"
    assert len(driver.all(name="keep")) == 1
