"""The ground against the tables that came with its recipe (made by a separate program)."""

from collections import deque
from pathlib import Path

import numpy as np
import pytest

from demo_visits.ground import (
    CELL_M,
    COLUMNS,
    ROWS,
    Ground,
    grid_to_lat_lon,
    real_ground,
    supplied_terrain,
    write_ascii_grid,
)
from demo_visits.scenario import GAUGES, StaffGauge

# level [m]: real area [ha], real volume [ML], supplied area, supplied volume
TABLE = {
    71.10: (0.00, 0.0, 0.00, 0.0),
    71.15: (1.79, 0.5, 1.77, 0.5),
    71.20: (3.17, 1.7, 3.15, 1.7),
    71.30: (5.77, 6.2, 5.77, 6.2),
    71.40: (8.52, 13.4, 8.50, 13.4),
    71.50: (10.96, 23.2, 10.89, 23.2),
    71.60: (13.19, 35.3, 12.98, 35.1),
    71.70: (15.35, 49.6, 14.96, 49.1),
    71.80: (17.41, 66.0, 16.82, 65.1),
    71.90: (19.40, 84.4, 18.66, 82.8),
    72.00: (21.30, 104.8, 20.48, 102.4),
    72.10: (23.15, 127.0, 22.38, 123.8),
    72.20: (24.98, 151.1, 24.47, 147.2),
    72.30: (26.80, 177.0, 26.52, 172.8),
    72.40: (28.57, 204.7, 28.42, 200.3),
    72.50: (30.30, 234.1, 30.23, 229.6),
    72.60: (31.95, 265.2, 31.93, 260.7),
}


def pool(ground: Ground, level_m: float) -> tuple[float, float]:
    """Area [ha] and volume [ML] of the water joined to the deepest cell through cell sides."""
    wet = ground < level_m
    start = (80, 110)  # the cell whose centre is x = 552.5, y = 402.5
    seen = np.zeros_like(wet)
    waiting = deque([start] if wet[start] else [])
    while waiting:
        row, column = waiting.popleft()
        if not (0 <= row < ROWS and 0 <= column < COLUMNS):
            continue
        if seen[row, column] or not wet[row, column]:
            continue
        seen[row, column] = True
        waiting.extend(((row + 1, column), (row - 1, column), (row, column + 1), (row, column - 1)))
    depth_m = level_m - ground[seen]
    return seen.sum() * CELL_M**2 / 10_000, depth_m.sum() * CELL_M**2 / 1000


@pytest.mark.parametrize("level_m", TABLE)
def test_the_real_ground_holds_what_its_table_says(level_m: float) -> None:
    area_ha, volume_megalitres = pool(real_ground(), level_m)
    assert area_ha == pytest.approx(TABLE[level_m][0], abs=0.011)
    assert volume_megalitres == pytest.approx(TABLE[level_m][1], abs=0.06)


@pytest.mark.parametrize("level_m", TABLE)
def test_the_supplied_terrain_holds_what_its_table_says(level_m: float) -> None:
    area_ha, volume_megalitres = pool(supplied_terrain(), level_m)
    assert area_ha == pytest.approx(TABLE[level_m][2], abs=0.011)
    assert volume_megalitres == pytest.approx(TABLE[level_m][3], abs=0.06)


def test_the_supplied_terrain_is_high_in_the_reeds_and_right_elsewhere() -> None:
    excess = supplied_terrain() - real_ground()
    assert excess.max() == pytest.approx(0.16, abs=0.002)
    assert np.abs(excess[:60]).max() <= 0.0005 + 1e-9  # the south has no reeds, only rounding


@pytest.mark.parametrize("gauge", GAUGES, ids=lambda gauge: gauge.name)
def test_the_ground_at_a_gauges_foot_is_what_its_card_says(gauge: StaffGauge) -> None:
    row, column = int(gauge.y // CELL_M), int(gauge.x // CELL_M)
    assert real_ground()[row, column] == pytest.approx(gauge.ground_level_m, abs=0.03)


def test_an_ascii_grid_is_written_with_its_northern_row_first(tmp_path: Path) -> None:
    path = tmp_path / "terrain.asc"
    ground = supplied_terrain()
    write_ascii_grid(path, ground)
    lines = path.read_text().splitlines()
    head = dict(line.split() for line in lines[:6])
    assert (head["ncols"], head["nrows"]) == ("220", "160")
    assert (float(head["xllcorner"]), float(head["yllcorner"])) == (719_450.0, 5_959_600.0)
    assert float(head["cellsize"]) == 5.0
    read = np.array([[float(height) for height in line.split()] for line in lines[6:]])
    assert np.array_equal(read, ground[::-1])


def test_the_middle_of_the_bowl_lies_in_the_open_sea() -> None:
    # Latitude and longitude given with the scenario for E 720000 N 5960000 in EPSG:7856.
    assert grid_to_lat_lon(550.0, 400.0) == pytest.approx((-36.48006, 155.45573), abs=5e-6)


def test_positions_agree_with_proj_at_the_corners() -> None:
    pyproj = pytest.importorskip("pyproj")
    to_degrees = pyproj.Transformer.from_crs(7856, 7844, always_xy=True)
    for x, y in ((0.0, 0.0), (1100.0, 0.0), (1100.0, 800.0), (3950.0, 400.0)):
        lon, lat = to_degrees.transform(719_450.0 + x, 5_959_600.0 + y)
        assert grid_to_lat_lon(x, y) == pytest.approx((lat, lon), abs=1e-9)
