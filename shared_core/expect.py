"""What the level should be now: the water budget since the last good reading, as a window.

While nothing is pumped a pool falls by what evaporates and seeps and rises by its rain, whatever
its shape; while it fills, volume goes through the rating and dry ground drinks first. Every term
carries its own uncertainty, so the window widens with what is not known.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from shared_core.rating import Rating
from shared_core.units import MM_PER_M

COVERAGE_95: Final = 1.96  # normal distribution, 95 % both sides
_UNIFORM: Final = 1 / math.sqrt(12)  # standard deviation of a value anywhere in a range of one
SEEPAGE_MM_DAY: Final = 2.25  # middle of 0.5 to 4 mm/day for clay (from memory)
SEEPAGE_SD_MM_DAY: Final = 3.5 * _UNIFORM  # anywhere in 0.5 to 4 mm/day
# Dry cracking clay drinks about 300 mm where it is cracked to 1 m (Roberts, Young & Marston 2000,
# Estimating the Water Requirements for Plants of Floodplain Wetlands); wet ground nothing.
UPTAKE_MM: Final = 150.0
UPTAKE_SD_MM: Final = 300.0 * _UNIFORM
READING_SD_M: Final = 0.005  # a calm reading (from memory)
PLAIN_SD_MM: Final = 10.0  # band where little is known: common practice
PLAIN_SD_MM_PER_DAY: Final = 3.0  # the same
PLAIN_LOSS_MM_DAY: Final = 4.5  # evaporation where no table is known, inland (from memory)
_NOTHING_PUMPED_M3: Final = 1.0
_ROUNDS: Final = 40  # halvings of the rating's range: far below a tenth of a millimetre


@dataclass(frozen=True, kw_only=True)
class Start:
    """The last good level [m] with its uncertainty (1 sd); a level of None is dry ground."""

    level_m: float | None
    sd_m: float = READING_SD_M


@dataclass(frozen=True, kw_only=True)
class Weather:
    """What open water lost and what fell over some days; None where evaporation is not known."""

    days: float
    evaporation_mm: float | None = None
    evaporation_sd_mm: float = 0.0
    rain_mm: float = 0.0
    rain_sd_mm: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Volume:
    """Water that came in [m3], with its uncertainty (1 sd), and what may have come unrecorded."""

    m3: float = 0.0
    sd_m3: float = 0.0
    possible_m3: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Bed:
    """What the ground is thought to take before the site's own figures are known."""

    seepage_mm_day: float = SEEPAGE_MM_DAY
    seepage_sd_mm_day: float = SEEPAGE_SD_MM_DAY
    uptake_mm: float = UPTAKE_MM
    uptake_sd_mm: float = UPTAKE_SD_MM
    wetted_to_m: float | None = None  # ground below this level has drunk already


@dataclass(frozen=True, kw_only=True)
class Window:
    """Where the next reading should lie: middle, 1 sd, and the ends of the 95 % window [m]."""

    level_m: float
    sd_m: float
    low_m: float
    high_m: float
    plain: bool = False  # little was known: the plain band
    parts_m: Mapping[str, float] = field(default_factory=dict)  # 1 sd by origin
    reach_m: float = 0.0  # how much higher pumping that nobody has recorded could have brought it

    @property
    def half_width_m(self) -> float:
        return COVERAGE_95 * self.sd_m

    def misses_by_m(self, level_m: float) -> float:
        """Return how far a level lies above (+) or below what is expected [m].

        Nothing while it is no higher than unrecorded pumping can account for.
        """
        above_m = level_m - self.level_m
        return above_m if above_m <= 0 else max(0.0, above_m - self.reach_m)

    def beyond(self, level_m: float, sds: float = COVERAGE_95) -> bool:
        """Tell whether a level misses what is expected by more than so many standard deviations."""
        return abs(self.misses_by_m(level_m)) > sds * self.sd_m


NOTHING_PUMPED: Final = Volume()
USUAL_BED: Final = Bed()


