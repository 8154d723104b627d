"""Reference and open-water evaporation; equation numbers are those of FAO-56.

FAO-56 is Allen, Pereira, Raes, Smith (1998), "Crop evapotranspiration", FAO Irrigation and
Drainage Paper 56. Radiation is in MJ/m2 a day, vapour pressure in kPa, temperature in degrees
Celsius, wind in m/s, water in mm a day (the units of that paper).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Final

from shared_core.errors import OutsideRangeError, UnreadableError

ALBEDO_GRASS: Final = 0.23  # FAO-56 eq. 38
ALBEDO_WATER: Final = 0.08  # McMahon et al. (2013) HESS 17:1331-1363, supplement S19
KC_OPEN_WATER: Final = 1.05  # FAO-56 Table 12, under 2 m deep or subhumid climate
PAN_FACTOR: Final = 0.7  # class A pan to open water, common practice 0.67 to 0.7
HARGREAVES_INLAND: Final = 0.16  # FAO-56 eq. 50, away from the coast
HARGREAVES_COAST: Final = 0.19  # FAO-56 eq. 50, near the coast
WIND_UNKNOWN_M_S: Final = 2.0  # FAO-56 chapter 3, mean of many stations
SD_DAILY: Final = 0.10  # relative sd of open-water evaporation from daily weather, common practice
SD_MONTHLY: Final = 0.20  # the same from a monthly table, common practice
LIMIT_LATITUDE_DEG: Final = 66.5  # beyond the polar circles some days have no sunset or no sun

_SOLAR_CONSTANT = 0.0820  # MJ/m2 a minute, FAO-56 eq. 21
_STEFAN_BOLTZMANN = 4.903e-9  # MJ/K4/m2 a day, FAO-56 eq. 39
_PER_LATENT_HEAT = 0.408  # kg/MJ, 1 over 2.45 MJ/kg, FAO-56 eq. 20
_POSSIBLE: Final[Mapping[str, tuple[float, float]]] = {  # our own limits: outside is a slip
    "tmax_c": (-50, 60),
    "tmin_c": (-50, 60),
    "rh_max_percent": (0, 105),
    "rh_min_percent": (0, 105),
    "rh_mean_percent": (0, 105),
    "vapour_pressure_kpa": (0, 10),
    "wind_m_s": (0, 60),
    "wind_height_m": (0.5, 100),
    "sunshine_hours": (0, 24),
    "solar_mj_m2": (0, 50),
}


def pressure_kpa(elevation_m: float) -> float:
    """Return the mean air pressure [kPa] at an elevation [m], eq. 7."""
    return 101.3 * math.pow((293 - 0.0065 * elevation_m) / 293, 5.26)


def psychrometric_constant(air_kpa: float) -> float:
    """Return the psychrometric constant [kPa/degC] at an air pressure [kPa], eq. 8."""
    return 0.665e-3 * air_kpa


def saturation_kpa(temperature_c: float) -> float:
    """Return the saturation vapour pressure [kPa], eq. 11; of a dew point it is eq. 14."""
    return 0.6108 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))


def mean_saturation_kpa(tmax_c: float, tmin_c: float) -> float:
    """Return the day's mean saturation vapour pressure [kPa] from its extremes, eq. 12."""
    return (saturation_kpa(tmax_c) + saturation_kpa(tmin_c)) / 2


def saturation_slope(temperature_c: float) -> float:
    """Return the slope of the saturation vapour pressure curve [kPa/degC], eq. 13."""
    return 4098 * saturation_kpa(temperature_c) / (temperature_c + 237.3) ** 2


def vapour_kpa_wet_bulb(
    dry_c: float, wet_c: float, air_kpa: float, instrument: float = 0.000662
) -> float:
    """Return the vapour pressure [kPa] from dry and wet bulb, eq. 15, 16; instrument [1/degC]."""
    return saturation_kpa(wet_c) - instrument * air_kpa * (dry_c - wet_c)


def vapour_kpa_extremes(
    tmax_c: float, tmin_c: float, rh_max_percent: float, rh_min_percent: float
) -> float:
    """Return the vapour pressure [kPa] from the extremes of humidity, eq. 17."""
    at_dawn = saturation_kpa(tmin_c) * rh_max_percent / 100
    at_noon = saturation_kpa(tmax_c) * rh_min_percent / 100
    return (at_dawn + at_noon) / 2


