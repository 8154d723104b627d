"""The weather of the invented season: rain and reference evaporation, one row a hydrological day.

A hydrological day runs from 09:00 to 09:00 standard time and carries the date on which it ends.
"""

import csv
import math
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path
from typing import Final

FIRST_DAY: Final = date(2023, 7, 1)
LAST_DAY: Final = date(2024, 3, 31)
WET_DAY_MM: Final = 2.0
WET_DAY_FACTOR: Final = 0.6
SWING: Final = 0.22
SWING_DAYS: Final = 9

# Invented month means of reference evaporation [mm/day].
MONTH_MEAN_ETO_MM: Final = {
    (2023, 7): 1.4,
    (2023, 8): 2.1,
    (2023, 9): 3.2,
    (2023, 10): 4.6,
    (2023, 11): 5.9,
    (2023, 12): 7.0,
    (2024, 1): 7.4,
    (2024, 2): 6.4,
    (2024, 3): 4.8,
}

# Invented rain [mm] by month and day on which it was read.
_RAIN_MM: Final = {
    (2023, 7): {3: 4.2, 9: 11.6, 17: 2.4, 26: 6.8},
    (2023, 8): {4: 8.0, 13: 3.6, 22: 14.2, 30: 5.0},
    (2023, 9): {7: 2.2, 15: 9.4, 24: 6.6},
    (2023, 10): {3: 12.8, 14: 1.6, 22: 18.4, 29: 3.0},
    (2023, 11): {8: 7.2, 19: 2.0, 27: 15.6},
    (2023, 12): {6: 4.4, 18: 9.8, 27: 1.2},
    (2024, 1): {5: 22.6, 16: 3.2, 28: 0.8},
    (2024, 2): {9: 6.0, 20: 5.4},
    (2024, 3): {4: 1.2, 15: 3.0},
}
RAIN_MM: Final = {
    date(year, month, day): rain_mm
    for (year, month), days in _RAIN_MM.items()
    for day, rain_mm in days.items()
}


@dataclass(frozen=True)
class WeatherDay:
    """Rain [mm] and reference evaporation [mm] of the 24 hours that end on this day at 09:00."""

    day: date
    rain_mm: float
    eto_mm: float


def eto_mm(day: date) -> float:
    """Return the reference evaporation [mm] of the day that ends on this date, to 0.1 mm."""
    number = (day - FIRST_DAY).days
    swing = 1.0 + SWING * math.sin(2.0 * math.pi * number / SWING_DAYS)
    wet = WET_DAY_FACTOR if RAIN_MM.get(day, 0.0) >= WET_DAY_MM else 1.0
    return round(MONTH_MEAN_ETO_MM[day.year, day.month] * swing * wet, 1)


def weather() -> tuple[WeatherDay, ...]:
    """Return every day from 1 July to 31 March."""
    count = (LAST_DAY - FIRST_DAY).days + 1
    days = (FIRST_DAY + timedelta(days=number) for number in range(count))
    return tuple(WeatherDay(day, RAIN_MM.get(day, 0.0), eto_mm(day)) for day in days)


def write_weather_csv(path: Path) -> None:
    """Write the season's weather as CSV: date, rain_mm, eto_mm."""
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(("date", "rain_mm", "eto_mm"))
        for row in weather():
            table.writerow((row.day.isoformat(), f"{row.rain_mm:.1f}", f"{row.eto_mm:.1f}"))