def expected_level(
    start: Start,
    weather: Weather,
    pumped: Volume = NOTHING_PUMPED,
    *,
    rating: Rating | None = None,
    rating_fraction: float = 0.03,
    bed: Bed = USUAL_BED,
    reading_sd_m: float = READING_SD_M,
) -> Window | None:
    """Return the window in which a reading should lie some days after the last good level.

    Args:
        start: The last good level, or dry ground.
        weather: Days since then, open-water evaporation and rain of that time.
        pumped: What was pumped in since then, and what may have been.
        rating: Level, area and volume of the pool; needed once something was pumped.
        rating_fraction: Uncertainty (1 sd) of a change in storage, as a share of it.
        bed: Seepage and first wetting.
        reading_sd_m: Uncertainty (1 sd) of the reading that is to come.

    Returns:
        The window, or None where nothing can be said: water was pumped, or the ground was dry, and
        there is no rating.
    """
    if weather.evaporation_mm is None:
        window = expected_level(
            start,
            _plain(weather),
            pumped,
            rating=rating,
            rating_fraction=rating_fraction,
            bed=bed,
            reading_sd_m=reading_sd_m,
        )
        return window and replace(window, plain=True)
    if pumped.possible_m3 > _NOTHING_PUMPED_M3:
        recorded = replace(pumped, possible_m3=0.0)
        window = expected_level(
            start,
            weather,
            recorded,
            rating=rating,
            rating_fraction=rating_fraction,
            bed=bed,
            reading_sd_m=reading_sd_m,
        )
        return window and _reaching(window, start, weather, pumped, rating)
    filling = pumped.m3 > _NOTHING_PUMPED_M3 or pumped.sd_m3 > _NOTHING_PUMPED_M3
    if start.level_m is not None and not filling:
        return _falling(start, start.level_m, weather, bed, reading_sd_m, rating)
    if rating is None or (start.level_m is not None and not rating.contains(start.level_m)):
        return None
    budget = _Budget(start, weather, pumped, rating, bed)
    return _filling(budget, rating_fraction, reading_sd_m)


def _reaching(
    window: Window, start: Start, weather: Weather, pumped: Volume, rating: Rating | None
) -> Window:
    """Return a window that allows for all that may have been pumped unrecorded, none of it lost."""
    reach_m = math.inf
    if rating is not None and (start.level_m is None or rating.contains(start.level_m)):
        most = Volume(m3=pumped.m3 + pumped.possible_m3)
        tight = Bed(seepage_mm_day=0.0, uptake_mm=0.0)
        highest_m = _Budget(start, weather, most, rating, tight).solved_m()
        reach_m = max(0.0, highest_m - window.level_m)
    return replace(window, reach_m=reach_m, high_m=window.high_m + reach_m)


def plain_sd_m(days: float) -> float:
    """Return the half-known band sqrt(10^2 + (3 mm x days)^2) as a standard deviation [m]."""
    return math.hypot(PLAIN_SD_MM, PLAIN_SD_MM_PER_DAY * days) / MM_PER_M


def _plain(weather: Weather) -> Weather:
    """Return the weather with a loss of common size and the plain band for its uncertainty."""
    return Weather(
        days=weather.days,
        evaporation_mm=PLAIN_LOSS_MM_DAY * weather.days,
        evaporation_sd_mm=plain_sd_m(weather.days) * MM_PER_M,
        rain_mm=weather.rain_mm,
        rain_sd_mm=weather.rain_sd_mm,
    )


def _window(level_m: float, parts_m: dict[str, float], lowest_m: float | None) -> Window:
    sd_m = math.hypot(*parts_m.values())
    low_m, high_m = level_m - COVERAGE_95 * sd_m, level_m + COVERAGE_95 * sd_m
    if lowest_m is not None:
        level_m, low_m, high_m = (max(value, lowest_m) for value in (level_m, low_m, high_m))
    return Window(level_m=level_m, sd_m=sd_m, low_m=low_m, high_m=high_m, parts_m=parts_m)


