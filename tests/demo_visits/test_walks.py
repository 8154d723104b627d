"""The six walks against the table that came with the scenario, and their files."""

import math
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from demo_visits.contours import area_m2, is_inside, length_m, waterlines
from demo_visits.ground import bowl_coordinates, real_ground, supplied_terrain
from demo_visits.season import planted_error
from demo_visits.track_files import checksum, gga, rmc, write_gpx, write_nmea
from demo_visits.visits import visit_named
from demo_visits.walks import (
    WALKS,
    Walk,
    WalkFix,
    fixes_of,
    in_shade,
    shoreline,
    true_path,
    walk_named,
)

# shore [m], fixes, true outer and island area [ha], walked area [ha], level of the supplied terrain
# along the line in the reeds and elsewhere [m]. W3's walked area is without its wild fixes.
TABLE = {
    "W1": (1934, 297, 23.65, 0.12, 23.36, 72.210, 72.118),
    "W2": (2174, 334, 28.56, 0.04, 28.92, 72.509, 72.393),
    "W3": (2162, 325, 28.33, 0.04, 28.56, 72.403, 72.410),
    "W4": (1841, 283, 21.84, 0.16, 21.67, 72.153, 72.010),
    "W5": (1530, 235, 15.85, 0.32, 15.70, 71.810, 71.702),
    "W6": (1141, 175, 9.58, 0.60, 9.51, 71.422, 71.412),
}
WILD_ABOVE_M = 15.0
SUPPLIED = supplied_terrain()


def points(fixes: tuple[WalkFix, ...]) -> np.ndarray:
    return np.array([(fix.x, fix.y) for fix in fixes])


def tame(name: str) -> np.ndarray:
    fixes = fixes_of(walk_named(name))
    return points(tuple(fix for fix in fixes if fix.accuracy_m <= WILD_ABOVE_M))


def terrain_at(x: float, y: float) -> float:
    """Height of the supplied terrain between its cell centres, bilinear."""
    column, row = math.floor(x / 5 - 0.5), math.floor(y / 5 - 0.5)
    right, up = x / 5 - 0.5 - column, y / 5 - 0.5 - row
    lower = SUPPLIED[row, column] * (1 - right) + SUPPLIED[row, column + 1] * right
    upper = SUPPLIED[row + 1, column] * (1 - right) + SUPPLIED[row + 1, column + 1] * right
    return float(lower * (1 - up) + upper * up)


@pytest.mark.parametrize("name", TABLE)
def test_the_real_shore_is_as_long_and_as_wide_as_its_table_says(name: str) -> None:
    lines = waterlines(real_ground(), walk_named(name).level_m)
    outer = shoreline(real_ground(), walk_named(name).level_m)
    island = next(line for line in lines if is_inside(line, 640.0, 440.0) and len(line) < 80)
    assert length_m(outer) == pytest.approx(TABLE[name][0], abs=3)
    assert area_m2(outer) / 1e4 == pytest.approx(TABLE[name][2], abs=0.02)
    assert area_m2(island) / 1e4 == pytest.approx(TABLE[name][3], abs=0.01)


@pytest.mark.parametrize("name", TABLE)
def test_a_walk_has_as_many_fixes_as_its_shore_asks_for(name: str) -> None:
    assert len(fixes_of(walk_named(name))) == pytest.approx(TABLE[name][1], abs=2)


@pytest.mark.parametrize("name", TABLE)
def test_a_walked_area_is_the_tables_within_1_5_percent(name: str) -> None:
    assert area_m2(tame(name)) / 1e4 == pytest.approx(TABLE[name][4], rel=0.015)


@pytest.mark.parametrize("name", TABLE)
def test_the_terrain_along_the_line_stands_as_told(name: str) -> None:
    line = tame(name)
    level_m = np.array([terrain_at(x, y) for x, y in line])
    _, direction_deg = bowl_coordinates(line[:, 0], line[:, 1])
    reeds = (direction_deg > 20) & (direction_deg < 120)
    assert np.median(level_m[reeds]) == pytest.approx(TABLE[name][5], abs=0.012)
    assert np.median(level_m[~reeds]) == pytest.approx(TABLE[name][6], abs=0.012)


@pytest.mark.parametrize("name", [name for name in TABLE if name != "W3"])
def test_a_closed_walk_ends_within_ten_metres_of_its_start(name: str) -> None:
    line = tame(name)
    assert math.dist(line[0], line[-1]) < 10.0


def test_w3_is_left_open_by_about_54_metres() -> None:
    line = tame("W3")
    assert math.dist(line[0], line[-1]) == pytest.approx(54.0, abs=3.0)


def test_w3_has_two_wild_fixes_in_the_shade_and_no_other_walk_has_any() -> None:
    wild = {
        walk.name: [fix for fix in fixes_of(walk) if fix.accuracy_m > WILD_ABOVE_M]
        for walk in WALKS
    }
    assert {name: len(fixes) for name, fixes in wild.items() if fixes} == {"W3": 2}
    assert in_shade(points(tuple(wild["W3"]))).all()
    everything = area_m2(points(fixes_of(walk_named("W3")))) / 1e4
    assert everything - area_m2(tame("W3")) / 1e4 == pytest.approx(0.09, abs=0.03)