def vapour_kpa_mean(tmax_c: float, tmin_c: float, rh_mean_percent: float) -> float:
    """Return the vapour pressure [kPa] from the mean humidity, eq. 19."""
    return mean_saturation_kpa(tmax_c, tmin_c) * rh_mean_percent / 100


def sun_distance_factor(day_of_year: int) -> float:
    """Return the inverse relative distance to the sun, eq. 23."""
    return 1 + 0.033 * math.cos(2 * math.pi * day_of_year / 365)


def sun_declination(day_of_year: int) -> float:
    """Return the declination of the sun [rad], eq. 24."""
    return 0.409 * math.sin(2 * math.pi * day_of_year / 365 - 1.39)


def sunset_angle(latitude_deg: float, day_of_year: int) -> float:
    """Return the hour angle of sunset [rad], eq. 25 with eq. 22; 0 or pi when there is none."""
    height = -math.tan(math.radians(latitude_deg)) * math.tan(sun_declination(day_of_year))
    return math.acos(max(-1.0, min(1.0, height)))


def extraterrestrial_radiation(latitude_deg: float, day_of_year: int) -> float:
    """Return the solar radiation [MJ/m2/day] above the air, eq. 21."""
    sunset = sunset_angle(latitude_deg, day_of_year)
    latitude, declination = math.radians(latitude_deg), sun_declination(day_of_year)
    high = sunset * math.sin(latitude) * math.sin(declination)
    level = math.cos(latitude) * math.cos(declination) * math.sin(sunset)
    return 24 * 60 / math.pi * _SOLAR_CONSTANT * sun_distance_factor(day_of_year) * (high + level)


def daylight_hours(latitude_deg: float, day_of_year: int) -> float:
    """Return the daylight hours, eq. 34."""
    return 24 / math.pi * sunset_angle(latitude_deg, day_of_year)


def solar_from_sunshine(
    sunshine_hours: float, possible_hours: float, above_air: float, a: float = 0.25, b: float = 0.5
) -> float:
    """Return the solar radiation [MJ/m2/day] from sunshine, eq. 35 with its constants a and b."""
    return (a + b * sunshine_hours / possible_hours) * above_air


def solar_from_temperatures(
    tmax_c: float, tmin_c: float, above_air: float, factor: float = HARGREAVES_INLAND
) -> float:
    """Return the solar radiation [MJ/m2/day] from the temperature range, eq. 50 (Hargreaves)."""
    return factor * math.sqrt(tmax_c - tmin_c) * above_air


def clear_sky_radiation(above_air: float, elevation_m: float) -> float:
    """Return the solar radiation [MJ/m2/day] of a cloudless day, eq. 37."""
    return (0.75 + 2e-5 * elevation_m) * above_air


def net_short_wave(solar: float, albedo: float = ALBEDO_GRASS) -> float:
    """Return the solar radiation [MJ/m2/day] that stays, eq. 38."""
    return (1 - albedo) * solar


def net_long_wave(
    tmax_c: float, tmin_c: float, vapour_kpa: float, solar: float, clear_sky: float
) -> float:
    """Return the net outgoing long-wave radiation [MJ/m2/day], eq. 39; solar at most clear sky."""
    emitted = ((tmax_c + 273.16) ** 4 + (tmin_c + 273.16) ** 4) / 2 * _STEFAN_BOLTZMANN
    moisture = 0.34 - 0.14 * math.sqrt(vapour_kpa)
    cloud = 1.35 * min(solar / clear_sky, 1.0) - 0.35
    return emitted * moisture * cloud


def monthly_heat_flux(mean_c: float, mean_month_before_c: float) -> float:
    """Return the soil heat flux [MJ/m2/day] of a month, eq. 44; of a day it is 0, eq. 42."""
    return 0.14 * (mean_c - mean_month_before_c)


def wind_at_2_m(wind_m_s: float, height_m: float) -> float:
    """Return the wind [m/s] at 2 m from that at another height, eq. 47.

    Raises:
        ValueError: Height so low that the logarithm has no meaning.
    """
    if not height_m >= 0.5:
        raise ValueError(f"wind height {height_m} m is too low, 0.5 m or more is needed")
    return wind_m_s * 4.87 / math.log(67.8 * height_m - 5.42)


