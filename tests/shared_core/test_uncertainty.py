"""Rules that propagation keeps; published examples are in test_uncertainty_judges.py."""

import math
from collections.abc import Callable

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core import uncertainty as unc
from shared_core.errors import OutsideRangeError
from shared_core.uncertainty import Source, Uncertain, independent, scaled, total

NUMBERS = st.floats(-1e3, 1e3)
SDS = st.floats(0.01, 100)
NAMES = st.sampled_from(["meter", "rain gauge", "evaporation", "zero", "rating"])
UNCERTAINS = st.builds(Uncertain, NUMBERS, st.dictionaries(NAMES, st.floats(-100, 100)))


@given(UNCERTAINS, UNCERTAINS, UNCERTAINS)
def test_sums_do_not_depend_on_their_order(a: Uncertain, b: Uncertain, c: Uncertain) -> None:
    one, other = total([a, b, c]), total([c, a, b])
    assert one.value == pytest.approx(other.value, abs=1e-9)
    assert one.sd == pytest.approx(other.sd, abs=1e-9)


@given(UNCERTAINS)
def test_a_number_less_itself_is_certainly_nothing(a: Uncertain) -> None:
    assert (a - a) == Uncertain(0.0)
    assert (a + a).sd == pytest.approx(2 * a.sd)


@given(UNCERTAINS.filter(lambda a: abs(a.value) > 0.01))
def test_a_number_over_itself_is_certainly_one(a: Uncertain) -> None:
    ratio = a / a
    assert ratio.value == 1
    assert ratio.sd == pytest.approx(0, abs=1e-9)


@given(UNCERTAINS, UNCERTAINS)
def test_the_sd_of_a_sum_lies_between_difference_and_sum(a: Uncertain, b: Uncertain) -> None:
    assert abs(a.sd - b.sd) - 1e-9 <= (a + b).sd <= a.sd + b.sd + 1e-9


@given(UNCERTAINS, st.floats(-100, 100))
def test_adding_a_plain_number_leaves_the_sd_alone(a: Uncertain, number: float) -> None:
    assert (a + number).sd == (number + a).sd == (number - a).sd == a.sd
    assert (a * number).sd == pytest.approx(abs(number) * a.sd)


@given(UNCERTAINS, UNCERTAINS)
def test_through_a_straight_line_is_exact(a: Uncertain, b: Uncertain) -> None:
    found = unc.through(lambda a, b: 3 * a - 2 * b + 1, a, b)
    assert found.value == pytest.approx((3 * a - 2 * b + 1).value, abs=1e-6)
    assert found.sd == pytest.approx((3 * a - 2 * b + 1).sd, abs=1e-6)


def test_different_names_add_in_squares_and_one_name_straight() -> None:
    assert (independent("a", 1, 3) + independent("b", 1, 4)).sd == 5
    assert (independent("a", 1, 3) + independent("a", 1, 4)).sd == 7
    assert (scaled("factor", 10, 0.1) + scaled("factor", 20, 0.1)).sd == pytest.approx(3)
    assert scaled("factor", independent("level", 10, 1), 0.1).sd == pytest.approx(math.hypot(1, 1))


def test_sources_with_one_shared_key_are_one_error() -> None:
    first = Source("meter in spring", 0.025, "scale error of the pump meter", shared="meter 1")
    second = Source("meter in summer", 0.025, "the same meter", shared="meter 1")
    own = Source("clock", 2.0, "start of the pump")
    season = first.factor() * 100 + second.factor() * 60 + own.of(0)
    assert dict(season.parts) == pytest.approx({"meter 1": 4.0, "clock": 2.0})


def at_least_dry(level: float) -> float:
    if level < 71.10:
        raise OutsideRangeError("below the surveyed range")
    return 10 * (level - 71.10)


def test_at_the_edge_of_a_table_the_other_side_is_used() -> None:
    found = unc.through(at_least_dry, independent("level", 71.105, 0.01))
    assert found.value == pytest.approx(0.05)
    assert found.sd == pytest.approx(0.1)


