"""Random shoreline walks with a known area; the receiver's error is not told to the estimator.

All invented. The shore is an ellipse with a few bays; the error of each axis drifts as a first-order
process whose size and time constant are drawn for each walk.
"""

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
import numpy.typing as npt

from shared_core import geodesy
from shared_core.track import SD_PER_ACCURACY, Fix

Array = npt.NDArray[np.float64]

BEGINS: Final = datetime(2023, 9, 1, tzinfo=UTC)
LAT: Final = -36.48
LON: Final = 155.45
# Handhelds in the open 1.7 to 4.5 m by model, 5 m and more under trees (Tomastik et al. 2017,
# Forestry 90:187-198), as root mean squares of the distance: per axis that divided by root two.
SD_M: Final = (1.2, 6.0)
TIME_CONSTANT_S: Final = (20.0, 180.0)  # from memory
# What a receiver says of itself is out by a factor that stays for a walk (from memory).
SAYS_SPREAD: Final = 0.3
SAYS_NOTHING: Final = 0.2  # share of walks


@dataclass(frozen=True)
class Walk:
    """A walk, its true area, and what its error truly was."""

    fixes: tuple[Fix, ...]
    area_m2: float
    sd_m: float
    time_constant_s: float
    noisy_m: Array  # the fixes on the plane, for the best possible estimate


def walk(rng: np.random.Generator) -> Walk:
    """Return a random walk around a random shore."""
    shore = _shore(rng)
    speed_m_s, every_s = rng.uniform(0.7, 1.4), float(rng.choice([1.0, 2.0, 5.0]))
    points = _walked(rng, shore, speed_m_s * every_s)
    sd_m = _log_uniform(rng, SD_M)
    constant_s = _log_uniform(rng, TIME_CONSTANT_S)
    noisy = points + _drift(rng, len(points), sd_m, every_s / constant_s)
    says = None
    if rng.random() >= SAYS_NOTHING:
        says = sd_m * SD_PER_ACCURACY * math.exp(rng.normal(0.0, SAYS_SPREAD))
    projection = geodesy.local_projection(LAT, LON)
    fixes = []
    for k, (x, y) in enumerate(noisy):
        lat, lon = projection.inverse(float(x), float(y))
        accuracy_m = None if says is None else round(says * math.exp(rng.normal(0.0, 0.15)), 1)
        fixes.append(Fix(BEGINS + timedelta(seconds=k * every_s), lat, lon, accuracy_m))
    area_m2 = abs(geodesy.plane_area_m2([(float(x), float(y)) for x, y in shore]))
    return Walk(tuple(fixes), area_m2, sd_m, constant_s, noisy)


def _log_uniform(rng: np.random.Generator, ends: tuple[float, float]) -> float:
    return math.exp(rng.uniform(math.log(ends[0]), math.log(ends[1])))


def _shore(rng: np.random.Generator) -> Array:
    """Return the true waterline [m]: an ellipse with bays, a point about every metre."""
    area_m2 = math.exp(rng.uniform(math.log(2e4), math.log(8e5)))
    flat = rng.uniform(1.0, 2.5)
    a_m = math.sqrt(area_m2 / math.pi * flat)
    angle = np.linspace(0.0, 2 * math.pi, int(2 * math.pi * a_m), endpoint=False)
    bays = np.ones_like(angle)
    for k in range(2, 9):
        bays += rng.normal(0.0, 0.12 / k) * np.cos(k * angle + rng.uniform(0, 2 * math.pi))
    turn = rng.uniform(0, math.pi)
    x, y = a_m * bays * np.cos(angle), a_m / flat * bays * np.sin(angle)
    return np.column_stack(
        [x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)]
    )


def _walked(rng: np.random.Generator, shore: Array, step_m: float) -> Array:
    """Return where the walker stood at each fix, once round and back to the start."""
    ring = np.vstack([shore, shore[:1]])
    along = np.concatenate(([0.0], np.cumsum(np.hypot(*np.diff(ring, axis=0).T))))
    steps = np.abs(rng.normal(step_m, 0.15 * step_m, int(1.3 * along[-1] / step_m) + 10))
    at = np.concatenate(([0.0], np.cumsum(steps)))
    at = np.append(at[at < along[-1]], along[-1])
    return np.column_stack([np.interp(at, along, ring[:, axis]) for axis in (0, 1)])


def _drift(rng: np.random.Generator, count: int, sd_m: float, step: float) -> Array:
    """Return errors of two axes, each fading by exp(-step) from one fix to the next."""
    fade = math.exp(-step)
    errors = np.empty((count, 2))
    errors[0] = rng.normal(0.0, sd_m, 2)
    fresh = rng.normal(0.0, sd_m * math.sqrt(1 - fade**2), (count, 2))
    for k in range(1, count):
        errors[k] = fade * errors[k - 1] + fresh[k]
    return errors
