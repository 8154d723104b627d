"""The ground of the invented wetland: the real one, and the terrain model people were given.

Local coordinates x (east) and y (north) are metres from the grid's lower left corner. An array
holds one row per y, south first, so ``ground[row, column]``.
"""

from pathlib import Path
from typing import Final

import numpy as np
from numpy.typing import NDArray

from shared_core.geodesy import grid_of_epsg

Ground = NDArray[np.float64]

EPSG: Final = 7856  # GDA2020 / MGA zone 56
ORIGIN_EASTING_M: Final = 719_450.0
ORIGIN_NORTHING_M: Final = 5_959_600.0
CELL_M: Final = 5.0
COLUMNS: Final = 220
ROWS: Final = 160
DEEPEST_X_M: Final = 552.5  # the cell every pool is joined to
DEEPEST_Y_M: Final = 402.5

MIDDLE_X_M: Final = 550.0
MIDDLE_Y_M: Final = 400.0
HALF_LENGTH_M: Final = 390.0
HALF_WIDTH_M: Final = 245.0


def cell_centres() -> tuple[Ground, Ground]:
    """Return x and y [m] of every cell centre, each as an array of rows by columns."""
    x = (np.arange(COLUMNS) + 0.5) * CELL_M
    y = (np.arange(ROWS) + 0.5) * CELL_M
    xs, ys = np.meshgrid(x, y)
    return xs, ys


def bowl_coordinates(x: Ground, y: Ground) -> tuple[Ground, Ground]:
    """Return how far out [0 middle, 1 rim] and in which direction [degrees from east] x, y [m] lie."""
    u = (np.asarray(x) - MIDDLE_X_M) / HALF_LENGTH_M
    v = (np.asarray(y) - MIDDLE_Y_M) / HALF_WIDTH_M
    return np.hypot(u, v), np.degrees(np.arctan2(v, u))


def reed_belt(direction_deg: Ground) -> Ground:
    """Return 1 in the reeds of the north-east shore, 0 elsewhere, with soft ends."""
    rising = np.clip((direction_deg - 10.0) / 20.0, 0.0, 1.0)
    falling = np.clip((130.0 - direction_deg) / 20.0, 0.0, 1.0)
    return rising * falling


def ground_at(x: Ground, y: Ground) -> Ground:
    """Return the height [m] of the real ground at x, y [m]: bowl, inlet channel and island."""
    r, _ = bowl_coordinates(x, y)
    z = np.minimum(71.10 + 1.40 * r**2.6, 73.40)
    channel = 72.60 - 1.30 * x / 330.0 + 0.25 * ((y - 430.0) / 10.0) ** 2
    z = np.where(x <= 330.0, np.minimum(z, channel), z)
    island = 1.40 * np.exp(-(((x - 640.0) / 38.0) ** 2 + ((y - 440.0) / 28.0) ** 2))
    return np.asarray(z + island, dtype=np.float64)


def real_ground() -> Ground:
    """Return the ground the story was made with [m]; nobody in the story has it."""
    return ground_at(*cell_centres())


def supplied_terrain() -> Ground:
    """Return the terrain model people were given [m], to 1 mm: high in the reeds, as lidar is."""
    x, y = cell_centres()
    r, direction_deg = bowl_coordinates(x, y)
    reeds = 0.16 * np.exp(-(((r - 0.80) / 0.12) ** 2)) * reed_belt(direction_deg)
    return np.asarray(np.round(ground_at(x, y) + reeds, 3), dtype=np.float64)


def write_ascii_grid(path: Path, z: Ground) -> None:
    """Write heights [m] as an ESRI ASCII grid, northern row first, three decimals."""
    head = (
        f"ncols {z.shape[1]}",
        f"nrows {z.shape[0]}",
        f"xllcorner {ORIGIN_EASTING_M:.1f}",
        f"yllcorner {ORIGIN_NORTHING_M:.1f}",
        f"cellsize {CELL_M:.1f}",
        "NODATA_value -9999",
    )
    rows = (" ".join(f"{height:.3f}" for height in row) for row in z[::-1])
    path.write_text("\n".join((*head, *rows)) + "\n", encoding="ascii")


def grid_to_lat_lon(x: float, y: float) -> tuple[float, float]:
    """Return latitude and longitude [degrees, GDA2020] of local x, y [m]."""
    projection = grid_of_epsg(EPSG).projection
    return projection.inverse(ORIGIN_EASTING_M + x, ORIGIN_NORTHING_M + y)
