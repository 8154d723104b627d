"""Evaporation and rain between two times, from what is known at the site."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Final

from shared_core.evaporation import MonthlyTable
from shared_core.expect import Weather
from shared_core.records.base import Known
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Site
from shared_core.records.water_setup import EvaporationTable, WeatherSeries
from shared_core.units import SECONDS_PER_DAY

DAY_ENDS: Final = timedelta(hours=9)  # a rain day ends at 09:00 standard time: common practice
RAIN_SD_FRACTION: Final = 0.08  # wind loss and distance of the gauge (from memory)
UNKNOWN_RAIN_MM_PER_DAY: Final = 0.7  # where nobody has written rain, inland (from memory)
UNKNOWN_RAIN_SD_MM: Final = 2.5  # the same, for one day; grows with the root of the days
GAUGED_FOR_DAYS: Final = 45  # after the last rain entry a day without one counts as dry
_SERIES_LOOKED_AT: Final = 3  # weather files of a site that may overlap one interval
ONE_DAY: Final = timedelta(days=1)


@dataclass(frozen=True, kw_only=True)
class Sky(Weather):
    """Weather between two times, and where each part of it comes from."""

    evaporation_from: str = ""  # daily, monthly, or nothing known
    rain_from: str = ""  # gauge, series, or nothing known


def standard_offset(known: Known, site: str, at: datetime) -> timedelta:
    """Return the site's standard time less UTC; UTC where the site is not set up."""
    standing = known.in_force(Site, site, at)
    return timedelta(minutes=standing.record.standard_offset_min if standing else 0)


def days_between(start: datetime, end: datetime, offset: timedelta) -> Iterator[tuple[date, float]]:
    """Yield the 09:00 days that overlap two times, each with the share of it between them."""
    begin = start.astimezone(UTC) + offset - DAY_ENDS
    finish = end.astimezone(UTC) + offset - DAY_ENDS
    midnight = begin.replace(hour=0, minute=0, second=0, microsecond=0)
    while midnight < finish:
        after = midnight + ONE_DAY
        share = (min(after, finish) - max(midnight, begin)).total_seconds() / SECONDS_PER_DAY
        yield after.date(), share
        midnight = after


def weather_between(known: Known, site: str, start: datetime, end: datetime) -> Sky:
    """Return open-water evaporation and rain from one time to a later one."""
    shares = list(days_between(start, end, standard_offset(known, site, end)))
    length = (end - start).total_seconds() / SECONDS_PER_DAY
    if not shares:
        return Sky(days=max(length, 0.0), evaporation_mm=0.0)
    series = _series(known, site, start, end)
    evaporation = _evaporation(known, site, start, shares, series)
    rain = _rain(known, site, shares, series)
    return Sky(
        days=length,
        evaporation_mm=evaporation[0],
        evaporation_sd_mm=evaporation[1],
        evaporation_from=evaporation[2],
        rain_mm=rain[0],
        rain_sd_mm=rain[1],
        rain_from=rain[2],
    )


@dataclass(frozen=True)
class _Daily:
    open_water_mm: float | None
    sd_fraction: float
    rain_mm: float | None


def _series(known: Known, site: str, start: datetime, end: datetime) -> dict[date, _Daily]:
    """Return the days of the weather files; of two files for one day the newer speaks."""
    files = list(known.before(WeatherSeries, site, end, limit=_SERIES_LOOKED_AT))
    files += known.after(WeatherSeries, site, end, limit=1)
    first, last = (start - ONE_DAY).date(), (end + ONE_DAY).date()
    days: dict[date, _Daily] = {}
    for standing in sorted(files, key=lambda file: file.written_at):
        file = standing.record
        for day, reference_mm, rain_mm in file.values:
            if first <= day <= last + ONE_DAY:
                water_mm = None if reference_mm is None else reference_mm * file.open_water_factor
                days[day] = _Daily(water_mm, file.sd_fraction, rain_mm)
    return days


