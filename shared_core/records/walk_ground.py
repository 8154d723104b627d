"""A walk beside the ground's heights: does the line lie at the level that the gauge shows.

One sector high at several levels and by several teams is the ground model (reeds); high once, it is
the walker; every sector off alike is a gauge zero or a datum.
"""

import math
import statistics
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Final

from shared_core.errors import StrandlineError
from shared_core.records.base import Finding, Severity
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.shoreline_walk_checks import measured
from shared_core.track import SECTORS, Fix, LineLevels, SectorLevel, levels_along
from shared_core.units import MM_PER_M

Ground = Callable[[float, float], float | None]

OFF_M: Final = 0.050  # and the ground's slope times a receiver's error on top (computed)
RECEIVER_M: Final = 3.0  # per axis, open sky (Tomastik et al., Forestry 90, 2017)
LEAST_FIXES: Final = 8  # in a sector before it speaks
SLOPE_STEP_M: Final = 5.0  # to either side of a fix
_METRES_PER_DEGREE: Final = 111_320.0  # of latitude; good to 1 % everywhere, enough for a slope


def walk_findings_with_ground(
    walk: ShorelineWalk,
    level_m: float,
    ground: Ground,
    limits: Mapping[str, float] | None = None,
) -> Iterator[Finding]:
    """Yield where the ground under a walked line does not lie at the gauge's level.

    Args:
        walk: The walk.
        level_m: Level during the walk, from the gauge.
        ground: Tells the ground's height [m] at a latitude and longitude; None off its edge.
        limits: The site's own limits by check.
    """
    limits = limits or {}
    try:
        ring = measured(walk, limits).closing.ring
        levels = levels_along(ring, ground)
    except StrandlineError as error:
        yield Finding(code="walk-ground", severity=Severity.NOTE, field="fixes", saw=f"{error}")
        return
    slope = slope_along(ring, ground)
    limit_m = limits.get("walk-level", OFF_M) + slope * RECEIVER_M
    off_m = levels.median_m - level_m
    if abs(off_m) > limit_m:
        yield _all_round(off_m, limit_m)
        return
    for run in _runs(_off_sectors(levels, level_m, limit_m)):
        yield _sector(run, level_m, limit_m)


def slope_along(ring: Sequence[Fix], ground: Ground) -> float:
    """Return the median slope of the ground along a line [m/m]."""
    slopes = []
    for fix in ring[:: max(1, len(ring) // 60)]:
        north = SLOPE_STEP_M / _METRES_PER_DEGREE
        east = north / math.cos(math.radians(fix.lat))
        rise_north = _rise(ground(fix.lat + north, fix.lon), ground(fix.lat - north, fix.lon))
        rise_east = _rise(ground(fix.lat, fix.lon + east), ground(fix.lat, fix.lon - east))
        slopes.append(math.hypot(rise_north, rise_east))
    return statistics.median(slopes) if slopes else 0.0


def _rise(ahead_m: float | None, behind_m: float | None) -> float:
    if ahead_m is None or behind_m is None:
        return 0.0
    return (ahead_m - behind_m) / (2 * SLOPE_STEP_M)


def _off_sectors(levels: LineLevels, level_m: float, limit_m: float) -> list[SectorLevel]:
    return [
        sector
        for sector in levels.sectors
        if sector.n >= LEAST_FIXES and abs(sector.median_m - level_m) > limit_m
    ]


def _runs(sectors: Sequence[SectorLevel]) -> list[list[SectorLevel]]:
    """Gather neighbouring sectors, so that one stretch of shore is told once."""
    places = {sector.sector: sector for sector in sectors}
    runs: list[list[SectorLevel]] = []
    for place, name in enumerate(SECTORS):
        if name not in places:
            continue
        before = SECTORS[place - 1]
        if runs and runs[-1][-1].sector == before:
            runs[-1].append(places[name])
        else:
            runs.append([places[name]])
    if len(runs) > 1 and runs[0][0].sector == SECTORS[0] and runs[-1][-1].sector == SECTORS[-1]:
        runs[0] = runs.pop() + runs[0]
    return runs


def _sector(run: Sequence[SectorLevel], level_m: float, limit_m: float) -> Finding:
    off_m = statistics.mean(sector.median_m for sector in run) - level_m
    names = " and ".join(sector.sector for sector in run)
    way, walked = ("above", "outside the water") if off_m > 0 else ("below", "in the water")
    return Finding(
        code="walk-sector",
        severity=Severity.ASK,
        field="fixes",
        saw=f"In the {names} the line lies {abs(off_m) * MM_PER_M:.0f} mm {way} the gauge's level.",
        expected=f"Within {limit_m * MM_PER_M:.0f} mm, the receiver's error on this slope in it.",
        do=f"Was it walked {walked} there, along the plants? If other walks say the same, the"
        " ground model is off there.",
    )


def _all_round(off_m: float, limit_m: float) -> Finding:
    way = "above" if off_m > 0 else "below"
    return Finding(
        code="walk-level",
        severity=Severity.ASK,
        field="stage_before_m",
        saw=f"The whole line lies {abs(off_m) * MM_PER_M:.0f} mm {way} the gauge's level.",
        expected=f"Within {limit_m * MM_PER_M:.0f} mm, the receiver's error on this slope in it.",
        do="Read the gauge again; then look at its zero and at the datum of the ground model.",
    )
