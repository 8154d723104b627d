"""Physical constants and conversions, each with its source.

Inside the core a quantity is in metres, square metres, cubic metres, seconds or degrees Celsius
unless its name ends in another unit. ``_megalitres`` is always spelled out: ``_ml`` reads as
millilitres.
"""

from typing import Final

M3_PER_MEGALITRE: Final = 1000.0  # exact: 1 ML is 10**6 L
M3_PER_KILOLITRE: Final = 1.0  # exact
M2_PER_HECTARE: Final = 10_000.0  # exact
MM_PER_M: Final = 1000.0  # exact
SECONDS_PER_HOUR: Final = 3600.0  # exact
SECONDS_PER_DAY: Final = 86_400.0  # exact, leap seconds left out as UTC clocks on tablets do
HOURS_PER_DAY: Final = 24.0  # exact
KPA_PER_PSI: Final = 6.894757293  # NIST SP 811, from the exact inch and pound
M_PER_FOOT: Final = 0.3048  # exact, international foot
STANDARD_GRAVITY_M_S2: Final = 9.80665  # exact by definition (3rd CGPM, 1901)
PA_PER_KPA: Final = 1000.0  # exact
G_PER_KG: Final = 1000.0  # exact
ICE_POINT_K: Final = 273.15  # exact: 0 degrees Celsius (ITS-90)
STANDARD_ATMOSPHERE_KPA: Final = 101.325  # exact by definition (10th CGPM, 1954)

GRS80_SEMI_MAJOR_M: Final = 6_378_137.0  # exact by definition (IUGG 1979)
GRS80_INVERSE_FLATTENING: Final = 298.257222101  # Moritz, GRS80, J. Geodesy 2000
WGS84_INVERSE_FLATTENING: Final = 298.257223563  # NGA.STND.0036, same semi-major axis


def megalitres(volume_m3: float) -> float:
    """Return a volume [m3] in megalitres."""
    return volume_m3 / M3_PER_MEGALITRE


def hectares(area_m2: float) -> float:
    """Return an area [m2] in hectares."""
    return area_m2 / M2_PER_HECTARE
