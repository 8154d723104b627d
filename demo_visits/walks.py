"""Six invented shoreline walks: the waterline at a level, seen by a handheld receiver that errs.

A walker passes along the real waterline and takes a fix every five seconds. The receiver's error
drifts slowly (first-order autocorrelated, time constant a minute) and is larger under trees.
"""

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Final

import numpy as np
from numpy.typing import NDArray

from demo_visits.contours import Line, is_inside, length_m, waterlines
from demo_visits.ground import (
    DEEPEST_X_M,
    DEEPEST_Y_M,
    Ground,
    bowl_coordinates,
    grid_to_lat_lon,
    real_ground,
    reed_belt,
)

FIX_EVERY_S: Final = 5.0
PACE_M_S: Final = 1.3
ERROR_TIME_S: Final = 60.0
OPEN_SD_M: Final = 2.5  # one standard deviation per axis
SHADE_SD_M: Final = 6.0
SHADE_DEG: Final = (-150.0, -60.0)  # the trees of the south shore
LANDING_DEG: Final = -170.0  # the walks start and end just south of the inlet channel
FIRST_SEED: Final = 100
REED_OFFSET_M: Final = 9.0  # E07: along the reeds' edge, not along the water
LEFT_OPEN_M: Final = 54.0  # E14: not walked back to the start
WILD_OFFSETS_M: Final = (72.0, 66.0)  # E14: two fixes thrown outward under the trees
WILD_ACCURACY_M: Final = 31.0

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Walk:
    """One walk as it was set out: its name, when it began, the real level [m], and its faults."""

    name: str
    began: datetime
    level_m: float
    seed: int
    reed_edge: bool = False
    left_open: bool = False


@dataclass(frozen=True)
class WalkFix:
    """One fix of the receiver: time, place, reported accuracy [m], speed [m/s]; x, y are local [m]."""

    time: datetime
    lat: float
    lon: float
    accuracy_m: float
    speed_m_s: float
    x: float
    y: float


def _began(month: int, day: int, hour: int, minute: int) -> datetime:
    year = 2023 if month >= 7 else 2024
    return datetime(year, month, day, hour, minute, tzinfo=UTC)


WALKS: Final = (
    Walk("W1", _began(8, 21, 0, 20), 72.120, FIRST_SEED),
    Walk("W2", _began(9, 5, 23, 50), 72.399, FIRST_SEED + 1, reed_edge=True),
    Walk("W3", _began(10, 26, 0, 0), 72.385, FIRST_SEED + 2, left_open=True),
    Walk("W4", _began(12, 10, 23, 40), 72.020, FIRST_SEED + 3),
    Walk("W5", _began(1, 15, 23, 30), 71.708, FIRST_SEED + 4),
    Walk("W6", _began(2, 15, 23, 20), 71.417, FIRST_SEED + 5),
)


def walk_named(name: str) -> Walk:
    """Return the walk with this name, W1 to W6.

    Raises:
        KeyError: there is no such walk.
    """
    return {walk.name: walk for walk in WALKS}[name]


def shoreline(ground: Ground, level_m: float) -> Line:
    """Return the outer waterline [m] at a level [m], clockwise from the western landing."""
    outer = next(
        line for line in waterlines(ground, level_m) if is_inside(line, DEEPEST_X_M, DEEPEST_Y_M)
    )
    _, direction_deg = bowl_coordinates(outer[:, 0], outer[:, 1])
    start = int(np.argmin(np.abs(direction_deg - LANDING_DEG)))
    return np.roll(outer, -start, axis=0)


