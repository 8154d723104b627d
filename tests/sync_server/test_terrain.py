"""Terrain models against the table of the invented demo wetland, exact solids and a plain flood.

Everything about Lantern Reed Swamp (ground recipe, table of levels) is invented.
"""

import heapq
import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray
from scipy import ndimage

from shared_core.errors import UnreadableError
from shared_core.rating import Rating, Row
from sync_server.terrain import (
    BATCH,
    NUMBERS,
    WET,
    _advance,
    ground_at,
    outline_at,
    pool_table,
    rating_csv,
    rating_from_terrain,
)
from tests.sync_server.grounds import SEED, X0, Y0, lantern, plain

# Level [m], then area [ha] and volume [ML] of the true ground and of the surveyed ground.
LANTERN = """
71.10 0.00 0.0 0.00 0.0; 71.15 1.79 0.5 1.77 0.5; 71.20 3.17 1.7 3.15 1.7; 71.25 4.47 3.6 4.47 3.6;
71.30 5.77 6.2 5.77 6.2; 71.35 7.19 9.4 7.18 9.4; 71.40 8.52 13.4 8.50 13.4;
71.45 9.82 18.0 9.77 18.0; 71.50 10.96 23.2 10.89 23.2; 71.55 12.14 29.0 11.99 28.9;
71.60 13.19 35.3 12.98 35.1; 71.65 14.30 42.2 13.99 41.9; 71.70 15.35 49.6 14.96 49.1;
71.75 16.38 57.6 15.89 56.9; 71.80 17.41 66.0 16.82 65.1; 71.85 18.38 75.0 17.73 73.7;
71.90 19.40 84.4 18.66 82.8; 71.95 20.31 94.4 19.53 92.4; 72.00 21.30 104.8 20.48 102.4;
72.05 22.25 115.7 21.43 112.8; 72.10 23.15 127.0 22.38 123.8; 72.15 24.10 138.8 23.44 135.3;
72.20 24.98 151.1 24.47 147.2; 72.25 25.89 163.8 25.52 159.7; 72.30 26.80 177.0 26.52 172.8;
72.35 27.71 190.6 27.52 186.3; 72.40 28.57 204.7 28.42 200.3; 72.45 29.38 219.2 29.32 214.7;
72.50 30.30 234.1 30.23 229.6; 72.55 31.17 249.4 31.13 244.9; 72.60 31.95 265.2 31.93 260.7"""


def reached_levels(z: NDArray[np.float64], seed: tuple[int, int]) -> NDArray[np.float64]:
    """The plain way: one heap, each cell at the lowest level that joins it to the seed."""
    levels = np.full(z.shape, np.inf)
    heap = [(float(z[seed]), seed)]
    while heap:
        level_m, (row, column) = heapq.heappop(heap)
        if levels[row, column] <= level_m:
            continue
        levels[row, column] = level_m
        for r, c in ((row, column + 1), (row, column - 1), (row + 1, column), (row - 1, column)):
            if 0 <= r < z.shape[0] and 0 <= c < z.shape[1] and not np.isnan(z[r, c]):
                heapq.heappush(heap, (max(level_m, float(z[r, c])), (r, c)))
    return levels


# --- the demo wetland ---


@pytest.mark.parametrize("surveyed", [False, True])
def test_the_demo_wetland_has_its_table(surveyed: bool) -> None:
    rating = Rating.from_rows(rating_from_terrain(lantern(surveyed=surveyed), *SEED))
    for line in LANTERN.split(";"):
        level_m, *values = map(float, line.split())
        area_ha, volume_megalitres = values[2:] if surveyed else values[:2]
        assert abs(rating.area_at(level_m) / 1e4 - area_ha) < 0.0050001  # as printed
        assert abs(rating.volume_at(level_m) / 1e3 - volume_megalitres) < 0.050001


def test_the_table_ends_before_the_pool_leaves_the_surveyed_ground() -> None:
    # The inlet channel meets the western edge of the grid at 72.60 m - 0.010 m + 0.016 m.
    table = pool_table(lantern(surveyed=True), SEED)
    assert table.rows[0] == Row(71.10, 0, 0)
    assert table.rows[-1].level_m == 72.60
    assert table.edge_level_m == 72.61
    assert (table.seed_ground_m, table.deepest_m) == (71.101, 71.10)
    further = pool_table(lantern(surveyed=True), SEED, highest_m=72.70)
    assert further.rows[-1].level_m == 72.70
    assert further.edge_level_m == 72.61
    assert pool_table(lantern(surveyed=True), SEED, highest_m=72.60).edge_level_m is None


