"""A walk against a terrain model: which level the shore had, sector by sector, and how far off.

Where one sector implies another level than the rest, the walk left the waterline there or the
ground has changed; where all do, look at the gauge zero or at the model's heights.
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import pyproj
from numpy.typing import NDArray

from shared_core.errors import OutsideRangeError
from shared_core.geodesy import plane_area_m2
from shared_core.track import Fix, LineLevels, WalkMeasure, boundary_offset_m, levels_along
from sync_server.terrain import Terrain, ground_at, outline_at, rating_from_terrain

WGS84: Final = 4326  # EPSG code; GDA2020 differs by less than 0.1 m until 2030, far below a fix
STEP_M: Final = 0.01


@dataclass(frozen=True, kw_only=True)
class AtLevel:
    """A walk beside the pool of the terrain model at one level."""

    level_m: float
    table_area_m2: float
    islands_m2: float  # inside the model's outer shore, walked or not
    offset_m: float  # walked line outside (+) the model's outer shore, on average


@dataclass(frozen=True, kw_only=True)
class WalkCheck:
    """What a terrain model says about a walk."""

    implied: LineLevels
    at_level: AtLevel | None


def check_walk(measure: WalkMeasure, terrain: Terrain, level_m: float | None) -> WalkCheck:
    """Hold a walk against a terrain model, and against its pool at a level [m] where one is given.

    Raises:
        OutsideRangeError: if no fix lies on the model, or no ground inside the walk is below the
            level.
        UnreadableError: if the pool has no table at that level.
    """
    to_grid = pyproj.Transformer.from_crs(WGS84, terrain.epsg, always_xy=True)

    def ground(lat: float, lon: float) -> float | None:
        easting_m, northing_m = to_grid.transform(lon, lat)
        return ground_at(terrain, float(easting_m), float(northing_m))

    ring = measure.closing.ring
    implied = levels_along(ring, ground)
    if level_m is None:
        return WalkCheck(implied=implied, at_level=None)
    seed = lowest_inside(terrain, _on_grid(ring, to_grid), level_m)
    rows = rating_from_terrain(
        terrain, *seed, step_m=STEP_M, lowest_m=level_m - STEP_M, highest_m=level_m
    )
    table_area_m2 = rows[-1][1]
    inner = outline_at(terrain, level_m, seed)[1:]
    islands_m2 = sum(abs(plane_area_m2(island[:-1])) for island in inner)
    at_level = AtLevel(
        level_m=level_m,
        table_area_m2=table_area_m2,
        islands_m2=islands_m2,
        offset_m=boundary_offset_m(
            measure.outer_area_m2, table_area_m2 + islands_m2, measure.perimeter_m
        ),
    )
    return WalkCheck(implied=implied, at_level=at_level)


def _on_grid(ring: tuple[Fix, ...], to_grid: pyproj.Transformer) -> NDArray[np.float64]:
    eastings, northings = to_grid.transform([f.lon for f in ring], [f.lat for f in ring])
    return np.column_stack([eastings, northings])


def lowest_inside(
    terrain: Terrain, ring: NDArray[np.float64], level_m: float
) -> tuple[float, float]:
    """Return the lowest cell centre (easting, northing) inside a ring; the pool's seed.

    Each row of cells is cut where the ring crosses it; between the first and second crossing,
    third and fourth, and so on, lies the inside.

    Raises:
        OutsideRangeError: if no ground inside the ring is below the level [m].
    """
    x, y = ring[:, 0], ring[:, 1]
    next_x, next_y = np.roll(x, -1), np.roll(y, -1)
    columns = terrain.x0 + (np.arange(terrain.z.shape[1]) + 0.5) * terrain.cell_m
    best_m, seed = level_m, None
    for row in range(terrain.z.shape[0]):
        northing_m = terrain.north_m - (row + 0.5) * terrain.cell_m
        cuts = (y <= northing_m) != (next_y <= northing_m)
        if not cuts.any():
            continue
        share = (northing_m - y[cuts]) / (next_y[cuts] - y[cuts])
        crossings = np.sort(x[cuts] + share * (next_x[cuts] - x[cuts]))
        inside = np.searchsorted(crossings, columns) % 2 == 1
        heights_m = np.where(inside & np.isfinite(terrain.z[row]), terrain.z[row], np.inf)
        column = int(heights_m.argmin())
        if heights_m[column] < best_m:
            best_m, seed = float(heights_m[column]), (float(columns[column]), northing_m)
    if seed is None:
        raise OutsideRangeError(
            f"no ground of the model inside the walk is below {level_m:.2f} m; check level and grid"
        )
    return seed
