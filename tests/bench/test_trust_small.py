"""The trust benchmark in small: a few seasons, limits so wide that only a break misses them."""

import pytest

from tests.bench.counting import Share, merged, share_figure, wilson
from tests.bench.figure import Figure
from tests.bench.season_maker import BUILDING, season
from tests.bench.season_shape import bowl
from tests.bench.trust import SMALL, measured
from tests.bench.trust_knocks import KnockTally

# Figure: least and most that a few seasons may give.
WIDE = {
    "true gauge readings inside the 95 % window": (85.0, 99.9),
    "half-width of the window, holding or falling, 7-14 days: median": (10.0, 40.0),
    "one-metre, unit and wrong-gauge slips that leave the window, caught": (97.0, 100.0),
    "0.1 m misreads and digit swaps while holding or falling, caught": (80.0, 100.0),
    "right value suggested, of the slips caught": (75.0, 100.0),
    "true readings that draw a question": (0.0, 5.0),
    "meter: unit ten times too large or small, caught": (95.0, 100.0),
    "meter: digit swap over 30 % of the expected volume, caught": (90.0, 100.0),
    "gauge knocked by 30 mm or more, two wet: found and dated to the visit interval": (60.0, 100.0),
    "walks: stated 95 % interval of area covers the truth": (80.0, 100.0),
    "walks: error against the best possible with a known error model": (0.6, 1.5),
    "balance: stated 95 % interval of the season's residual covers the truth": (70.0, 100.0),
}


@pytest.fixture(scope="module")
def few() -> dict[str, Figure]:
    return {each.figure: each for each in measured(SMALL, BUILDING)}


@pytest.mark.parametrize("name", WIDE)
def test_a_few_seasons_come_out_inside_wide_limits(few: dict[str, Figure], name: str) -> None:
    low, high = WIDE[name]
    value = few[name].value
    assert value is not None, few[name].why
    assert low <= value <= high, few[name]


def test_no_true_meter_reading_is_refused(few: dict[str, Figure]) -> None:
    for name in ("rollover falsely refused", "reading after a log gap falsely refused"):
        assert few[f"meter: {name}"].value in (None, 0.0)


def test_a_season_is_its_seed() -> None:
    one, again, other = season(BUILDING), season(BUILDING), season(BUILDING + 1)
    assert one.looks == again.looks
    assert one.looks != other.looks


def test_no_water_is_made_or_lost_in_a_season() -> None:
    one = season(BUILDING)
    days = len(one.sky.rain_mm)
    held_m3 = float(one.water.volume_m3[-1])
    gone_m3 = one.water.pumped_by(days) - one.water.bed_took_by(days) - held_m3
    # What is left went up, less the rain: between nothing and all that open water can lose.
    most_m3 = float(one.sky.water_loss_mm.sum()) / 1000 * float(one.water.bowl.area_m2.max())
    assert -most_m3 / 10 < gone_m3 < most_m3


def test_the_supplied_model_is_near_the_ground_but_not_the_ground() -> None:
    import numpy as np

    shape = bowl(np.random.default_rng(3))
    top_m, _, volume_m3 = shape.rating[-1]
    assert shape.volume_at(top_m) == pytest.approx(volume_m3, rel=0.2)
    assert shape.volume_at(top_m) != pytest.approx(volume_m3, rel=1e-6)


def test_the_interval_of_a_share_is_wilsons() -> None:
    # 8 of 10: 0.490 to 0.943 (Wilson 1927, worked by hand).
    assert wilson(8, 10) == pytest.approx((0.490, 0.943), abs=0.001)


def test_a_share_holds_only_between_the_ends_of_its_goal() -> None:
    assert share_figure("x", Share(95, 100), None, (93.0, 97.0)).holds is True
    assert share_figure("x", Share(980, 1000), None, (93.0, 97.0)).holds is False
    assert share_figure("x", Share(50, 100), None, (93.0, 97.0)).holds is False
    assert share_figure("x", Share(98, 100), None, (93.0, 97.0)).holds is None  # too few to tell
    assert share_figure("x", Share(0, 0), None, (93.0, 97.0)).holds is None


def test_tallies_are_joined_field_by_field() -> None:
    one = KnockTally(dated=(Share(1, 2), Share(0, 2)), missed=["a"])
    both = merged(one, KnockTally(dated=(Share(3, 4), Share(1, 4)), missed=["b"]))
    assert both.dated == (Share(4, 6), Share(1, 6))
    assert both.missed == ["a", "b"]
