"""A run of values through time: steady, with a step, or drifting; what the histories ask alike.

A step is told from single wrong values by its two sides: each value of a side must lie nearer to
its own side's middle than to the other's. Where the sides mix, a drift is looked for.
"""

import math
import statistics
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final, NamedTuple

from shared_core.units import SECONDS_PER_DAY

LEAST_A_SIDE: Final = 2  # one value alone is a slip, not a step
LEAST_FOR_DRIFT: Final = 4
SURE_SDS: Final = (
    3.0  # size over its own uncertainty before it is told (computed: 0.3 % of a normal)
)


class Value(NamedTuple):
    """One value at a time, with the records that it rests on."""

    at: datetime
    value: float
    record_ids: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Step:
    """A lasting change between two values of a run."""

    last_before: Value
    first_after: Value
    before: float
    after: float
    sd: float

    @property
    def size(self) -> float:
        return self.after - self.before


@dataclass(frozen=True, kw_only=True)
class Drift:
    """A steady change over a run: a value at its start and a rate a day."""

    first: Value
    last: Value
    start: float
    rate_per_day: float
    rate_sd: float

    @property
    def days(self) -> float:
        return (self.last.at - self.first.at).total_seconds() / SECONDS_PER_DAY

    @property
    def size(self) -> float:
        return self.rate_per_day * self.days

    def at(self, moment: datetime) -> float:
        """Return the drifted value at a time, prorated; no more than at the ends of the run."""
        days = (moment - self.first.at).total_seconds() / SECONDS_PER_DAY
        return self.start + self.rate_per_day * min(max(days, 0.0), self.days)


def without_lone(values: Sequence[Value], far: float) -> list[Value]:
    """Leave out values that stand alone, far from two neighbours that agree with each other."""
    kept = []
    for place, value in enumerate(values):
        around = [values[p].value for p in (place - 1, place + 1) if 0 <= p < len(values)]
        alone = len(around) == 2 and abs(around[0] - around[1]) <= far
        if not (alone and all(abs(value.value - other) > far for other in around)):
            kept.append(value)
    return kept


def steps_in(values: Sequence[Value], *, least: float, sd: float) -> Iterator[Step]:
    """Yield the lasting steps of a run, oldest first.

    Args:
        values: The run, oldest first.
        least: The smallest step that is told.
        sd: Uncertainty (1 sd) of one value, at the least.
    """
    found = _largest_step(values, least, sd)
    if found is None:
        return
    place, step = found
    yield from steps_in(values[:place], least=least, sd=sd)
    yield step
    yield from steps_in(values[place:], least=least, sd=sd)


def _largest_step(values: Sequence[Value], least: float, sd: float) -> tuple[int, Step] | None:
    best: tuple[float, int, Step] | None = None
    for place in range(LEAST_A_SIDE, len(values) - LEAST_A_SIDE + 1):
        step = _step_at(values, place, sd)
        size = abs(step.size)
        if size <= least or size <= SURE_SDS * step.sd or not _parted(values, place, step):
            continue
        if best is None or size > best[0]:
            best = (size, place, step)
    if best is None or _left_by_line(values) < _left_by_step(values, best[1], best[2]):
        return None  # a drift, or next to nothing
    return best[1], best[2]


def _left_by_step(values: Sequence[Value], place: int, step: Step) -> float:
    """Return the sum of squares that a step leaves over."""
    return sum(
        (value.value - (step.before if number < place else step.after)) ** 2
        for number, value in enumerate(values)
    )


def _left_by_line(values: Sequence[Value]) -> float:
    """Return the sum of squares that a straight line leaves over."""
    days, numbers = _by_days(values)
    start, rate, _ = _line(days, numbers)
    return sum((n - start - rate * d) ** 2 for d, n in zip(days, numbers, strict=True))


def _by_days(values: Sequence[Value]) -> tuple[list[float], list[float]]:
    days = [(v.at - values[0].at).total_seconds() / SECONDS_PER_DAY for v in values]
    return days, [v.value for v in values]


def _line(days: Sequence[float], numbers: Sequence[float]) -> tuple[float, float, float]:
    """Return start, rate and width (sum of squared days about their mean) of a least-squares line."""
    middle_day, middle = statistics.fmean(days), statistics.fmean(numbers)
    width = sum((day - middle_day) ** 2 for day in days)
    if width <= 0:
        return middle, 0.0, 0.0
    pairs = zip(days, numbers, strict=True)
    rate = sum((day - middle_day) * (number - middle) for day, number in pairs) / width
    return middle - rate * middle_day, rate, width


def _step_at(values: Sequence[Value], place: int, sd: float) -> Step:
    sides = [[v.value for v in values[:place]], [v.value for v in values[place:]]]
    middles = [statistics.median(side) for side in sides]
    spreads = [
        max(sd, statistics.pstdev(side, middle)) / math.sqrt(len(side))
        for side, middle in zip(sides, middles, strict=True)
    ]
    return Step(
        last_before=values[place - 1],
        first_after=values[place],
        before=middles[0],
        after=middles[1],
        sd=math.hypot(*spreads),
    )


def _parted(values: Sequence[Value], place: int, step: Step) -> bool:
    """Tell whether each value lies nearer to its own side's middle than to the other's."""
    return all(
        (abs(value.value - step.before) < abs(value.value - step.after)) == (number < place)
        for number, value in enumerate(values)
    )


def drift_in(values: Sequence[Value], *, least: float, sd: float) -> Drift | None:
    """Return the drift of a run without a step, None if it is steady within what is told.

    Args:
        values: The run, oldest first.
        least: The smallest change over the run that is told.
        sd: Uncertainty (1 sd) of one value, at the least.
    """
    if len(values) < LEAST_FOR_DRIFT:
        return None
    days, numbers = _by_days(values)
    start, rate, width = _line(days, numbers)
    if width <= 0:
        return None
    left = _left_by_line(values)
    places = range(LEAST_A_SIDE, len(values) - LEAST_A_SIDE + 1)
    if any(_left_by_step(values, place, _step_at(values, place, sd)) < left for place in places):
        return None  # a step, if only one too small to be told
    rate_sd = max(sd, math.sqrt(left / (len(values) - 2))) / math.sqrt(width)
    found = Drift(first=values[0], last=values[-1], start=start, rate_per_day=rate, rate_sd=rate_sd)
    told = abs(found.size) > least and abs(rate) > SURE_SDS * rate_sd
    return found if told else None
