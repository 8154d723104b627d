"""What a walk has measured so far, beside the rating at the level just read; never dear.

The area is worked out anew when enough has come in, and from no more than LIVE_FIXES fixes spread
over the walk, so that one step costs the same after an hour as after a minute. What is kept in the
end is measured from every fix.
"""

import math
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from mobile.walk_track import Line, WalkTrack
from shared_core.errors import StrandlineError
from shared_core.track import Fix, WalkMeasure, clean, measure_walk

EVERY_FIXES: Final = 25
EVERY_S: Final = 5.0
SHARE: Final = 1 / 50  # of the fixes so far, at least, between two measurements
LIVE_FIXES: Final = 300
FEWEST: Final = 3
BACK_M: Final = 10.0  # so near the start a gap does no harm: common practice
WORTH_CLOSING_M: Final = 60.0  # a walk shorter than this has only begun
WINDS: Final = (
    "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west",
)  # fmt: skip


class Live:
    """Holds the newest measurement of a walk."""

    def __init__(self) -> None:
        self.measure: WalkMeasure | None = None
        self.computed = 0  # how often it was worked out
        self._at_count = 0
        self._at_time: datetime | None = None

    def update(self, track: WalkTrack, *, at_once: bool = False) -> bool:
        """Measure the walk if it is time; say whether it was."""
        if not at_once and not self._due(track):
            return False
        self._at_count = track.count
        self._at_time = track.last.time if track.last else None
        self.measure = measured(track)
        self.computed += 1
        return True

    def _due(self, track: WalkTrack) -> bool:
        new = track.count - self._at_count
        if new < max(1.0, track.count * SHARE) or track.last is None:
            return False
        waited_s = (
            math.inf
            if self._at_time is None
            else abs((track.last.time - self._at_time).total_seconds())
        )
        return new >= EVERY_FIXES or waited_s >= EVERY_S


def measured(track: WalkTrack) -> WalkMeasure | None:
    """Return what a walk measures by fixes spread over it, None before it is a ring."""
    islands = [spread(line.fixes) for line in track.islands if makes_a_ring(line)]
    try:
        return measure_walk(spread(track.shore.fixes), islands=islands)
    except StrandlineError:
        return None


def spread(fixes: Sequence[Fix]) -> Sequence[Fix]:
    """Return at most LIVE_FIXES fixes, evenly spread, the last one among them."""
    stride = len(fixes) // LIVE_FIXES + 1
    return [*fixes[:-1:stride], *fixes[-1:]]


def makes_a_ring(line: Line) -> bool:
    """Tell whether enough fixes of a line count for it to hold an area."""
    return len(clean(spread(line.fixes))[0]) >= FEWEST


def closing_words(line: Line, what: str) -> str:
    """Say how far and where the start is, and what share of the way round is open."""
    if not line.points:
        return ""
    gap_m = line.gap_m
    way_m = line.length_m + gap_m
    if way_m >= WORTH_CLOSING_M and gap_m <= BACK_M:
        return f"You are back at the start of the {what}."
    if line.length_m < WORTH_CLOSING_M / 2:
        return f"The {what} starts here." if gap_m <= BACK_M else f"Start: {gap_m:.0f} m back."
    (x0, y0), (x, y) = line.points[0], line.points[-1]
    wind = WINDS[round(math.degrees(math.atan2(x0 - x, y0 - y)) / 45) % 8]
    return f"Start: {gap_m:.0f} m to the {wind}; {gap_m / way_m:.0%} of the way round is open."