def test_a_number_outside_the_table_has_no_answer() -> None:
    with pytest.raises(OutsideRangeError):
        unc.through(at_least_dry, independent("level", 71.0, 0.01))

    def only_there(level: float) -> float:
        if level != 72.0:
            raise OutsideRangeError("one level only")
        return 5.0

    with pytest.raises(OutsideRangeError):
        unc.through(only_there, independent("level", 72.0, 0.01))
    assert unc.through(only_there, 72.0) == Uncertain(5.0)


def test_the_step_spans_a_bend() -> None:
    # at a corner from slope 0 to slope 2 one sd each way sees the mean slope 1
    assert unc.through(lambda x: 2 * max(x, 0.0), Uncertain(0, {"x": 1})).sd == 1


def test_weighted_mean_of_two_gauges() -> None:
    # weights 1/sd2: (10/1 + 20/4) / (1 + 1/4) = 12, sd 1/sqrt(1.25)
    mean = unc.weighted_mean([independent("a", 10, 1), independent("b", 20, 2)])
    assert mean.value == pytest.approx(12)
    assert mean.sd == pytest.approx(1 / math.sqrt(1.25))


@given(st.lists(st.tuples(NUMBERS, SDS), min_size=1, max_size=6))
def test_a_weighted_mean_is_no_worse_than_its_best_item(pairs: list[tuple[float, float]]) -> None:
    items = [independent(str(n), value, sd) for n, (value, sd) in enumerate(pairs)]
    mean = unc.weighted_mean(items)
    judged = np.average([value for value, _ in pairs], weights=[1 / sd**2 for _, sd in pairs])
    assert mean.value == pytest.approx(float(judged), rel=1e-6, abs=1e-6)
    assert mean.sd <= min(sd for _, sd in pairs) * (1 + 1e-9)


def test_what_the_items_of_a_mean_share_is_not_averaged_away() -> None:
    zero = independent("zero of the gauge", 0, 0.005)
    mean = unc.weighted_mean([independent(f"reading {n}", 1, 0.01) + zero for n in range(100)])
    assert mean.sd == pytest.approx(math.hypot(0.001, 0.005))


@pytest.mark.parametrize("items", [[], [Uncertain(1.0)]])
def test_a_weighted_mean_of_certain_things_is_refused(items: list[Uncertain]) -> None:
    with pytest.raises(ValueError, match="weighted mean"):
        unc.weighted_mean(items)


def test_a_coverage_interval_is_1_96_sds_either_side() -> None:
    # GUM Table G.2
    assert Uncertain(10, {"a": 1}).interval() == pytest.approx((8.04, 11.96))
    assert Uncertain(10, {"a": 1}).interval(k=1) == (9, 11)


def test_two_readings_differ_when_their_own_errors_cannot_explain_it() -> None:
    datum = independent("datum", 0, 1.0)
    upper = independent("plate 1", 72.50, 0.005) + datum
    lower = independent("plate 2", 72.47, 0.005) + datum
    assert upper.differs_from(lower)  # the datum is common
    assert not upper.differs_from(independent("other plate", 72.47, 0.005))
    assert not Uncertain(-5, {"a": 3}).differs_from(0)
    assert Uncertain(-7, {"a": 3}).differs_from(0, k=2)


def test_full_correlation_is_one_error() -> None:
    a, b = unc.correlated(["a", "b"], [1, 2], [0.3, 0.4], [[1, 1], [1, 1]])
    assert (a + b).sd == pytest.approx(0.7)
    assert (b - a).sd == pytest.approx(0.1)
    opposed, other = unc.correlated(["a", "b"], [1, 2], [0.3, 0.3], [[1, -1], [-1, 1]])
    assert (opposed + other).sd == pytest.approx(0)


@pytest.mark.parametrize(
    "matrix",
    [
        [[1, 0.5], [0.4, 1]],
        [[1, 1.2], [1.2, 1]],
        [[2, 0], [0, 1]],
        [[1, 0, 0], [0, 1, 0]],
        [[1, math.nan], [math.nan, 1]],
    ],
)
def test_what_is_no_correlation_matrix_is_refused(matrix: list[list[float]]) -> None:
    with pytest.raises(ValueError, match="correlation"):
        unc.propagate(lambda a, b: a + b, [1, 2], [1, 1], matrix)


