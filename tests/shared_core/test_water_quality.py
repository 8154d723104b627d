"""Published tables and gsw (TEOS-10 library) as judges (check ids w.*)."""

import math

import gsw
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core import water_quality as wq
from shared_core.errors import OutsideRangeError
from shared_core.units import KPA_PER_PSI, M_PER_FOOT

OXYGEN_MG_PER_UMOL = 31.9988e-3  # molar mass of O2, IUPAC


@pytest.mark.parametrize(
    ("ec", "temperature_c", "by_0191", "by_02"),
    [
        (500, 15, 618.047, 625.0),
        (1000, 20, 1105.583, 1111.111),
        (1400, 30, 1277.955, 1272.727),
        (2000, 10, 2803.083, 2857.143),
    ],
)
def test_linear_compensation(ec: float, temperature_c: float, by_0191: float, by_02: float) -> None:
    # w.ec25
    standard = wq.EC_PER_DEGREE_STANDARD_METHODS
    assert wq.ec_at_25(ec, temperature_c, standard) == pytest.approx(by_0191, abs=0.001)
    assert wq.ec_at_25(ec, temperature_c) == pytest.approx(by_02, abs=0.001)


@pytest.mark.parametrize(
    ("temperature_c", "factor"),
    [(0, 1.918), (5, 1.643), (10, 1.428), (20, 1.116), (25, 1.0), (30, 0.903), (35, 0.822)],
)
def test_natural_water_compensation_is_the_table_of_iso_7888(
    temperature_c: float, factor: float
) -> None:
    # w.iso7888
    assert wq.ec_at_25_natural(1000, temperature_c) == pytest.approx(1000 * factor, abs=1e-9)


def test_between_whole_degrees_the_table_is_joined_by_lines() -> None:
    assert wq.ec_at_25_natural(1000, 20.5) == pytest.approx((1116 + 1091) / 2)
    assert wq.ec_at_25_natural(1000, 34.9) == pytest.approx(837 - 0.9 * 15)


def test_the_two_compensations_differ_by_two_percent_in_the_cold() -> None:
    # w.iso7888, note: 1.9 % higher at 10 degC, 1.1 % lower at 30 degC, against 0.0191
    def ratio(temperature_c: float) -> float:
        linear = wq.ec_at_25(700, temperature_c, wq.EC_PER_DEGREE_STANDARD_METHODS)
        return wq.ec_at_25_natural(700, temperature_c) / linear - 1

    assert ratio(10) == pytest.approx(0.019, abs=0.0005)
    assert ratio(20) == pytest.approx(0.009, abs=0.0005)
    assert ratio(30) == pytest.approx(-0.011, abs=0.0005)


@given(st.floats(0, 1e5))
def test_at_25_degrees_nothing_is_compensated(ec: float) -> None:
    assert wq.ec_at_25(ec, 25) == ec
    assert wq.ec_at_25_natural(ec, 25) == ec


@given(st.floats(0, 34), st.floats(0.1, 1))
def test_colder_water_is_raised_more(temperature_c: float, warmer: float) -> None:
    for convert in (wq.ec_at_25, wq.ec_at_25_natural):
        assert convert(500, temperature_c) > convert(500, temperature_c + warmer)


@pytest.mark.parametrize("temperature_c", [-0.1, 50.1, math.nan])
def test_ec_of_impossible_water_has_no_answer(temperature_c: float) -> None:
    with pytest.raises(OutsideRangeError, match="0 to 50 degC"):
        wq.ec_at_25(500, temperature_c)
    with pytest.raises(OutsideRangeError, match="0 to 35 degC"):
        wq.ec_at_25_natural(500, temperature_c)


def test_a_coefficient_that_swallows_everything_is_refused() -> None:
    with pytest.raises(ValueError, match="no compensation"):
        wq.ec_at_25(500, 0, 0.04)


