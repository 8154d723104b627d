"""A shoreline walk as a measurement: cleaning, closing, area with its uncertainty, implied level.

A fix that does not count is handed back with the reason. Limits without a source: common practice.
"""

import math
import statistics
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from itertools import accumulate, pairwise
from typing import Final

from shared_core import geodesy
from shared_core.errors import OutsideRangeError, UnreadableError
from shared_core.geodesy import PlanePoint, Position

OPEN_SKY_SD_M: Final = 3.0  # per axis; handhelds, open: Tomastik et al., Forestry 90, 2017
TIME_CONSTANT_S: Final = 60.0  # of the receiver's error; common practice, set it per receiver
TIME_CONSTANT_FACTOR: Final = 3.0  # within which that is known until it is set (from memory)
ACCURACY_SPREAD: Final = (
    0.3  # share by which a receiver's figure for its own error is out; the same
)
# A reported accuracy is read as the radius that holds 68 % of fixes (Android, from memory); for a
# circular normal error that is this many per-axis standard deviations (Rayleigh distribution).
SD_PER_ACCURACY: Final = math.sqrt(-2 * math.log(1 - 0.68))
POOR_ACCURACY_M: Final = 10.0
SIMPLIFY_M: Final = 1.5  # noise makes a line too long: Ranacher et al., Int. J. GIS 30(2), 2016
LOOP_M: Final = 20.0
SECTORS: Final = ("N", "NE", "E", "SE", "S", "SW", "W", "NW")


@dataclass(frozen=True)
class Fix:
    """One position [degrees] from a receiver; ``time`` is UTC."""

    time: datetime
    lat: float
    lon: float
    accuracy_m: float | None = None
    speed_m_s: float | None = None


@dataclass(frozen=True)
class CleaningLimits:
    """What a fix must hold to count; set them per site."""

    accuracy_m: float = 15.0
    speed_m_s: float = 3.0
    jump_m: float = 25.0
    burst_s: float = 30.0  # a stretch at the end of a jump is wild if shorter than this
    standing_m: float = 2.0  # within this distance ...
    standing_s: float = 10.0  # ... for this long before and after: standing still


@dataclass(frozen=True)
class ClosingLimits:
    """When a gap must be marked (both limits passed); set them per site."""

    gap_m: float = 10.0
    gap_share: float = 0.01
    overlap_m: float = 60.0  # longest stretch walked past the start that is cut off


USUAL_CLEANING: Final = CleaningLimits()
USUAL_CLOSING: Final = ClosingLimits()


class Reason(StrEnum):
    """Why a fix does not count."""

    REPEATED = "repeated"
    ACCURACY = "accuracy too poor"
    SPEED = "too fast"
    JUMP = "jump in place or time"
    STANDING = "standing still"


@dataclass(frozen=True)
class Dropped:
    """A fix that does not count, with its place in the raw track."""

    index: int
    fix: Fix
    reason: Reason


@dataclass(frozen=True)
class Closing:
    """A track made into a ring by a straight line of ``gap_m``."""

    ring: tuple[Fix, ...]
    gap_m: float
    gap_share: float
    needs_mark: bool
    overlap_m: float


@dataclass(frozen=True)
class Loop:
    """A place where the ring crosses itself, and the shorter way round from there back to it."""

    at: Position
    length_m: float
    area_m2: float


@dataclass(frozen=True)
class WalkMeasure:
    """What a shoreline walk measured; ``area_m2`` is water without the walked islands."""

    outer_area_m2: float
    island_area_m2: float
    area_m2: float
    area_sd_m2: float
    offset_area_per_metre_m2: float
    perimeter_m: float
    perimeter_raw_m: float
    gap_m: float
    closing: Closing
    loops: tuple[Loop, ...]
    kept: tuple[Fix, ...]
    dropped: tuple[Dropped, ...]
    inaccurate_share: float
    islands_outside: int


@dataclass(frozen=True)
class SectorLevel:
    """Ground height along the part of a ring on one bearing; no range for a single fix."""

    sector: str
    n: int
    median_m: float
    iqr_m: float | None


@dataclass(frozen=True)
class LineLevels:
    """Ground height along a walked ring, whole and by sector (only sectors that have fixes)."""

    n: int
    median_m: float
    iqr_m: float | None
    sectors: tuple[SectorLevel, ...]