def _evaporation(
    known: Known,
    site: str,
    start: datetime,
    shares: list[tuple[date, float]],
    series: Mapping[date, _Daily],
) -> tuple[float | None, float, str]:
    """Return evaporation [mm], its 1 sd [mm] and its origin; days without a value go by month."""
    found = [(series.get(day), share) for day, share in shares]
    daily = [
        (each.open_water_mm * share, each.sd_fraction)
        for each, share in found
        if each is not None and each.open_water_mm is not None
    ]
    if len(daily) == len(shares):
        return sum(mm for mm, _ in daily), sum(mm * sd for mm, sd in daily), "daily"
    standing = known.in_force(EvaporationTable, site, start)
    if standing is None:
        return None, 0.0, ""
    record = standing.record
    table = MonthlyTable(tuple(float(row[0]) for row in record.monthly_mm_per_day))
    factor, total_mm, sd_mm = record.open_water_factor, 0.0, 0.0
    for day, share in shares:
        each = series.get(day)
        if each is not None and each.open_water_mm is not None:
            mm, sd_fraction = each.open_water_mm * share, each.sd_fraction
        else:
            mm, sd_fraction = table.on(day) * factor * share, record.sd_fraction
        total_mm, sd_mm = total_mm + mm, sd_mm + mm * sd_fraction
    return total_mm, sd_mm, "monthly"


def _rain(
    known: Known, site: str, shares: list[tuple[date, float]], series: Mapping[date, _Daily]
) -> tuple[float, float, str]:
    """Return rain [mm], its 1 sd [mm] and its origin; the site's own gauge speaks first."""
    gauged = rain_by_day(known, site, shares[0][0], shares[-1][0])
    fallen = {day: each.rain_mm for day, each in series.items() if each.rain_mm is not None}
    fallen.update(gauged)
    days = sum(share for _, share in shares)
    known_dry = any(day in fallen for day, _ in shares) or _is_gauged(known, site, shares[-1][0])
    if not known_dry:
        return UNKNOWN_RAIN_MM_PER_DAY * days, UNKNOWN_RAIN_SD_MM * days**0.5, ""
    total_mm = sum(fallen.get(day, 0.0) * share for day, share in shares)
    # A day that is only partly asked for may have had its rain in the other part.
    split_mm = [fallen.get(day, 0.0) * min(share, 1 - share) for day, share in shares]
    sd_mm = (total_mm * RAIN_SD_FRACTION) ** 2 + sum(mm * mm for mm in split_mm)
    return total_mm, sd_mm**0.5, "gauge" if gauged else "series"


def rain_by_day(known: Known, site: str, first: date, last: date) -> dict[date, float]:
    """Return the rain of each day that somebody read [mm], several gauges averaged.

    An amount that covers several days is spread evenly over them.
    """
    if not (readings := _rain_readings(known, site, first, last)):
        return {}
    read: dict[date, list[float]] = {}
    for reading in readings:
        for back in range(reading.days_covered):
            day = reading.read_on - back * ONE_DAY
            if first <= day <= last:
                read.setdefault(day, []).append(reading.rain_mm / reading.days_covered)
    return {day: sum(amounts) / len(amounts) for day, amounts in read.items()}


def _rain_readings(known: Known, site: str, first: date, last: date) -> list[RainReading]:
    begin = datetime.combine(first, time(), UTC) - 2 * ONE_DAY
    end = datetime.combine(last, time(), UTC) + 4 * ONE_DAY
    return [standing.record for standing in known.between(RainReading, site, begin, end)]


def _is_gauged(known: Known, site: str, day: date) -> bool:
    """Tell whether rain was being read about a day, so that no entry means no rain."""
    last = known.before(RainReading, site, datetime.combine(day, time(), UTC) + 2 * ONE_DAY)
    return bool(last) and (day - last[0].record.read_on).days <= GAUGED_FOR_DAYS
