"""The drawn photos: small, the same every time, with a camera's header."""

import io
from datetime import datetime

import numpy as np
import pytest
from PIL import Image

from demo_visits.acts import Act
from demo_visits.ground import grid_to_lat_lon
from demo_visits.photos import picture_of, plate_picture
from demo_visits.season import act_named, acts

EXIF, GPS = 0x8769, 0x8825
PICTURED = [act for act in acts() if act.photo]


def opened(act: Act) -> Image.Image:
    data = picture_of(act)
    assert data is not None
    return Image.open(io.BytesIO(data))


def degrees(parts: tuple[float, float, float]) -> float:
    return float(parts[0] + parts[1] / 60 + parts[2] / 3600)


def test_every_picture_is_a_small_jpeg() -> None:
    for act in PICTURED:
        data = picture_of(act)
        assert data is not None
        assert len(data) < 40_000
        with Image.open(io.BytesIO(data)) as image:
            assert (image.format, image.size) == ("JPEG", (640, 480))


def test_an_act_without_a_photo_has_none() -> None:
    assert picture_of(act_named("V20 gauge_reading SG1")) is None


def test_a_picture_has_the_same_bytes_on_every_call() -> None:
    act = act_named("V13 photo_taken PP2")
    assert picture_of(act) == picture_of(act)


def test_no_two_pictures_are_the_same_file() -> None:
    files = [picture_of(act) for act in PICTURED]
    assert len(set(files)) == len(files)


def test_the_header_holds_time_offset_place_bearing_and_lens() -> None:
    act = act_named("V13 photo_taken PP2")
    header = opened(act).getexif()
    exif, gps = header.get_ifd(EXIF), header.get_ifd(GPS)
    taken = datetime.strptime(exif[0x9003] + exif[0x9011], "%Y:%m:%d %H:%M:%S%z")
    assert taken == act.when
    assert exif[0xA405] == 26
    assert (gps[1], gps[3], gps[16]) == ("S", "E", "T")
    assert float(gps[17]) == 5.0
    assert act.position is not None
    lat, lon = grid_to_lat_lon(*act.position)
    assert -degrees(gps[2]) == pytest.approx(lat, abs=1e-6)
    assert degrees(gps[4]) == pytest.approx(lon, abs=1e-6)


def test_a_wrong_tablet_clock_shows_against_the_receivers_time() -> None:
    header = opened(act_named("V09 gauge_reading SG1")).getexif()
    assert header.get_ifd(EXIF)[0x9003] == "2023:10:10 10:00:00"
    assert [int(part) for part in header.get_ifd(GPS)[7]] == [0, 0, 0]  # 11:00 at +11:00


def test_a_photo_without_a_bearing_has_none_in_its_header() -> None:
    assert 17 not in opened(act_named("V08 photo_taken PP1")).getexif().get_ifd(GPS)


def surface_row(image: Image.Image) -> int:
    """First row, from the top, whose left edge has the colour of water."""
    left = np.asarray(image.convert("RGB"))[:, 5].astype(int)
    return int(np.argmax(np.abs(left - (86, 106, 104)).sum(axis=1) < 30))


@pytest.mark.parametrize("stage_m", [0.079, 0.271, 0.402, 0.643])
def test_the_waterline_stands_at_its_stage_on_the_plate(stage_m: float) -> None:
    image = plate_picture("test", stage_m, "SG1")
    low_m = max(stage_m - 0.08, -0.04)
    expected = 480 - (stage_m - low_m) * 480 / 0.30
    assert surface_row(image) == pytest.approx(expected, abs=1.5)


def test_a_misread_gauges_photo_shows_the_true_stage() -> None:
    act = act_named("V19 gauge_reading SG1")
    shown = np.asarray(opened(act).convert("L")).astype(int)
    true = np.asarray(plate_picture(act.key, 0.643, "SG1").convert("L")).astype(int)
    typed = np.asarray(plate_picture(act.key, 0.463, "SG1").convert("L")).astype(int)
    assert np.abs(shown - true).mean() < np.abs(shown - typed).mean() / 5
