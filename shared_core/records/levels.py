"""From a stage on a plate to a level: which zero was valid, and how sure the level is."""

import dataclasses
import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Final

from shared_core.records.base import Known, Standing
from shared_core.records.site_setup import Gauge, GaugeZero
from shared_core.records.staff_gauge import GaugeReading

READING_SD_M: Final = {"calm": 0.005, "ripples": 0.007, "waves": 0.010}  # from memory
ZERO_SD_M: Final = {"levelled": 0.005, "rtk": 0.025, "dem": 0.150}  # from memory
SAME_VISIT: Final = timedelta(hours=2)  # readings closer than this belong to one look at the water
SHORTEST: Final = timedelta(milliseconds=1)  # a logbook tells times apart to a millisecond


@dataclasses.dataclass(frozen=True, kw_only=True)
class Level:
    """A level [m above the datum] read at a gauge."""

    at: datetime
    level_m: float
    sd_m: float
    gauge: str
    reading_id: str
    zero_id: str
    doubtful: bool = False  # the zero may no longer have held, or is disputed


def zero_of(known: Known, site: str, gauge: str, at: datetime) -> Standing[GaugeZero] | None:
    """Return the zero valid at a time; before the first row there is none."""
    return known.in_force(GaugeZero, site, at, point=gauge)


def level_of(known: Known, standing: Standing[GaugeReading]) -> Level | None:
    """Return the level of a reading, None where it shows no stage or its gauge has no zero yet.

    A state such as "below zero with water" stands instead of a number: beside one, the number does
    not count.
    """
    reading = standing.record
    zero = zero_of(known, reading.site, reading.point, reading.seen_at)
    if reading.stage_m is None or reading.state is not None or zero is None:
        return None
    if {"stage_m", "state"} & standing.disputed.keys():
        return None
    following = known.after(
        GaugeZero, reading.site, reading.seen_at + SHORTEST, point=reading.point
    )
    doubtful_from = following[0].record.doubtful_from if following else None
    return Level(
        at=reading.seen_at,
        level_m=reading.stage_m + zero.record.zero_m,
        sd_m=math.hypot(reading_sd_m(reading), zero_sd_m(zero.record)),
        gauge=reading.point,
        reading_id=standing.record_id,
        zero_id=zero.record_id,
        doubtful=(doubtful_from is not None and reading.seen_at >= doubtful_from)
        or "zero_m" in zero.disputed,
    )


def reading_sd_m(reading: GaugeReading) -> float:
    """Return how well a plate was read (1 sd, m): half the range of the waves, or more."""
    sd_m = READING_SD_M.get(reading.waves or "calm", READING_SD_M["calm"])
    if reading.lowest_m is not None and reading.highest_m is not None:
        sd_m = max(sd_m, (reading.highest_m - reading.lowest_m) / 2.0)
    return sd_m


def zero_sd_m(zero: GaugeZero) -> float:
    """Return how well a zero is known (1 sd, m)."""
    if zero.uncertainty_m is not None:
        return zero.uncertainty_m
    return ZERO_SD_M.get(zero.method, ZERO_SD_M["dem"])


def one_look(
    readings: Sequence[Standing[GaugeReading]],
) -> list[list[Standing[GaugeReading]]]:
    """Gather readings, oldest first, into looks at the water: each within two hours of its first."""
    looks: list[list[Standing[GaugeReading]]] = []
    for standing in readings:
        if looks and standing.record.seen_at - looks[-1][0].record.seen_at <= SAME_VISIT:
            looks[-1].append(standing)
        else:
            looks.append([standing])
    return looks


def lowest_gauge(known: Known, site: str, at: datetime) -> str | None:
    """Return the gauge whose foot lies lowest: the pool is dry only when that one is.

    Where the ground at a foot is not known, the start of its plate stands for it.
    """
    feet = {
        standing.record.gauge: _foot_m(known, standing.record, at)
        for standing in known.every(Gauge, site)
        if standing.record.valid_from <= at
    }
    return min(feet, key=lambda gauge: feet[gauge], default=None)


def _foot_m(known: Known, gauge: Gauge, at: datetime) -> float:
    if gauge.ground_level_m is not None:
        return gauge.ground_level_m
    zero = zero_of(known, gauge.site, gauge.gauge, at)
    return math.inf if zero is None else zero.record.zero_m + gauge.plate_from_m


def last_good_level(
    known: Known, site: str, at: datetime, *, gauge: str | None = None
) -> Level | None:
    """Return the newest level before a time that is neither doubtful, disputed nor set aside."""
    for standing in known.before(GaugeReading, site, at, point=gauge, limit=20):
        level = level_of(known, standing)
        if level and not level.doubtful and standing.record.quality != "doubtful":
            return level
    return None
