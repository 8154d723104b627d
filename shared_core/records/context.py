"""What the checks ask alike: a stage as a level, the rating, and what to expect of the next reading."""

import math
from collections.abc import Sequence
from datetime import datetime
from typing import NamedTuple

from shared_core import expect
from shared_core.expect import Bed, Start, Volume, Window
from shared_core.records.base import Known
from shared_core.records.inflow import inflow_between
from shared_core.records.levels import reading_sd_m
from shared_core.records.levels_seen import LevelSeen, zero_at
from shared_core.records.seepage import Learned
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_setup import RatingTable
from shared_core.records.weather import weather_between


class Level(NamedTuple):
    """A level above the datum with its uncertainty (1 sd) [m]."""

    level_m: float
    sd_m: float


def stage_level(known: Known, reading: GaugeReading) -> Level | None:
    """Return a reading's level through the zero in force; None without stage or zero."""
    zero = zero_at(known, reading.site, reading.point, reading.when)
    if zero is None or reading.stage_m is None:
        return None
    return Level(reading.stage_m + zero.zero_m, math.hypot(reading_sd_m(reading), zero.sd_m))


def rating_at(known: Known, site: str, at: datetime) -> RatingTable | None:
    """Return the rating in force at a time; the first one for times before it was made."""
    standing = known.in_force(RatingTable, site, at)
    if standing is None:
        later = known.after(RatingTable, site, at)
        standing = later[0] if later else None
    return standing.record if standing else None


def expected_from(
    known: Known,
    base: LevelSeen,
    at: datetime,
    *,
    gauge: str = "",
    bed: Bed = expect.USUAL_BED,
    learned: Learned | None = None,
    reading_sd_m: float = expect.READING_SD_M,
) -> Window | None:
    """Return the window for a level at a time, from an earlier one and what happened since.

    Args:
        known: What is known.
        base: The earlier level.
        at: The time of the reading that is to come.
        gauge: Its gauge; the error of a zero cancels where both are read on the same plate.
        bed: Seepage and first wetting.
        learned: What the last weeks have told of the site's losses.
        reading_sd_m: Uncertainty (1 sd) of the reading that is to come.
    """
    site = base.standing.record.site
    table = rating_at(known, site, at)
    pumped = inflow_between(known, site, base.at, at)
    sky = weather_between(known, site, base.at, at)
    return expect.expected_level(
        Start(level_m=base.level_m, sd_m=_start_sd_m(known, base, at, gauge)),
        learned.weather(sky) if learned else sky,
        Volume(m3=pumped.volume_m3, sd_m3=pumped.sd_m3, possible_m3=pumped.possible_m3),
        rating=table.rating if table else None,
        rating_fraction=table.fit_fraction if table else 0.0,
        bed=learned.bed(bed.wetted_to_m) if learned else bed,
        reading_sd_m=reading_sd_m,
    )


def _start_sd_m(known: Known, base: LevelSeen, at: datetime, gauge: str) -> float:
    zero = zero_at(known, base.standing.record.site, gauge or base.gauge, at)
    if zero is None or zero == base.zero:
        return base.reading_sd_m
    return math.hypot(base.reading_sd_m, base.zero.sd_m, zero.sd_m)


def wetted_to_m(levels: Sequence[LevelSeen]) -> float | None:
    """Return the highest of some levels [m]: what lies below it has drunk already."""
    return max((level.level_m for level in levels if level.level_m is not None), default=None)