def test_only_w2_leaves_the_water_in_the_reeds() -> None:
    real = {}
    for walk in WALKS:
        line = tame(walk.name)
        r, direction_deg = bowl_coordinates(line[:, 0], line[:, 1])
        outer = shoreline(real_ground(), walk.level_m)
        r_true, direction_true = bowl_coordinates(outer[:, 0], outer[:, 1])
        core = (direction_deg > 30) & (direction_deg < 110)
        order = np.argsort(direction_true)
        shore = np.interp(direction_deg[core], direction_true[order], r_true[order])
        real[walk.name] = float(np.median(r[core] - shore) * 270)  # about metres per unit of r
    assert real.pop("W2") == pytest.approx(9.0, abs=2.5)
    assert all(abs(outside_m) < 3.0 for outside_m in real.values())


def test_the_stretch_set_aside_is_where_w2_left_the_waterline() -> None:
    walk = walk_named("W2")
    walked, _ = true_path(walk)
    shore, _ = true_path(replace(walk, reed_edge=False))
    off = np.flatnonzero(np.hypot(*(walked - shore).T) > 0.01)
    written = planted_error("E07").corrections[0].values["off_waterline"].split("; ")
    assert [int(written[0]), int(written[1])] == [off[0], off[-1]]
    assert len(off) == off[-1] - off[0] + 1


@pytest.mark.parametrize("walk", WALKS, ids=lambda walk: walk.name)
def test_a_walk_is_the_same_on_every_call(walk: Walk) -> None:
    assert fixes_of(walk) == fixes_of(walk)


@pytest.mark.parametrize("walk", WALKS, ids=lambda walk: walk.name)
def test_fixes_come_every_five_seconds_at_walking_pace(walk: Walk) -> None:
    fixes = fixes_of(walk)
    gaps = {later.time - earlier.time for earlier, later in pairwise(fixes)}
    assert gaps == {timedelta(seconds=5)}
    assert all(fix.speed_m_s < 3.0 for fix in fixes)


@pytest.mark.parametrize(
    ("name", "visit"),
    [("W1", "V04"), ("W2", "V06"), ("W3", "V13"), ("W4", "V18"), ("W5", "V22"), ("W6", "V24")],
)
def test_a_walk_begins_soon_after_its_visit(name: str, visit: str) -> None:
    wait = walk_named(name).began - visit_named(visit).start
    assert timedelta(minutes=10) <= wait <= timedelta(minutes=30)
    assert walk_named(name).level_m == pytest.approx(visit_named(visit).level_m, abs=0.0015)


def test_a_pool_that_reaches_the_edge_of_the_grid_is_refused() -> None:
    with pytest.raises(ValueError, match="reaches the edge"):
        waterlines(real_ground(), 72.70)


def test_a_gpx_file_holds_every_fix_in_order(tmp_path: Path) -> None:
    path = tmp_path / "W6.gpx"
    fixes = fixes_of(walk_named("W6"))
    write_gpx(path, fixes, "W6 & back")
    space = {"g": "http://www.topografix.com/GPX/1/1"}
    tree = ET.parse(path)
    found = tree.findall(".//g:trkpt", space)
    assert [(float(p.get("lat", "")), float(p.get("lon", ""))) for p in found] == [
        (fix.lat, fix.lon) for fix in fixes
    ]
    times = [datetime.fromisoformat(p.findtext("g:time", "", space)) for p in found]
    assert times == [fix.time for fix in fixes]
    assert tree.findtext(".//g:name", "", space) == "W6 & back"


def test_the_checksum_is_that_of_a_known_sentence() -> None:
    # A sentence printed in many receivers' manuals, with checksum 47 (from memory).
    body = "GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    assert checksum(body) == "47"


def test_nmea_sentences_give_back_place_time_and_speed(tmp_path: Path) -> None:
    path = tmp_path / "W1.nmea"
    fixes = fixes_of(walk_named("W1"))
    write_nmea(path, fixes)
    lines = path.read_bytes().decode("ascii").split("\r\n")
    assert lines.pop() == ""
    assert len(lines) == 2 * len(fixes)
    for line in lines:
        body, _, given = line[1:].partition("*")
        assert line[0] == "$"
        assert given == checksum(body)
    for fix, place in zip(fixes, lines[::2], strict=True):
        _, time, lat, south, lon, east, *_ = place.split(",")
        assert (time, south, east) == (fix.time.strftime("%H%M%S.00"), "S", "E")
        assert -(int(lat[:2]) + float(lat[2:]) / 60) == pytest.approx(fix.lat, abs=2e-7)
        assert int(lon[:3]) + float(lon[3:]) / 60 == pytest.approx(fix.lon, abs=2e-7)


def test_a_sentence_carries_date_and_knots() -> None:
    fix = fixes_of(walk_named("W1"))[0]
    fields = rmc(fix, 12.3).split(",")
    assert (fields[8], fields[9]) == ("12.3", "210823")
    assert float(fields[7]) * 1852 / 3600 == pytest.approx(fix.speed_m_s, abs=0.01)
    assert gga(fix).startswith("$GNGGA,002000.00,")
