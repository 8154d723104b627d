"""Invented ground and the files it is handed over in.

Lantern Reed Swamp and its ground are invented for this project and lie in the open sea.
"""

import warnings
from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import ArrayLike
from rasterio.transform import Affine

from sync_server.grids import Terrain

EPSG = 7856
X0, Y0 = 719_450.0, 5_959_600.0
SEED = (X0 + 552.5, Y0 + 402.5)


def lantern(*, surveyed: bool) -> Terrain:
    """The ground of the demo wetland: a bowl, an inlet channel, an island, and a reed belt."""
    x, north = np.meshgrid(2.5 + 5 * np.arange(220), 2.5 + 5 * np.arange(160))
    u, v = (x - 550) / 390, (north - 400) / 245
    r, th = np.hypot(u, v), np.degrees(np.arctan2(v, u))
    z = np.minimum(71.10 + 1.40 * r**2.6, 73.40)
    channel = 72.60 - 1.30 * x / 330 + 0.25 * ((north - 430) / 10) ** 2
    z = np.where(x <= 330, np.minimum(z, channel), z)
    z = z + 1.40 * np.exp(-(((x - 640) / 38) ** 2 + ((north - 440) / 28) ** 2))
    if surveyed:
        reeds = np.clip((th - 10) / 20, 0, 1) * np.clip((130 - th) / 20, 0, 1)
        z = np.round(z + 0.16 * np.exp(-(((r - 0.80) / 0.12) ** 2)) * reeds, 3)
    return Terrain(z[::-1].copy(), 5.0, X0, Y0, EPSG)


def plain(z: ArrayLike, cell_m: float = 1.0) -> Terrain:
    return Terrain(np.asarray(z, float), cell_m, 0.0, 0.0, EPSG)


def ascii_text(terrain: Terrain, decimals: int = 3, corner: str = "corner") -> str:
    shift = terrain.cell_m / 2 if corner == "center" else 0.0
    rows = np.where(np.isnan(terrain.z), -9999, terrain.z)
    lines = [" ".join(f"{height:.{decimals}f}" for height in row) for row in rows]
    return (
        f"NCOLS {terrain.z.shape[1]}\nnrows {terrain.z.shape[0]}\n"
        f"XLL{corner} {terrain.x0 + shift}\nyll{corner.title()} {terrain.y0 + shift}\n"
        f"CellSize {terrain.cell_m}\nNODATA_value -9999\n" + "\n".join(lines) + "\n"
    )


def write_tiff(path: Path, terrain: Terrain, dtype: str = "float32", **extra: Any) -> Path:
    profile: dict[str, Any] = {
        "driver": "GTiff",
        "height": terrain.z.shape[0],
        "width": terrain.z.shape[1],
        "count": 1,
        "dtype": dtype,
        "crs": f"EPSG:{terrain.epsg}",
        "transform": Affine(terrain.cell_m, 0, terrain.x0, 0, -terrain.cell_m, terrain.north_m),
        "nodata": -9999,
    } | extra
    heights = np.where(np.isnan(terrain.z), -9999, terrain.z).astype(dtype)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", rasterio.errors.NotGeoreferencedWarning)
        with rasterio.open(path, "w", **profile) as file:
            for band in range(1, file.count + 1):
                file.write(heights, band)
    return path
