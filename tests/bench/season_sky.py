"""Random weather: what open water lost and what fell, day by day, and what people knew of it.

Invented, in the ranges of inland south-eastern Australia. The uncertainties are those that the
trade gives for each instrument; none was chosen by what a check makes of it.
"""

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt

Array = npt.NDArray[np.float64]

# Winter 1 to 2, summer 6 to 9 mm/day (from memory); day 0 is 1 July.
WINTER_MM: Final = 1.5
DAY_TO_DAY: Final = 0.22  # spread of single days about the season's line (from memory)
DAY_MEMORY: Final = 0.5  # of it that the next day keeps (from memory)
RAINY_DAY: Final = 0.6  # of the evaporation of a dry one (from memory)
# Daily weather is good to 10 % (from memory): most of it the factor of the season and the distance
# of the station, some of it the day.
SEASON_SD: Final = 0.085
DAY_SD: Final = 0.15
MONTH_SD: Final = 0.06  # it drifts from month to month by this (from memory)
OPEN_WATER: Final = 1.05  # FAO-56 Table 12
CATCH_SD: Final = 0.08  # rain gauge, wind and distance (from memory)
YEAR_SD: Final = 0.12  # a month of one year beside the mean of many (from memory)


@dataclass(frozen=True)
class Sky:
    """Truth and knowledge by day, day 0 being the one that ends 09:00 on 1 July."""

    water_loss_mm: Array  # true open-water evaporation
    rain_mm: Array  # true
    reference_mm: Array  # as the station's file has it
    gauge_mm: Array  # as the rain gauge shows it
    monthly_mm: tuple[float, ...]  # the long-term table, January first


def sky(rng: np.random.Generator, days: int) -> Sky:
    """Return a random season's weather."""
    rain = _rain(rng, days)
    summer_mm = rng.uniform(6.0, 8.5)
    turn = 0.5 * (1 - np.cos(2 * math.pi * (np.arange(days) - 10) / 365.0))
    line = WINTER_MM + (summer_mm - WINTER_MM) * turn
    months = np.array([_month(day) for day in range(days)])
    of_year = np.exp(rng.normal(0.0, YEAR_SD, 12))
    noise = np.zeros(days)
    for day in range(1, days):
        noise[day] = DAY_MEMORY * noise[day - 1] + rng.normal(
            0.0, DAY_TO_DAY * math.sqrt(1 - DAY_MEMORY**2)
        )
    wet = np.where(rain >= 2.0, RAINY_DAY, 1.0)
    reference = line * of_year[months] * np.exp(noise) * wet
    off = math.exp(rng.normal(0.0, SEASON_SD))
    off_month = np.exp(rng.normal(0.0, MONTH_SD, 12))[months]
    off_day = np.exp(rng.normal(0.0, DAY_SD, days))
    loss = OPEN_WATER * reference * off * off_month * off_day
    catch = max(0.6, rng.normal(1.0, CATCH_SD))
    read = np.where(rain > 0, np.round(rain * catch * rng.normal(1.0, 0.03, days) / 0.2) * 0.2, 0.0)
    monthly = tuple(
        round(float(line[months == m].mean() * wet.mean()), 1) if (months == m).any() else 2.0
        for m in range(12)
    )
    shown = np.asarray(np.round(np.maximum(read, 0.0), 1), dtype=np.float64)
    return Sky(loss, rain, np.round(reference, 1), shown, monthly)


def _month(day: int) -> int:
    """Return the month of a day, January being 0; months of equal length are near enough."""
    return (6 + int(day // 30.42)) % 12


def _rain(rng: np.random.Generator, days: int) -> Array:
    """Return rain as a Poisson cluster: storms by chance, each some cells over one to four days."""
    rain = np.zeros(days)
    for start in np.nonzero(rng.random(days) < rng.uniform(0.06, 0.16))[0]:
        for _ in range(1 + rng.poisson(1.5)):
            day = int(start + rng.integers(0, 4))
            if day < days:
                rain[day] += rng.exponential(4.0)
    return rain
