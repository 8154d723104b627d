"""Constants and conversions against their definitions (check ids unit.all, w.head)."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core import units


def test_one_megalitre_is_a_million_litres() -> None:
    litres_per_m3 = 1000  # SI brochure: 1 L = 1 dm3
    assert units.M3_PER_MEGALITRE * litres_per_m3 == 1e6
    assert units.M3_PER_KILOLITRE * litres_per_m3 == 1e3


def test_a_millimetre_on_a_hectare_is_ten_cubic_metres() -> None:
    # unit.all: mm_on_1ha_m3 = 10, mm_on_1ha_ML = 0.01
    volume_m3 = units.M2_PER_HECTARE / units.MM_PER_M
    assert volume_m3 == 10
    assert units.megalitres(volume_m3) == 0.01


def test_a_megalitre_a_day_is_11_57_litres_a_second() -> None:
    # check id unit.all
    litres_per_second = units.M3_PER_MEGALITRE * 1000 / units.SECONDS_PER_DAY
    assert litres_per_second == pytest.approx(11.574074, abs=5e-7)


def test_a_day_has_its_hours() -> None:
    assert units.SECONDS_PER_HOUR * units.HOURS_PER_DAY == units.SECONDS_PER_DAY


def test_a_pound_per_square_inch_follows_from_foot_and_pound() -> None:
    # unit.all: psi_kPa = 6.894757293; exact from the pound 0.45359237 kg and the inch 0.0254 m
    pound_force = Fraction("0.45359237") * Fraction("9.80665")
    exact_kpa = pound_force / Fraction("0.0254") ** 2 / 1000
    assert pytest.approx(float(exact_kpa), abs=5e-10) == units.KPA_PER_PSI
    assert float(12 * Fraction("0.0254")) == units.M_PER_FOOT
    assert units.STANDARD_GRAVITY_M_S2 == 9.80665


def test_the_ellipsoids_have_their_published_polar_axes() -> None:
    # GRS80 b = 6356752.3141 m (Moritz 2000), WGS84 b = 6356752.3142 m (NGA.STND.0036)
    grs80 = units.GRS80_SEMI_MAJOR_M * (1 - 1 / units.GRS80_INVERSE_FLATTENING)
    wgs84 = units.GRS80_SEMI_MAJOR_M * (1 - 1 / units.WGS84_INVERSE_FLATTENING)
    assert grs80 == pytest.approx(6356752.3141, abs=5e-5)
    assert wgs84 == pytest.approx(6356752.3142, abs=6e-5)


def test_the_standard_atmosphere_is_14_696_pounds_per_square_inch() -> None:
    # NIST SP 811: 101.325 kPa; 14.695949 psi
    pounds_per_square_inch = units.STANDARD_ATMOSPHERE_KPA / units.KPA_PER_PSI
    assert pounds_per_square_inch == pytest.approx(14.695949, abs=5e-7)
    assert units.STANDARD_ATMOSPHERE_KPA * units.PA_PER_KPA == 101_325
    assert units.ICE_POINT_K == 273.15
    assert units.G_PER_KG == 1000


@given(st.floats(0, 1e9))
def test_depth_times_area_is_volume_in_any_unit(area_m2: float) -> None:
    depth_mm = 100.0
    volume_m3 = depth_mm / units.MM_PER_M * area_m2
    assert units.megalitres(volume_m3) == pytest.approx(
        depth_mm * units.hectares(area_m2) / 100, rel=1e-12
    )
