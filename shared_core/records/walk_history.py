"""Several walks on one ground: is it the ground model, the walker, the gauge's zero, or the datum.

One sector high on walks by different teams or at different levels is the ground model there, as in
reeds; high once where other walks fit it is the walker; all sectors off alike on all walks is the
gauge's zero or the heights' datum; off one way on one side and the other way on the other is a map
datum that is shifted (computed; the shift is level offset over slope).
"""

import math
import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from shared_core.records.base import Finding, Severity
from shared_core.records.overviews import Overview, day, mm
from shared_core.records.walk_ground import LEAST_FIXES, OFF_M, RECEIVER_M
from shared_core.track import SECTORS, LineLevels

SAME_LEVEL_M: Final = 0.05  # walks so near in level saw one line of ground (from memory)
OTHER_LEVEL_M: Final = 0.10  # walks so far apart in level are two looks at the ground
LEAST_WALKS: Final = 2
EXPLAINED: Final = 0.7  # share of the sectors' spread that a shift must account for (from memory)
LEAST_SECTORS: Final = 6


@dataclass(frozen=True, kw_only=True)
class WalkOnGround:
    """A walk's line on the ground model, beside the level that the gauge showed [m]."""

    record_id: str
    at: datetime
    team: str
    gauge: str
    level_m: float
    line: LineLevels
    slope: float  # median slope of the ground along the line

    @property
    def off_m(self) -> float:
        """How far the whole line lies above the gauge's level [m]."""
        return self.line.median_m - self.level_m

    @property
    def limit_m(self) -> float:
        """How far a sector may lie off: 50 mm and a receiver's error on this slope [m]."""
        return OFF_M + self.slope * RECEIVER_M

    def sectors_m(self) -> dict[str, float]:
        """Return how far each sector lies above the rest of the line [m]."""
        return {
            sector.sector: sector.median_m - self.line.median_m
            for sector in self.line.sectors
            if sector.n >= LEAST_FIXES
        }

    def is_off(self, sector: str) -> bool:
        """Tell whether a sector lies farther off than receiver, slope and its own scatter explain."""
        scatter_m = next((s.iqr_m or 0.0 for s in self.line.sectors if s.sector == sector), 0.0)
        return abs(self.sectors_m()[sector]) > max(self.limit_m, OFF_M + scatter_m)


def walk_overviews(walks: Sequence[WalkOnGround]) -> Iterator[Overview]:
    """Yield what the walks of one site say together, oldest first."""
    if len(walks) < LEAST_WALKS:
        return
    yield from _all_round(walks)
    shift = _shift(walks)
    if shift is not None:
        yield shift
        return
    for sector in SECTORS:
        yield from _sector(sector, [walk for walk in walks if sector in walk.sectors_m()])


def _asks(code: str, walks: Sequence[WalkOnGround], saw: str, expected: str, do: str) -> Overview:
    return Overview(
        record_ids=tuple(walk.record_id for walk in walks),
        finding=Finding(
            code=code, severity=Severity.ASK, field="fixes", saw=saw, expected=expected, do=do
        ),
    )


def _all_round(walks: Sequence[WalkOnGround]) -> Iterator[Overview]:
    """Yield a gauge on all of whose walks the line lies off alike."""
    for gauge in sorted({walk.gauge for walk in walks}):
        own = [walk for walk in walks if walk.gauge == gauge]
        offs = [walk.off_m for walk in own]
        alike = all(off > 0 for off in offs) or all(off < 0 for off in offs)
        far = all(abs(walk.off_m) > walk.limit_m for walk in own)
        if len(own) < LEAST_WALKS or not alike or not far:
            continue
        others = [walk for walk in walks if walk.gauge != gauge]
        only = bool(others) and all(abs(walk.off_m) <= walk.limit_m for walk in others)
        yield _asks(
            "walks-zero",
            own,
            f"All {len(own)} walks by {gauge} lie {mm(statistics.median(offs))} from its level.",
            f"Walks by other gauges fit: it is the zero of {gauge}."
            if only
            else "It is the gauge's zero, or the datum of the ground model.",
            f"Have the zero of {gauge} levelled.",
        )


