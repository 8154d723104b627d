"""Rain beside the days nobody read the gauge, and beside what the water did meanwhile."""

from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from itertools import pairwise
from typing import Final

from shared_core.records.base import Finding, Known, Severity
from shared_core.records.inflow import inflow_between
from shared_core.records.levels_seen import LevelSeen, days_from, recent_levels
from shared_core.records.rain import LEAST_MM, RainReading
from shared_core.units import MM_PER_M

# A missed day makes the next value an accumulation (Bureau of Meteorology, about rain data). Three
# readings in a row without a gap are taken for a daily habit (from memory).
HABIT: Final = 3
MOST_MISSED: Final = 3  # days; after more the habit itself has ended (from memory)
RISE_M: Final = 0.015  # a day, with neither pump nor rain; 2 sd of two readings (computed)
GAUGE_AFTER: Final = timedelta(hours=3)  # the water may be read after the rain
BASE_DAYS: Final = 4.0  # an older level says too little of one day
READ: Final = 6


def missed_days(reading: RainReading, known: Known) -> Iterator[Finding]:
    """Ask whether an amount covers days that were missed, where the gauge is read every day."""
    if reading.rain_mm < LEAST_MM:
        return
    earlier = known.before(
        RainReading, reading.site, reading.when, point=reading.point, limit=HABIT
    )
    days = [standing.record for standing in earlier if standing.record.read_on < reading.read_on]
    daily = all(_uncovered(later, sooner.read_on) == 0 for later, sooner in pairwise(days))
    if len(days) < HABIT or not daily:
        return
    missed = _uncovered(reading, days[0].read_on)
    if 0 < missed <= MOST_MISSED:
        covers = missed + reading.days_covered
        yield Finding(
            code="rain-days-missed",
            severity=Severity.ASK,
            field="days_covered",
            saw=f"The gauge was last read on {days[0].read_on:%-d %B}, {covers} days before.",
            expected=f"It was read every day until then; {reading.days_covered} is said to be covered.",
            do=f"If nobody emptied it meanwhile, say that it covers {covers} days.",
            suggests=str(covers),
        )


def _uncovered(reading: RainReading, read_before: date) -> int:
    """Return the days between two readings that the later one does not say it covers."""
    return (reading.read_on - read_before).days - reading.days_covered


def rise_without_rain(
    reading: RainReading, known: Known, limits: Mapping[str, float]
) -> Iterator[Finding]:
    """Ask about no rain where the water rose and no pump ran."""
    if reading.rain_mm >= LEAST_MM:
        return
    found = _rise(reading, known)
    if found is None:
        return
    base, newest = found
    rise_m = (newest.level_m or 0.0) - (base.level_m or 0.0)
    days = days_from(base.at, newest.at)
    if rise_m <= limits.get("rain-none-rise", RISE_M) * max(1.0, days):
        return
    pumped = inflow_between(known, reading.site, base.at, newest.at)
    if pumped.volume_m3 + pumped.possible_m3 > 0 or _other_rain(reading, known, base):
        return
    yield Finding(
        code="rain-none-rise",
        severity=Severity.ASK,
        field="rain_mm",
        saw=f"{reading.rain_mm:g} mm, while the water rose {rise_m * MM_PER_M:.0f} mm in {days:.1f} days.",
        expected="No pump ran.",
        do="Look whether the rain gauge is blocked or tipped; read the staff gauge again.",
    )


def _rise(reading: RainReading, known: Known) -> tuple[LevelSeen, LevelSeen] | None:
    """Return the last level before the days that a reading covers, and the newest, on one plate."""
    levels = recent_levels(known, reading.site, reading.when + GAUGE_AFTER, limit=READ)
    start = reading.when - timedelta(days=reading.days_covered)
    newest = next((level for level in levels if level.level_m is not None), None)
    if newest is None or newest.at <= start:
        return None
    for base in levels:
        if base.gauge == newest.gauge and base.level_m is not None and base.at < newest.at:
            days = days_from(base.at, newest.at)
            near = days <= BASE_DAYS + reading.days_covered
            return (base, newest) if near and days >= 0.5 else None
    return None


def _other_rain(reading: RainReading, known: Known, base: LevelSeen) -> bool:
    """Tell whether other rain was written for the time since a level."""
    near = known.between(RainReading, reading.site, base.at, reading.when + timedelta(days=1))
    return any(standing.record.rain_mm >= LEAST_MM for standing in near)
