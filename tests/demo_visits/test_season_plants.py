"""Plots and trees of the season against the covers and crowns told."""

import re
import statistics

from demo_visits.acts import Act
from demo_visits.season import act_named, acts


def of_kind(kind: str) -> list[Act]:
    return [act for act in acts() if act.kind == kind]


def test_ten_trees_have_the_medians_told() -> None:
    told = {"V01": (45, 40, "scarce"), "V18": (55, 50, "common"), "V27": (60, 55, "common")}
    for visit, (extent, density, tips) in told.items():
        trees = [act for act in of_kind("tree_score") if act.visit == visit]
        assert len({act.point for act in trees}) == 10
        assert statistics.median(int(act.typed["extent_pct"]) for act in trees) == extent
        assert statistics.median(int(act.typed["density_pct"]) for act in trees) == density
        assert {act.typed["new_tips"] for act in trees} == {tips}


def cover(key: str) -> dict[str, int]:
    """Cover by water group of one plot [percent], as typed."""
    sums: dict[str, int] = {}
    for line in act_named(key).typed["species"].splitlines():
        _, group, percent, *_ = (cell.strip() for cell in line.split(";"))
        sums[group] = sums.get(group, 0) + int(percent)
    return {group: percent for group, percent in sums.items() if percent}


def test_plots_hold_the_covers_told() -> None:
    assert cover("V01 plot_score Q5") == {"AT": 30}
    assert cover("V08 plot_score Q3") == {"AR": 18, "AT": 6}
    assert cover("V18 plot_score Q1") == {"S": 45, "AR": 12}
    assert cover("V27 plot_score Q4") == {"TD": 55}
    assert cover("V27 plot_score Q8") == {"TD": 22, "T": 40}
    assert len([act for act in of_kind("plot_score") if not act.repeats]) == 8 * 4 + 2


def test_the_second_observer_scored_three_plots_lower_or_higher() -> None:
    again = {act.repeats: act for act in of_kind("plot_score") if act.repeats}
    assert sorted(again) == [f"V18 plot_score Q{n}" for n in (3, 5, 7)]
    leading = ("AR", "AT", "TD")
    lead = [
        (cover(k)[g], cover(again[k].key)[g]) for k, g in zip(sorted(again), leading, strict=True)
    ]
    assert lead == [(40, 34), (70, 62), (45, 52)]
    assert all(act.who != act_named(first).who for first, act in again.items())


def test_seedlings_are_counted_nil_counts_too() -> None:
    counted = [
        re.search(r"seedling; (\d+);", act_named(f"{visit} plot_score Q7").typed["species"])
        for visit in ("V01", "V08", "V18", "V27")
    ]
    assert [int(found[1]) for found in counted if found] == [0, 0, 14, 6]
