"""What really happened in the invented season, for tests alone; nobody in the story knows it.

The daily table came from a water budget run in 96 steps a day on the real ground; the two period
tables say what happened and what honest arithmetic on the corrected readings should find.
"""

import csv
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cache
from pathlib import Path
from typing import Final

from demo_visits.scenario import STANDARD

DAY_ENDS: Final = time(9, 0, tzinfo=STANDARD)
FIRST_WETTING_MM: Final = 140.0  # taken up by dry cracked ground
REWETTING_MM: Final = 35.0  # taken up by ground that had fallen dry for weeks
TABLE: Final = Path(__file__).with_name("truth_daily.csv")


@dataclass(frozen=True)
class TruthDay:
    """One hydrological day, labelled by the date on which it ends; level_m is None when dry."""

    day: date
    rain_mm: float
    eto_mm: float
    pump_h: float
    pumped_megalitres: float
    level_m: float | None
    area_ha: float
    volume_megalitres: float
    evaporation_megalitres: float
    seepage_megalitres: float
    uptake_megalitres: float
    ec_us_cm: float | None


@dataclass(frozen=True)
class TruePeriod:
    """One period of the season as it was [ML, ha]; a level of None is dry ground."""

    name: str
    start: date
    end: date
    start_level_m: float | None
    end_level_m: float | None
    pumped: float
    rain: float
    run_off: float
    evaporation: float
    seepage: float
    uptake: float
    storage_change: float
    mean_area_ha: float


@dataclass(frozen=True)
class ExpectedPeriod:
    """What corrected readings and the supplied terrain should give [ML]; sd is one standard one."""

    name: str
    start: date
    end: date
    start_level_m: float | None
    end_level_m: float | None
    pumped: float
    rain: float
    evaporation: float
    storage_change: float
    residual: float
    residual_sd: float
    residual_mm_day: float
    residual_mm_day_sd: float


@dataclass(frozen=True)
class ExpectedSeason:
    """The season's line of the expected table [ML], and the shares of all inputs [percent]."""

    pumped: float
    metered: float
    estimated: float
    rain: float
    evaporation: float
    residual: float
    residual_sd: float
    residual_from_visits: float
    evaporation_from_visits: float
    rain_from_visits: float
    pumped_percent: float
    rain_percent: float
    evaporation_percent: float
    residual_percent: float


_P1: Final = ("P1", date(2023, 8, 5), date(2023, 8, 30))
_P2: Final = ("P2", date(2023, 8, 30), date(2023, 9, 26))
_P3: Final = ("P3", date(2023, 9, 26), date(2023, 10, 17))
_P4: Final = ("P4", date(2023, 10, 17), date(2023, 10, 24))
_P5: Final = ("P5", date(2023, 10, 24), date(2023, 11, 30))
_P6: Final = ("P6", date(2023, 11, 30), date(2024, 1, 11))
_P7: Final = ("P7", date(2024, 1, 11), date(2024, 2, 16))
_P8: Final = ("P8", date(2024, 2, 16), date(2024, 3, 30))

TRUE_PERIODS: Final = (
    TruePeriod(*_P1, None, 72.441, 274.82, 5.47, 0.09, 10.49, 12.44, 40.99, 216.5, 19.76),
    TruePeriod(*_P2, 72.441, 72.302, 0.0, 5.02, 0.00, 24.01, 19.81, 0.03, -38.8, 28.00),
    TruePeriod(*_P3, 72.302, 72.171, 0.0, 3.75, 0.05, 23.63, 13.92, 0.05, -33.8, 25.72),
    TruePeriod(*_P4, 72.171, 72.399, 70.46, 5.05, 0.15, 8.68, 4.86, 1.44, 60.7, 26.73),
    TruePeriod(*_P5, 72.399, 72.123, 0.0, 6.99, 0.12, 54.29, 24.89, 0.08, -72.1, 26.03),
    TruePeriod(*_P6, 72.123, 71.749, 0.0, 7.20, 0.35, 61.61, 20.75, 0.15, -75.0, 19.95),
    TruePeriod(*_P7, 71.749, 71.417, 0.0, 1.24, 0.00, 32.91, 10.82, 0.00, -42.5, 12.74),
    TruePeriod(*_P8, 71.417, None, 0.0, 0.62, 0.00, 11.08, 4.44, 0.00, -14.9, 4.56),
)
TRUE_SEASON: Final = TruePeriod(
    "season",
    date(2023, 8, 5),
    date(2024, 3, 30),
    None,
    None,
    pumped=345.28,
    rain=35.33,
    run_off=0.75,
    evaporation=226.70,
    seepage=111.93,
    uptake=42.74,
    storage_change=0.0,
    mean_area_ha=0.0,
)

