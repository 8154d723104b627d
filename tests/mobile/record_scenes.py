"""Photos, photo point, change of meter, bore, tree and plot, as they are looked at and measured."""

import tempfile
from pathlib import Path

from shared_core.records.photo_point import PhotoTaken
from tests.mobile.camera_files import camera_header, jpeg, put
from tests.mobile.pilot import Pilot


def site(driver: Pilot) -> None:
    driver.tap(driver.find(name="site PRA"))


def gauge(driver: Pilot, keys: str) -> None:
    site(driver)
    driver.tap(driver.find(name="gauge_reading G1"))
    driver.keys(keys)
    driver.wait(0.5)


def _picture(name: str, colour: tuple[int, int, int]) -> Path:
    """Write a picture of one colour, beside nothing of the app's own, and return its path."""
    folder = Path(tempfile.gettempdir()) / "strandline-scenes"
    exif = camera_header(north="T", bearing=44.0)
    return put(folder, name, jpeg((640, 480), colour, exif))


def picking(driver: Pilot) -> None:
    """A picture is chosen in a folder."""
    driver.app.tablet.pictures_from = _picture("plate.jpg", (150, 140, 96)).parent
    gauge(driver, ".42")
    driver.tap(driver.find(name="photos"))


def photo_wall(driver: Pilot) -> None:
    picking(driver)
    driver.tap(driver.find(name="file plate.jpg"))
    driver.tap(driver.find(name="photos"))


def photo_wanted(driver: Pilot) -> None:
    """A value that can hardly be is kept, and no photo shows it yet."""
    gauge(driver, "4.2")
    driver.tap(driver.find(name="keep"))


def photo_point(driver: Pilot) -> None:
    site(driver)
    driver.tap(driver.find(name="photo_taken P1"))


def photo_point_lined_up(driver: Pilot) -> None:
    """Last visit's photo lies over the new one."""
    tablet = driver.app.tablet
    last = tablet.pictures.take_in(_picture("last.jpg", (90, 120, 60))).sha256
    tablet.day.take_up("PRA", code="before")
    tablet.day.record(PhotoTaken, "P1", {"sha256": last, "bearing_deg": "44"})
    tablet.logbook.drop_draft("visit/PRA")
    tablet.pictures_from = _picture("shot.jpg", (86, 106, 150)).parent
    photo_point(driver)
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(name="file shot.jpg"))


def meter_change(driver: Pilot) -> None:
    site(driver)
    driver.tap(driver.find(name="meter_change M1"))
    driver.tap(driver.find(name="box final_display"))
    driver.keys("0087")


def bore(driver: Pilot) -> None:
    site(driver)
    driver.tap(driver.find(name="bore_dip B1"))
    for name, keys in (("dip_1_m", "3.210"), ("dip_2_m", "3.214")):
        driver.tap(driver.find(name=f"box {name}"))
        driver.keys(keys)
    driver.tap(driver.find(name="mark casing"))


def tree(driver: Pilot) -> None:
    site(driver)
    driver.tap(driver.find(name="tree_score T1"))


def plot(driver: Pilot) -> None:
    site(driver)
    driver.tap(driver.find(name="plot_score Q1"))


def plot_plant(driver: Pilot) -> None:
    plot(driver)
    driver.tap(driver.find(name="found yes"))
    driver.tap(driver.find(name="add Common reed"))
    driver.tap(driver.find(name="box cover_pct"))
    driver.keys("25")


RECORD_SCENES = (
    picking,
    photo_wall,
    photo_wanted,
    photo_point,
    photo_point_lined_up,
    meter_change,
    bore,
    tree,
    plot,
    plot_plant,
)