def clean(
    fixes: Sequence[Fix], limits: CleaningLimits = USUAL_CLEANING
) -> tuple[tuple[Fix, ...], tuple[Dropped, ...]]:
    """Part the fixes that count from those that do not; each rule sees what the last one left."""
    left = list(range(len(fixes)))
    reasons: dict[int, Reason] = {}
    for rule in (_repeated, _unfit, _jumps, _standing):
        found = rule([fixes[i] for i in left], limits)
        reasons |= {left[k]: reason for k, reason in found.items()}
        left = [i for i in left if i not in reasons]
    dropped = tuple(Dropped(i, fixes[i], reasons[i]) for i in sorted(reasons))
    return tuple(fixes[i] for i in left), dropped


def _repeated(fixes: Sequence[Fix], _: CleaningLimits) -> dict[int, Reason]:
    seen, found = set(), {}
    for k, fix in enumerate(fixes):
        last = fixes[k - 1] if k else None
        same = last and (last.time == fix.time or (last.lat, last.lon) == (fix.lat, fix.lon))
        if same or (fix.time, fix.lat, fix.lon) in seen:
            found[k] = Reason.REPEATED
        seen.add((fix.time, fix.lat, fix.lon))
    return found


def _unfit(fixes: Sequence[Fix], limits: CleaningLimits) -> dict[int, Reason]:
    found = {k: Reason.SPEED for k, f in enumerate(fixes) if (f.speed_m_s or 0) > limits.speed_m_s}
    vague = [k for k, f in enumerate(fixes) if (f.accuracy_m or 0) > limits.accuracy_m]
    few = 2 * len(vague) <= len(fixes)  # else it is a poor receiver, whose error is then stated
    return found | (dict.fromkeys(vague, Reason.ACCURACY) if few else {})


def _jumps(fixes: Sequence[Fix], limits: CleaningLimits) -> dict[int, Reason]:
    """Keep the chain of fixes that scores most: one for each fix, less a price for each jump.

    A wild point costs two jumps or itself, so it alone goes. A gap in the recording has taken time
    and is no jump; where clock or receiver broke, both parts are worth more than one jump's price.
    """
    points, seconds = _plane(fixes), _seconds(fixes)
    steps_s = [abs(b - a) for a, b in pairwise(seconds)]
    price = min(60.0, max(2.0, limits.burst_s / statistics.median(steps_s or [1.0])))
    score, before, top = [1.0] * len(fixes), [-1] * len(fixes), 0.0
    for k, point in enumerate(points):
        for j in range(k - 1, max(-1, k - 2 - int(2 * price)), -1):
            ahead_s = seconds[k] - seconds[j]
            room_m = max(limits.jump_m, limits.speed_m_s * ahead_s) if ahead_s > 0 else -1.0
            joined = score[j] + 1 - (0.0 if math.dist(points[j], point) <= room_m else price)
            if joined > score[k]:
                score[k], before[k] = joined, j
            if score[k] > top:
                break
        top = max(top, score[k])
    chain, k = set(), score.index(top) if fixes else -1
    while k >= 0:
        chain.add(k)
        k = before[k]
    return {k: Reason.JUMP for k in range(len(fixes)) if k not in chain}


def _standing(fixes: Sequence[Fix], limits: CleaningLimits) -> dict[int, Reason]:
    """Thin each stand to fixes ``standing_m`` apart, so that slow wading loses nothing."""
    points, seconds = _plane(fixes), _seconds(fixes)
    found: dict[int, Reason] = {}
    last = 0
    for k in range(1, len(fixes)):
        around = range(max(0, k - 50), min(len(fixes), k + 51))
        near = [j for j in around if abs(seconds[j] - seconds[k]) <= limits.standing_s]
        still = all(math.dist(points[j], points[k]) < limits.standing_m for j in (last, *near))
        if still and seconds[near[-1]] - seconds[near[0]] >= limits.standing_s:
            found[k] = Reason.STANDING
        else:
            last = k
    return found