EXPECTED_PERIODS: Final = (
    ExpectedPeriod(*_P1, None, 72.440, 274.82, 5.35, 10.26, 211.8, 58.1, 9.6, 12.0, 2.0),
    ExpectedPeriod(*_P2, 72.440, 72.300, 0.0, 4.99, 23.87, -39.0, 20.1, 3.9, 2.7, 0.5),
    ExpectedPeriod(*_P3, 72.300, 72.170, 0.0, 3.69, 23.24, -32.8, 13.2, 3.6, 2.5, 0.7),
    ExpectedPeriod(*_P4, 72.170, 72.400, 70.46, 5.02, 8.57, 60.3, 6.6, 4.0, 3.6, 2.2),
    ExpectedPeriod(*_P5, 72.400, 72.125, 0.0, 6.84, 53.48, -70.8, 24.2, 6.3, 2.5, 0.7),
    ExpectedPeriod(*_P6, 72.125, 71.750, 0.0, 6.94, 59.41, -72.6, 20.1, 6.6, 2.5, 0.8),
    ExpectedPeriod(*_P7, 71.750, 71.415, 0.0, 1.22, 32.36, -42.2, 11.0, 3.7, 2.5, 0.8),
    ExpectedPeriod(*_P8, 71.415, None, 0.0, 0.62, 11.03, -14.7, 4.3, 1.3, 2.2, 0.7),
)
EXPECTED_SEASON: Final = ExpectedSeason(
    pumped=345.28,
    metered=326.82,
    estimated=18.46,
    rain=34.67,
    evaporation=222.22,
    residual=157.7,
    residual_sd=24.0,
    residual_from_visits=157.7,
    evaporation_from_visits=222.3,
    rain_from_visits=34.7,
    pumped_percent=90.9,
    rain_percent=9.1,
    evaporation_percent=58.5,
    residual_percent=41.5,
)


@cache
def truth_days() -> tuple[TruthDay, ...]:
    """Return the true days from 5 August 2023 to 31 March 2024."""
    with TABLE.open(encoding="utf-8", newline="") as file:
        rows = csv.DictReader(line for line in file if not line.startswith("#"))
        return tuple(_day(row) for row in rows)


def _day(row: dict[str, str]) -> TruthDay:
    level, conductivity = row["level_m"], row["ec_us_cm"]
    return TruthDay(
        day=date.fromisoformat(row["day"]),
        rain_mm=float(row["rain_mm"]),
        eto_mm=float(row["eto_mm"]),
        pump_h=float(row["pump_h"]),
        pumped_megalitres=float(row["pumped_megalitres"]),
        level_m=None if level == "dry" else float(level),
        area_ha=float(row["area_ha"]),
        volume_megalitres=float(row["volume_megalitres"]),
        evaporation_megalitres=float(row["evaporation_megalitres"]),
        seepage_megalitres=float(row["seepage_megalitres"]),
        uptake_megalitres=float(row["uptake_megalitres"]),
        ec_us_cm=float(conductivity) if conductivity else None,
    )


@cache
def _wet_levels() -> dict[datetime, float]:
    """Return levels [m] by the end of their day; the last is the film that called the pool dry."""
    return {
        datetime.combine(row.day, DAY_ENDS): row.level_m
        for row in truth_days()
        if row.level_m is not None
    }


def level_at(moment: datetime) -> float | None:
    """Return the true level [m] at a moment, on straight lines between days; None when dry.

    The first level is that of 6 August 2023, 09:00 standard time; what the pool did in its first
    day is not in the table. It counts as dry from 30 March 2024, 09:00, when less than 0.005 ML lay.
    """
    levels = _wet_levels()
    first, last = min(levels), max(levels)
    if not first <= moment < last:
        return None
    local = moment.astimezone(STANDARD)
    start = datetime.combine(local.date(), DAY_ENDS)
    if start > local:
        start -= timedelta(days=1)
    share = (local - start) / timedelta(days=1)
    return levels[start] + share * (levels[start + timedelta(days=1)] - levels[start])
