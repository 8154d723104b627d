"""Day by day between level readings: how much area the water covered, and what fell and rose on it.

Levels between readings lie on straight lines; areas come from the rating; a day runs from 09:00 to
09:00 standard time and is named after the day it ends on, as a rain gauge is read (common
practice). A dry pool has no level; on the way to and from dry the line runs to the highest level
of the rating that holds no water.
"""

import bisect
import dataclasses
import itertools
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, date, datetime, time, timedelta, timezone
from typing import Final

from shared_core.errors import OutsideRangeError
from shared_core.rating import Rating
from shared_core.units import MM_PER_M

READING_HOUR: Final = 9  # rain gauges are read at 09:00 standard time, common practice


@dataclasses.dataclass(frozen=True, kw_only=True)
class LevelPoint:
    """A level somebody read, or a pool found dry."""

    at: datetime
    level_m: float | None  # None: dry
    sd_m: float = 0.0
    evidence: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Name of this reading as a source of error."""
        return f"level {self.at:%Y-%m-%d %H:%M}"


@dataclasses.dataclass(frozen=True, kw_only=True)
class DaySlice:
    """A day, or the part of it that lies in a period."""

    label: date  # the day it ends on
    share: float  # of 24 hours
    mean_area_m2: float


class LevelPath:
    """The water level through time, as straight lines between readings."""

    def __init__(self, points: Sequence[LevelPoint], rating: Rating) -> None:
        """Take readings in any order.

        Raises:
            OutsideRangeError: if there is no reading, or a level is outside the rating.
        """
        if not points:
            raise OutsideRangeError("no level was read at this site in this time")
        self.points = tuple(sorted(points, key=lambda point: point.at))
        self.rating = rating
        self._times = [point.at for point in self.points]
        self._bottom_m = rating.level_at(0.0) if rating.starts_dry else rating.lowest_m
        for point in self.points:
            if point.level_m is not None:
                rating.volume_at(point.level_m)  # says so if it lies outside the range

    def nearest(self, at: datetime) -> LevelPoint:
        """Return the reading nearest to a time."""
        return min(self.points, key=lambda point: abs(point.at - at))

    def resting_on(self, at: datetime) -> tuple[tuple[LevelPoint, float], ...]:
        """Return the readings that the level at a time rests on, each with its share in it.

        Raises:
            OutsideRangeError: before the first or after the last reading, where the pool was wet.
        """
        right = bisect.bisect_left(self._times, at)
        if right < len(self._times) and self._times[right] == at:
            return ((self.points[right], 1.0),)
        if right in (0, len(self._times)):
            return ((self._dry_edge(at, right), 1.0),)
        one, other = self.points[right - 1], self.points[right]
        along = (at - one.at) / (other.at - one.at)
        return (one, 1.0 - along), (other, along)

    def _dry_edge(self, at: datetime, right: int) -> LevelPoint:
        edge, word = (self.points[0], "first") if right == 0 else (self.points[-1], "last")
        if edge.level_m is None:
            return edge
        raise OutsideRangeError(
            f"{at:%Y-%m-%d %H:%M} UTC lies outside the readings: the {word} level was read"
            f" {edge.at:%Y-%m-%d %H:%M} UTC and the pool was wet"
        )

    def level_at(self, at: datetime) -> float | None:
        """Return the level [m] at a time, None while dry.

        Raises:
            OutsideRangeError: before the first or after the last reading, where the pool was wet.
        """
        readings = self.resting_on(at)
        if all(point.level_m is None for point, _ in readings):
            return None
        return sum(share * self._or_bottom(point.level_m) for point, share in readings)

    def _or_bottom(self, level_m: float | None) -> float:
        return self._bottom_m if level_m is None else level_m

    def area_at(self, at: datetime) -> float:
        """Return the wet area [m2] at a time."""
        level = self.level_at(at)
        return 0.0 if level is None else self.rating.area_at(level)

    def volume_at(self, at: datetime) -> float:
        """Return the stored volume [m3] at a time."""
        level = self.level_at(at)
        return 0.0 if level is None else self.rating.volume_at(level)

    def slices(self, start: datetime, end: datetime, offset_min: int) -> Iterator[DaySlice]:
        """Cut a time into hydrological days and yield each with its mean wet area [m2]."""
        for label, since, until in days_between(start, end, offset_min):
            yield DaySlice(
                label=label,
                share=(until - since) / timedelta(days=1),
                mean_area_m2=self._mean_area(since, until),
            )

    def _mean_area(self, since: datetime, until: datetime) -> float:
        first = bisect.bisect_right(self._times, since)
        knots = [since, *self._times[first : bisect.bisect_left(self._times, until)], until]
        total = sum(self._area_seconds(a, b) for a, b in itertools.pairwise(knots))
        return total / (until - since).total_seconds()

    def _area_seconds(self, since: datetime, until: datetime) -> float:
        """Return area times time between two knots.

        The level runs evenly from the one to the other, so the mean over time is that over levels,
        which the rating gives without a step.
        """
        if self.level_at(since + (until - since) / 2) is None:
            return 0.0
        low, high = (self._or_bottom(self.level_at(at)) for at in (since, until))
        return self.rating.mean_area_between(low, high) * (until - since).total_seconds()

    def mean_area(self, start: datetime, end: datetime) -> float:
        """Return the mean wet area [m2] between two times."""
        return self._mean_area(start, end)


def days_between(
    start: datetime, end: datetime, offset_min: int
) -> Iterator[tuple[date, datetime, datetime]]:
    """Yield (label, since, until) for each hydrological day, or part of one, between two times."""
    zone = timezone(timedelta(minutes=offset_min))
    since = start.astimezone(UTC)
    while since < end:
        label = day_label(since, offset_min)
        until = datetime.combine(label, time(READING_HOUR), zone).astimezone(UTC)
        yield label, since, min(until, end.astimezone(UTC))
        since = until


def day_label(moment: datetime, offset_min: int) -> date:
    """Return the name of the hydrological day that a moment lies in: the day it ends on."""
    local = moment.astimezone(timezone(timedelta(minutes=offset_min)))
    ended = local.hour < READING_HOUR
    return local.date() if ended else local.date() + timedelta(days=1)


def total_of(slices: Sequence[DaySlice], depth_mm: Callable[[date], float]) -> float:
    """Return the volume [m3] of a daily depth [mm] over the wet area of each day.

    A day without water is not asked for its depth.
    """
    return sum(
        s.share * s.mean_area_m2 * depth_mm(s.label) / MM_PER_M for s in slices if s.mean_area_m2
    )
