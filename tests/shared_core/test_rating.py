"""Ratings against published equations, exact solids, quadrature and an independent interpolation.

Ids such as dav.hvdk.ex are those of the project's list of check values.
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad
from scipy.interpolate import interp1d

from shared_core.errors import OutsideRangeError, UnreadableError
from shared_core.rating import (
    ONE_WALK_FRACTION,
    PowerForm,
    Rating,
    Row,
    fit_one,
    fit_two,
    from_walks,
    power_form,
)

# Levels, hectares and megalitres of the invented demo wetland (its ground as surveyed).
LANTERN_ROWS = """
71.10 0.00 0.0, 71.15 1.77 0.5, 71.20 3.15 1.7, 71.50 10.89 23.2, 72.00 20.48 102.4,
72.40 28.42 200.3, 72.60 31.93 260.7"""
LANTERN = Rating.from_rows(
    (float(z), float(ha) * 1e4, float(megalitres) * 1e3)
    for z, ha, megalitres in (row.split() for row in LANTERN_ROWS.split(","))
)
STARTS_WET = Rating.from_rows([(10.0, 100.0, 50.0), (11.0, 200.0, 200.0)])


@st.composite
def ratings(draw: st.DrawFn) -> Rating:
    step = st.floats(0.001, 2.0)
    gain = st.floats(0.0, 1e5)
    level_m, area_m2, volume_m3 = draw(st.floats(-50, 500)), draw(gain), draw(gain)
    rows = [(level_m, area_m2, volume_m3)]
    for rise_m, more_m2, more_m3 in draw(
        st.lists(st.tuples(step, gain, gain), min_size=1, max_size=12)
    ):
        level_m, area_m2, volume_m3 = level_m + rise_m, area_m2 + more_m2, volume_m3 + more_m3
        rows.append((level_m, area_m2, volume_m3))
    return Rating.from_rows(rows)


def test_a_row_of_the_table_is_answered_as_it_stands() -> None:
    for row in LANTERN.rows:
        assert LANTERN.area_at(row.level_m) == row.area_m2
        assert LANTERN.volume_at(row.level_m) == row.volume_m3


def test_between_rows_area_and_volume_are_linear_as_an_independent_interpolation_has_them() -> None:
    levels_m = [row.level_m for row in LANTERN.rows]
    area = interp1d(levels_m, [row.area_m2 for row in LANTERN.rows])
    volume = interp1d(levels_m, [row.volume_m3 for row in LANTERN.rows])
    for i in range(1501):
        level_m = 71.10 + i * 0.001
        assert LANTERN.area_at(level_m) == pytest.approx(float(area(level_m)), rel=1e-12)
        assert LANTERN.volume_at(level_m) == pytest.approx(float(volume(level_m)), rel=1e-12)


def test_above_the_top_nothing_is_known_and_the_sentence_says_where_it_ends() -> None:
    sentence = (
        "72.71 m is above the surveyed range, which ends at 72.60 m; the volume there is not known"
    )
    with pytest.raises(OutsideRangeError) as caught:
        LANTERN.volume_at(72.71)
    assert str(caught.value) == sentence
    with pytest.raises(OutsideRangeError, match="the area there is not known"):
        LANTERN.area_at(85.50)  # 14.20 m mistyped for 1.420 m
    with pytest.raises(OutsideRangeError, match="above"):
        LANTERN.slope(72.71)
    with pytest.raises(OutsideRangeError, match="above"):
        LANTERN.volume_uncertainty_m3(72.71, 0.005)
    with pytest.raises(OutsideRangeError, match="above"):
        LANTERN.mean_area_between(72.0, 72.71)


def test_a_level_a_hair_above_the_top_is_not_written_like_the_top() -> None:
    with pytest.raises(OutsideRangeError, match=r"^72\.604 m is above .* ends at 72\.60 m"):
        LANTERN.area_at(72.604)


def test_the_last_binary_digit_of_a_sum_does_not_put_a_level_outside() -> None:
    assert 71.3 + 1.3 > 72.6 - 1e-9
    top_m = math.nextafter(72.60, 99)
    assert LANTERN.contains(top_m)
    assert LANTERN.volume_at(top_m) == 260_700
    assert STARTS_WET.area_at(math.nextafter(10.0, 0)) == 100.0


def test_an_empty_pool_holds_nothing() -> None:
    assert LANTERN.contains(70.0)
    assert LANTERN.area_at(70.0) == 0
    assert LANTERN.volume_at(70.0) == 0
    assert LANTERN.slope(70.0) == 0
    assert LANTERN.volume_uncertainty_m3(70.0, 0.01, 0.05, 0.3) == 0


def test_below_a_table_that_starts_wet_nothing_is_known() -> None:
    assert not STARTS_WET.contains(9.9)
    with pytest.raises(OutsideRangeError) as caught:
        STARTS_WET.volume_at(9.9)
    assert str(caught.value) == (
        "9.90 m is below the surveyed range, which begins at 10.00 m; the volume there is not known"
    )


@pytest.mark.parametrize("level_m", [math.nan, math.inf, -math.inf])
def test_a_level_that_is_no_number_is_a_mistake_of_the_program(level_m: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        LANTERN.volume_at(level_m)
    assert not LANTERN.contains(math.nan)


def test_the_slope_is_the_gain_of_area_in_the_slice() -> None:
    assert LANTERN.slope(72.2) == pytest.approx((28.42 - 20.48) * 1e4 / 0.4)
    assert LANTERN.slope(72.0) == pytest.approx((28.42 - 20.48) * 1e4 / 0.4)  # of the slice above
    assert LANTERN.slope(72.6) == pytest.approx((31.93 - 28.42) * 1e4 / 0.2)


def test_the_level_of_a_volume_is_found_again() -> None:
    assert LANTERN.level_at(102_400) == 72.0
    assert LANTERN.level_at(260_700) == 72.6
    assert LANTERN.level_at((200_300 + 260_700) / 2) == pytest.approx(72.5)
    assert LANTERN.level_at(0.0) == 71.10
    with pytest.raises(OutsideRangeError, match=r"261\.00 ML lies outside .* 0\.00 to 260\.70 ML"):
        LANTERN.level_at(261_000)
    with pytest.raises(OutsideRangeError):
        STARTS_WET.level_at(49.9)
    with pytest.raises(OutsideRangeError):
        LANTERN.level_at(math.nan)


def test_an_empty_pool_is_found_at_the_highest_level_that_is_still_empty() -> None:
    rating = Rating.from_rows([(1.0, 0, 0), (1.1, 0, 0), (1.2, 50, 3)])
    assert rating.level_at(0.0) == 1.1


def test_a_flat_top_is_found_at_its_lowest_level() -> None:
    rating = Rating.from_rows([(1.0, 0, 0), (1.1, 50, 3), (1.2, 50, 3)])
    assert rating.level_at(3.0) == 1.1


@given(ratings(), st.floats(0, 1), st.floats(0, 1))
def test_more_level_is_never_less_water(rating: Rating, one: float, other: float) -> None:
    span_m = rating.highest_m - rating.lowest_m
    low_m, high_m = (rating.lowest_m + share * span_m for share in sorted((one, other)))
    slack = 1e-9 * rating.rows[-1].volume_m3 + 1e-9 * rating.rows[-1].area_m2
    assert rating.area_at(low_m) <= rating.area_at(high_m) + slack
    assert rating.volume_at(low_m) <= rating.volume_at(high_m) + slack


@given(ratings(), st.floats(0, 1))
def test_level_at_undoes_volume_at(rating: Rating, share: float) -> None:
    bottom, top = rating.rows[0].volume_m3, rating.rows[-1].volume_m3
    volume_m3 = min(max(bottom + share * (top - bottom), bottom), top)
    found = rating.volume_at(rating.level_at(volume_m3))
    assert found == pytest.approx(volume_m3, rel=1e-6, abs=1e-3)
    rating.level_at(rating.volume_at(rating.highest_m))  # never past the top by rounding


@given(ratings(), st.floats(0, 1), st.floats(0, 1))
def test_the_mean_area_lies_between_the_two_areas(rating: Rating, one: float, other: float) -> None:
    span_m = rating.highest_m - rating.lowest_m
    low_m, high_m = (rating.lowest_m + share * span_m for share in sorted((one, other)))
    mean_m2 = rating.mean_area_between(high_m, low_m)
    slack = 1e-6 * rating.rows[-1].area_m2 + 1e-9
    assert rating.area_at(low_m) - slack <= mean_m2 <= rating.area_at(high_m) + slack


@pytest.mark.parametrize(
    ("low_m", "high_m"), [(71.10, 72.60), (71.17, 72.33), (71.13, 71.14), (70.0, 71.3)]
)
def test_the_mean_area_agrees_with_quadrature(low_m: float, high_m: float) -> None:
    corners = [row.level_m for row in LANTERN.rows if low_m < row.level_m < high_m]
    whole, _ = quad(LANTERN.area_at, low_m, high_m, points=corners or None, limit=200)
    expected = pytest.approx(whole / (high_m - low_m), rel=1e-9)
    assert LANTERN.mean_area_between(low_m, high_m) == expected
    assert LANTERN.mean_area_between(high_m, low_m) == expected


def test_the_mean_area_of_one_level_is_the_area_there() -> None:
    assert LANTERN.mean_area_between(72.2, 72.2) == LANTERN.area_at(72.2)


# --- what is no table ---


@pytest.mark.parametrize(
    ("rows", "sentence"),
    [
        ([(1, 0, 0)], "at least two rows, not 1"),
        ([(1, 0, 0), (2, 5)], r"row 2 of the rating has 2 values; three are needed"),
        ([(1, 0, 0), (2, 5, 1), (2, 6, 2)], r"^row 3 of the rating \(2\.00 m\): the level must be"),
        ([(1, 0, 0), (2, 5, 1), (3, 4, 2)], r"^row 3 of the rating \(3\.00 m\): the area, 4 m2"),
        ([(1, 0, 0), (2, 5, 1), (3, 6, 0.5)], r"^row 3 .*: the volume, 0\.5 m3, .* below 1 m3"),
        ([(1, -1, 0), (2, 5, 1)], r"^row 1 .*: the area, -1 m2"),
        ([(1, 0, 0), (2, math.nan, 1)], r"^row 2 .*: level, area and volume must be finite"),
        ([(1, 0, 0), (3, 5, 1), (2, 4, 0.5), (1, 9, 9)], r"^row 3 of"),  # the first bad row
    ],
)
def test_rows_that_are_no_pool_are_refused_by_the_first_bad_row(
    rows: list[tuple[float, ...]], sentence: str
) -> None:
    with pytest.raises(UnreadableError, match=sentence):
        Rating.from_rows(rows)


def test_an_unknown_origin_is_a_mistake_of_the_program() -> None:
    with pytest.raises(ValueError, match="origin is one of terrain model, walks, power form"):
        Rating((Row(1, 0, 0), Row(2, 1, 1)), origin="hearsay")


# --- uncertainty ---


def test_the_volume_is_as_uncertain_as_level_bias_and_form_make_it() -> None:
    # By hand at 72.40 m: 284,200 m2 x 0.007 m = 1,989.4; x 0.03 m = 8,526; 2 % of 200,300 = 4,006.
    expected = math.sqrt(1989.4**2 + 8526**2 + 4006**2)
    assert LANTERN.volume_uncertainty_m3(72.40, 0.007, 0.03, 0.02) == pytest.approx(expected)


def test_a_level_error_moves_the_volume_as_the_table_does() -> None:
    bowl = power_form(PowerForm(10_000, 2), 0.0, 2.0, step_m=0.001)
    moved = bowl.volume_at(1.2345 + 0.01) - bowl.volume_at(1.2345 - 0.01)
    assert bowl.volume_uncertainty_m3(1.2345, 0.01) == pytest.approx(moved / 2, rel=1e-4)


# --- the power form ---


@pytest.mark.parametrize(
    ("p", "share"), [(1, 0.333333), (1.72, 0.462366), (2, 0.5), (3.3, 0.622642)]
)
def test_volume_over_area_times_depth_is_that_of_the_shape(p: float, share: float) -> None:
    """dav.hvdk.eq: Hayashi & van der Kamp (2000)."""
    area_m2, volume_m3 = PowerForm(2500, p).at_depth(0.7)
    assert volume_m3 / (area_m2 * 0.7) == pytest.approx(share, abs=1e-6)


HVDK_EX = [
    (2500, 2, 0.5, 1250, 312.5),
    (2500, 1, 0.5, 625, 104.1666667),
    (4000, 1.72, 0.25, 797.97674, 92.239247),
    (4000, 1.72, 0.5, 1786.59088, 413.029074),
    (4000, 1.72, 1, 4000, 1849.462366),
]


@pytest.mark.parametrize(("s_m2", "p", "depth_m", "area_m2", "volume_m3"), HVDK_EX)
def test_the_power_form_gives_the_known_values(
    s_m2: float, p: float, depth_m: float, area_m2: float, volume_m3: float
) -> None:
    """dav.hvdk.ex, and the integral of the area by quadrature."""
    form = PowerForm(s_m2, p)
    assert form.at_depth(depth_m) == pytest.approx((area_m2, volume_m3), rel=1e-5)
    integral, _ = quad(lambda h: form.at_depth(h)[0], 0, depth_m)
    assert form.at_depth(depth_m)[1] == pytest.approx(integral, rel=1e-6)
    assert form.at_depth(-0.1) == (0, 0)


def test_two_surveys_fix_the_bowl() -> None:
    """dav.hvdk.twopoint."""
    form = fit_two(0.2, 1000, 0.8, 4000)
    assert form.p == pytest.approx(2.0, abs=1e-9)
    assert form.s_m2 == pytest.approx(5000.0, abs=1e-9)
    assert fit_two(0.8, 4000, 0.2, 1000).s_m2 == pytest.approx(5000.0, abs=1e-9)


@given(st.floats(10, 1e6), st.floats(0.5, 8), st.floats(0.05, 1), st.floats(1.2, 10))
def test_a_fit_finds_the_bowl_its_pairs_came_from(
    s_m2: float, p: float, h1_m: float, times: float
) -> None:
    form = PowerForm(s_m2, p)
    h2_m = h1_m * times
    found = fit_two(h1_m, form.at_depth(h1_m)[0], h2_m, form.at_depth(h2_m)[0])
    assert (found.s_m2, found.p) == pytest.approx((s_m2, p), rel=1e-6)


@pytest.mark.parametrize(
    "pairs", [(0.2, 1000, 0.8, 900), (0.2, 1000, 0.2, 1000), (0, 1, 1, 2), (1, 0, 2, 5)]
)
def test_pairs_of_no_bowl_are_refused(pairs: tuple[float, float, float, float]) -> None:
    with pytest.raises(UnreadableError, match=r"fit no bowl|above zero"):
        fit_two(*pairs)


def test_the_depth_h0_only_says_where_s_is_measured() -> None:
    assert PowerForm(4000, 1.72, h0_m=2.0).at_depth(2.0)[0] == 4000
    same = PowerForm(4000 * 0.5 ** (2 / 1.72), 1.72)
    assert PowerForm(4000, 1.72, h0_m=2.0).at_depth(0.7) == pytest.approx(same.at_depth(0.7))


# dav.solids: cone and paraboloid of radius 100 m and height 2 m.
SOLIDS = [(1, 20943.951024), (2, 31415.926536)]


@pytest.mark.parametrize(("p", "volume_m3"), SOLIDS)
def test_a_power_form_table_holds_the_exact_solids(p: float, volume_m3: float) -> None:
    rating = power_form(PowerForm(math.pi * 100**2, p, h0_m=2.0), 70.0, 72.0, name="a bowl")
    assert rating.volume_at(72.0) == pytest.approx(volume_m3, rel=1e-9)
    assert rating.origin == "power form"
    assert rating.name == "a bowl"
    assert rating.rows[0] == Row(70.0, 0, 0)
    assert len(rating.rows) == 201
    with pytest.raises(OutsideRangeError):
        rating.volume_at(72.01)
    with pytest.raises(UnreadableError, match="height of the table"):
        power_form(PowerForm(1, 1), 72.0, 72.0)


# --- walks ---


def test_the_frustum_rule_gives_the_exact_cone_frustum() -> None:
    """dav.solids: radii 100 m and 80 m, height 1.5 m; the mean of the end areas gives 38641.6."""
    rating = from_walks([(71.5, math.pi * 100**2), (70.0, math.pi * 80**2)], 69.0)
    between_m3 = rating.volume_at(71.5) - rating.volume_at(70.0)
    assert between_m3 == pytest.approx(38327.430374, abs=1e-5)
    halfway_m2 = math.pi * 90**2
    assert rating.area_at(70.75) == pytest.approx(halfway_m2, rel=1e-9)


@pytest.mark.parametrize(
    ("layers", "conic_m3"), [(1, 3333.33), (2, 4511.84), (4, 4859.96), (10, 4973.78)]
)
def test_walks_on_a_parabolic_bowl_give_the_known_conic_sums(layers: int, conic_m3: float) -> None:
    """dav.layers: A = 10000 z; the conic rule is low, the lowest layer here is the exact bowl."""
    walks = [(i / layers, 10_000 * i / layers) for i in range(1, layers + 1)]
    rating = from_walks(walks, 0.0)
    # The list starts the lowest layer from no area, a cone: a third of A h where a bowl has half,
    # and one walk alone has the assumed p of 2.5: 5/9 of A h.
    share = 5 / 9 if layers == 1 else 1 / 2
    lowest_m3 = (share - 1 / 3) * walks[0][1] * walks[0][0]
    assert rating.volume_at(1.0) == pytest.approx(conic_m3 + lowest_m3, abs=0.01)


def test_the_bottom_below_two_walks_is_the_bowl_they_fix() -> None:
    form = PowerForm(6000, 1.72)
    walks = [(70 + h, form.at_depth(h)[0]) for h in (0.5, 1.0)]
    rating = from_walks(walks, 70.0, name="two walks", version="2")
    assert rating.volume_at(70.5) == pytest.approx(form.at_depth(0.5)[1], rel=1e-9)
    assert rating.volume_at(70.25) == pytest.approx(form.at_depth(0.25)[1], rel=1e-3)
    assert (rating.origin, rating.version, rating.fit_fraction) == ("walks", "2", 0.0)


def test_one_walk_gives_a_first_volume_stated_as_good_to_thirty_percent() -> None:
    rating = from_walks([(71.0, 9000.0)], 70.0)
    assert rating.volume_at(71.0) == pytest.approx(9000 / (1 + 2 / 2.5))
    assert rating.fit_fraction == fit_one(1.0, 9000.0).fit_fraction == ONE_WALK_FRACTION == 0.30
    assert rating.volume_uncertainty_m3(71.0, 0.0) == pytest.approx(0.30 * 5000)
    for p in (2.0, 3.0):  # the shapes the statement is meant to cover
        other_m3 = from_walks([(71.0, 9000.0)], 70.0, p=p).volume_at(71.0)
        assert abs(other_m3 - 5000) < 0.30 * 5000


def test_upright_banks_between_walks_are_a_prism() -> None:
    rating = from_walks([(71.0, 900.0), (72.0, 900.0), (73.0, 900.0)], 70.0)
    assert rating.volume_at(73.0) - rating.volume_at(71.0) == pytest.approx(1800)


@pytest.mark.parametrize(
    ("walks", "sentence"),
    [
        ([], "at least one walk"),
        ([(69.9, 500.0)], r"the walk at 69\.90 m \(500 m2\) does not fit above 70\.00 m"),
        ([(71, 0.0)], "does not fit"),
        ([(71, 500.0), (71, 510.0)], "a higher level"),
        ([(71, 500.0), (72, 490.0)], r"72\.00 m \(490 m2\) does not fit above 71\.00 m \(500 m2\)"),
        ([(71, math.nan)], "does not fit"),
    ],
)
def test_walks_of_no_bowl_are_refused(walks: list[tuple[float, float]], sentence: str) -> None:
    with pytest.raises(UnreadableError, match=sentence):
        from_walks(walks, 70.0)


@given(
    st.lists(st.tuples(st.floats(0.01, 1), st.floats(0, 1e4)), min_size=1, max_size=6),
    st.floats(1, 1e4),
)
def test_any_rising_walks_make_a_table_through_every_walk(
    steps: list[tuple[float, float]], first_m2: float
) -> None:
    level_m, area_m2 = 70.0, first_m2
    walks = []
    for rise_m, more_m2 in steps:
        level_m, area_m2 = level_m + rise_m, area_m2 + more_m2
        walks.append((level_m, area_m2))
    rating = from_walks(walks, 70.0, step_m=0.1)
    for walk_m, walk_m2 in walks:
        assert rating.area_at(walk_m) == pytest.approx(walk_m2, rel=1e-9)
