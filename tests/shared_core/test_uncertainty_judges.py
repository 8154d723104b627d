"""Propagation against the GUM's examples, the uncertainties library and Monte Carlo."""

import math
from collections.abc import Callable

import numpy as np
import pytest
import uncertainties
from hypothesis import given
from hypothesis import strategies as st
from uncertainties import umath

from shared_core import uncertainty as unc
from shared_core.uncertainty import Source, Uncertain, independent, scaled, total

NUMBERS = st.floats(-1e3, 1e3)
SDS = st.floats(0.01, 100)

# Invented season, eight periods: pumped, rain, evaporation, storage change [ML], area at the end
# of each [m2]. The first starts dry and the last ends dry.
PERIODS = (
    (274.82, 5.35, 10.26, 211.8, 291_000),
    (0.0, 4.99, 23.87, -39.0, 265_000),
    (0.0, 3.69, 23.24, -32.8, 239_000),
    (70.46, 5.02, 8.57, 60.3, 284_000),
    (0.0, 6.84, 53.48, -70.8, 230_000),
    (0.0, 6.94, 59.41, -72.6, 159_000),
    (0.0, 1.22, 32.36, -42.2, 89_000),
    (0.0, 0.62, 11.03, -14.7, 0),
)
LEVEL_SD_M = 0.007


def residual(period: int) -> Uncertain:
    """Pumped + rain - evaporation - storage change of a period, 2.5, 8, 10 and 3 %, levels 7 mm."""
    pumped, rain, evaporation, stored, _ = PERIODS[period]
    storage = scaled("rating table", stored, 0.03)
    for end, sign in ((period, 1), (period - 1, -1)):
        area_m2 = PERIODS[end][4] if end >= 0 else 0
        storage += sign * independent(f"level {end}", 0, LEVEL_SD_M * area_m2 / 1000)
    return (
        scaled("meter", pumped, 0.025)
        + scaled("rain gauge", rain, 0.08)
        - scaled("evaporation factor", evaporation, 0.10)
        - storage
    )


def test_the_residual_of_a_period_has_the_uncertainty_worked_by_hand() -> None:
    # invented season, expected: 20.1 +- 3.9, 13.2 +- 3.6, 24.2 +- 6.3, 20.1 +- 6.6, 11.0 +- 3.7
    expected = {1: (20.1, 3.9), 2: (13.2, 3.6), 4: (24.2, 6.3), 5: (20.1, 6.6), 6: (11.0, 3.7)}
    for period, (megalitres, sd) in expected.items():
        found = residual(period)
        assert found.value == pytest.approx(megalitres, abs=0.1)
        assert found.sd == pytest.approx(sd, abs=0.06)


def test_the_season_adds_shared_errors_straight() -> None:
    # invented season: 157.7 +- 24 ML; as if independent it would be 15 ML
    periods = [residual(period) for period in range(8)]
    season = total(periods)
    assert season.value == pytest.approx(157.7, abs=0.1)
    assert season.sd == pytest.approx(24, abs=0.5)
    assert math.hypot(*(period.sd for period in periods)) == pytest.approx(15, abs=0.7)
    assert abs(season.parts["evaporation factor"]) == pytest.approx(22.2, abs=0.03)
    assert abs(season.parts["rain gauge"]) == pytest.approx(2.8, abs=0.03)
    # the level between two periods and the table at both ends of the season cancel
    assert not any(name.startswith("level") for name in season.parts)
    assert abs(season.parts.get("rating table", 0)) < 0.01


def test_the_largest_contribution_comes_first_and_shares_make_one() -> None:
    season = total(residual(period) for period in range(8))
    listed = season.contributions()
    assert [one.name for one in listed][:3] == ["evaporation factor", "meter", "rain gauge"]
    assert [one.sd for one in listed] == sorted((one.sd for one in listed), reverse=True)
    assert sum(one.share for one in listed) == pytest.approx(1)


def test_contributions_can_be_listed_by_group() -> None:
    period = residual(2)
    grouped = {one.name: one for one in period.contributions(lambda name: name.split()[0])}
    levels = math.hypot(period.parts["level 1"], period.parts["level 2"])
    assert grouped["level"].sd == pytest.approx(levels)
    assert sum(one.share for one in grouped.values()) == pytest.approx(1)