@pytest.mark.parametrize("salinity", [0.0, 0.7, 5.0, 35.0])
def test_oxygen_at_one_atmosphere_agrees_with_gsw(salinity: float) -> None:
    # gsw: Garcia and Gordon (1992) on the data of Benson and Krause, umol/kg; within 0.1 %
    for temperature_c in range(0, 41, 2):
        per_kg = gsw.O2sol_SP_pt(salinity, temperature_c) * OXYGEN_MG_PER_UMOL
        kg_per_litre = gsw.rho(gsw.SR_from_SP(salinity), temperature_c, 0) / 1000
        assert wq.oxygen_saturation_mg_l(temperature_c, salinity=salinity) == pytest.approx(
            float(per_kg * kg_per_litre), rel=0.001
        )


@pytest.mark.parametrize(
    ("temperature_c", "mg_l"), [(0, 14.621), (10, 11.288), (20, 9.092), (25, 8.263), (30, 7.559)]
)
def test_oxygen_of_fresh_water_matches_the_printed_table(temperature_c: float, mg_l: float) -> None:
    # Standard Methods 4500-O table of solubility at 101.3 kPa (from memory)
    assert wq.oxygen_saturation_mg_l(temperature_c) == pytest.approx(mg_l, abs=0.001)


@pytest.mark.parametrize("temperature_c", [5.0, 20.0, 35.0])
def test_oxygen_follows_the_air_less_the_vapour(temperature_c: float) -> None:
    # Dalton and Henry: the ratio is (p - vapour) / (1 atm - vapour); theta is far below 0.1 %.
    # Vapour pressure by Magnus as in FAO-56 eq. 11
    vapour = 0.6108 * math.exp(17.27 * temperature_c / (temperature_c + 237.3))
    ratio = wq.oxygen_saturation_mg_l(temperature_c, 85.0)
    ratio /= wq.oxygen_saturation_mg_l(temperature_c)
    assert ratio == pytest.approx((85.0 - vapour) / (101.325 - vapour), rel=0.001)


@given(st.floats(0, 40), st.floats(55, 110), st.floats(0, 20))
def test_percent_and_milligrams_are_each_others_reverse(
    temperature_c: float, air_kpa: float, oxygen: float
) -> None:
    percent = wq.oxygen_percent(oxygen, temperature_c, air_kpa)
    assert wq.oxygen_mg_l(percent, temperature_c, air_kpa) == pytest.approx(oxygen)


def test_saturated_water_is_a_hundred_percent() -> None:
    full = wq.oxygen_saturation_mg_l(18, 100.4, 0.5)
    assert wq.oxygen_percent(full, 18, 100.4, 0.5) == pytest.approx(100)
    assert wq.oxygen_percent(full / 2, 18, 100.4, 0.5) == pytest.approx(50)


@pytest.mark.parametrize(
    ("temperature_c", "air_kpa", "salinity", "says"),
    [
        (41, 101.3, 0, "temperature"),
        (20, 1013, 0, "air pressure"),
        (20, math.nan, 0, "air pressure"),
        (20, 101.3, -1, "salinity"),
    ],
)
def test_oxygen_outside_its_range_has_no_answer(
    temperature_c: float, air_kpa: float, salinity: float, says: str
) -> None:
    with pytest.raises(OutsideRangeError, match=says):
        wq.oxygen_saturation_mg_l(temperature_c, air_kpa, salinity)


def test_density_of_pure_water() -> None:
    # w.rho: Tanaka et al. (2001) as recomputed, and IAPWS-95 within 0.0015
    temperatures = (0, 4, 5, 10, 15, 20, 25, 30, 35, 40)
    tanaka = (
        *(999.8428, 999.9749, 999.9668, 999.7027, 999.1026),
        *(998.2067, 997.0470, 995.6488, 994.0326, 992.2152),
    )
    iapws = (
        *(999.8431, 999.9749, 999.9666, 999.7025, 999.1026),
        *(998.2072, 997.0476, 995.6495, 994.0333, 992.2164),
    )
    found = [wq.water_density(temperature_c) for temperature_c in temperatures]
    assert found == pytest.approx(tanaka, abs=0.00006)
    assert found == pytest.approx(iapws, abs=0.0015)


def test_a_kilopascal_is_about_ten_centimetres_of_water() -> None:
    # w.head
    assert wq.water_above_sensor_m(1, 5) == pytest.approx(0.101975, abs=1e-6)
    assert wq.water_above_sensor_m(1, 15) == pytest.approx(0.102064, abs=1e-6)
    assert wq.water_above_sensor_m(1, 25) == pytest.approx(0.102274, abs=1e-6)
    feet = wq.water_above_sensor_m(KPA_PER_PSI, 20) / M_PER_FOOT
    assert feet == pytest.approx(2.3108, abs=1e-4)