def _falling(
    start: Start,
    level_m: float,
    weather: Weather,
    bed: Bed,
    reading_sd_m: float,
    rating: Rating | None,
) -> Window:
    evaporation_mm = weather.evaporation_mm or 0.0
    net_mm = weather.rain_mm - evaporation_mm - bed.seepage_mm_day * weather.days
    parts_m = {
        "start": start.sd_m,
        "reading": reading_sd_m,
        "evaporation": weather.evaporation_sd_mm / MM_PER_M,
        "seepage": bed.seepage_sd_mm_day * weather.days / MM_PER_M,
        "rain": weather.rain_sd_mm / MM_PER_M,
    }
    lowest_m = rating.lowest_m if rating is not None and rating.starts_dry else None
    return _window(level_m + net_mm / MM_PER_M, parts_m, lowest_m)


@dataclass(frozen=True)
class _Budget:
    """V(L) + uptake of new ground + losses = V(start) + pumped + rain, to be solved for L."""

    start: Start
    weather: Weather
    pumped: Volume
    rating: Rating
    bed: Bed

    @property
    def start_m(self) -> float:
        return self.rating.lowest_m if self.start.level_m is None else self.start.level_m

    def mean_area_m2(self, level_m: float) -> float:
        return (self.rating.area_at(self.start_m) + self.rating.area_at(level_m)) / 2

    def new_area_m2(self, level_m: float) -> float:
        """Return the ground under water at a level [m] that has not drunk before [m2]."""
        wet_m = max(self.start_m, min(self.bed.wetted_to_m or self.start_m, self.rating.highest_m))
        return max(0.0, self.rating.area_at(level_m) - self.rating.area_at(wet_m))

    def excess_m3(self, level_m: float) -> float:
        """Return how much more water a level [m] would need than there was [m3]."""
        loss_mm = (self.weather.evaporation_mm or 0.0) - self.weather.rain_mm
        loss_mm += self.bed.seepage_mm_day * self.weather.days
        needed_m3 = self.rating.volume_at(level_m) - self.rating.volume_at(self.start_m)
        needed_m3 += self.bed.uptake_mm / MM_PER_M * self.new_area_m2(level_m)
        return needed_m3 + loss_mm / MM_PER_M * self.mean_area_m2(level_m) - self.pumped.m3

    def solved_m(self) -> float:
        low_m, high_m = self.rating.lowest_m, self.rating.highest_m
        if self.excess_m3(high_m) < 0:  # beyond the survey: as if its shore were a wall
            return high_m - self.excess_m3(high_m) / self.rating.area_at(high_m)
        for _ in range(_ROUNDS):
            middle_m = (low_m + high_m) / 2
            if self.excess_m3(middle_m) < 0:
                low_m = middle_m
            else:
                high_m = middle_m
        return high_m

    def slope_m2(self, level_m: float) -> float:
        """Return the water that one more metre of level would take [m3/m]."""
        step_m = 0.01
        low_m = max(self.rating.lowest_m, level_m - step_m)
        high_m = min(self.rating.highest_m, level_m + step_m)
        return max(1.0, (self.excess_m3(high_m) - self.excess_m3(low_m)) / (high_m - low_m))


def _filling(budget: _Budget, rating_fraction: float, reading_sd_m: float) -> Window:
    level_m = budget.solved_m()
    rating, weather, bed = budget.rating, budget.weather, budget.bed
    inside_m = min(level_m, rating.highest_m)
    slope_m2 = budget.slope_m2(inside_m)
    area_m2 = budget.mean_area_m2(inside_m)
    change_m3 = rating.volume_at(inside_m) - rating.volume_at(budget.start_m)
    volumes_m3 = {
        "start": budget.start.sd_m * rating.area_at(budget.start_m),
        "evaporation": weather.evaporation_sd_mm / MM_PER_M * area_m2,
        "seepage": bed.seepage_sd_mm_day * weather.days / MM_PER_M * area_m2,
        "rain": weather.rain_sd_mm / MM_PER_M * area_m2,
        "pumped": budget.pumped.sd_m3,
        "first wetting": bed.uptake_sd_mm / MM_PER_M * budget.new_area_m2(inside_m),
        "rating": rating_fraction * abs(change_m3),
    }
    parts_m = {name: volume_m3 / slope_m2 for name, volume_m3 in volumes_m3.items()}
    parts_m["reading"] = reading_sd_m
    return _window(level_m, parts_m, rating.lowest_m if rating.starts_dry else None)
