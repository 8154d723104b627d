"""What the site itself says of its seepage: how it fell over the last weeks without a pump.

The rate learned so also takes in most of what the evaporation of those weeks was off by, which the
next days will be off by alike.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Final

from shared_core.expect import SEEPAGE_MM_DAY, SEEPAGE_SD_MM_DAY, Bed
from shared_core.records.base import Known
from shared_core.records.inflow import inflow_between
from shared_core.records.levels_seen import LevelSeen, days_from
from shared_core.records.weather import Sky, weather_between
from shared_core.units import MM_PER_M

SHORTEST_DAYS: Final = 4.0  # of each of the two intervals
LONGEST_DAYS: Final = 50.0  # farther back was another season (computed)
AGREE_SDS: Final = 3.0  # two intervals that differ by more have a wrong reading between them
DRIFT_MM_DAY: Final = 0.35  # how far seepage and the miss of evaporation wander (from memory)
STAYS: Final = (
    0.6  # share of evaporation's uncertainty that no earlier week can tell of (see methods)
)


@dataclass(frozen=True, kw_only=True)
class Learned:
    """Seepage [mm/day] as two earlier intervals tell it, and the evaporation [mm/day] of then."""

    rate_mm_day: float
    sd_mm_day: float
    evaporation_mm_day: float

    def bed(self, wetted_to_m: float | None) -> Bed:
        """Return the bed with what was learned and what was thought before, by their weights."""
        own = 1 / self.sd_mm_day**2
        prior = 1 / SEEPAGE_SD_MM_DAY**2
        return Bed(
            seepage_mm_day=(own * self.rate_mm_day + prior * SEEPAGE_MM_DAY) / (own + prior),
            seepage_sd_mm_day=1 / math.sqrt(own + prior),
            wetted_to_m=wetted_to_m,
        )

    def weather(self, sky: Sky) -> Sky:
        """Return the weather without the part of its uncertainty that the rate takes in."""
        if not sky.evaporation_mm or sky.days <= 0:
            return sky
        unlike = abs(sky.evaporation_mm / sky.days - self.evaporation_mm_day)
        left = unlike * sky.days / sky.evaporation_mm
        return replace(sky, evaporation_sd_mm=sky.evaporation_sd_mm * math.hypot(left, STAYS))


@dataclass(frozen=True)
class _Interval:
    rate_mm_day: float
    sd_mm_day: float
    evaporation_mm_day: float


def learned_seepage(known: Known, site: str, levels: Sequence[LevelSeen]) -> Learned | None:
    """Return what the last weeks say of a site's seepage; None where they say nothing sure.

    Args:
        known: What is known.
        site: Code of the site.
        levels: Levels before the reading that is judged, newest first.
    """
    three = _three_looks(levels)
    if three is None:
        return None
    newest, middle, oldest = three
    inflow = inflow_between(known, site, oldest.at, newest.at)
    if inflow.volume_m3 > 0 or inflow.possible_m3 > 0:
        return None
    late, early = _interval(known, site, middle, newest), _interval(known, site, oldest, middle)
    if late is None or early is None:
        return None
    apart = abs(late.rate_mm_day - early.rate_mm_day)
    if apart > AGREE_SDS * math.hypot(late.sd_mm_day, early.sd_mm_day, DRIFT_MM_DAY):
        return None
    weights = [1 / each.sd_mm_day**2 for each in (late, early)]
    total = sum(weights)
    return Learned(
        rate_mm_day=(weights[0] * late.rate_mm_day + weights[1] * early.rate_mm_day) / total,
        sd_mm_day=math.hypot(1 / math.sqrt(total), DRIFT_MM_DAY),
        evaporation_mm_day=(late.evaporation_mm_day + early.evaporation_mm_day) / 2,
    )


def _three_looks(
    levels: Sequence[LevelSeen],
) -> tuple[LevelSeen, LevelSeen, LevelSeen] | None:
    """Return the newest, one between and an old look at one plate, far enough apart."""
    for on_plate in _by_plate(levels):
        newest = on_plate[0]
        apart = [(days_from(level.at, newest.at), level) for level in on_plate[1:]]
        near = [(days, level) for days, level in apart if days <= LONGEST_DAYS]
        if not near or near[-1][0] < 2 * SHORTEST_DAYS:
            continue
        oldest_days, oldest = near[-1]
        inner = [
            (abs(days - oldest_days / 2), level)
            for days, level in near
            if SHORTEST_DAYS <= days <= oldest_days - SHORTEST_DAYS
        ]
        if inner:
            return newest, min(inner, key=lambda each: each[0])[1], oldest
    return None


def _by_plate(levels: Sequence[LevelSeen]) -> Iterator[list[LevelSeen]]:
    """Yield the levels of each gauge under one zero, newest first, the newest gauge first."""
    read = [level for level in levels if level.standing.record.stage_m is not None]
    for zero in dict.fromkeys(level.zero for level in read):
        yield [level for level in read if level.zero == zero]


def _interval(known: Known, site: str, start: LevelSeen, end: LevelSeen) -> _Interval | None:
    if start.level_m is None or end.level_m is None:
        return None
    sky = weather_between(known, site, start.at, end.at)
    if sky.evaporation_mm is None:
        return None
    fell_mm = (start.level_m - end.level_m) * MM_PER_M
    reading_mm = math.hypot(start.reading_sd_m, end.reading_sd_m) * MM_PER_M
    return _Interval(
        rate_mm_day=(fell_mm + sky.rain_mm - sky.evaporation_mm) / sky.days,
        sd_mm_day=math.hypot(reading_mm, sky.rain_sd_mm) / sky.days,
        evaporation_mm_day=sky.evaporation_mm / sky.days,
    )