def test_the_csv_is_read_back_as_the_table() -> None:
    rows = rating_from_terrain(lantern(surveyed=True), *SEED, 0.1, 71.10, 71.30)
    text = rating_csv(rows)
    assert text.startswith("level_m,area_m2,volume_m3\n71.1,0.00,0.000\n71.2,31")
    lines = [tuple(map(float, line.split(","))) for line in text.splitlines()[1:]]
    for line, row in zip(lines, rows, strict=True):
        assert line == pytest.approx(row, abs=0.006)


# --- solids of known volume ---


@pytest.mark.parametrize(("power", "share"), [(1, 1 / 3), (2, 1 / 2)])
def test_a_cone_and_a_paraboloid_hold_their_volume(power: int, share: float) -> None:
    """Elementary geometry: V = A h / 3 and A h / 2; radius 100 m at a depth of 2 m."""
    axis = np.arange(-110, 110) + 0.5
    r = np.hypot(*np.meshgrid(axis, axis))
    table = pool_table(plain(50 + 2 * (r / 100) ** power), (110.5, 110.5), lowest_m=50.0)
    rating = Rating.from_rows(table.rows)
    for depth_m in (0.5, 1.0, 2.0):
        area_m2 = math.pi * (100 * (depth_m / 2) ** (1 / power)) ** 2
        assert rating.area_at(50 + depth_m) == pytest.approx(area_m2, rel=1e-2)
        assert rating.volume_at(50 + depth_m) == pytest.approx(area_m2 * depth_m * share, rel=1e-2)


def test_a_hollow_behind_a_rise_counts_from_the_level_that_joins_it() -> None:
    z = np.array([[9, 9, 9, 9, 9], [9, 1.0, 3.0, 0.5, 9], [9, 9, 9, 9, 9]])
    rows = {row.level_m: row for row in rating_from_terrain(plain(z), 1.5, 1.5, 0.5, 0.5, 4.0)}
    assert rows[1.0] == Row(1.0, 0, 0)
    assert rows[3.0] == Row(3.0, 1, 2.0)  # the hollow at 0.5 m is lower, and dry
    assert rows[3.5] == Row(3.5, 3, 2.5 + 0.5 + 3.0)


def test_cells_meeting_at_a_corner_are_not_joined() -> None:
    z = np.array([[9, 9, 9, 9], [9, 1.0, 9, 9], [9, 9, 1.0, 9], [9, 9, 9, 9]])
    assert rating_from_terrain(plain(z), 1.5, 2.5, 1.0, 1.0, 3.0)[-1] == Row(3.0, 1, 2.0)


def test_islands_and_holes_without_heights_are_left_out() -> None:
    z = np.full((5, 7), 9.0)
    z[1:-1, 1:-1] = 1.0
    z[2, 2], z[2, 4] = 5.0, np.nan
    table = pool_table(plain(z, cell_m=2.0), (3.0, 3.0), 1.0)
    assert table.rows[-1] == Row(9.0, 13 * 4 + 4, 13 * 4 * 8 + 4 * 4)  # the island drowned at 5 m
    assert table.rows[3] == Row(4.0, 13 * 4, 13 * 4 * 3)
    assert table.edge_level_m == 10.0


def test_missing_heights_along_the_edge_end_the_survey() -> None:
    z = np.full((6, 6), np.nan)
    z[2:5, 1:5] = [[5, 5, 5, 5], [5, 1, 2, 4], [5, 5, 5, 5]]
    table = pool_table(plain(z), (2.5, 2.5), 1.0)
    assert (table.edge_level_m, table.rows[-1].level_m) == (5.0, 4.0)


def test_a_pool_at_the_edge_from_the_start_has_no_table_unless_asked_for() -> None:
    z = np.array([[1.0, 2.0], [3.0, 4.0]])
    with pytest.raises(UnreadableError, match="touches the edge of the surveyed ground at once"):
        rating_from_terrain(plain(z), 0.5, 1.5, 1.0)
    assert rating_from_terrain(plain(z), 0.5, 1.5, 1.0, highest_m=5.0)[-1] == Row(5.0, 4, 10)


