"""What is odd about a scored plot: its place, its sums, and plants that change their kind."""

from collections.abc import Iterator, Mapping
from datetime import timedelta
from typing import Final

from shared_core.records.base import Finding, Known, Severity, Standing
from shared_core.records.folding import folded
from shared_core.records.limits import limits_at
from shared_core.records.places import (
    BEYOND_SITE_M,
    beyond_site,
    far,
    far_from_point,
    metres_apart,
)
from shared_core.records.points_setup import PlotSet
from shared_core.records.vegetation_plot import GROUPS, Plant, PlotScore
from shared_core.units import SECONDS_PER_DAY

LAYER_PCT: Final = 105.0  # bare, litter and open water share one layer (computed)
PEG_M: Final = 5.0  # beyond the receiver's own accuracy (from memory)
PEG_ACCURACY_M: Final = 4.0  # where the receiver names none (from memory)
# Cover jumps and species flips are often the observer: 18.6 % pseudo-turnover on plots scored
# again (J. Plant Ecology 13(5):641, 2020). The limit itself is from memory.
JUMP_PCT: Final = 40.0
JUMP_DAYS: Final = 45.0
EARLIER_SCORES: Final = 4
SITE_SCORES: Final = 60  # plots of the site looked back at for a plant's usual origin
SECOND_WITHIN: Final = timedelta(days=2)

# Plants of inland wetlands that are not native there (from memory): a default. A site adds to it
# with a limit named "not native: PLANT" of 1 and takes one off with 0.
NOT_NATIVE: Final = frozenset(
    {
        "barnyard grass",
        "echinochloa crus-galli",
        "lippia",
        "phyla canescens",
        "noogoora burr",
        "xanthium occidentale",
        "spear thistle",
        "cirsium vulgare",
        "arrowhead",
        "sagittaria platyphylla",
        "willow",
        "salix",
    }
)
# Pairs that are taken for one another in the field (from memory), looked up either way.
LOOK_ALIKES: Final[Mapping[str, str]] = {
    "native millet": "barnyard grass",
    "panicum decompositum": "echinochloa crus-galli",
    "fogfruit": "lippia",
}


def plot_findings(score: PlotScore, known: Known) -> Iterator[Finding]:
    """Yield what is odd about a scored plot."""
    limits = limits_at(known, score.site, score.when)
    checks = (
        *_place(score, known, limits),
        *_not_found(score, known),
        *_layer(score, limits),
        *_covers(score),
        *_plants(score, known, limits),
        *_second_observer(score, known),
        *_jumps(score, known, limits),
    )
    yield from folded(checks, ("plant-native", "plant-flipped", "plant-look-alike", "cover-range"))


def _place(score: PlotScore, known: Known, limits: Mapping[str, float]) -> Iterator[Finding]:
    away = beyond_site(known, score, limits.get("site-distance", BEYOND_SITE_M))
    if away is not None:
        yield away
        return
    peg = known.in_force(PlotSet, score.site, score.when, point=score.point)
    if peg is None or not score.found or score.position is None:
        return
    accuracy_m = score.position.accuracy_m
    limit_m = limits.get("plot-distance", PEG_M)
    limit_m += PEG_ACCURACY_M if accuracy_m is None else accuracy_m
    pegs = known.every(PlotSet, score.site)
    found = far_from_point(
        score,
        peg.record.place,
        ((other.record.code, other.record.place) for other in pegs),
        limit_m=limit_m,
        times_accuracy=1.0,
    )
    if found is None:
        return
    if found.suggests is None:
        yield Finding(
            code="plot-distance",
            severity=Severity.ASK,
            field="found",
            saw=found.saw,
            expected=f"A plot whose peg was found lies within {limit_m:.0f} m of it.",
            do="Search for the peg; if it is gone write 'not found': another spot is another plot.",
            suggests="no",
        )
    else:
        yield found


def _not_found(score: PlotScore, known: Known) -> Iterator[Finding]:
    """Ask about plants scored where the peg was not found: another spot is another plot."""
    if score.found or not (score.species or score.bare_pct is not None):
        return
    peg = known.in_force(PlotSet, score.site, score.when, point=score.point)
    place = peg.record.place if peg else None
    away = ""
    if place is not None and score.position is not None:
        away = f", {far(metres_apart(score.position, place))} from the peg's place"
    yield Finding(
        code="plot-not-found",
        severity=Severity.ASK,
        field="found",
        saw=f"The peg was not found, and plants were scored{away}.",
        expected="Another spot is another plot and cannot be compared.",
        do="Keep 'not found' and leave the plants out, or give the new spot its own plot.",
    )


def _layer(score: PlotScore, limits: Mapping[str, float]) -> Iterator[Finding]:
    parts = (score.bare_pct, score.litter_pct, score.open_water_pct)
    total = sum(part for part in parts if part is not None)
    if total > limits.get("cover-sum", LAYER_PCT):
        yield Finding(
            code="cover-sum",
            severity=Severity.ASK,
            field="bare_pct",
            saw=f"Bare ground, litter and open water come to {total:.0f} %.",
            expected="They share one layer, so at most 100 %.",
            do="Look which of them was scored with the other in it.",
        )


def _covers(score: PlotScore) -> Iterator[Finding]:
    wrong = [plant for plant in score.plants if not 0.0 <= plant.cover_pct <= 100.0]
    if wrong:
        yield Finding(
            code="cover-range",
            severity=Severity.STOP,
            field="species",
            saw=f"{wrong[0].taxon} covers {wrong[0].cover_pct:g} %.",
            expected="One plant covers 0 to 100 %.",
            do="Score it again.",
        )