def test_correlations_that_contradict_each_other_are_refused() -> None:
    contradiction = [[1, 0.9, 0.9], [0.9, 1, -0.9], [0.9, -0.9, 1]]
    with pytest.raises(ValueError, match="no errors can have"):
        unc.correlated(["a", "b", "c"], [0, 0, 0], [1, 1, 1], contradiction)
    dependent = [[1, 1, 0.5], [1, 1, 0.6], [0.5, 0.6, 1]]
    with pytest.raises(ValueError, match="no errors can have"):
        unc.correlated(["a", "b", "c"], [0, 0, 0], [1, 1, 1], dependent)


def test_names_must_tell_numbers_apart() -> None:
    with pytest.raises(ValueError, match="name of its own"):
        unc.correlated(["a", "a"], [1, 2], [1, 1], [[1, 0], [0, 1]])
    with pytest.raises(ValueError, match="needs a name"):
        independent("", 1, 1)


@given(st.lists(st.lists(st.floats(-1, 1), min_size=3, max_size=3), min_size=3, max_size=3))
def test_any_true_correlation_matrix_comes_back(rows: list[list[float]]) -> None:
    spread = np.array(rows) + 2 * np.eye(3)
    covariance = spread @ spread.T
    scale = np.sqrt(np.diag(covariance))
    matrix = [[float(r) for r in row] for row in covariance / np.outer(scale, scale)]
    items = unc.correlated(["a", "b", "c"], [0, 0, 0], [1, 2, 3], matrix)
    for one, row in zip(items, matrix, strict=True):
        for other, expected in zip(items, row, strict=True):
            assert unc.correlation(one, other) == pytest.approx(expected, abs=1e-4)


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
def test_numbers_that_are_not_finite_are_refused(bad: float) -> None:
    good = Uncertain(1, {"a": 1})

    def nothing(_: float) -> float:
        return bad

    def half_known(x: float) -> float:
        return bad if x > 1 else x

    attempts: tuple[Callable[[], Uncertain], ...] = (
        lambda: Uncertain(bad),
        lambda: Uncertain(1, {"a": bad}),
        lambda: independent("a", bad, 1),
        lambda: independent("a", 1, bad),
        lambda: scaled("a", 1, bad),
        lambda: good + bad,
        lambda: bad * good,
        lambda: good / bad,
        lambda: unc.through(lambda x: x, bad),
        lambda: unc.through(nothing, good),
        lambda: unc.through(half_known, good),
        lambda: unc.through(lambda x: x, good, step_sds=bad),
        lambda: unc.propagate(lambda x: x, [bad], [1]),
        lambda: unc.propagate(lambda x: x, [1], [bad]),
    )
    for attempt in attempts:
        with pytest.raises(ValueError, match="not a finite number"):
            attempt()


def test_a_negative_sd_or_step_is_refused() -> None:
    with pytest.raises(ValueError, match="0 or more"):
        independent("a", 1, -1)
    with pytest.raises(ValueError, match="above 0"):
        unc.through(lambda x: x, Uncertain(1), step_sds=0)
    with pytest.raises(ValueError, match="above 0"):
        unc.effective_freedom(Uncertain(1, {"a": 1}), {"a": 0})


def test_a_number_too_large_to_hold_is_refused() -> None:
    with pytest.raises(ValueError, match="not a finite number"):
        Uncertain(1e308) * 10


def test_a_number_without_uncertainty_has_no_correlation_and_no_list() -> None:
    assert Uncertain(1).contributions() == ()
    assert unc.effective_freedom(Uncertain(1), {}) == math.inf
    with pytest.raises(ValueError, match="no correlation"):
        unc.correlation(Uncertain(1), Uncertain(1, {"a": 1}))


def test_an_uncertain_number_cannot_be_changed() -> None:
    parts = {"a": 1.0}
    number = Uncertain(1, parts)
    parts["a"] = 5.0
    assert number.sd == 1
    with pytest.raises(TypeError):
        number.parts["a"] = 2.0  # type: ignore[index]  # that it fails is the point
    assert number == Uncertain(1.0, {"a": 1.0, "nothing": 0.0})
    assert len({number, Uncertain(1, {"a": 1})}) == 1