def test_a_seed_above_the_deepest_ground_is_told() -> None:
    z = np.array([[9, 9, 9, 9.0], [9, 3, 1, 9], [9, 9, 9, 9]])
    table = pool_table(plain(z), (1.5, 1.5), 1.0)
    assert (table.seed_ground_m, table.deepest_m) == (3.0, 1.0)
    assert table.rows[:2] == (Row(3.0, 0, 0), Row(4.0, 2, 4.0))


GROUND = st.integers(0, 2**32 - 1).map(
    lambda seed: np.round(np.random.default_rng(seed).gamma(2.0, 1.0, (9, 11)), 2)
)


@given(GROUND, st.floats(0, 0.4), st.integers(0, 8), st.integers(0, 10), st.sampled_from([0.05, 1]))
@settings(max_examples=150)
def test_any_ground_floods_as_the_plain_way_floods_it(
    z: NDArray[np.float64], missing: float, row: int, column: int, step_m: float
) -> None:
    z = np.where(np.random.default_rng(int(z[0, 0] * 1e6)).random(z.shape) < missing, np.nan, z)
    z[row, column] = 0.2
    levels = reached_levels(z, (row, column))
    table = rating_from_terrain(plain(z), column + 0.5, 8.5 - row, step_m, 0.0, 9.0)
    for level_m, area_m2, volume_m3 in table:
        wet = levels < level_m - 1e-6
        assert area_m2 == wet.sum()
        assert volume_m3 == pytest.approx((level_m - z[wet]).sum(), abs=1e-6)
        parts, _ = ndimage.label(z < level_m - 1e-6)
        here = parts[row, column]
        assert area_m2 == (parts == here).sum() * bool(here)


def test_a_front_wider_than_one_batch_floods_like_any_other() -> None:
    z = np.full((203, 403), 9.0)
    z[1:-1, 1:-1] = 5.0  # 100 ridges between 101 furrows, all covered by the same step
    z[1:-1:2, 1:-1] = z[1:-1, 1] = 1.0
    rows = rating_from_terrain(plain(z), 1.5, 1.5, 1.0, 1.0, 6.0)
    furrows, ridges = 101 * 401 + 100, 100 * 400
    assert rows[4] == Row(5.0, furrows, 4 * furrows)
    assert rows[5] == Row(6.0, furrows + ridges, 5 * furrows + ridges)


def test_a_cell_beside_two_cells_of_the_front_is_taken_up_once() -> None:
    flat = np.zeros(25, np.uint16)
    flat[[6, 8, 12]] = WET
    held: list[NDArray[np.intp]] = []
    front = _advance(flat, np.array([[6, 8, 12]]) + np.array([[1], [-1], [5], [-5]]), 3, held)
    assert sorted(front.tolist()) == [1, 3, 5, 7, 9, 11, 13, 17]  # 7, 11 and 13 have two
    assert set(flat[front].tolist()) == {WET + 3}
    assert int(NUMBERS[-1]) == 4 * BATCH - 1  # no number comes twice in a batch


# --- seeds and levels that make no table ---


@pytest.mark.parametrize("seed", [(X0 - 1, Y0 + 9), (X0 + 9, Y0 + 801), (math.nan, Y0), (9.0, 9.0)])
def test_a_seed_outside_the_model_is_refused(seed: tuple[float, float]) -> None:
    with pytest.raises(UnreadableError, match=r"no ground height at the seed cell .*outside"):
        rating_from_terrain(lantern(surveyed=True), *seed)


def test_a_seed_without_ground_is_refused() -> None:
    z = np.array([[1.0, 2.0], [np.nan, 1.0]])
    with pytest.raises(UnreadableError) as caught:
        rating_from_terrain(plain(z), 0.5, 0.5)
    assert str(caught.value) == (
        "the terrain model has no ground height at the seed cell E 0.5 N 0.5 "
        "(row 2, column 1 of the grid); give a seed in the deepest part"
    )
    with pytest.raises(UnreadableError, match="no ground height"):
        outline_at(plain(z), 2.0, (0.5, 0.5))


