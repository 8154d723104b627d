"""Terrain models as files: each form read right, each broken file told in one clear sentence."""

import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pyproj
import pytest
import rasterio
from numpy.typing import ArrayLike
from rasterio.transform import Affine

from shared_core.errors import UnknownError, UnreadableError
from sync_server.terrain import ground_at, rating_from_terrain, read_terrain
from tests.sync_server.grounds import (
    EPSG,
    SEED,
    X0,
    Y0,
    ascii_text,
    lantern,
    plain,
    write_tiff,
)


def test_every_form_of_file_gives_the_same_table(tmp_path: Path) -> None:
    terrain = lantern(surveyed=True)
    rows = rating_from_terrain(terrain, *SEED, 0.05, 71.10, 72.60)
    (tmp_path / "corner.asc").write_text(ascii_text(terrain))
    (tmp_path / "centre.txt").write_text(ascii_text(terrain, corner="center"))
    (tmp_path / "windows.asc").write_bytes(
        b"\xef\xbb\xbf" + ascii_text(terrain).replace("\n", "\r\n").encode()
    )
    write_tiff(tmp_path / "short.tif", terrain)
    write_tiff(tmp_path / "long.tif", terrain, "float64", compress="deflate", tiled=True)
    for path in sorted(tmp_path.iterdir()):
        read = read_terrain(path, EPSG)
        assert (read.cell_m, read.x0, read.y0) == (5.0, X0, Y0)
        again = rating_from_terrain(read, *SEED, 0.05, 71.10, 72.60)
        assert [row[:2] for row in again] == [row[:2] for row in rows], path.name
        volumes_m3 = [row.volume_m3 for row in again]
        assert volumes_m3 == pytest.approx([row.volume_m3 for row in rows], abs=1.0)


def test_heights_in_whole_centimetres_are_read_with_their_scale(tmp_path: Path) -> None:
    terrain = plain(np.array([[7_110.0, 7_205.0], [7_300.0, np.nan]]))
    path = write_tiff(tmp_path / "cm.tif", terrain, "int16")
    with rasterio.open(path, "r+") as file:
        file.scales, file.offsets = (0.01,), (1.0,)
    heights_m = read_terrain(path, EPSG).z
    assert heights_m == pytest.approx(np.array([[72.1, 73.05], [74.0, np.nan]]), nan_ok=True)


# --- the ground at a point ---


def test_the_ground_between_four_centres_is_bilinear() -> None:
    terrain = plain(np.array([[4.0, 6.0], [0.0, 2.0]]), cell_m=2.0)
    assert ground_at(terrain, 1.0, 3.0) == 4.0  # row 0 is the northern row
    assert ground_at(terrain, 3.0, 1.0) == 2.0
    assert ground_at(terrain, 2.0, 2.0) == 3.0
    assert ground_at(terrain, 1.5, 3.0) == 4.5


def test_where_a_height_is_missing_the_ground_is_not_known() -> None:
    terrain = plain(np.array([[1.0, 1.0, np.nan], [1.0, 1.0, 1.0]]))
    assert ground_at(terrain, 2.2, 1.2) is None
    assert ground_at(terrain, 1.5, 1.2) == 1.0  # the missing centre has no share here
    assert ground_at(terrain, 0.2, 1.0) is None  # outer half cell
    assert ground_at(terrain, 99.0, 1.0) is None
    assert ground_at(terrain, math.nan, 1.0) is None


def test_a_point_finds_its_cell() -> None:
    terrain = lantern(surveyed=True)
    assert terrain.cell_at(*SEED) == (79, 110)
    assert terrain.cell_at(X0, Y0 + 800) == (0, 0)
    assert terrain.cell_at(X0 + 1099.9, Y0 + 0.1) == (159, 219)
    assert terrain.cell_at(X0 + 1100, Y0 + 0.1) is None


@pytest.mark.parametrize("bad", [np.zeros(3), np.zeros((0, 4))])
def test_heights_are_a_grid(bad: ArrayLike) -> None:
    with pytest.raises(ValueError, match="rows and columns"):
        plain(bad)
    with pytest.raises(ValueError, match="side above zero"):
        plain(np.zeros((2, 2)), cell_m=0.0)


# --- files that cannot be read ---

GOOD = "ncols 3\nnrows 2\nxllcorner 10\nyllcorner 20\ncellsize 5\n1 2 -9999\n4 5 6\n"


def test_a_grid_without_a_no_data_line_has_the_usual_one(tmp_path: Path) -> None:
    path = tmp_path / "small.asc"
    path.write_text("\n" + GOOD + "\n  \n")
    terrain = read_terrain(path, EPSG)
    expected = np.array([[1, 2, np.nan], [4, 5, 6]])
    assert np.array_equal(terrain.z, expected, equal_nan=True)
    assert (terrain.x0, terrain.y0, terrain.epsg) == (10, 20, EPSG)


