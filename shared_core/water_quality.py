"""Electrical conductivity at 25 degC, dissolved oxygen, water density and the salt check.

Conductivity (EC) is in uS/cm, oxygen in mg/L, temperature in degrees Celsius, pressure in kPa.
What was measured is kept as measured by whoever calls; these functions only convert.
"""

import math
from dataclasses import dataclass
from typing import Final

from shared_core.errors import OutsideRangeError
from shared_core.units import (
    G_PER_KG,
    ICE_POINT_K,
    PA_PER_KPA,
    STANDARD_ATMOSPHERE_KPA,
    STANDARD_GRAVITY_M_S2,
)

EC_PER_DEGREE: Final = 0.02  # 1/degC, default of many instruments, common practice
EC_PER_DEGREE_STANDARD_METHODS: Final = 0.0191  # 1/degC, Standard Methods 2510 B (from memory)
SALT_RISE_LIMIT: Final = 0.10  # our own limit: salt cannot grow where no water came in

# ISO 7888:1985 correction table for natural waters, whole degrees 0 to 35, as printed in an
# instrument manual; another maker states it for 60 to 1000 uS/cm.
_ISO_7888: Final = (
    *(1.918, 1.857, 1.800, 1.745, 1.693, 1.643, 1.596, 1.551, 1.508, 1.467, 1.428, 1.390),
    *(1.354, 1.320, 1.287, 1.256, 1.225, 1.196, 1.168, 1.141, 1.116, 1.091, 1.067, 1.044),
    *(1.021, 1.000, 0.979, 0.959, 0.940, 0.921, 0.903, 0.886, 0.869, 0.853, 0.837, 0.822),
)


def ec_at_25(ec_us_cm: float, temperature_c: float, per_degree: float = EC_PER_DEGREE) -> float:
    """Return the EC [uS/cm] the water would show at 25 degC: EC / (1 + a (T - 25)).

    Not for a value the instrument has compensated already.

    Args:
        ec_us_cm: EC at the temperature of the water.
        temperature_c: Temperature of the water.
        per_degree: The coefficient a [1/degC].

    Raises:
        ValueError: EC not finite or below 0, or a coefficient that leaves nothing to divide by.
        OutsideRangeError: Temperature outside 0 to 50.
    """
    _within("water temperature", temperature_c, 0, 50, "degC")
    divisor = 1 + per_degree * (temperature_c - 25)
    if not divisor > 0:
        raise ValueError(f"a coefficient of {per_degree} per degree is no compensation")
    return _not_negative("EC", ec_us_cm) / divisor


def ec_at_25_natural(ec_us_cm: float, temperature_c: float) -> float:
    """Return the EC [uS/cm] at 25 degC by the factors of ISO 7888 for natural waters.

    Raises:
        ValueError: EC not finite or below 0.
        OutsideRangeError: Temperature outside the table, 0 to 35.
    """
    _within("water temperature", temperature_c, 0, 35, "degC")
    below = min(math.floor(temperature_c), len(_ISO_7888) - 2)
    low, high = _ISO_7888[below : below + 2]
    factor = low + (high - low) * (temperature_c - below)
    return _not_negative("EC", ec_us_cm) * factor


def oxygen_saturation_mg_l(
    temperature_c: float, air_kpa: float = STANDARD_ATMOSPHERE_KPA, salinity: float = 0.0
) -> float:
    """Return the oxygen [mg/L] of water in balance with moist air.

    Benson and Krause (1984) Limnol. Oceanogr. 29:620-632, eq. 32 for one atmosphere and eq. 24 for
    another pressure (equation numbers and vapour pressure form from memory), the form that USGS
    Office of Water Quality memorandum 2011.03 takes up.

    Args:
        temperature_c: Temperature of the water.
        air_kpa: Air pressure where the water is, not reduced to sea level.
        salinity: Practical salinity; fresh wetland water is below 1.

    Raises:
        OutsideRangeError: Outside 0 to 40 degC, 50 to 112 kPa, salinity 0 to 40.
    """
    _within("water temperature", temperature_c, 0, 40, "degC")
    _within("air pressure", air_kpa, 50, 112, "kPa")
    _within("salinity", salinity, 0, 40, "on the practical scale")
    kelvin = temperature_c + ICE_POINT_K
    fresh = -139.34411 + 1.575701e5 / kelvin - 6.642308e7 / kelvin**2
    fresh += 1.243800e10 / kelvin**3 - 8.621949e11 / kelvin**4
    salt = salinity * (1.7674e-2 - 10.754 / kelvin + 2140.7 / kelvin**2)
    return math.exp(fresh - salt) * _pressure_factor(temperature_c, air_kpa)


def oxygen_percent(
    oxygen_mg_l: float,
    temperature_c: float,
    air_kpa: float = STANDARD_ATMOSPHERE_KPA,
    salinity: float = 0.0,
) -> float:
    """Return measured oxygen in percent of saturation; arguments as `oxygen_saturation_mg_l`.

    Raises:
        ValueError: Oxygen not finite or below 0.
        OutsideRangeError: As `oxygen_saturation_mg_l`.
    """
    full = oxygen_saturation_mg_l(temperature_c, air_kpa, salinity)
    return 100 * _not_negative("oxygen", oxygen_mg_l) / full