def not_native(name: str, limits: Mapping[str, float]) -> bool:
    """Tell whether a plant is on the list of those not native at this site."""
    return limits.get(f"not native: {name}", 1.0 if name in NOT_NATIVE else 0.0) > 0


def _earlier(score: PlotScore, known: Known) -> list[Standing[PlotScore]]:
    return list(known.before(PlotScore, score.site, score.when, limit=SITE_SCORES))


def _plants(score: PlotScore, known: Known, limits: Mapping[str, float]) -> Iterator[Finding]:
    earlier = [standing.record for standing in _earlier(score, known)]
    seen: dict[str, list[Plant]] = {}
    for other in earlier:
        for plant in other.plants:
            seen.setdefault(plant.name, []).append(plant)
    here = {plant.name for other in earlier if other.point == score.point for plant in other.plants}
    for plant in score.plants:
        yield from _one_plant(plant, seen.get(plant.name, []), limits, new=plant.name not in here)


def _one_plant(
    plant: Plant, before: list[Plant], limits: Mapping[str, float], *, new: bool
) -> Iterator[Finding]:
    if plant.native and not_native(plant.name, limits):
        yield _asks(
            "plant-native",
            f"{plant.taxon} is marked native.",
            "It is on the list of plants that are not.",
            "Look at the flag; photo and specimen if in doubt.",
        )
        return
    natives = {each.native for each in before if each.native is not None}
    groups = {each.group for each in before}
    if (natives and plant.native is not None and plant.native not in natives) or (
        groups and plant.group not in groups
    ):
        was = ", ".join(sorted(GROUPS.get(group, group) for group in groups))
        yield _asks(
            "plant-flipped",
            f"{plant.taxon} has another origin or water group than before at this site.",
            f"Until now: {was}{'' if True not in natives else ', native'}"
            f"{'' if False not in natives else ', not native'}.",
            "The same plant? Photo and specimen.",
        )
    elif new and plant.native is not False and (alike := look_alike(plant.name)):
        yield _asks(
            "plant-look-alike",
            f"{plant.taxon} is new in this plot.",
            f"It is easily taken for {alike}"
            f"{', which is not native' if not_native(alike, limits) else ''}.",
            "Photo of flower or seed head, specimen with a label; let a second person look.",
        )


def look_alike(name: str) -> str | None:
    """Return the plant that one is taken for, None if it has no known double."""
    turned = {double: plant for plant, double in LOOK_ALIKES.items()}
    return LOOK_ALIKES.get(name) or turned.get(name)


def _asks(code: str, saw: str, expected: str, do: str) -> Finding:
    return Finding(
        code=code, severity=Severity.ASK, field="species", saw=saw, expected=expected, do=do
    )


def _second_observer(score: PlotScore, known: Known) -> Iterator[Finding]:
    if not score.second_observer_of:
        return
    near = known.between(
        PlotScore,
        score.site,
        score.when - SECOND_WITHIN,
        score.when + SECOND_WITHIN,
        point=score.point,
    )
    first = next((s.record for s in near if s.record_id == score.second_observer_of), None)
    if first is None:
        return
    others = {plant.name: plant for plant in first.plants}
    for plant in score.plants:
        other = others.get(plant.name)
        if other is not None and (other.native, other.group) != (plant.native, plant.group):
            yield _asks(
                "plant-flipped",
                f"{plant.taxon} was given another origin or water group by the first observer.",
                "",
                "Look at it together; photo and specimen.",
            )
    # One observer overlooks 10 to 30 % of the species (Morrison 2016, J. Plant Ecology, review).
    unlike = sorted(set(others) ^ {plant.name for plant in score.plants})
    if unlike:
        yield Finding(
            code="observers-differ",
            severity=Severity.NOTE,
            field="species",
            saw=f"Only one of two observers wrote {', '.join(unlike)}.",
            expected="One observer overlooks 10 to 30 % of the plants.",
            do="Look again together.",
        )


def _jumps(score: PlotScore, known: Known, limits: Mapping[str, float]) -> Iterator[Finding]:
    earlier = known.before(
        PlotScore, score.site, score.when, point=score.point, limit=EARLIER_SCORES
    )
    last = next((s.record for s in earlier if not s.record.second_observer_of), None)
    if last is None or not last.found or not score.found:
        return
    days = (score.when - last.when).total_seconds() / SECONDS_PER_DAY
    now, then = _by_group(score), _by_group(last)
    changes = {group: now.get(group, 0.0) - then.get(group, 0.0) for group in {*now, *then}}
    group = max(sorted(changes), key=lambda name: abs(changes[name]), default="")
    if not group or abs(changes[group]) <= limits.get("cover-jump", JUMP_PCT):
        return
    yield Finding(
        code="cover-jump",
        severity=Severity.ASK if days <= JUMP_DAYS else Severity.NOTE,
        field="species",
        saw=f"{GROUPS.get(group, group)}: cover {changes[group]:+.0f} % in {days:.0f} days.",
        expected="Two observers differ by 10 to 20 %.",
        do="Is it the same plot and the same scale?",
    )


def _by_group(score: PlotScore) -> dict[str, float]:
    total: dict[str, float] = {}
    for plant in score.plants:
        total[plant.group] = total.get(plant.group, 0.0) + plant.cover_pct
    return total