def penman_monteith(
    mean_c: float, wind_2m: float, deficit_kpa: float, net: float, air_kpa: float, flux: float = 0.0
) -> float:
    """Return the reference evaporation [mm/day], eq. 6.

    Wind at 2 m [m/s]; deficit is saturation less actual vapour pressure; net radiation and soil
    heat flux in MJ/m2 a day.
    """
    slope, gamma = saturation_slope(mean_c), psychrometric_constant(air_kpa)
    by_radiation = _PER_LATENT_HEAT * slope * (net - flux)
    by_wind = gamma * 900 / (mean_c + 273) * wind_2m * deficit_kpa
    return (by_radiation + by_wind) / (slope + gamma * (1 + 0.34 * wind_2m))


def penman_open_water_rate(
    mean_c: float, wind_2m: float, deficit_kpa: float, net: float, air_kpa: float
) -> float:
    """Return the evaporation [mm/day] of open water; arguments as `penman_monteith`.

    Penman in the form of Shuttleworth (1993), Handbook of Hydrology chapter 4 (from memory), with
    the wind function 6.43 (1 + 0.536 u2); latent heat as FAO-56 Annex 3. No heat is stored.
    """
    slope, gamma = saturation_slope(mean_c), psychrometric_constant(air_kpa)
    latent_heat = 2.501 - 2.361e-3 * mean_c
    by_wind = gamma * 6.43 * (1 + 0.536 * wind_2m) * deficit_kpa
    return (slope * net + by_wind) / (slope + gamma) / latent_heat


def open_water(measure_mm: float, factor: float = KC_OPEN_WATER) -> float:
    """Return open-water evaporation [mm] from the reference (eq. 58) or, PAN_FACTOR, from a pan."""
    return factor * measure_mm


def class_a_pan_coefficient(wind_2m: float, rh_percent: float, fetch_m: float) -> float:
    """Return reference over pan evaporation, class A pan amid green, FAO-56 Table 7.

    Raises:
        ValueError: Humidity or fetch not above 0.
    """
    fetch, humidity = math.log(fetch_m), math.log(rh_percent)
    dry = 0.108 - 0.0286 * wind_2m + 0.0422 * fetch
    return dry + 0.1434 * humidity - 0.000631 * fetch**2 * humidity


@dataclass(frozen=True)
class WeatherDay:
    """The weather of one day as far as it was measured; what is None was not.

    Raises:
        UnreadableError: A value no weather has, or a highest temperature below the lowest.
    """

    day: date
    tmax_c: float | None = None
    tmin_c: float | None = None
    rh_max_percent: float | None = None
    rh_min_percent: float | None = None
    rh_mean_percent: float | None = None
    vapour_pressure_kpa: float | None = None
    wind_m_s: float | None = None
    wind_height_m: float = 2.0
    sunshine_hours: float | None = None
    solar_mj_m2: float | None = None

    def __post_init__(self) -> None:
        for name, (low, high) in _POSSIBLE.items():
            value = getattr(self, name)
            if value is not None and not low <= value <= high:
                raise UnreadableError(f"{name} {value} on {self.day}: {low} to {high} is possible")
        if self.tmax_c is not None and self.tmin_c is not None and self.tmax_c < self.tmin_c:
            raise UnreadableError(
                f"{self.day}: highest {self.tmax_c} is below lowest {self.tmin_c}"
            )


@dataclass(frozen=True)
class MonthlyTable:
    """Mean evaporation [mm/day] of each month, January first; a date has its month's value.

    Raises:
        ValueError: Not twelve values from 0 to 30 mm a day.
    """

    mm_per_day: tuple[float, ...]

    def __post_init__(self) -> None:
        if len(self.mm_per_day) != 12 or not all(0 <= mm <= 30 for mm in self.mm_per_day):
            raise ValueError("twelve values from 0 to 30 mm a day are needed, January first")

    def on(self, day: date) -> float:
        """Return the evaporation [mm] of a day."""
        return self.mm_per_day[day.month - 1]

    def between(self, first: date, last: date) -> float:
        """Return the evaporation [mm] of the days from the first, without the last."""
        return sum(self.on(first + timedelta(days)) for days in range((last - first).days))


