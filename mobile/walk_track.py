"""A walk as far as it has come: shore, islands and marked stretches, grown one event at a time."""

import dataclasses
import math
from collections import deque
from datetime import datetime
from typing import Any, Final

from mobile.walk_journal import Event
from shared_core.geodesy import PlanePoint, TransverseMercator
from shared_core.track import POOR_ACCURACY_M, Fix

STRIDE_M: Final = 3.0  # a length adds up steps no shorter: noise makes a line too long
RATE_OVER: Final = 20  # fixes from which the rate is told


@dataclasses.dataclass(frozen=True, kw_only=True)
class Begun:
    """How a walk began."""

    visit: str
    receiver: str
    gauge: str | None
    stage_m: float | None
    at: datetime


@dataclasses.dataclass(frozen=True, kw_only=True)
class Stretch:
    """A stretch off the waterline: places in the list of shore fixes, both included."""

    first: int
    last: int | None  # None while it is walked
    how: str
    offset_m: float | None


class Line:
    """Fixes one after another, with their places on the plane [m] and the length so far."""

    def __init__(self) -> None:
        self.fixes: list[Fix] = []
        self.points: list[PlanePoint] = []
        self.length_m = 0.0
        self._stride_from: PlanePoint | None = None

    def add(self, fix: Fix, point: PlanePoint) -> None:
        """Take the next fix."""
        self.fixes.append(fix)
        self.points.append(point)
        if self._stride_from is None:
            self._stride_from = point
        step_m = math.dist(self._stride_from, point)
        if step_m >= STRIDE_M:
            self.length_m += step_m
            self._stride_from = point

    @property
    def gap_m(self) -> float:
        """From the last fix to the first [m]."""
        return math.dist(self.points[0], self.points[-1]) if self.points else 0.0


class WalkTrack:
    """What a journal tells; the only thing that changes it is :meth:`apply`."""

    def __init__(self, plane: TransverseMercator) -> None:
        """Take the plane on which it is drawn."""
        self._plane = plane
        self.begun: Begun | None = None
        self.shore = Line()
        self.islands: list[Line] = []
        self.stretches: list[Stretch] = []
        self.on_island = False
        self.paused = False
        self.finished = False
        self.seen_only = 0  # islands seen and not walked
        self.water_side = ""
        self.count = 0
        self.poor = 0
        self.shape = 0  # grows whenever more than a fix has changed
        self._recent: deque[datetime] = deque(maxlen=RATE_OVER)

    @property
    def line(self) -> Line:
        """What is walked at the moment."""
        return self.islands[-1] if self.on_island else self.shore

    @property
    def last(self) -> Fix | None:
        """The newest fix."""
        return self.line.fixes[-1] if self.line.fixes else None

    @property
    def open_stretch(self) -> Stretch | None:
        """The stretch off the waterline that is being walked."""
        return self.stretches[-1] if self.stretches and self.stretches[-1].last is None else None

    @property
    def every_s(self) -> float | None:
        """Seconds between fixes of late."""
        if len(self._recent) < 2:
            return None
        return (self._recent[-1] - self._recent[0]).total_seconds() / (len(self._recent) - 1)

    def apply(self, event: Event) -> None:
        """Take what happened; a word that is not known is left alone."""
        word, *rest = event
        if word == "fix":
            self._fix(fix_from(rest))
            return
        change = getattr(self, f"_on_{word}", None)
        if change is not None:
            change(*rest)
            self.shape += 1

    def _fix(self, fix: Fix) -> None:
        self.line.add(fix, self._plane.forward(fix.lat, fix.lon))
        self.count += 1
        self.poor += (fix.accuracy_m or 0.0) > POOR_ACCURACY_M
        self._recent.append(fix.time)

    def _on_begin(self, told: dict[str, Any]) -> None:
        at = datetime.fromisoformat(told["at"])
        self.begun = Begun(**{**told, "at": at})

    def _on_pause(self) -> None:
        self.paused = True

    def _on_on(self) -> None:
        self.paused = self.finished = False
        self._recent.clear()

    def _on_finish(self) -> None:
        self.finished = True
        self._end_stretch()

    def _on_island(self) -> None:
        self._end_stretch()
        self.on_island = True
        self.islands.append(Line())

    def _on_shore(self) -> None:
        self.on_island = False
        if self.islands and not self.islands[-1].fixes:
            self.islands.pop()

    def _on_off(self, how: str, offset_m: float | None) -> None:
        self._end_stretch()
        first = max(0, len(self.shore.fixes) - 1)
        self.stretches.append(Stretch(first=first, last=None, how=how, offset_m=offset_m))

    def _on_back(self) -> None:
        self._end_stretch()

    def _on_seen(self, count: int) -> None:
        self.seen_only = count

    def _on_side(self, side: str) -> None:
        self.water_side = side

    def _end_stretch(self) -> None:
        stretch = self.open_stretch
        if stretch is not None:
            last = max(stretch.first, len(self.shore.fixes) - 1)
            self.stretches[-1] = dataclasses.replace(stretch, last=last)


def fix_event(fix: Fix) -> Event:
    """Return a fix as a line of the journal."""
    return ("fix", fix.time.isoformat(), fix.lat, fix.lon, fix.accuracy_m, fix.speed_m_s)


def fix_from(told: list[Any]) -> Fix:
    """Return the fix of a line of the journal."""
    return Fix(datetime.fromisoformat(told[0]), *told[1:])