@pytest.mark.parametrize(
    ("step_m", "lowest_m", "highest_m", "sentence"),
    [
        (0.0, None, None, "too small"),
        (math.nan, None, None, "too small"),
        (0.01, 72.0, 71.0, "must be above the lowest"),
        (0.01, 71.0, math.inf, "must be above the lowest"),
        (0.01, -400.0, 72.0, "47200 steps"),
        (1.0, 71.0, 71.5, "0 steps"),
        (0.001, -400.0, None, "lies too high"),
    ],
)
def test_levels_that_make_no_table_are_refused(
    step_m: float, lowest_m: float | None, highest_m: float | None, sentence: str
) -> None:
    with pytest.raises(UnreadableError, match=sentence):
        rating_from_terrain(lantern(surveyed=True), *SEED, step_m, lowest_m, highest_m)


# --- the shoreline ---


def ring_area_m2(ring: list[tuple[float, float]]) -> float:
    east, north = ring[0]  # far from the origin the products would lose digits
    moved = [(x - east, y - north) for x, y in ring]
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(moved)) / 2


def test_the_shore_of_the_demo_wetland_has_its_island_and_its_area() -> None:
    terrain = lantern(surveyed=False)
    shore, *islands = outline_at(terrain, 72.40, SEED)
    assert len(islands) == 1
    assert shore[0] == shore[-1]
    assert ring_area_m2(shore) > 0 > ring_area_m2(islands[0])
    area_m2 = ring_area_m2(shore) + ring_area_m2(islands[0])
    assert area_m2 == pytest.approx(28.57e4, rel=2e-3)
    east, north = np.mean(islands[0][:-1], axis=0)
    assert (east, north) == pytest.approx((X0 + 640, Y0 + 440), abs=5)
    for e, n in shore[::10]:
        ground_m = ground_at(terrain, e, n)
        assert ground_m == pytest.approx(72.40, abs=1e-6)


def test_the_shore_of_a_cone_is_a_circle() -> None:
    axis = np.arange(-60, 60) + 0.5
    r = np.hypot(*np.meshgrid(axis, axis))
    (shore,) = outline_at(plain(r), 40.0, (60.5, 60.5))
    radii_m = np.hypot(*(np.array(shore).T - 60))
    assert radii_m == pytest.approx(np.full(radii_m.size, 40.0), abs=0.01)


def test_the_shore_encloses_the_wet_cells_of_this_pool_alone() -> None:
    z = np.array([[9, 9, 9, 9, 9], [9, 1.0, 9, 1.0, 9], [9, 9, 1.0, 9, 9], [9, 9, 9, 9, 9]])
    rings = outline_at(plain(z), 5.0, (2.5, 1.5))
    assert rings == [[pytest.approx(p) for p in rings[0]]]
    assert {(round(x, 3), round(y, 3)) for x, y in rings[0]} == {
        (2.5, 2.0), (2.0, 1.5), (2.5, 1.0), (3.0, 1.5),
    }  # fmt: skip
    assert outline_at(plain(z), 0.9, (2.5, 1.5)) == []


@pytest.mark.parametrize("turned", [False, True])
def test_water_meeting_at_a_corner_leaves_the_dry_cells_beside_it_joined(turned: bool) -> None:
    z = np.full((6, 6), 9.0)
    for row, column in ((2, 2), (1, 2), (1, 3), (1, 4), (2, 4), (3, 4), (3, 3)):
        z[row, column] = 1.0  # round the dry cell (2, 3), which (3, 2) joins to the land
    seed = (2.5, 3.5)
    if turned:
        z, seed = z[:, ::-1], (3.5, 3.5)
    assert len(outline_at(plain(z), 5.0, seed)) == 1


def test_the_shore_at_the_edge_of_the_survey_is_the_edge() -> None:
    z = np.array([[1.0, 1.0], [1.0, np.nan]])
    (ring,) = outline_at(plain(z), 2.0, (0.5, 1.5))
    assert ring_area_m2(ring) == pytest.approx(
        3.0 - 5 * 0.125 + 0.125
    )  # five corners cut, one filled
    assert min(x for x, _ in ring) == 0.0
    assert max(y for _, y in ring) == 2.0


@given(GROUND, st.floats(0.3, 6))
def test_shores_of_any_ground_close_and_never_cross(z: NDArray[np.float64], level_m: float) -> None:
    z[4, 5] = 0.2
    rings = outline_at(plain(z), level_m, (5.5, 4.5))
    assert ring_area_m2(rings[0]) > 0
    assert all(ring_area_m2(ring) < 0 for ring in rings[1:])
    points = [point for ring in rings for point in ring[:-1]]
    assert len(set(points)) == len(points)