@dataclass(frozen=True)
class DayEvaporation:
    """Evaporation of a day [mm], never below 0, and which inputs were estimated, not measured."""

    reference_mm: float  # grass, eq. 6
    penman_open_water_mm: float  # open water, for comparison with a factor times the reference
    estimated: tuple[str, ...]


def reference_evaporation(
    weather: WeatherDay,
    latitude_deg: float,
    elevation_m: float,
    *,
    dew_below_tmin_c: float = 0.0,
    hargreaves: float = HARGREAVES_INLAND,
) -> DayEvaporation:
    """Return the evaporation of a day, missing inputs estimated as in FAO-56 chapter 3.

    Args:
        weather: What was measured; both temperatures are needed.
        latitude_deg: Latitude, south negative.
        elevation_m: Height above sea level.
        dew_below_tmin_c: How far the dew point lies below the lowest temperature where humidity
            is missing (eq. 48); 2 in arid places (FAO-56 Annex 6).
        hargreaves: Factor of eq. 50 where radiation is missing.

    Raises:
        UnreadableError: No temperatures, or more radiation than reaches the top of the air.
        OutsideRangeError: Beyond the polar circles.
    """
    tmax, tmin = weather.tmax_c, weather.tmin_c
    if tmax is None or tmin is None:
        raise UnreadableError(f"{weather.day} needs both its highest and its lowest temperature")
    if not abs(latitude_deg) <= LIMIT_LATITUDE_DEG:
        raise OutsideRangeError(f"latitude {latitude_deg} is beyond {LIMIT_LATITUDE_DEG} degrees")
    estimated: list[str] = []
    vapour = _vapour_kpa(weather, tmax, tmin)
    if vapour is None:
        vapour = saturation_kpa(tmin - dew_below_tmin_c)
        estimated.append("humidity from the lowest temperature (FAO-56 eq. 48)")
    above_air = extraterrestrial_radiation(latitude_deg, weather.day.timetuple().tm_yday)
    clear_sky = clear_sky_radiation(above_air, elevation_m)
    solar = _solar(weather, latitude_deg, above_air)
    if solar is None:  # never more than a clear day gives: our own limit
        solar = min(solar_from_temperatures(tmax, tmin, above_air, hargreaves), clear_sky)
        estimated.append("radiation from the temperature range (FAO-56 eq. 50)")
    wind = WIND_UNKNOWN_M_S
    if weather.wind_m_s is not None:
        wind = wind_at_2_m(weather.wind_m_s, weather.wind_height_m)
    else:
        estimated.append("wind taken as 2 m/s (FAO-56 chapter 3)")
    deficit = max(mean_saturation_kpa(tmax, tmin) - vapour, 0.0)
    lost = net_long_wave(tmax, tmin, vapour, solar, clear_sky)
    grass = net_short_wave(solar) - lost  # eq. 40
    water = net_short_wave(solar, ALBEDO_WATER) - lost
    mean, air = (tmax + tmin) / 2, pressure_kpa(elevation_m)
    return DayEvaporation(
        max(penman_monteith(mean, wind, deficit, grass, air), 0.0),
        max(penman_open_water_rate(mean, wind, deficit, water, air), 0.0),
        tuple(estimated),
    )


def _vapour_kpa(weather: WeatherDay, tmax_c: float, tmin_c: float) -> float | None:
    if weather.vapour_pressure_kpa is not None:
        return weather.vapour_pressure_kpa
    highest, lowest = weather.rh_max_percent, weather.rh_min_percent
    if highest is not None and lowest is not None:
        return vapour_kpa_extremes(tmax_c, tmin_c, highest, lowest)
    if highest is not None:
        return saturation_kpa(tmin_c) * highest / 100  # eq. 18
    if weather.rh_mean_percent is not None:
        return vapour_kpa_mean(tmax_c, tmin_c, weather.rh_mean_percent)
    return None


def _solar(weather: WeatherDay, latitude_deg: float, above_air: float) -> float | None:
    if weather.solar_mj_m2 is not None:
        if weather.solar_mj_m2 > above_air:
            raise UnreadableError(f"solar_mj_m2 {weather.solar_mj_m2}: at most {above_air:.1f}")
        return weather.solar_mj_m2
    if weather.sunshine_hours is None:
        return None
    possible = daylight_hours(latitude_deg, weather.day.timetuple().tm_yday)
    return solar_from_sunshine(min(weather.sunshine_hours, possible), possible, above_air)