def _sector(sector: str, walks: Sequence[WalkOnGround]) -> Iterator[Overview]:
    off = [walk for walk in walks if walk.is_off(sector)]
    fit = [walk for walk in walks if not walk.is_off(sector)]
    alone = [
        walk
        for walk in off
        if any(abs(walk.level_m - other.level_m) <= SAME_LEVEL_M for other in fit)
        or (len(off) == 1 and fit)
    ]
    ground = [walk for walk in off if walk not in alone]
    values = [walk.sectors_m()[sector] for walk in ground]
    alike = all(value > 0 for value in values) or all(value < 0 for value in values)
    if len(ground) >= LEAST_WALKS and alike and _independent(ground):
        yield _asks(
            "walks-terrain",
            ground,
            f"In the {sector} {len(ground)} of {len(walks)} walks lie"
            f" {mm(statistics.median(values))} from the rest of their line.",
            "Different teams or levels say the same: the ground model is off there, as in reeds.",
            "Correct the model there, or leave that sector out of the comparison.",
        )
    for walk in alone:
        yield _asks(
            "walks-walker",
            [walk],
            f"In the {sector} the walk of {day(walk.at)} lies {mm(walk.sectors_m()[sector])} from the"
            " rest of its line.",
            "Another walk fits there: the walker left the waterline.",
            "Leave that stretch out of the area, or walk it again.",
        )


def _independent(walks: Sequence[WalkOnGround]) -> bool:
    levels = [walk.level_m for walk in walks]
    return len({walk.team for walk in walks}) > 1 or max(levels) - min(levels) > OTHER_LEVEL_M


def _shift(walks: Sequence[WalkOnGround]) -> Overview | None:
    """Return a shift of the map datum: sectors off as a cosine of their bearing, on all walks alike.

    On a bowl the ground rises outward everywhere, so a line moved by d lies d x slope too high on the
    side it was moved to and as much too low on the other.
    """
    shifts = [found for walk in walks if (found := _shift_of(walk))]
    if len(shifts) < max(LEAST_WALKS, len(walks)):
        return None
    east = statistics.median(found[0] for found in shifts)
    north = statistics.median(found[1] for found in shifts)
    size_m = math.hypot(east, north)
    if any(math.hypot(e - east, n - north) > size_m / 2 for e, n in shifts):
        return None
    place = round(math.degrees(math.atan2(east, north)) / (360 / len(SECTORS))) % len(SECTORS)
    return _asks(
        "walks-shift",
        walks,
        f"All {len(walks)} lines lie high in the {SECTORS[place]} and low on the other side.",
        f"A shift of about {size_m:.1f} m to the {SECTORS[place]} does that: two map datums.",
        "Look which datum the ground model is in; an area does not change by it.",
    )


def _shift_of(walk: WalkOnGround) -> tuple[float, float] | None:
    """Return the shift (east, north) [m] that accounts for a walk's sectors, None if none does."""
    found = walk.sectors_m()
    if len(found) < LEAST_SECTORS or walk.slope <= 0:
        return None
    turn = math.tau / len(SECTORS)
    angles = {sector: turn * place for place, sector in enumerate(SECTORS) if sector in found}
    middle = statistics.fmean(found.values())
    part = 2 / len(found)
    north = part * sum((found[s] - middle) * math.cos(angle) for s, angle in angles.items())
    east = part * sum((found[s] - middle) * math.sin(angle) for s, angle in angles.items())
    spread = sum((value - middle) ** 2 for value in found.values())
    left = sum(
        (found[s] - middle - north * math.cos(angle) - east * math.sin(angle)) ** 2
        for s, angle in angles.items()
    )
    if math.hypot(east, north) <= OFF_M / 2 or left > (1 - EXPLAINED) * spread:
        return None
    return east / walk.slope, north / walk.slope