def test_the_balance_agrees_with_monte_carlo() -> None:
    # volume from a rating V = s h^e with one scale error at both ends, meter and evaporation shared
    scale = Source("rating scale", 0.05, "bias of the terrain model")
    meter = Source("meter 1", 0.025, shared="pump meter")
    again = Source("meter 1 in spring", 0.025, shared="pump meter")
    start = independent("level at start", 0.60, 0.007)
    end = independent("level at end", 1.10, 0.007)

    def volume(level: float) -> float:
        return float(120.0 * level**1.8)

    found = (
        meter.factor() * 80
        + again.factor() * 40
        - scaled("evaporation", 30.0, 0.1)
        - scale.factor() * (unc.through(volume, end) - unc.through(volume, start))
    )
    draw = np.random.default_rng(1)
    size = 400_000
    m, e, s, a, b = draw.standard_normal((5, size))
    stored = (1 + 0.05 * s) * 120 * ((1.10 + 0.007 * b) ** 1.8 - (0.60 + 0.007 * a) ** 1.8)
    drawn = 120 * (1 + 0.025 * m) - 30 * (1 + 0.1 * e) - stored
    assert found.value == pytest.approx(float(np.mean(drawn)), abs=0.05)
    assert found.sd == pytest.approx(float(np.std(drawn)), rel=0.01)
    low, high = found.interval()
    assert np.mean((drawn > low) & (drawn < high)) == pytest.approx(0.95, abs=0.005)


GAUGE_BLOCK_NM = 50_000_623


def gauge_block(*inputs: float) -> float:
    """GUM eq. H.2 multiplied out: length of an end gauge by comparison with a standard."""
    standard, difference, d_alpha, theta, alpha, d_theta = inputs
    return standard + difference - standard * (d_alpha * theta + alpha * d_theta)


def test_gum_example_h1_end_gauge() -> None:
    # unc.h1: GUM H.1, 50 000 838 nm, uc 32 nm , effective degrees of freedom 16.7
    inputs = (
        independent("standard", GAUGE_BLOCK_NM, 25),
        independent("comparator", 215, 5.8)
        + independent("comparator random", 0, 3.9)
        + independent("comparator systematic", 0, 6.7),
        independent("difference of expansion", 0, 0.58e-6),
        independent("bed temperature", -0.1, 0.41),
        independent("expansion", 11.5e-6, 1.2e-6),
        independent("difference of temperature", 0, 0.029),
    )
    found = unc.through(gauge_block, *inputs)
    assert found.value == pytest.approx(50_000_838, abs=0.5)
    assert found.sd == pytest.approx(32, abs=0.5)
    # unrounded: 25, 9.68, 2.90 and 16.68; GUM prints 16.6 for the last, which makes 31.66
    assert found.sd == pytest.approx(math.hypot(25, 5.8, 3.9, 6.7, 2.90, 16.675), abs=0.001)
    freedom = {
        "standard": 18.0,
        "comparator": 24.0,
        "comparator random": 5.0,
        "comparator systematic": 8.0,
        "difference of expansion": 50.0,
        "difference of temperature": 2.0,
    }
    assert unc.effective_freedom(found, freedom) == pytest.approx(16.7, abs=0.1)
    plain = unc.propagate(
        gauge_block,
        [GAUGE_BLOCK_NM, 215, 0, -0.1, 11.5e-6, 0],
        [25, 9.7, 0.58e-6, 0.41, 1.2e-6, 0.029],
    )
    assert plain.sd == pytest.approx(math.hypot(25, 9.7, 2.90, 16.675), abs=0.001)
    assert plain.contributions()[0].name == "input 1"


