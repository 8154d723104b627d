"""A random meter and the log that is kept of it: scale error, unit, rollover, a stuck span, gaps."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any, Final

import numpy as np

from shared_core.records.base import Record
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from tests.bench.season_water import Water

CERTIFIED_SD: Final = 0.025  # from memory
OTHER_SD: Final = 0.05  # from memory
UNITS: Final = (("kL", 1.0), ("m3", 1.0), ("kL", 10.0), ("L", 100.0))
GAP_BEGINS: Final = 0.05  # a day (from memory)
STICKS: Final = 0.15  # share of seasons (from memory)
ROLLS: Final = 0.2  # share of seasons that begin near the end of the face (from memory)


@dataclass(frozen=True)
class Counter:
    """A meter's face and what is wrong with it."""

    unit: str
    multiplier: float
    m3_per_count: float
    figures: int
    start: int
    fitted_on: float
    scale: float
    certified: bool
    stuck: tuple[float, float] | None
    truth: Water = field(repr=False)

    def counts_at(self, day: float) -> int:
        """Return the counts since the start, those of earlier turns of the face included."""
        counted_m3 = self.truth.pumped_by(day)
        if self.stuck is not None:
            lost_from, lost_to = self.stuck
            if day > lost_from:
                until = min(day, lost_to)
                counted_m3 -= self.truth.pumped_by(until) - self.truth.pumped_by(lost_from)
        return self.start + int(counted_m3 * self.scale / self.m3_per_count)

    def shown_at(self, day: float) -> str:
        return self.shown(self.counts_at(day))

    def shown(self, counts: int) -> str:
        return f"{counts % 10**self.figures:0{self.figures}d}"


@dataclass(frozen=True)
class MeterLook:
    """One look at the meter: figures, hours, and whether it has passed zero since the last."""

    day: float
    who: str
    visit: str
    display: str
    counts: int
    hours: float
    rolled: bool
    starts: bool
    stops: bool

    def reading(self, head: dict[str, Any]) -> MeterReading:
        return MeterReading(**head, display=self.display, rolled=True if self.rolled else None)

    def records(self, head: dict[str, Any], at: Callable[[float], datetime]) -> tuple[Record, ...]:
        later = {**head, "point": "PU1", "seen_at": at(self.day + 0.002)}
        why = "level reached" if self.stops else None
        began = at(self.day) if self.starts else None
        run = PumpRun(**later, hours_reading=self.hours, started=began, stopped_because=why)
        return self.reading(head), run


def counter(rng: np.random.Generator, truth: Water) -> Counter:
    """Return a random meter."""
    unit, multiplier = UNITS[int(rng.integers(len(UNITS)))]
    m3_per_count = multiplier * (0.001 if unit == "L" else 1.0)
    certified = bool(rng.random() < 0.6)
    total = int(truth.pumped_m3[-1] / m3_per_count)
    figures = max(6, len(str(total)) + 1)
    start = int(rng.integers(0, 10**figures - total))
    if rng.random() < ROLLS:
        start = 10**figures - int(rng.uniform(0.1, 0.9) * total) - 1
    running = np.nonzero(truth.pumping.hours > 0)[0]
    stuck = None
    if rng.random() < STICKS:
        begins = float(rng.choice(running)) + float(rng.random())
        stuck = (begins, begins + float(rng.uniform(1.0, 4.0)))
    return Counter(
        unit=unit,
        multiplier=multiplier,
        m3_per_count=m3_per_count,
        figures=figures,
        start=start,
        fitted_on=float(running[0]) - 1.0,
        scale=float(1 + rng.normal(0.0, CERTIFIED_SD if certified else OTHER_SD)),
        certified=certified,
        stuck=stuck,
        truth=truth,
    )


def looks(
    rng: np.random.Generator, truth: Water, face: Counter, visits: list[float]
) -> Iterator[MeterLook]:
    """Yield the looks at the meter: mornings of pumping with gaps, and some of the visits."""
    hours = truth.pumping.hours
    times: dict[float, str] = {}
    gap = 0
    for day in range(len(hours) - 1):
        runs, ran = hours[day] > 0, day > 0 and hours[day - 1] > 0
        starts_or_ends = runs != ran
        if gap == 0 and rng.random() < GAP_BEGINS:
            gap = int(rng.integers(1, 5))
        if starts_or_ends or ((runs or ran) and gap == 0):
            times[float(day)] = "Landholder"
        gap = max(0, gap - 1)
    for visit in visits:
        if rng.random() < 0.6 and visit > face.fitted_on and visit - int(visit) > 0.01:
            times[visit] = "Officer A"
    so_far = np.concatenate(([0.0], np.cumsum(hours)))
    began = float(rng.uniform(100, 4000))
    last_turn = face.counts_at(face.fitted_on) // 10**face.figures
    for moment in sorted(times):
        counts = face.counts_at(moment)
        turn = counts // 10**face.figures
        whole = int(moment)
        ran_h = so_far[whole] + (moment - whole) * hours[whole]
        morning = moment == whole and whole > 0
        stops = morning and hours[whole] == 0 and hours[whole - 1] > 0
        starts = morning and hours[whole] > 0 and hours[whole - 1] == 0
        yield MeterLook(
            day=moment,
            who=times[moment],
            visit=f"M{moment:07.3f}",
            display=face.shown(counts),
            counts=counts,
            hours=round(began + float(ran_h), 1),
            rolled=turn > last_turn,
            starts=starts,
            stops=stops,
        )
        last_turn = turn