def test_the_air_is_taken_off_an_absolute_pressure() -> None:
    # w.head, example: 111.35 kPa absolute, 101.12 kPa barometric, 15 degC
    assert wq.water_above_sensor_m(111.35 - 101.12, 15) == pytest.approx(1.04411, abs=1e-5)


def test_local_gravity_adds_a_millimetre_a_metre() -> None:
    # w.head, note: 9.797084 m/s2 at 34.7 south (gsw)
    local = float(gsw.grav(-34.7, 0))
    more = wq.water_above_sensor_m(10, 15, local) / wq.water_above_sensor_m(10, 15)
    assert more - 1 == pytest.approx(0.001, abs=0.0001)


@pytest.mark.parametrize(("kpa", "gravity"), [(math.nan, 9.8), (1, 0), (1, math.nan)])
def test_no_pressure_or_no_gravity_gives_no_depth(kpa: float, gravity: float) -> None:
    with pytest.raises(ValueError, match="no depth"):
        wq.water_above_sensor_m(kpa, 15, gravity)


def test_the_salt_of_the_invented_season_left_by_seepage() -> None:
    # invented season: 143 uS/cm x 216 ML on 30 Aug, 1127 uS/cm x 14.9 ML on 16 Feb
    before, after = wq.salt_load(143, 216_000), wq.salt_load(1127, 14_900)
    assert before == pytest.approx(30_888_000)
    check = wq.check_salt(before, after)
    assert not check.contradiction
    assert check.fraction_seeped == pytest.approx(1 - 16_792.3 / 30_888, abs=1e-6)


def test_salt_that_grows_by_more_than_a_tenth_is_a_contradiction() -> None:
    # our own limit of 10 %
    assert not wq.check_salt(100, 110).contradiction
    grown = wq.check_salt(100, 111)
    assert grown.contradiction
    assert grown.fraction_seeped == pytest.approx(-0.11)


def test_salt_that_came_in_is_no_contradiction() -> None:
    assert wq.check_salt(100, 150).contradiction
    assert not wq.check_salt(100, 150, load_in=60).contradiction


@given(st.floats(1, 1e5), st.floats(1, 1e6), st.floats(0, 0.99))
def test_evaporation_leaves_the_salt_load_as_it_was(
    ec: float, volume_m3: float, evaporated: float
) -> None:
    left = 1 - evaporated
    check = wq.check_salt(wq.salt_load(ec, volume_m3), wq.salt_load(ec / left, volume_m3 * left))
    assert check.fraction_seeped == pytest.approx(0, abs=1e-9)


def test_salt_mass_needs_its_factor() -> None:
    # w.tds.std: standard of 1413 uS/cm at 25 degC holds 744.7 mg/L of KCl, factor 0.527
    assert wq.salt_mass_kg(1413, 1, 744.7 / 1413) == pytest.approx(0.7447)
    assert wq.salt_mass_kg(1000, 1000, 0.55) == pytest.approx(550)  # w.tds, regional factor


@pytest.mark.parametrize("bad", [math.nan, math.inf, -1.0])
def test_numbers_that_are_none_are_refused(bad: float) -> None:
    for attempt in (
        lambda: wq.ec_at_25(bad, 20),
        lambda: wq.ec_at_25_natural(bad, 20),
        lambda: wq.oxygen_percent(bad, 20),
        lambda: wq.oxygen_mg_l(bad, 20),
        lambda: wq.salt_load(bad, 1),
        lambda: wq.salt_load(1, bad),
        lambda: wq.salt_mass_kg(1, 1, bad),
        lambda: wq.check_salt(bad, 1),
        lambda: wq.check_salt(1, bad),
        lambda: wq.check_salt(1, 1, bad),
    ):
        with pytest.raises(ValueError, match="a finite number of 0 or more"):
            attempt()


def test_nothing_can_be_compared_with_no_salt() -> None:
    with pytest.raises(ValueError, match="nothing to compare"):
        wq.check_salt(0, 5)
