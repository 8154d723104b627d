"""The levels that were read before a time and can be relied on, states that bracket one included."""

import math
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from shared_core.records.base import Known, Standing
from shared_core.records.levels import SHORTEST, lowest_gauge, reading_sd_m, zero_of, zero_sd_m
from shared_core.records.site_setup import Gauge, GaugeZero
from shared_core.records.staff_gauge import GaugeReading
from shared_core.units import SECONDS_PER_DAY

PLATE_MARGIN_M: Final = 0.020  # a reading so far off the plate's end is still one (computed)
NOT_GOOD: Final = ("doubtful", "estimated", "missing", "not_used")
LOOKED_BACK: Final = 12  # readings: some days of a landholder's log, some months of visits


@dataclass(frozen=True, kw_only=True)
class Zero:
    """The zero in force at a gauge [m], with its uncertainty (1 sd)."""

    gauge: str
    zero_m: float
    sd_m: float
    since: datetime


@dataclass(frozen=True, kw_only=True)
class LevelSeen:
    """A level that somebody read, or could bracket; ``level_m`` None is a dry pool."""

    level_m: float | None
    reading_sd_m: float
    zero: Zero
    at: datetime
    standing: Standing[GaugeReading]

    @property
    def gauge(self) -> str:
        return self.zero.gauge

    @property
    def sd_m(self) -> float:
        return math.hypot(self.reading_sd_m, self.zero.sd_m)


def days_from(start: datetime, end: datetime) -> float:
    """Return the days from one time to another."""
    return (end - start).total_seconds() / SECONDS_PER_DAY


def zero_at(known: Known, site: str, gauge: str, at: datetime) -> Zero | None:
    """Return the zero in force at a gauge; wider where a later row calls it doubtful by then."""
    standing = zero_of(known, site, gauge, at)
    if standing is None:
        return None
    row = standing.record
    sd_m = zero_sd_m(row)
    later = known.after(GaugeZero, site, at + SHORTEST, point=gauge)
    if later and later[0].record.doubtful_from and later[0].record.doubtful_from <= at:
        sd_m = math.hypot(sd_m, later[0].record.zero_m - row.zero_m)
    return Zero(gauge=gauge, zero_m=row.zero_m, sd_m=sd_m, since=row.valid_from)


def gauges_of(known: Known, site: str, at: datetime) -> dict[str, Gauge]:
    """Return the gauges of a site as they are set up at a time; the newest entry of each."""
    every = (standing.record for standing in known.every(Gauge, site))
    return {gauge.gauge: gauge for gauge in every if gauge.valid_from <= at}


class _Site:
    """The set-up of one site at one time, read once for many readings."""

    def __init__(self, known: Known, site: str, at: datetime) -> None:
        self._known, self._site = known, site
        self.gauges = gauges_of(known, site, at)
        self._zeros: dict[str, Zero | None] = {}
        self.lowest_gauge = lowest_gauge(known, site, at)

    def zero(self, gauge: str, at: datetime) -> Zero | None:
        held = self._zeros.get(gauge)
        if held is None or at < held.since:
            held = self._zeros[gauge] = zero_at(self._known, self._site, gauge, at)
        return held

    def level(self, standing: Standing[GaugeReading]) -> LevelSeen | None:
        """Return what a reading says of the level if it can be relied on, else None."""
        reading = standing.record
        zero = self.zero(reading.point, reading.when)
        if zero is None or reading.quality in NOT_GOOD:
            return None
        found = self._read(reading, zero) or self._bracketed(reading, zero)
        if found is None:
            return None
        level_m, sd_m = found
        return LevelSeen(
            level_m=level_m, reading_sd_m=sd_m, zero=zero, at=reading.when, standing=standing
        )

    def _read(self, reading: GaugeReading, zero: Zero) -> tuple[float | None, float] | None:
        stage_m = reading.stage_m
        gauge = self.gauges.get(reading.point)
        if stage_m is None or (stage_m == 0 and reading.quality != "good"):
            return None  # 0.000 may mean three things until somebody has said which
        if gauge is not None and not (
            gauge.plate_from_m - PLATE_MARGIN_M <= stage_m <= gauge.plate_to_m + PLATE_MARGIN_M
        ):
            return None
        return stage_m + zero.zero_m, reading_sd_m(reading)

    def _bracketed(self, reading: GaugeReading, zero: Zero) -> tuple[float | None, float] | None:
        """Return what a state says: dry at the lowest gauge, or between its ground and its zero."""
        gauge = self.gauges.get(reading.point)
        ground_m = gauge.ground_level_m if gauge else None
        if reading.state == "dry" and reading.point == self.lowest_gauge:
            return None, 0.0
        if reading.state == "below_zero" and ground_m is not None and ground_m < zero.zero_m:
            width_m = zero.zero_m - ground_m
            return zero.zero_m - width_m / 2, width_m / math.sqrt(12)
        return None


def recent_levels(
    known: Known, site: str, at: datetime, *, limit: int = LOOKED_BACK
) -> list[LevelSeen]:
    """Return the levels read before a time that can be relied on, newest first."""
    setup = _Site(known, site, at)
    standings = known.before(GaugeReading, site, at, limit=limit)
    return [found for standing in standings if (found := setup.level(standing))]


def newest_level(known: Known, site: str, at: datetime) -> LevelSeen | None:
    """Return the newest level before a time that can be relied on."""
    found = recent_levels(known, site, at)
    return found[0] if found else None
