"""From a terrain model to the stage-area-volume table and the shoreline of one pool.

Water that rises from a seed cell reaches a neighbour as soon as it stands above the neighbour's
ground: a cell is under water at a level when a way of cells with lower ground, side by side, joins
it to the seed. Far hollows behind a rise do not count, nor do islands.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from shared_core.errors import UnreadableError
from shared_core.rating import Row
from sync_server.grids import Terrain, ground_at, read_terrain

__all__ = [
    "PoolTable",
    "Terrain",
    "ground_at",
    "outline_at",
    "pool_table",
    "rating_csv",
    "rating_from_terrain",
    "read_terrain",
]

WETTED_M: Final = 5e-5  # a film thinner than this is no water: ground stored in 32 bits is as exact
STRIP: Final = 64  # rows worked on at once, to stay in the processor's cache
WET: Final = 1 << 15  # added to a step number when the cell is reached
DRY: Final = WET - 3  # ground above every step
VOID: Final = WET - 2  # no ground height
OUTSIDE: Final = WET - 1  # no ground height, and joined to the edge of the grid
MOST_STEPS: Final = DRY
BATCH: Final = 1 << 14  # cells of a front taken at once; their four neighbours fit NUMBERS
NUMBERS: Final = np.arange(4 * BATCH, dtype=np.uint16)
NEAR_CENTRE: Final = 1e-3  # how near a shoreline comes to a cell centre, as a part of the cell side

Codes = NDArray[np.uint16]
Cells = NDArray[np.intp]
Ring = list[tuple[float, float]]


@dataclass(frozen=True)
class PoolTable:
    """What a terrain model tells of one pool.

    `edge_level_m` is the first level of the table's steps at which the pool touches the edge of the
    surveyed ground, None when it stays inside: from there on area and volume are too small.
    `deepest_m` is the lowest ground found in the pool; the seed belongs there.
    """

    rows: tuple[Row, ...]
    seed_ground_m: float
    deepest_m: float
    edge_level_m: float | None


def rating_from_terrain(
    terrain: Terrain,
    seed_e: float,
    seed_n: float,
    step_m: float = 0.01,
    lowest_m: float | None = None,
    highest_m: float | None = None,
) -> tuple[Row, ...]:
    """Return the rows of the stage-area-volume table of the pool around a seed [m].

    See `pool_table`, of which these are the rows.

    Raises:
        UnreadableError: when the seed has no ground height, or no table comes of the levels.
    """
    return pool_table(terrain, (seed_e, seed_n), step_m, lowest_m, highest_m).rows


def pool_table(
    terrain: Terrain,
    seed: tuple[float, float],
    step_m: float = 0.01,
    lowest_m: float | None = None,
    highest_m: float | None = None,
) -> PoolTable:
    """Tabulate area and volume of the pool around a seed (easting, northing) [m], level by level.

    A(z) is the area of a cell times the number of cells under water, V(z) the area of a cell times
    the sum of z less ground over them. Levels are `lowest_m` and every `step_m` above it; it is the
    step at or below the ground at the seed unless given. The table ends at `highest_m`, or, unless
    given, at the last step before the pool touches the edge of the surveyed ground.

    Raises:
        UnreadableError: when the seed has no ground height, or no table comes of the levels.
    """
    row, column = _seed_cell(terrain, seed)
    ground_m = float(terrain.z[row, column])
    if not (math.isfinite(step_m) and step_m > 2 * WETTED_M):
        raise UnreadableError(f"a step of {step_m:g} m is too small; 0.01 m is usual")
    if lowest_m is None:
        lowest_m = math.floor((ground_m + WETTED_M) / step_m) * step_m
    last = _last_step(step_m, lowest_m, highest_m)
    codes = _steps_to_wet(terrain.z, lowest_m, step_m)
    rim = _rim(codes)
    seed_index = (row + 1) * codes.shape[1] + column + 1
    _flood(codes, seed_index, last, rim if highest_m is None else rim[:0])
    reached = codes.reshape(-1)[rim]
    edge = int(reached[reached >= WET].min(initial=WET + MOST_STEPS)) - WET
    if highest_m is None:
        last = min(edge - 1, int(codes.max()) - WET)
    if last < 1:
        raise UnreadableError(
            f"no table from {lowest_m:.2f} m up: either the pool touches the edge of the surveyed "
            "ground at once, or the seed lies too high; give a lowest and a highest level"
        )
    counts, sums_m, deepest_m = _totals(terrain.z, codes, lowest_m, last)
    cells, heights_m = np.cumsum(counts), step_m * np.arange(last + 1)
    depths_m = np.maximum.accumulate(np.where(cells, cells * heights_m - np.cumsum(sums_m), 0.0))
    cell_m2 = terrain.cell_m**2
    columns = ((lowest_m + heights_m).round(6), cells * cell_m2, depths_m * cell_m2)
    rows = tuple(Row(*line) for line in zip(*(c.tolist() for c in columns), strict=True))
    touches = edge < MOST_STEPS and (highest_m is None or edge <= last)
    edge_level_m = round(lowest_m + step_m * edge, 6) if touches else None
    return PoolTable(rows, ground_m, deepest_m, edge_level_m)


def rating_csv(rows: Iterable[Sequence[float]]) -> str:
    """Write a table as CSV: level [m], area to 0.01 m2, volume to 0.001 m3."""
    lines = [f"{z:.6f}".rstrip("0").rstrip(".") + f",{a:.2f},{v:.3f}\n" for z, a, v in rows]
    return "".join(["level_m,area_m2,volume_m3\n", *lines])


def _seed_cell(terrain: Terrain, seed: tuple[float, float]) -> tuple[int, int]:
    cell = terrain.cell_at(*seed)
    if cell is not None and math.isfinite(terrain.z[cell]):
        return cell
    where = (
        f"outside the model, which lies between E {terrain.x0:.1f} and {terrain.east_m:.1f}, "
        f"N {terrain.y0:.1f} and {terrain.north_m:.1f}"
    )
    if cell:
        where = f"row {cell[0] + 1}, column {cell[1] + 1} of the grid"
    raise UnreadableError(
        f"the terrain model has no ground height at the seed cell E {seed[0]:.1f} N {seed[1]:.1f} "
        f"({where}); give a seed in the deepest part"
    )


def _last_step(step_m: float, lowest_m: float, highest_m: float | None) -> int:
    if highest_m is None:
        return MOST_STEPS - 1
    if not (math.isfinite(lowest_m) and math.isfinite(highest_m) and highest_m > lowest_m):
        raise UnreadableError(
            f"the highest level, {highest_m:.2f} m, must be above the lowest, {lowest_m:.2f} m"
        )
    steps = math.floor((highest_m - lowest_m) / step_m + 1e-6)
    if not 1 <= steps < MOST_STEPS:
        raise UnreadableError(
            f"{lowest_m:.2f} to {highest_m:.2f} m in steps of {step_m:g} m make {steps} steps; "
            f"1 to {MOST_STEPS - 1} are possible"
        )
    return steps


# --- the flood ---


def _steps_to_wet(z: NDArray[np.float64], lowest_m: float, step_m: float) -> Codes:
    """Number for each cell the first level that covers its ground, with a ring of VOID around."""
    rows, columns = z.shape
    codes = np.full((rows + 2, columns + 2), VOID, np.uint16)
    for top in range(0, rows, STRIP):
        steps = (z[top : top + STRIP] - (lowest_m - WETTED_M)) * (1 / step_m)
        np.maximum(steps, -1, out=steps)
        steps += 1
        np.minimum(steps, DRY, out=steps)  # a NaN stays one
        np.fmin(steps, VOID, out=steps)  # and becomes VOID
        codes[top + 1 : top + 1 + len(steps), 1:-1] = steps
    return codes


def _shifts(codes: Codes) -> Cells:
    """Return the way to the neighbours east, west, south and north as a column."""
    return np.array([[1], [-1], [codes.shape[1]], [-codes.shape[1]]], np.intp)


def _rim(codes: Codes) -> Cells:
    """Mark as OUTSIDE what is joined to the ring without ground; return the cells along it."""
    flat = codes.reshape(-1)
    ring = np.ones(codes.shape, bool)
    ring[1:-1, 1:-1] = False
    front = np.flatnonzero(ring)
    flat[front] = OUTSIDE
    rim = []
    while front.size:
        found = []
        for shift in _shifts(codes):
            cells = (front + shift) % flat.size  # only from ring to ring does it go round
            code = flat[cells]
            found.append(cells[code == VOID])
            flat[found[-1]] = OUTSIDE
            rim.append(cells[code < VOID])
        front = np.concatenate(found)
    return np.concatenate(rim)


def _flood(codes: Codes, seed: int, last: int, until: Cells) -> None:
    """Let water rise from a seed; a cell reached at step k gets the code WET + k.

    Breadth first within a step; cells at the shore wait for the step that covers them. Each cell is
    taken up once. The water stops at the step `last`, or at the first that reaches one of the cells
    `until`.
    """
    flat = codes.reshape(-1)
    step = int(flat[seed])
    if step >= DRY:
        return
    flat[seed] = step + WET
    shifts = _shifts(codes)
    front, waiting = np.array([seed], np.intp), np.empty(0, np.intp)
    while step <= last:
        held = [waiting]
        while front.size:
            parts = [front[i : i + BATCH] for i in range(0, front.size, BATCH)]
            front = np.concatenate([_advance(flat, part + shifts, step, held) for part in parts])
        waiting = np.concatenate(held)
        if not waiting.size or _reached(flat[until], step):
            return
        due = flat[waiting] - np.uint16(WET)
        step = int(due.min())
        front, waiting = waiting[due == step], waiting[due > step]


def _advance(flat: Codes, beside: Cells, step: int, held: list[Cells]) -> Cells:
    """Reach the cells beside a front; return those under water now, hold the others.

    A cell beside two cells of the front comes twice: each time writes its number into the cell, and
    the one whose number stayed is kept.
    """
    cells = beside.reshape(-1)
    code = flat.take(cells)
    fresh = np.flatnonzero(code < DRY)
    cells, code = cells.take(fresh), np.maximum(code.take(fresh), np.uint16(step))
    number = NUMBERS[: cells.size]
    flat[cells] = number
    once = flat.take(cells) == number
    flat[cells] = code + np.uint16(WET)
    under = code == step
    held.append(cells[once & ~under])
    front: Cells = cells[once & under]
    return front


def _reached(code: Codes, step: int) -> bool:
    return bool(np.any((code >= WET) & (code <= WET + step)))


def _totals(
    z: NDArray[np.float64], codes: Codes, lowest_m: float, last: int
) -> tuple[NDArray[np.int64], NDArray[np.float64], float]:
    """Count the cells that each step adds and sum their ground above the lowest level [m]."""
    counts, sums_m, deepest_m = np.zeros(last + 1, np.int64), np.zeros(last + 1), math.inf
    for top in range(0, len(z), STRIP):
        ground_m = z[top : top + STRIP]
        code = codes[top + 1 : top + 1 + len(ground_m), 1:-1]
        wet = (code >= WET) & (code <= WET + last)
        step, height_m = code[wet] - np.uint16(WET), ground_m[wet] - lowest_m
        counts += np.bincount(step, minlength=last + 1)
        sums_m += np.bincount(step, weights=height_m, minlength=last + 1)
        deepest_m = min(deepest_m, float(height_m.min(initial=math.inf)) + lowest_m)
    return counts, sums_m, deepest_m


# --- the shoreline ---

# Sides of the square between four cell centres, and for each pattern of wet corners (1 north-west,
# 2 north-east, 4 south-east, 8 south-west) the way of the shore through it, water on its left.
# Two wet corners across stay apart, as cells join by their sides only.
NORTH, EAST, SOUTH, WEST = range(4)
WAYS: Final = {
    1: [(WEST, NORTH)],
    2: [(NORTH, EAST)],
    3: [(WEST, EAST)],
    4: [(EAST, SOUTH)],
    5: [(WEST, NORTH), (EAST, SOUTH)],
    6: [(NORTH, SOUTH)],
    7: [(WEST, SOUTH)],
    8: [(SOUTH, WEST)],
    9: [(SOUTH, NORTH)],
    10: [(NORTH, EAST), (SOUTH, WEST)],
    11: [(SOUTH, EAST)],
    12: [(EAST, WEST)],
    13: [(EAST, NORTH)],
    14: [(NORTH, WEST)],
}


def outline_at(terrain: Terrain, level_m: float, seed: tuple[float, float]) -> list[Ring]:
    """Return the shoreline of the pool at a level [m] as closed rings of easting, northing [m].

    The first ring is the outer shore, anticlockwise; the others are islands, clockwise; there is
    none where the seed is dry. Marching squares between cell centres: the shore crosses between a
    wet and a dry centre where the ground between them, taken as straight, has the level, and midway
    where the dry side has no ground height.

    Raises:
        UnreadableError: when the seed has no ground height.
    """
    row, column = _seed_cell(terrain, seed)
    codes = _steps_to_wet(terrain.z, level_m, 1000.0)
    codes[1:-1, 1:-1][terrain.z >= level_m - WETTED_M] = DRY
    _flood(codes, (row + 1) * codes.shape[1] + column + 1, 0, np.empty(0, np.intp))
    wet = codes == WET
    starts, ends = _shore_pieces(wet)
    points = _crossings(terrain, level_m, wet, starts)
    rings = _joined(starts, ends, points)
    return sorted(rings, key=_twice_area, reverse=True)


def _shore_pieces(wet: NDArray[np.bool_]) -> tuple[list[int], list[int]]:
    """List where each piece of shore enters and leaves its square, as numbers of cell pairs.

    2 k is the pair of cell k and the one east of it, 2 k + 1 of cell k and the one south of it.
    """
    corners = wet.astype(np.uint8)
    pattern = corners[:-1, :-1] + 2 * corners[:-1, 1:] + 4 * corners[1:, 1:] + 8 * corners[1:, :-1]
    squares = np.argwhere((pattern > 0) & (pattern < 15))
    width = wet.shape[1]
    starts: list[int] = []
    ends: list[int] = []
    for row, column in squares.tolist():
        cell = row * width + column
        pairs = (2 * cell, 2 * (cell + 1) + 1, 2 * (cell + width), 2 * cell + 1)
        for start, end in WAYS[int(pattern[row, column])]:
            starts.append(pairs[start])
            ends.append(pairs[end])
    return starts, ends


def _crossings(terrain: Terrain, level_m: float, wet: NDArray[np.bool_], pairs: list[int]) -> Ring:
    """Place the shore between the two cells of each pair."""
    width = wet.shape[1]
    number = np.array(pairs, np.intp)
    one = number // 2
    other = one + np.where(number % 2, width, 1)
    ground_m = np.pad(terrain.z, 1, constant_values=np.nan).reshape(-1)
    wet_cell = np.where(wet.reshape(-1)[one], one, other)
    dry_cell = np.where(wet_cell == one, other, one)
    depth_m, bank_m = level_m - ground_m[wet_cell], ground_m[dry_cell] - level_m
    share = np.where(np.isnan(bank_m), 0.5, depth_m / (depth_m + np.fmax(bank_m, 0.0)))
    share = np.clip(share, NEAR_CENTRE, 1 - NEAR_CENTRE)
    column = wet_cell % width + share * (dry_cell % width - wet_cell % width)
    row = wet_cell // width + share * (dry_cell // width - wet_cell // width)
    easting_m = terrain.x0 + (column - 0.5) * terrain.cell_m
    northing_m = terrain.north_m - (row - 0.5) * terrain.cell_m
    return list(zip(easting_m.tolist(), northing_m.tolist(), strict=True))


def _joined(starts: list[int], ends: list[int], points: Ring) -> list[Ring]:
    """Join the pieces of shore into closed rings."""
    following = dict(zip(starts, ends, strict=True))
    place = dict(zip(starts, points, strict=True))
    rings = []
    while following:
        first, pair = following.popitem()
        ring = [place[first]]
        while pair != first:
            ring.append(place[pair])
            pair = following.pop(pair)
        rings.append([*ring, ring[0]])
    return rings


def _twice_area(ring: Ring) -> float:
    return sum(x1 * y2 - x2 * y1 for (x1, y1), (x2, y2) in pairwise(ring))