@pytest.mark.parametrize(
    ("old", "new", "sentence"),
    [
        ("4 5 6", "4 5", r"line 7 of small\.asc \(row 2\) has 2 values; 3 are needed"),
        ("1 2 -9999", "1 2 3 4", r"line 6 of small\.asc \(row 1\) has 4 values"),
        ("4 5 6", "4 5.x 6", r'line 7 of small\.asc has "5\.x" where a height'),
        ("4 5 6", "4 5,1 6", r'line 7 of small\.asc has "5,1" where a height'),
        ("4 5 6\n", "", r"ends at line 6 after 1 rows; its header promises 2"),
        ("4 5 6\n", "4 5 6\n7 8 9\n", r"line 8 of small\.asc is one more than the 2 rows"),
        ("ncols 3\n", "", "has no ncols"),
        ("nrows 2", "nrows 2.5", r"has nrows 2\.5; a whole number"),
        (
            "nrows 2",
            "nrows two",
            r'line 2 of small\.asc should be a word and a number.*"nrows two"',
        ),
        ("nrows 2", "nrows nan", "has nrows nan"),
        ("nrows 2", "nrows 90000000", "the file is too short"),
        ("cellsize 5", "cellsize 0", "needs cellsize"),
        ("cellsize 5\n", "", "needs cellsize"),
        ("cellsize 5", "dx 5\ndy 4", "are 5 by 4 m, not square"),
        ("xllcorner 10\n", "", "needs xllcorner or xllcenter"),
        ("yllcorner 20", "yllcorner nan", "needs yllcorner or yllcenter"),
        ("1 2 -9999\n4 5 6\n", "", "ends before its first row"),
        ("1 2 -9999\n4 5 6\n", "-9999 -9999 -9999\n" * 2, "no ground height in any cell"),
        ("-9999", "-32768", "heights from -32768 to 6 m"),
        ("cellsize 5", "cellsize 5\nnodata_value -1", "heights from -9999 to 6 m"),
        (GOOD, "PK\x03\x04 something else\n", "should be a word and a number"),
        (GOOD, "71.2 71.3\n", "neither an ESRI ASCII grid"),
        (GOOD, "", "neither an ESRI ASCII grid"),
    ],
)
def test_a_broken_grid_says_what_is_wrong_and_where(
    tmp_path: Path, old: str, new: str, sentence: str
) -> None:
    assert old in GOOD
    path = tmp_path / "small.asc"
    path.write_text(GOOD.replace(old, new))
    with pytest.raises(UnreadableError, match=sentence):
        read_terrain(path, EPSG)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(UnknownError, match=r"no terrain model away\.tif"):
        read_terrain(tmp_path / "away.tif", EPSG)


@pytest.mark.parametrize(
    ("epsg", "sentence"),
    [
        (7844, "is not projected in metres"),  # GDA2020, latitude and longitude
        (4979, "is not projected in metres"),
        (2277, "is not projected in metres"),  # feet
        (999_999, "is no coordinate system"),
        (7855, r"EPSG:7856 \(GDA2020 / MGA zone 56\), not EPSG:7855"),
    ],
)
@pytest.mark.parametrize("name", ["lantern.tif", "lantern.asc"])
def test_a_wrong_coordinate_system_is_refused(
    tmp_path: Path, name: str, epsg: int, sentence: str
) -> None:
    path = tmp_path / name
    if name.endswith(".tif"):
        write_tiff(path, lantern(surveyed=True))
    else:
        path.write_text(ascii_text(lantern(surveyed=True)))
        wkt = pyproj.CRS.from_epsg(EPSG).to_wkt("WKT1_ESRI")
        path.with_suffix(".prj").write_text(wkt)
    assert read_terrain(path, EPSG).epsg == EPSG
    with pytest.raises(UnreadableError, match=sentence):
        read_terrain(path, epsg)


def test_a_file_with_a_vertical_datum_keeps_its_horizontal_system(tmp_path: Path) -> None:
    path = write_tiff(tmp_path / "both.tif", lantern(surveyed=True), crs="EPSG:7856+5711")
    assert read_terrain(path, EPSG).epsg == EPSG


@pytest.mark.parametrize(
    ("extra", "sentence"),
    [
        ({"count": 2}, "has 2 bands"),
        ({"transform": None}, "does not say where"),
        ({"transform": (5.0, 0.0, X0, 0.0, -4.0, Y0)}, "not a grid of square cells"),
        ({"transform": (5.0, 1.0, X0, 1.0, -5.0, Y0)}, "not a grid of square cells"),
    ],
)
def test_a_geotiff_of_another_make_is_refused(
    tmp_path: Path, extra: dict[str, Any], sentence: str
) -> None:
    if isinstance(extra.get("transform"), tuple):
        extra = {"transform": Affine(*extra["transform"])}
    path = write_tiff(tmp_path / "other.tif", lantern(surveyed=True), **extra)
    with pytest.raises(UnreadableError, match=sentence):
        read_terrain(path, EPSG)


def test_a_cut_off_geotiff_is_refused(tmp_path: Path) -> None:
    path = write_tiff(tmp_path / "cut.tif", lantern(surveyed=True))
    whole = path.read_bytes()
    for kept in (len(whole) // 2, 40):
        path.write_bytes(whole[:kept])
        with pytest.raises(UnreadableError, match=r"cut\.tif is a broken GeoTIFF"):
            read_terrain(path, EPSG)


def test_without_the_extra_part_a_geotiff_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = write_tiff(tmp_path / "lantern.tif", lantern(surveyed=True))
    monkeypatch.setitem(sys.modules, "rasterio", None)
    with pytest.raises(UnreadableError, match=r"pip install strandline\[dem\]"):
        read_terrain(path, EPSG)
