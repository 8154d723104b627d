"""Plots, trees and photo points of the invented season.

Plant names and their water groups are from memory; the covers are invented. A row of a plot is
"plant; group; cover; stage; count; native; certain", as the form of a plot reads it.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from demo_visits.acts import Act, seen_at, slipped
from demo_visits.scenario import (
    JO,
    OTHER_SITE,
    OTHER_SITE_PHOTO_POINT,
    PHOTO_POINTS,
    PLOTS,
    SAM,
    TREES,
    PhotoPoint,
)
from demo_visits.visits import visit_act

SCALE: Final = "direct percent"
BARNYARD_GRASS: Final = "Echinochloa crus-galli"
NATIVE_MILLET: Final = "Panicum decompositum"
RED_GUM: Final = "Eucalyptus camaldulensis"
_PLANT_OF: Final = {
    "S": "Vallisneria australis",
    "AR": "Marsilea drummondii",
    "TD": "Centipeda cunninghamii",
    "T": "Rytidosperma caespitosum",
}
_TOLERATOR: Final = {"reed belt": "Phragmites australis"}
_OTHER_TOLERATOR: Final = "Eleocharis acuta"


@dataclass(frozen=True)
class Score:
    """Percent cover of one plot on one day, by water group, with bare ground and dead stems."""

    cover: Mapping[str, int]
    bare: int | None = None
    dead: int | None = None
    seedlings: int | None = None
    rows: tuple[str, ...] = field(default=())  # plants named one by one, in place of a group's


_SCORED_ON: Final = ("V01", "V08", "V18", "V27")
_SCORES: Final[Mapping[str, tuple[Score, Score, Score, Score]]] = {
    "Q1": (
        Score({"T": 5}, bare=92),
        Score({"S": 10, "AR": 5}),
        Score({"S": 45, "AR": 12}),
        Score({"TD": 35}, bare=40),
    ),
    "Q2": (
        Score({"T": 3}, bare=95),
        Score({"S": 8, "AR": 6}),
        Score({"S": 40, "AR": 15}),
        Score({"TD": 30}, bare=45),
    ),
    "Q3": (
        Score({"T": 20}, bare=75),
        Score({"AR": 18, "AT": 6}),
        Score({"AR": 40, "AT": 12}),
        Score({"TD": 48, "AT": 10}),
    ),
    "Q4": (
        Score({"T": 25}, bare=70),
        Score({"AR": 15, "AT": 8}),
        Score({"AR": 35, "AT": 15}),
        Score(
            {},
            rows=(
                f"{BARNYARD_GRASS}; TD; 30; fruit; ; no; yes",
                f"{_PLANT_OF['TD']}; TD; 25; adult; ; yes; yes",
            ),
        ),
    ),
    "Q5": (
        Score({"AT": 30}, dead=40),
        Score({"AT": 38}),
        Score({"AT": 70, "AR": 8}),
        Score({"AT": 65, "TD": 12}),
    ),
    "Q6": (
        Score({"AT": 28}, dead=45),
        Score({"AT": 36}),
        Score({"AT": 66, "AR": 10}),
        Score({"AT": 60, "TD": 15}),
    ),
    "Q7": (
        Score({"T": 45}, seedlings=0),
        Score({"T": 30, "TD": 22}, seedlings=0),
        Score({"TD": 45, "T": 15}, seedlings=14),
        Score({"TD": 25, "T": 35}, seedlings=6),
    ),
    "Q8": (
        Score({"T": 50}),
        Score({"T": 34, "TD": 18}),
        Score({"TD": 40, "T": 18}),
        Score({"TD": 22, "T": 40}),
    ),
}
# Scored again by the second observer on 11 December, before comparing notes.
_SECOND: Final = {
    "Q3": Score({"AR": 34, "AT": 12}),
    "Q5": Score({"AT": 62, "AR": 8}),
    "Q7": Score({"TD": 52, "T": 15}, seedlings=14),
}
_ZONE_OF: Final = {plot.name: plot.zone for plot in PLOTS}

_TREES_ON: Final = {
    "V01": (45, 40, "scarce"),
    "V18": (55, 50, "common"),
    "V27": (60, 55, "common"),
}
_SPREAD_PERCENT: Final = (-15, 5, 0, -10, 10, 0, -5, 15, 5, -10)  # about the median, by tree

_PHOTOS_ON: Final = ("V01", "V05", "V08", "V13", "V18", "V22", "V27")


def _row(plot: str, group: str, cover: int) -> str:
    tolerator = _TOLERATOR.get(_ZONE_OF[plot], _OTHER_TOLERATOR)
    plant = tolerator if group == "AT" else _PLANT_OF[group]
    return f"{plant}; {group}; {cover}; adult; ; yes; yes"


def _typed(plot: str, score: Score) -> dict[str, str]:
    rows = [*(_row(plot, group, cover) for group, cover in score.cover.items()), *score.rows]
    if score.seedlings is not None:
        rows.append(f"{RED_GUM}; AT; 0; seedling; {score.seedlings}; yes; yes")
    typed = {"found": "yes", "area_m2": "1", "scale": SCALE, "species": "\n".join(rows)}
    if score.bare is not None:
        typed["bare_pct"] = str(score.bare)
    if score.dead is not None:
        typed["litter_pct"] = str(score.dead)
        typed["remark"] = "Litter is dead standing reed."
    return typed


def _plot_act(visit: str, plot: str, score: Score, mark: str = "") -> Act:
    minutes = 110 + 8 * int(plot[1:]) + (4 if mark else 0)
    act = visit_act(visit, minutes, f"plot_score {plot}", _typed(plot, score), mark)
    return replace(act, photo="plot")


def _plot_acts() -> Iterator[Act]:
    for plot, scores in _SCORES.items():
        for visit, score in zip(_SCORED_ON, scores, strict=True):
            act = _plot_act(visit, plot, score)
            yield replace(act, who=(JO,)) if visit == "V18" else act
    for plot, score in _SECOND.items():
        second = _plot_act("V18", plot, score, "second")
        yield replace(second, who=(SAM,), repeats=f"V18 plot_score {plot}", photo="")


def _january_plots() -> Iterator[Act]:
    """Yield E19, a weed taken for a native grass, and E20, another spot scored as Q6."""
    kept = (_row("Q4", "AR", 24), _row("Q4", "AT", 14))
    wrong = _typed("Q4", Score({}, rows=(*kept, f"{NATIVE_MILLET}; TD; 22; adult; ; yes; yes")))
    right = "\n".join((*kept, f"{BARNYARD_GRASS}; TD; 22; adult; ; no; yes"))
    act = replace(visit_act("V21", 110, "plot_score Q4", wrong), photo="plot")
    yield slipped(act, "E19", species=right)

    elsewhere = _typed("Q6", Score({"AT": 21, "TD": 24}, bare=45))
    elsewhere["remark"] = "Peg not found; new quadrat laid."
    act = visit_act("V22", 120, "plot_score Q6", {**elsewhere, "found": "no"})
    peg = next(plot for plot in PLOTS if plot.name == "Q6")
    act = replace(act, position=(peg.x + 11.0, peg.y - 4.8), photo="")
    true = {"found": "no", "area_m2": "1", "scale": SCALE, "remark": "Peg not found."}
    yield replace(act, planted="E20", true=true)


def _tree_acts() -> Iterator[Act]:
    for visit, (extent, density, tips) in _TREES_ON.items():
        for number, (tree, spread) in enumerate(zip(TREES, _SPREAD_PERCENT, strict=True)):
            typed = {
                "extent_pct": str(extent + spread),
                "density_pct": str(density + spread),
                "new_tips": tips,
            }
            yield visit_act(visit, 190 + 3 * number, f"tree_score {tree.name}", typed)


def _frame(post: PhotoPoint) -> dict[str, str]:
    return {
        "bearing_deg": str(post.bearing_deg),
        "north": "true",
        "lens_height_m": f"{post.lens_height_m:.2f}",
        "focal_35mm": str(post.focal_length_35mm),
        "sequence": "1",
    }


def _photo_acts() -> Iterator[Act]:
    for visit in _PHOTOS_ON:
        for number, post in enumerate(PHOTO_POINTS):
            if (visit, post.name) == ("V08", "PP2"):
                continue  # it was taken, and filed as PP3: E09
            act = visit_act(visit, 70 + 8 * number, f"photo_taken {post.name}", _frame(post))
            act = replace(act, photo="view")
            yield _misfiled(act, post) if visit == "V08" else act


def _misfiled(act: Act, post: PhotoPoint) -> Act:
    if post.name == "PP1":  # saved without a bearing
        bare = {name: text for name, text in act.typed.items() if name != "bearing_deg"}
        act = replace(act, typed=bare)
        return slipped(act, "E09", bearing_deg=str(post.bearing_deg))
    if post.name == "PP3":
        stood_at = next(other for other in PHOTO_POINTS if other.name == "PP2")
        place = seen_at(act.key, (stood_at.x, stood_at.y))
        act = replace(act, typed=_frame(stood_at), position=place)
        return slipped(act, "E09", point="PP2")
    return act


def _other_site() -> Iterator[Act]:
    """Yield E25: two frames taken at the other site that morning, filed under this one."""
    post = OTHER_SITE_PHOTO_POINT
    for sequence in (1, 2):
        typed = {**_frame(post), "sequence": str(sequence)}
        act = visit_act("V22", -110 + sequence, "photo_taken PP1", typed, f"other site {sequence}")
        act = replace(act, position=seen_at(act.key, (post.x, post.y)), photo="view")
        yield slipped(act, "E25", site=OTHER_SITE)


def plant_and_photo_acts() -> tuple[Act, ...]:
    """Return every plot, tree and photo point as it was written."""
    acts = (*_plot_acts(), *_january_plots(), *_tree_acts(), *_photo_acts(), *_other_site())
    return tuple(sorted(acts, key=lambda act: act.when))