def test_gum_example_h2_resistance_and_reactance() -> None:
    # unc.h2: GUM H.2 from the raw readings of its Table H.2
    readings = np.array(
        [
            [5.007, 4.994, 5.005, 4.990, 4.999],
            [19.663e-3, 19.639e-3, 19.640e-3, 19.685e-3, 19.678e-3],
            [1.0456, 1.0438, 1.0468, 1.0428, 1.0433],
        ]
    )
    means = [float(mean) for mean in readings.mean(axis=1)]
    sds = [float(sd) for sd in readings.std(axis=1, ddof=1) / math.sqrt(5)]
    matrix = [[float(r) for r in row] for row in np.corrcoef(readings)]
    v, i, phi = unc.correlated(["V", "I", "phi"], means, sds, matrix)
    assert [unc.correlation(v, i), unc.correlation(v, phi), unc.correlation(i, phi)] == (
        pytest.approx([-0.36, 0.86, -0.65], abs=0.006)
    )
    resistance = unc.through(lambda v, i, phi: v / i * math.cos(phi), v, i, phi)
    reactance = unc.through(lambda v, i, phi: v / i * math.sin(phi), v, i, phi)
    impedance = v / i
    for found, value, sd in (
        (resistance, 127.732, 0.071),
        (reactance, 219.847, 0.295),
        (impedance, 254.260, 0.236),
    ):
        assert found.value == pytest.approx(value, abs=0.0006)
        assert found.sd == pytest.approx(sd, abs=0.0006)
    assert unc.correlation(resistance, reactance) == pytest.approx(-0.588, abs=0.0006)
    assert unc.correlation(resistance, impedance) == pytest.approx(-0.485, abs=0.0006)
    assert unc.correlation(reactance, impedance) == pytest.approx(0.993, abs=0.0006)
    assert unc.covariance(resistance, reactance) == pytest.approx(-0.588 * 0.071 * 0.295, rel=0.01)
    direct = unc.propagate(lambda v, i, phi: v / i * math.cos(phi), means, sds, matrix)
    assert direct.sd == pytest.approx(resistance.sd)
    # the trap: without the correlations u(R) would be 0.194
    apart = unc.propagate(lambda v, i, phi: v / i * math.cos(phi), means, sds)
    assert apart.sd == pytest.approx(0.194, abs=0.001)


OPERATIONS: dict[str, Callable[..., object]] = {
    "add": lambda a, b: a + b,
    "subtract": lambda a, b: a - b,
    "multiply": lambda a, b: a * b,
    "divide": lambda a, b: a / (b * b + 3),
    "from a number": lambda a, b: 5 - a + 2 / (1 + b * b),
    "shared": lambda a, b: a * (a - b) + 7 * b - -a,
}


@given(
    name=st.sampled_from(sorted(OPERATIONS)),
    values=st.tuples(NUMBERS, NUMBERS),
    parts=st.tuples(SDS, SDS, SDS),
)
def test_arithmetic_agrees_with_the_uncertainties_library(
    name: str, values: tuple[float, float], parts: tuple[float, float, float]
) -> None:
    own, other, shared = parts
    ours = OPERATIONS[name](
        Uncertain(values[0], {"a": own, "s": shared}),
        Uncertain(values[1], {"b": other, "s": shared}),
    )
    common = uncertainties.ufloat(0, shared)
    judged = OPERATIONS[name](
        uncertainties.ufloat(values[0], own) + common,
        uncertainties.ufloat(values[1], other) + common,
    )
    assert isinstance(ours, Uncertain)
    assert isinstance(judged, uncertainties.UFloat)
    assert ours.value == pytest.approx(judged.nominal_value, rel=1e-9, abs=1e-9)
    assert ours.sd == pytest.approx(judged.std_dev, rel=1e-9, abs=1e-9)


@given(x=st.floats(0.5, 20), y=st.floats(-2, 2), sds=st.tuples(SDS, SDS))
def test_small_steps_agree_with_the_uncertainties_library(
    x: float, y: float, sds: tuple[float, float]
) -> None:
    a, b = uncertainties.ufloat(x, sds[0] / 1000), uncertainties.ufloat(y, sds[1] / 1000)
    judged = umath.exp(b) * umath.log(a) + a * b
    found = unc.through(
        lambda a, b: math.exp(b) * math.log(a) + a * b,
        Uncertain(x, {"x": sds[0] / 1000}),
        Uncertain(y, {"y": sds[1] / 1000}),
        step_sds=0.01,
    )
    assert found.sd == pytest.approx(judged.std_dev, rel=2e-3, abs=1e-8)
