"""Cover, classes, change and trees (check ids veg.*), with scipy and numpy as judges."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.distance import braycurtis

from shared_core import vegetation as veg
from shared_core.errors import UnknownError, UnreadableError
from shared_core.vegetation import Cover, Origin, WaterGroup

COVERS = st.floats(0, 100)
PLOTS = st.dictionaries(st.sampled_from("ABCDEFGH"), COVERS)

# Invented season, plot by plot: 12 July and 11 December, percent.
JULY = {
    "Q1": [Cover("dry grass", 5, WaterGroup.TERRESTRIAL, Origin.EXOTIC)],
    "Q5": [Cover("tall reed", 30, WaterGroup.AMPHIBIOUS_TOLERATOR, Origin.NATIVE)],
}
DECEMBER = {
    "Q1": [
        Cover("water weed", 45, WaterGroup.SUBMERGED, Origin.NATIVE),
        Cover("floating fern", 12, WaterGroup.AMPHIBIOUS_RESPONDER, Origin.NATIVE),
    ],
    "Q5": [
        Cover("tall reed", 70, WaterGroup.AMPHIBIOUS_TOLERATOR, Origin.NATIVE),
        Cover("floating fern", 8, WaterGroup.AMPHIBIOUS_RESPONDER, Origin.NATIVE),
    ],
}


def test_cover_is_added_up_by_group_and_origin() -> None:
    plot = veg.plot_cover(
        [
            *DECEMBER["Q1"],
            Cover("dry grass", 3, WaterGroup.TERRESTRIAL, Origin.EXOTIC),
            Cover("unknown 7", 2),
            Cover("gone", 0, WaterGroup.TERRESTRIAL),
            Cover("water weed", 1, WaterGroup.SUBMERGED, Origin.NATIVE),  # its seedlings
        ]
    )
    assert plot.richness == 4
    assert plot.by_group[WaterGroup.SUBMERGED] == 46
    assert plot.by_group[WaterGroup.DAMP_GROUND] == 0
    assert plot.by_origin == {Origin.NATIVE: 58, Origin.EXOTIC: 3, Origin.UNKNOWN: 2}
    assert plot.wet_share == pytest.approx(58 / 61)


def test_wetness_is_the_mean_weight_by_cover() -> None:
    # sum(cover x weight) / sum(cover) with our own weights 1, 0.8, 0.6, 0.3, 0
    assert veg.plot_cover(JULY["Q1"]).wetness == 0
    assert veg.plot_cover(DECEMBER["Q1"]).wetness == pytest.approx((45 + 12 * 0.8) / 57)
    assert veg.plot_cover(DECEMBER["Q5"]).wetness == pytest.approx((70 * 0.6 + 8 * 0.8) / 78)
    flat = dict.fromkeys(WaterGroup, 2.0)
    assert veg.plot_cover(DECEMBER["Q5"], flat).wetness == 2


def test_a_bare_plot_has_no_wetness() -> None:
    bare = veg.plot_cover([])
    assert (bare.richness, bare.wet_share, bare.wetness) == (0, None, None)
    assert set(bare.by_group) == set(WaterGroup)


@given(st.lists(st.tuples(COVERS, st.sampled_from(WaterGroup))))
def test_wetness_lies_between_dry_and_under_water(pairs: list[tuple[float, WaterGroup]]) -> None:
    plot = veg.plot_cover([Cover(str(n), cover, group) for n, (cover, group) in enumerate(pairs)])
    if plot.wetness is None or plot.wet_share is None:
        assert all(cover == 0 for cover, _ in pairs)
    else:
        assert -1e-9 <= plot.wetness <= 1 + 1e-9
        assert -1e-9 <= plot.wet_share <= 1 + 1e-9


@pytest.mark.parametrize("cover", [-1, 100.5, math.nan, math.inf])
def test_cover_is_a_percent(cover: float) -> None:
    with pytest.raises(UnreadableError, match="0 to 100"):
        Cover("reed", cover)


def test_daubenmire_midpoints() -> None:
    # veg.daubenmire
    scale = veg.scale_named("Daubenmire 1959")
    assert [scale.cover_percent(code) for code in "123456"] == [2.5, 15, 37.5, 62.5, 85, 97.5]


def test_braun_blanquet_lists_differ_and_carry_their_name() -> None:
    # veg.bb.numeric
    assert veg.BRAUN_BLANQUET.cover_percent("2") == 15
    assert veg.BRAUN_BLANQUET_2001.cover_percent("2") == 13
    assert veg.BRAUN_BLANQUET_KOERNER.cover_percent("2") == 17.5
    assert veg.BRAUN_BLANQUET_2001.cover_percent("4") == 68
    assert veg.BRAUN_BLANQUET_2001.cover_percent("2A ") == 8
    assert all(veg.scale_named(name).name == name for name in veg.SCALES)
    assert len(veg.SCALES) == 4


@pytest.mark.parametrize("scale", veg.SCALES.values(), ids=lambda scale: scale.name)
def test_midpoints_are_the_middle_of_the_limits_where_those_are_known(
    scale: veg.CoverScale,
) -> None:
    # veg.daubenmire, veg.bb.vegan
    uppers = [*list(scale.limits.values())[1:], 100.0]
    for (code, low), high in zip(scale.limits.items(), uppers, strict=False):
        assert scale.cover_percent(code) == pytest.approx((low + high) / 2)
        assert scale.code_of(low) == code
        assert scale.code_of(scale.cover_percent(code)) == code
    assert list(scale.covers.values()) == sorted(scale.covers.values())


def test_a_limit_belongs_to_the_class_above_it() -> None:
    # the classes are right-open (check id veg.bb.vegan)
    assert veg.DAUBENMIRE.code_of(5) == "2"
    assert veg.DAUBENMIRE.code_of(math.nextafter(5, 0)) == "1"
    assert veg.BRAUN_BLANQUET.code_of(0.05) == "r"
    assert veg.BRAUN_BLANQUET.code_of(0.1) == "+"
    assert veg.BRAUN_BLANQUET.code_of(100) == "5"


def test_an_unknown_code_or_scale_says_what_there_is() -> None:
    with pytest.raises(UnknownError, match="1, 2, 3, 4, 5, 6"):
        veg.DAUBENMIRE.cover_percent("7")
    with pytest.raises(UnknownError, match="Daubenmire 1959"):
        veg.scale_named("daub")
    with pytest.raises(UnknownError, match="limits"):
        veg.BRAUN_BLANQUET_2001.code_of(12)


def test_change_counts_only_beyond_what_two_observers_differ_by() -> None:
    # 2 x sqrt(2) x 8 % = 22.6 %
    before = {"Q1": 5.0, "Q3": 34.0, "Q5": 30.0, "Q9": 1.0}
    after = {"Q1": 57.0, "Q3": 56.0, "Q5": 7.0, "Q8": 3.0}
    paired = veg.paired_change(before, after)
    assert paired.least == pytest.approx(22.627, abs=0.001)
    assert [(one.point, one.change, one.beyond_observer) for one in paired.changes] == [
        ("Q1", 52, True),
        ("Q3", 22, False),
        ("Q5", -23, True),
    ]
    assert paired.unmatched == ("Q8", "Q9")
    assert paired.spread == veg.Spread(3, -0.5, 22, 37)


def test_no_matched_plots_give_no_spread() -> None:
    paired = veg.paired_change({"A": 1.0}, {"B": 2.0})
    assert paired.changes == ()
    assert paired.spread is None


@given(PLOTS, PLOTS, st.floats(0, 30))
def test_looking_back_turns_every_change_round(
    one: dict[str, float], other: dict[str, float], sd: float
) -> None:
    there = veg.paired_change(one, other, sd)
    back = veg.paired_change(other, one, sd)
    assert [-change.change for change in back.changes] == [c.change for c in there.changes]
    assert [c.beyond_observer for c in back.changes] == [c.beyond_observer for c in there.changes]
    assert there.unmatched == back.unmatched


def test_two_observers_of_the_same_plots_rarely_show_a_change() -> None:
    # two sds of a difference: 4.6 % of a normal distribution lie beyond
    draw = np.random.default_rng(8)
    scores = 50 + 8 * draw.standard_normal((2, 20_000))
    first = {str(n): float(score) for n, score in enumerate(scores[0])}
    second = {str(n): float(score) for n, score in enumerate(scores[1])}
    paired = veg.paired_change(first, second, 8)
    share = sum(change.beyond_observer for change in paired.changes) / len(paired.changes)
    assert share == pytest.approx(0.0455, abs=0.005)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_change_of_no_number_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        veg.paired_change({"A": bad}, {"A": 1})
    with pytest.raises(ValueError, match="sd"):
        veg.paired_change({"A": 1}, {"A": 1}, bad)
    with pytest.raises(ValueError, match="finite"):
        veg.bray_curtis({"A": bad}, {})


@given(st.lists(st.floats(-100, 100), min_size=1))
def test_quartiles_agree_with_numpy(values: list[float]) -> None:
    found = veg.spread(values)
    assert found is not None
    assert found.n == len(values)
    assert [found.lower, found.median, found.upper] == pytest.approx(
        list(np.quantile(values, [0.25, 0.5, 0.75])), abs=1e-9
    )


def test_bray_curtis_by_hand() -> None:
    # sum|a - b| = 5 + 45 + 12, sum(a + b) = 62: nothing shared; then |10 - 30| / 40
    assert veg.bray_curtis({"grass": 5}, {"weed": 45, "fern": 12}) == 1
    assert veg.bray_curtis({"reed": 10}, {"reed": 30}) == 0.5
    assert veg.bray_curtis({}, {}) == 0


@given(PLOTS, PLOTS)
def test_bray_curtis_agrees_with_scipy(one: dict[str, float], other: dict[str, float]) -> None:
    found = veg.bray_curtis(one, other)
    assert 0 <= found <= 1
    assert found == pytest.approx(veg.bray_curtis(other, one))
    names = sorted(one.keys() | other.keys())
    a, b = [one.get(n, 0.0) for n in names], [other.get(n, 0.0) for n in names]
    if sum(a) + sum(b) > 0:
        assert found == pytest.approx(float(braycurtis(a, b)), abs=1e-9)
    else:
        assert found == 0


def test_only_trees_scored_both_times_are_compared() -> None:
    # invented: crown extent, medians 45 and 60 as in the season
    july = {"T01": 40.0, "T02": 45.0, "T03": 50.0, "T04": 5.0}
    march = {"T01": 55.0, "T02": 60.0, "T03": 85.0, "T05": 95.0}
    found = veg.tree_change(july, march)
    assert (found.median_before, found.median_after) == (45, 60)
    assert [change.point for change in found.trees.changes] == ["T01", "T02", "T03"]
    assert [change.beyond_observer for change in found.trees.changes] == [False, False, True]
    assert found.trees.unmatched == ("T04", "T05")
    assert found.classes_before["sparse to medium"] == pytest.approx(1 / 3)
    assert found.classes_after["major"] == pytest.approx(1 / 3)
    assert sum(found.classes_after.values()) == pytest.approx(1)


def test_no_matched_trees_have_no_median() -> None:
    found = veg.tree_change({"T01": 40.0}, {"T02": 40.0})
    assert (found.median_before, found.median_after) == (None, None)
    assert found.classes_before == {}


@pytest.mark.parametrize(
    ("percent", "name"),
    [
        *((0, "none"), (0.4, "none"), (1, "minimal"), (10, "minimal"), (11, "sparse")),
        *((40, "sparse to medium"), (41, "medium"), (60.4, "medium"), (60.5, "medium to major")),
        *((90, "major"), (91, "maximum"), (100, "maximum")),
    ],
)
def test_crown_classes_are_of_whole_percents(percent: float, name: str) -> None:
    # veg.tree.crown (provisional, from memory)
    assert veg.crown_class(percent) == name


def test_a_tree_score_is_a_percent() -> None:
    with pytest.raises(UnreadableError):
        veg.tree_change({"T01": 140.0}, {"T01": 40.0})
