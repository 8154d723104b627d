"""The daily truth of a random season: the water budget in steps of two hours, and the pump.

Invented. The bed drinks when it is first covered (50 to 300 mm, dry cracking clay: Roberts, Young &
Marston 2000); seepage grows with depth, a + b h (Darcy).
"""

from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

from tests.bench.season_shape import Bowl
from tests.bench.season_sky import Sky

Array = npt.NDArray[np.float64]

STEPS: Final = 12  # a day
STOP_A_DAY: Final = 0.04  # fuel, weed on the screen, air leak (from memory)


@dataclass(frozen=True)
class Ground:
    """What the bed takes."""

    uptake_mm: float
    seepage_mm_day: float
    seepage_mm_day_m: float


@dataclass(frozen=True)
class Pumping:
    """A pump, and how many hours of each day it ran; a day begins at 09:00."""

    rate_m3_h: float
    measured_m3_h: float
    plate_m3_h: float
    hours: Array


@dataclass(frozen=True)
class Water:
    """The truth at every step: level, and what came and went [m3] from the start on."""

    bowl: Bowl
    volume_m3: Array
    pumped_m3: Array
    lost_to_bed_m3: Array
    pumping: Pumping

    def level_m(self, day: float) -> float | None:
        """Return the level at a time [days after 09:00 of day 0]; None while dry."""
        volume_m3 = self._at(self.volume_m3, day)
        return self.bowl.level_of(volume_m3) if volume_m3 > 1.0 else None

    def pumped_by(self, day: float) -> float:
        return self._at(self.pumped_m3, day)

    def bed_took_by(self, day: float) -> float:
        return self._at(self.lost_to_bed_m3, day)

    def _at(self, of: Array, day: float) -> float:
        return float(np.interp(day * STEPS, np.arange(len(of)), of))


def ground(rng: np.random.Generator) -> Ground:
    """Return a random bed: clay, 0.5 to 4 mm/day in all (from memory)."""
    return Ground(rng.uniform(50, 300), rng.uniform(0.4, 3.0), rng.uniform(0.0, 1.0))


def pumping(rng: np.random.Generator, bowl: Bowl, bed: Ground, days: int) -> Pumping:
    """Return a pump that fills the bowl in two to six weeks, with stops, and often a top-up."""
    target_m = bowl.lowest_m + rng.uniform(0.6, 0.9) * (bowl.rim_m - bowl.lowest_m)
    wanted_m3 = bowl.volume_at(target_m)
    wanted_m3 += bed.uptake_mm / 1000 * bowl.area_of(wanted_m3)
    filling = int(rng.integers(14, 42))
    rate_m3_h = 1.1 * wanted_m3 / (filling * 22.5)
    hours = np.zeros(days)
    start = int(rng.integers(25, 60))
    hours[start : start + filling] = rng.uniform(22.0, 23.9, filling)
    if rng.random() < 0.6:
        again = start + filling + int(rng.integers(35, 80))
        hours[again : again + int(rng.integers(3, 9))] = 23.0
    stopped = (rng.random(days) < STOP_A_DAY) & (hours > 0)
    hours[stopped] *= rng.uniform(0.0, 0.7, days)[stopped]
    hours = np.round(hours, 1)
    measured = rate_m3_h * rng.normal(1.0, 0.04)
    return Pumping(rate_m3_h, measured, rate_m3_h * rng.uniform(1.0, 1.15), hours)


def water(bowl: Bowl, sky: Sky, bed: Ground, pump: Pumping) -> Water:
    """Return the truth of a season that begins dry."""
    days = len(sky.rain_mm)
    drunk = bowl.volume_m3 + bed.uptake_mm / 1000 * bowl.area_m2  # water a new level takes in all
    volume = wettest = pumped = bed_took = 0.0
    volumes, ins, taken = [0.0], [0.0], [0.0]
    for day in range(days):
        flow = pump.rate_m3_h * pump.hours[day] / STEPS
        for _ in range(STEPS):
            area = bowl.area_of(volume) if volume > 0 else 0.0
            depth = volume / area if area > 0 else 0.0
            seep = (bed.seepage_mm_day + bed.seepage_mm_day_m * depth) / STEPS / 1000 * area
            net = (sky.rain_mm[day] - sky.water_loss_mm[day]) / STEPS / 1000 * area
            before = volume
            seep = min(seep, volume + flow)
            volume = max(0.0, volume + flow + net - seep)
            if volume > wettest:
                over = max(before, wettest)
                held = float(np.interp(over, bowl.volume_m3, drunk)) + volume - over
                after = float(np.interp(held, drunk, bowl.volume_m3))
                bed_took += volume - after
                volume = wettest = max(after, over)
            pumped += flow
            bed_took += seep
            volumes.append(volume)
            ins.append(pumped)
            taken.append(bed_took)
    return Water(bowl, np.array(volumes), np.array(ins), np.array(taken), pump)