def close(fixes: Sequence[Fix], limits: ClosingLimits = USUAL_CLOSING) -> Closing:
    """Close a cleaned track by a straight line, cutting off what was walked past the start.

    Raises:
        UnreadableError: there are fewer than three fixes.
    """
    if len(fixes) < 3:
        raise UnreadableError(
            f"A ring needs at least three fixes that count; this track has {len(fixes)}."
        )
    points = _plane(fixes)
    along = [0.0, *accumulate(math.dist(a, b) for a, b in pairwise(points))]
    cut, gap_m = len(points) - 1, math.dist(points[0], points[-1])
    back_m = min(limits.overlap_m, along[-1] / 4)
    tail = [j for j in range(2, cut) if along[-1] - along[j] <= back_m]
    near = ((geodesy.plane_offset_m(points[0], *points[j : j + 2]), j) for j in tail)
    nearest_m, j = min(near, default=(gap_m, cut))
    if nearest_m <= limits.gap_m and nearest_m < gap_m - 0.01:  # 10 mm: not by rounding alone
        cut, gap_m = j, nearest_m
    ring = tuple(fixes[: cut + 1])
    share = gap_m / max(gap_m, shore_length_m(ring), 1e-9)
    needs_mark = gap_m > limits.gap_m and share > limits.gap_share
    return Closing(ring, gap_m, share, needs_mark, along[-1] - along[cut])


def shore_length_m(ring: Sequence[Fix]) -> float:
    """Return the length [m] round a ring, simplified so that noise does not lengthen it."""
    return _round_m(geodesy.simplified(_plane(ring), SIMPLIFY_M))


def loops(ring: Sequence[Fix], longer_than_m: float = LOOP_M) -> tuple[Loop, ...]:
    """Return where the simplified ring crosses itself in a loop longer than a limit [m]."""
    projection = geodesy.local_projection(*_middle(ring))
    points = geodesy.simplified(_plane(ring), SIMPLIFY_M)
    found = []
    for i, j, point in geodesy.crossings(points):
        ways = ([point, *points[i + 1 : j + 1]], [point, *points[j + 1 :], *points[: i + 1]])
        way = min(ways, key=_round_m)
        if _round_m(way) > longer_than_m:
            area_m2 = abs(geodesy.plane_area_m2(way))
            found.append(Loop(projection.inverse(*point), _round_m(way), area_m2))
    return tuple(found)


def area_sd_m2(
    ring: Sequence[Fix], sd_m: float | None = None, time_constant_s: float = TIME_CONSTANT_S
) -> float:
    """Return the standard uncertainty [m2] of a ring's area from errors that drift.

    First-order autocorrelated errors, rho = exp(-dt / T), carried through the shoelace area. The
    error of a fix per axis is ``sd_m`` if given, else from its own accuracy, else OPEN_SKY_SD_M.
    """
    own_m = [
        OPEN_SKY_SD_M if f.accuracy_m is None else f.accuracy_m / SD_PER_ACCURACY for f in ring
    ]
    sds_m = own_m if sd_m is None else [sd_m] * len(ring)
    steps_s = [math.inf, *(abs(b - a) for a, b in pairwise(_seconds(ring)))]
    fades = [math.exp(-step_s / time_constant_s) for step_s in steps_s]
    return geodesy.plane_area_sd_m2(_plane(ring), sds_m, fades)


def _unsure_area_sd_m2(ring: Sequence[Fix], sd_m: float | None, given_s: float | None) -> float:
    """Return the same with the variance averaged over what is not known of the receiver's error."""
    factor = TIME_CONSTANT_FACTOR  # any time constant within it is as likely by its logarithm
    mean_s = TIME_CONSTANT_S * (factor - 1 / factor) / (2 * math.log(factor))
    wider = math.exp(ACCURACY_SPREAD**2) if sd_m is None else 1.0  # root of the mean square
    return wider * area_sd_m2(ring, sd_m, given_s or mean_s)


def area_sd_rule_m2(
    sd_m: float, perimeter_m: float, speed_m_s: float, time_constant_s: float = TIME_CONSTANT_S
) -> float:
    """Return s sqrt(2 P Lc) [m2], Lc = speed [m/s] x time constant; on a circle of 30 Lc 4 % high."""
    return sd_m * math.sqrt(2 * perimeter_m * speed_m_s * time_constant_s)