def oxygen_mg_l(
    percent: float,
    temperature_c: float,
    air_kpa: float = STANDARD_ATMOSPHERE_KPA,
    salinity: float = 0.0,
) -> float:
    """Return oxygen [mg/L] from percent of saturation; the reverse of `oxygen_percent`.

    Raises:
        ValueError: Percent not finite or below 0.
        OutsideRangeError: As `oxygen_saturation_mg_l`.
    """
    full = oxygen_saturation_mg_l(temperature_c, air_kpa, salinity)
    return _not_negative("percent of saturation", percent) / 100 * full


def water_density(temperature_c: float) -> float:
    """Return the density [kg/m3] of pure water without air at one atmosphere.

    Tanaka et al. (2001) Metrologia 38:301-309, eq. 1 (equation number from memory).

    Raises:
        OutsideRangeError: Temperature outside 0 to 40.
    """
    _within("water temperature", temperature_c, 0, 40, "degC")
    bend = (temperature_c - 3.983035) ** 2 * (temperature_c + 301.797)
    return 999.974950 * (1 - bend / (522528.9 * (temperature_c + 69.34881)))


def water_above_sensor_m(
    gauge_kpa: float, temperature_c: float, gravity_m_s2: float = STANDARD_GRAVITY_M_S2
) -> float:
    """Return the height of water [m] over a pressure sensor, p / (density x gravity).

    Args:
        gauge_kpa: Pressure above that of the air: absolute less barometric.
        temperature_c: Mean temperature of the water column.
        gravity_m_s2: Gravity; the local one is up to 0.3 % less than the standard one.

    Raises:
        ValueError: A pressure that is not finite, or gravity not above 0.
        OutsideRangeError: Temperature outside 0 to 40.
    """
    if not (math.isfinite(gauge_kpa) and gravity_m_s2 > 0):
        raise ValueError(f"pressure {gauge_kpa} kPa and gravity {gravity_m_s2} give no depth")
    return gauge_kpa * PA_PER_KPA / (water_density(temperature_c) * gravity_m_s2)


def salt_load(ec25_us_cm: float, volume_m3: float) -> float:
    """Return EC at 25 degC times volume [uS/cm m3], which stands for the salt in the water.

    Raises:
        ValueError: A value not finite or below 0.
    """
    return _not_negative("EC", ec25_us_cm) * _not_negative("volume", volume_m3)


def salt_mass_kg(ec25_us_cm: float, volume_m3: float, mg_l_per_us_cm: float) -> float:
    """Return the mass of dissolved salt [kg].

    Args:
        ec25_us_cm: EC at 25 degC.
        volume_m3: Volume of the water.
        mg_l_per_us_cm: Dissolved solids for each unit of EC. It runs from 0.5 to 0.71 with the
            salt assumed (calibration standards), so it has no default: keep it with the result.

    Raises:
        ValueError: A value not finite or below 0.
    """
    factor = _not_negative("salt factor", mg_l_per_us_cm)
    return factor * salt_load(ec25_us_cm, volume_m3) / G_PER_KG  # mg/L is g/m3


@dataclass(frozen=True)
class SaltCheck:
    """Salt later over salt before; it leaves with seepage and outflow, never by evaporation.

    Attributes:
        ratio: Salt later over salt before with what came in.
        contradiction: It rose by more than the limit: a volume, an EC or an inflow is wrong.
    """

    ratio: float
    contradiction: bool

    @property
    def fraction_seeped(self) -> float:
        """Part of the salt, so of the water at its concentration, that left; below 0 if it rose."""
        return 1 - self.ratio


def check_salt(
    load_before: float,
    load_after: float,
    load_in: float = 0.0,
    rise_limit: float = SALT_RISE_LIMIT,
) -> SaltCheck:
    """Compare the salt load at two times: fraction seeped = 1 - M2 / M1 (conservation of mass).

    Args:
        load_before: Salt load of the first time, from `salt_load`.
        load_after: The same of the second time.
        load_in: Salt load of all water that came in between (pumped, rain, run-off).
        rise_limit: Rise that is taken for error of measurement.

    Raises:
        ValueError: A load not finite or below 0, or no salt before.
    """
    start = _not_negative("salt before", load_before) + _not_negative("salt in", load_in)
    if start == 0:
        raise ValueError("without salt before there is nothing to compare with")
    ratio = _not_negative("salt after", load_after) / start
    return SaltCheck(ratio, contradiction=ratio > 1 + rise_limit)


def _pressure_factor(temperature_c: float, air_kpa: float) -> float:
    air = air_kpa / STANDARD_ATMOSPHERE_KPA
    kelvin = temperature_c + ICE_POINT_K
    vapour = math.exp(11.8571 - 3840.70 / kelvin - 216_961 / kelvin**2)  # atm
    theta = 0.000975 - 1.426e-5 * temperature_c + 6.436e-8 * temperature_c**2
    return (air - vapour) * (1 - theta * air) / ((1 - vapour) * (1 - theta))


def _within(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise OutsideRangeError(f"{what} {value} is outside {low} to {high} {unit}")


def _not_negative(what: str, value: float) -> float:
    if not (math.isfinite(value) and value >= 0):
        raise ValueError(f"{what} {value}: a finite number of 0 or more is needed")
    return value