def _along(line: Line, distance_m: Numbers) -> tuple[Numbers, Numbers]:
    """Return points and outward directions at distances along a closed clockwise line."""
    closed = np.vstack([line, line[:1]])
    steps = np.diff(closed, axis=0)
    run = np.concatenate([[0.0], np.cumsum(np.hypot(steps[:, 0], steps[:, 1]))])
    points = np.column_stack([np.interp(distance_m, run, closed[:, axis]) for axis in (0, 1)])
    ahead = np.column_stack(
        [np.interp((distance_m + 5.0) % run[-1], run, closed[:, axis]) for axis in (0, 1)]
    )
    behind = np.column_stack(
        [np.interp((distance_m - 5.0) % run[-1], run, closed[:, axis]) for axis in (0, 1)]
    )
    tangent = ahead - behind
    tangent /= np.hypot(tangent[:, 0], tangent[:, 1])[:, None]
    return points, np.column_stack([-tangent[:, 1], tangent[:, 0]])


def _drifting(random: np.random.Generator, count: int) -> Numbers:
    """Return two columns of unit errors, each correlated in time."""
    keep = math.exp(-FIX_EVERY_S / ERROR_TIME_S)
    fresh = random.standard_normal((2, count)).T
    errors = np.empty((count, 2))
    errors[0] = fresh[0]
    for number in range(1, count):
        errors[number] = keep * errors[number - 1] + math.sqrt(1.0 - keep**2) * fresh[number]
    return errors


def in_shade(points: Line) -> NDArray[np.bool_]:
    """Tell for each point by (x, y) [m] whether it lies under the trees of the south shore."""
    _, direction_deg = bowl_coordinates(points[:, 0], points[:, 1])
    return (direction_deg > SHADE_DEG[0]) & (direction_deg < SHADE_DEG[1])


def true_path(walk: Walk) -> tuple[Line, Line]:
    """Return where the walker stood at each fix [m], and the direction away from the water."""
    line = shoreline(real_ground(), walk.level_m)
    walked_m = length_m(line) - (LEFT_OPEN_M if walk.left_open else 0.0)
    count = int(walked_m / (PACE_M_S * FIX_EVERY_S)) + int(walk.left_open)
    distance_m = np.linspace(0.0, walked_m, count)
    stood, outward = _along(line, distance_m)
    if walk.reed_edge:
        _, direction_deg = bowl_coordinates(stood[:, 0], stood[:, 1])
        stood = stood + REED_OFFSET_M * reed_belt(direction_deg)[:, None] * outward
    return stood, outward


def fixes_of(walk: Walk) -> tuple[WalkFix, ...]:
    """Return the fixes the receiver kept on this walk, in order, the same on every call."""
    random = np.random.default_rng(walk.seed)
    stood, outward = true_path(walk)
    shade = in_shade(stood)
    count = len(stood)
    sd_m = np.where(shade, SHADE_SD_M, OPEN_SD_M)
    seen = stood + sd_m[:, None] * _drifting(random, count)
    accuracy_m = math.sqrt(2.0) * sd_m * random.uniform(0.9, 1.1, count)
    speed_m_s = np.clip(random.normal(PACE_M_S, 0.08, count), 0.9, 1.7)
    if walk.left_open:
        first, last = np.flatnonzero(shade)[[0, -1]]
        for share, offset_m in zip((0.35, 0.62), WILD_OFFSETS_M, strict=True):
            wild = int(first + share * (last - first))
            seen[wild] = stood[wild] + offset_m * outward[wild]
            accuracy_m[wild] = WILD_ACCURACY_M
    return tuple(
        _fix(walk, number, seen[number], float(accuracy_m[number]), float(speed_m_s[number]))
        for number in range(count)
    )


def _fix(walk: Walk, number: int, place: Numbers, accuracy_m: float, speed_m_s: float) -> WalkFix:
    x, y = float(place[0]), float(place[1])
    lat, lon = grid_to_lat_lon(x, y)
    return WalkFix(
        time=walk.began + timedelta(seconds=FIX_EVERY_S * number),
        lat=round(lat, 7),
        lon=round(lon, 7),
        accuracy_m=round(accuracy_m, 1),
        speed_m_s=round(speed_m_s, 2),
        x=x,
        y=y,
    )
