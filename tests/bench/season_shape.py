"""Random bowls: the ground as it is, and the ground as a terrain model supplies it.

All of it is invented. The ground is the power form of Hayashi & van der Kamp (2000, J. Hydrology
237:74-85) with a random size and exponent and a few smooth undulations; drawn on the unit circle,
because a stretch of one axis at equal area changes no table (walks have shores of their own). The
supplied model adds noise to each cell, a mean bias, and a bias in a patch of reeds.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

CELLS: Final = 96  # along each side
STEP_M: Final = 0.05  # rows of the supplied rating: common practice where the model is coarse
FINE_M: Final = 0.002  # steps of the true table
CELL_NOISE_SD_M: Final = 0.12  # bare ground 0.10 to 0.15 m (common practice)
BIAS_SD_M: Final = 0.01  # mean bias after the model was fitted to marks on dry ground (from memory)
# Dense reeds: 0.08 to 0.92 m too high by type of plant before correction (Miroslaw-Swiatek et al.
# 2016, J. Appl. Remote Sensing 10(3)); what is left once corrected is from memory.
REEDS_UP_TO_M: Final = 0.12
REEDS_SHARE: Final = (0.0, 0.3)  # of the bowl (from memory)


@dataclass(frozen=True)
class Bowl:
    """The true table (level, area, volume), and the rating that the records hold."""

    lowest_m: float
    rim_m: float
    level_m: Array
    area_m2: Array
    volume_m3: Array
    rating: tuple[tuple[float, float, float], ...]

    def level_of(self, volume_m3: float) -> float:
        return float(np.interp(volume_m3, self.volume_m3, self.level_m))

    def area_of(self, volume_m3: float) -> float:
        return float(np.interp(volume_m3, self.volume_m3, self.area_m2))

    def volume_at(self, level_m: float) -> float:
        return float(np.interp(level_m, self.level_m, self.volume_m3))


def bowl(rng: np.random.Generator) -> Bowl:
    """Return a random bowl."""
    lowest_m = float(rng.uniform(20.0, 120.0))
    depth_m = float(rng.uniform(1.0, 2.2))
    area_m2 = float(np.exp(rng.uniform(math.log(6e4), math.log(8e5))))
    p = float(rng.uniform(1.2, 4.0))
    axis = np.linspace(-1.3, 1.3, CELLS)
    x, y = np.meshgrid(axis, axis)
    ground = lowest_m + depth_m * np.power(np.hypot(x, y), p) + _undulations(rng, x, y, depth_m)
    cell_m2 = area_m2 * (2.6 / CELLS) ** 2 / math.pi
    lowest_m = float(ground.min())
    rim_m = lowest_m + depth_m
    level_m = np.arange(lowest_m, rim_m + 0.3, FINE_M)
    areas, volumes = _table(ground, level_m, cell_m2)
    return Bowl(
        lowest_m=lowest_m,
        rim_m=rim_m,
        level_m=level_m,
        area_m2=areas,
        volume_m3=volumes,
        rating=_supplied(rng, ground, (x, y), cell_m2, rim_m),
    )


def _undulations(rng: np.random.Generator, x: Array, y: Array, depth_m: float) -> Array:
    height_m = rng.uniform(0.01, 0.06) * depth_m
    total = np.zeros_like(x)
    for _ in range(5):
        kx, ky = rng.normal(0.0, 3.0, 2)
        total += np.cos(kx * x + ky * y + rng.uniform(0, 2 * math.pi))
    return height_m * total / math.sqrt(5)


def _table(ground: Array, level_m: Array, cell_m2: float) -> tuple[Array, Array]:
    heights = np.sort(ground.ravel())
    sums = np.concatenate(([0.0], np.cumsum(heights)))
    counts = np.searchsorted(heights, level_m, side="right")
    return cell_m2 * counts.astype(float), cell_m2 * (level_m * counts - sums[counts])


def _supplied(
    rng: np.random.Generator, ground: Array, at: tuple[Array, Array], cell_m2: float, rim_m: float
) -> tuple[tuple[float, float, float], ...]:
    """Return the rating off the supplied model; noise of single cells is smoothed out of its foot."""
    x, y = at
    reeds = np.hypot(x - rng.uniform(-0.7, 0.7), y - rng.uniform(-0.7, 0.7))
    patch = reeds < math.sqrt(rng.uniform(*REEDS_SHARE))
    supplied = ground + rng.normal(0.0, BIAS_SD_M) + rng.uniform(0.0, REEDS_UP_TO_M) * patch
    noisy = supplied + rng.normal(0.0, CELL_NOISE_SD_M, ground.shape)
    smooth = _means_of_nine(noisy)  # 5 m cells out of 1 m returns: common practice
    low_m = math.floor(float(smooth.min()) / STEP_M) * STEP_M
    rows = np.arange(low_m, rim_m + 0.25, STEP_M)
    areas, volumes = _table(smooth, rows, cell_m2)
    rows_out = [
        (round(float(z), 3), round(float(a), 0), round(float(v), 0))
        for z, a, v in zip(rows, areas, volumes, strict=True)
    ]
    return ((rows_out[0][0], 0.0, 0.0), *rows_out[1:])


def _means_of_nine(grid: Array) -> Array:
    padded = np.pad(grid, 1, mode="edge")
    side = grid.shape[0]
    shifted = [padded[i : i + side, j : j + side] for i in range(3) for j in range(3)]
    return np.asarray(np.mean(shifted, axis=0), dtype=np.float64)