def measure_walk(
    fixes: Sequence[Fix],
    *,
    islands: Sequence[Sequence[Fix]] = (),
    sd_m: float | None = None,
    time_constant_s: float | None = None,
    cleaning: CleaningLimits = USUAL_CLEANING,
    closing: ClosingLimits = USUAL_CLOSING,
) -> WalkMeasure:
    """Measure a walk and its islands; ``sd_m`` (per axis) and time constant are the receiver's.

    ``offset_area_per_metre_m2``: what one metre to the dry side all the way would add, the length
    of all shores walked. The area is that of the ring as walked, loops included.

    Raises:
        UnreadableError: fewer than three fixes of the walk or of an island count.
    """
    kept, dropped = clean(fixes, cleaning)
    outer = close(kept, closing)
    outline = _positions(outer.ring)
    walked = [close(clean(island, cleaning)[0], closing).ring for island in islands]
    inside = [r for r in walked if geodesy.is_inside(_middle(r), outline)]
    rings = (outer.ring, *inside)
    areas_m2 = [geodesy.ring_area_m2(_positions(ring)) for ring in rings]
    shores_m = [shore_length_m(ring) for ring in rings]
    return WalkMeasure(
        outer_area_m2=areas_m2[0],
        island_area_m2=math.fsum(areas_m2[1:]),
        area_m2=areas_m2[0] - math.fsum(areas_m2[1:]),
        area_sd_m2=math.hypot(*(_unsure_area_sd_m2(r, sd_m, time_constant_s) for r in rings)),
        offset_area_per_metre_m2=sum(shores_m),
        perimeter_m=shores_m[0],
        perimeter_raw_m=geodesy.ring_perimeter_m(outline),
        gap_m=outer.gap_m,
        closing=outer,
        loops=loops(outer.ring),
        kept=kept,
        dropped=dropped,
        inaccurate_share=sum((f.accuracy_m or 0) > POOR_ACCURACY_M for f in fixes) / len(fixes),
        islands_outside=len(walked) - len(inside),
    )


def levels_along(
    fixes: Sequence[Fix], ground: Callable[[float, float], float | None]
) -> LineLevels:
    """Return ground height [m] along a ring; ``ground`` tells it at (lat, lon), None off its edge.

    Sectors are bearings from the ring's centroid.

    Raises:
        OutsideRangeError: no fix lies on the ground model.
    """
    points = _plane(fixes)
    east_m, north_m = geodesy.plane_centroid(points) if points else (0.0, 0.0)
    heights: dict[str, list[float]] = {sector: [] for sector in SECTORS}
    for fix, (x, y) in zip(fixes, points, strict=True):
        height_m = ground(fix.lat, fix.lon)
        if height_m is not None:
            bearing = math.degrees(math.atan2(x - east_m, y - north_m))
            heights[SECTORS[round(bearing / 45) % 8]].append(height_m)
    every = [height_m for group in heights.values() for height_m in group]
    if not every:
        raise OutsideRangeError("No fix of this walk lies on the ground model; check its grid.")
    sectors = tuple(SectorLevel(s, len(h), *_spread(h)) for s, h in heights.items() if h)
    return LineLevels(len(every), *_spread(every), sectors)


def _spread(heights_m: list[float]) -> tuple[float, float | None]:
    if len(heights_m) < 2:
        return heights_m[0], None
    low_m, median_m, high_m = statistics.quantiles(heights_m, n=4, method="inclusive")
    return median_m, high_m - low_m


def boundary_offset_m(walked_area_m2: float, table_area_m2: float, perimeter_m: float) -> float:
    """Return how far [m] the walked line lies outside (+) the shore of the rating table's area."""
    return (walked_area_m2 - table_area_m2) / perimeter_m


def _positions(fixes: Sequence[Fix]) -> list[Position]:
    return [(fix.lat, fix.lon) for fix in fixes]


def _middle(fixes: Sequence[Fix]) -> Position:
    first = fixes[0].lon
    east = statistics.median(math.remainder(fix.lon - first, 360.0) for fix in fixes)
    return statistics.median(fix.lat for fix in fixes), first + east


def _plane(fixes: Sequence[Fix]) -> list[PlanePoint]:
    projection = geodesy.local_projection(*_middle(fixes) if fixes else (0.0, 0.0))
    return [projection.forward(fix.lat, fix.lon) for fix in fixes]


def _seconds(fixes: Sequence[Fix]) -> list[float]:
    return [(fix.time - fixes[0].time).total_seconds() for fix in fixes]


def _round_m(points: Sequence[PlanePoint]) -> float:
    return sum(math.dist(a, b) for a, b in pairwise([*points, *points[:1]]))
