"""Vegetation response: cover by water group, cover classes, and change beyond observer spread.

Cover is in percent of the plot. Layers overlap, so the covers of a plot may add to more than 100.
"""

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from statistics import median, quantiles
from typing import Final

from shared_core.errors import UnknownError, UnreadableError

OBSERVER_SD_PERCENT: Final = 8.0  # cover; 90 % limits 10 to 20 % between people, common practice
CHANGE_IN_SDS: Final = 2 * math.sqrt(2)  # two sds of a difference of two scores


class WaterGroup(StrEnum):
    """How a plant lives with water: Brock and Casanova (1997), in Klomp and Lunt, 181-192."""

    SUBMERGED = "S"
    AMPHIBIOUS_RESPONDER = "AR"
    AMPHIBIOUS_TOLERATOR = "AT"
    DAMP_GROUND = "TD"
    TERRESTRIAL = "T"


WET_GROUPS: Final = frozenset(
    {WaterGroup.SUBMERGED, WaterGroup.AMPHIBIOUS_RESPONDER, WaterGroup.AMPHIBIOUS_TOLERATOR}
)
WETNESS: Final[Mapping[WaterGroup, float]] = {  # weights of our own: 1 lives under water, 0 dry
    WaterGroup.SUBMERGED: 1.0,
    WaterGroup.AMPHIBIOUS_RESPONDER: 0.8,
    WaterGroup.AMPHIBIOUS_TOLERATOR: 0.6,
    WaterGroup.DAMP_GROUND: 0.3,
    WaterGroup.TERRESTRIAL: 0.0,
}


class Origin(StrEnum):
    """Whether a plant belongs here."""

    NATIVE = "native"
    EXOTIC = "exotic"
    UNKNOWN = "unknown"


@dataclass(frozen=True)
class CoverScale:
    """A published scale of cover classes; a code means nothing without the name of its scale.

    Attributes:
        name: Name of the scale, kept with every code.
        covers: Cover [percent] taken for each class, in rising order.
        limits: Lowest cover [percent] of each class in the same order; empty if not published.
    """

    name: str
    covers: Mapping[str, float]
    limits: Mapping[str, float] = field(default_factory=dict)

    def cover_percent(self, code: str) -> float:
        """Return the cover [percent] taken for a class.

        Raises:
            UnknownError: The scale has no such class.
        """
        cover = self.covers.get(code.strip().lower())
        if cover is None:
            classes = ", ".join(self.covers)
            raise UnknownError(f"{code!r} is no class of {self.name}, which has {classes}")
        return cover

    def code_of(self, cover_percent: float) -> str:
        """Return the class of a cover [percent]; a limit belongs to the class above it.

        Raises:
            UnreadableError: A cover outside 0 to 100.
            UnknownError: The limits of the scale are not known.
        """
        _cover(cover_percent)
        if not self.limits:
            raise UnknownError(f"the limits of {self.name} are not known, only its values")
        return [code for code, low in self.limits.items() if cover_percent >= low][-1]


# Daubenmire (1959) Northwest Science 33:43-64: the arithmetic midpoints.
DAUBENMIRE: Final = CoverScale(
    "Daubenmire 1959",
    {"1": 2.5, "2": 15.0, "3": 37.5, "4": 62.5, "5": 85.0, "6": 97.5},
    {"1": 0.0, "2": 5.0, "3": 25.0, "4": 50.0, "5": 75.0, "6": 95.0},
)
# Limits as coded in the R package vegan, coverscale(); midpoints computed from them.
BRAUN_BLANQUET: Final = CoverScale(
    "Braun-Blanquet, arithmetic midpoints",
    {"r": 0.05, "+": 0.55, "1": 3.0, "2": 15.0, "3": 37.5, "4": 62.5, "5": 87.5},
    {"r": 0.0, "+": 0.1, "1": 1.0, "2": 5.0, "3": 25.0, "4": 50.0, "5": 75.0},
)
# Hennekens and Schaminee (2001) J. Veg. Sci. 12:589-591.
BRAUN_BLANQUET_2001: Final = CoverScale(
    "Braun-Blanquet, Hennekens and Schaminee 2001",
    {"r": 1.0, "+": 2.0, "1": 3.0, "2m": 4.0, "2a": 8.0}
    | {"2": 13.0, "2b": 18.0, "3": 38.0, "4": 68.0, "5": 88.0},
)
# A list used in a published data set (Koerner).
BRAUN_BLANQUET_KOERNER: Final = CoverScale(
    "Braun-Blanquet, Koerner",
    {"r": 0.1, "+": 3.0, "1": 7.5, "2": 17.5, "3": 37.5, "4": 62.5, "5": 87.5},
)
SCALES: Final[Mapping[str, CoverScale]] = {
    scale.name: scale
    for scale in (DAUBENMIRE, BRAUN_BLANQUET, BRAUN_BLANQUET_2001, BRAUN_BLANQUET_KOERNER)
}
# Lowest crown extent or density [percent] of each class. PROVISIONAL: from memory, after Souter et
# al. (2010) Ecol. Manage. Restor. 11:210-214, whose class limits could not be seen.
CROWN_CLASSES: Final[Mapping[str, float]] = {
    "none": 0.0,
    "minimal": 1.0,
    "sparse": 11.0,
    "sparse to medium": 21.0,
    "medium": 41.0,
    "medium to major": 61.0,
    "major": 81.0,
    "maximum": 91.0,
}


def scale_named(name: str) -> CoverScale:
    """Return the cover scale of that name.

    Raises:
        UnknownError: No such scale.
    """
    if name not in SCALES:
        raise UnknownError(f"{name!r} is no cover scale; known are {'; '.join(SCALES)}")
    return SCALES[name]


def crown_class(crown_percent: float) -> str:
    """Return the (provisional) class of a crown extent or density [percent].

    Raises:
        UnreadableError: Outside 0 to 100.
    """
    whole = math.floor(_cover(crown_percent) + 0.5)  # the classes are of whole percents
    return [name for name, low in CROWN_CLASSES.items() if whole >= low][-1]


@dataclass(frozen=True)
class Cover:
    """Living cover of one species in one plot.

    Raises:
        UnreadableError: A cover outside 0 to 100.
    """

    species: str
    cover_percent: float
    group: WaterGroup | None = None  # None: not known to which it belongs
    origin: Origin = Origin.UNKNOWN

    def __post_init__(self) -> None:
        _cover(self.cover_percent)


@dataclass(frozen=True)
class PlotCover:
    """What the covers of a plot say together.

    Attributes:
        richness: Number of species with any cover.
        by_group: Cover [percent] of every water group.
        by_origin: Cover [percent] of native, exotic and unknown plants.
        wet_share: Cover of the wet groups over that of all groups; None without cover.
        wetness: Mean weight of the groups by cover, 0 dry to 1 under water; None without cover.
    """

    richness: int
    by_group: Mapping[WaterGroup, float]
    by_origin: Mapping[Origin, float]
    wet_share: float | None
    wetness: float | None


def plot_cover(covers: Iterable[Cover], weights: Mapping[WaterGroup, float] = WETNESS) -> PlotCover:
    """Add up the covers of a plot; wetness = sum(cover x weight) / sum(cover), known groups only."""
    seen = [cover for cover in covers if cover.cover_percent > 0]
    groups = {
        group: math.fsum(cover.cover_percent for cover in seen if cover.group is group)
        for group in WaterGroup
    }
    origins = {
        origin: math.fsum(cover.cover_percent for cover in seen if cover.origin is origin)
        for origin in Origin
    }
    whole = math.fsum(groups.values())
    wet = math.fsum(cover for group, cover in groups.items() if group in WET_GROUPS)
    weighted = math.fsum(cover * weights[group] for group, cover in groups.items())
    return PlotCover(
        richness=len({cover.species for cover in seen}),
        by_group=groups,
        by_origin=origins,
        wet_share=wet / whole if whole > 0 else None,
        wetness=weighted / whole if whole > 0 else None,
    )


@dataclass(frozen=True)
class Spread:
    """Median and quartiles of n values."""

    n: int
    lower: float
    median: float
    upper: float


def spread(values: Sequence[float]) -> Spread | None:
    """Return median and quartiles, ends included (Hyndman and Fan 1996 type 7); None of nothing."""
    if len(values) < 2:
        return Spread(1, values[0], values[0], values[0]) if values else None
    lower, middle, upper = quantiles(values, n=4, method="inclusive")
    return Spread(len(values), lower, middle, upper)


@dataclass(frozen=True)
class Change:
    """One plot or tree scored twice."""

    point: str
    before: float
    after: float
    beyond_observer: bool  # more than two observers would differ by

    @property
    def change(self) -> float:
        return self.after - self.before


@dataclass(frozen=True)
class PairedChange:
    """What changed between two visits, only where both scored.

    Attributes:
        changes: One for each matched point, by name.
        least: Change that goes beyond observer spread, in the unit of the scores.
        unmatched: Points scored once only.
    """

    changes: tuple[Change, ...]
    least: float
    unmatched: tuple[str, ...]

    @property
    def spread(self) -> Spread | None:
        """Median and quartiles of the changes."""
        return spread([change.change for change in self.changes])


def paired_change(
    before: Mapping[str, float],
    after: Mapping[str, float],
    observer_sd: float = OBSERVER_SD_PERCENT,
) -> PairedChange:
    """Compare scores by point; a change counts above 2 sqrt(2) times the sd of one observer.

    Args:
        before: Score of each plot or tagged tree.
        after: The same, later.
        observer_sd: Spread of observers scoring the same thing, in the unit of the scores.

    Raises:
        ValueError: A score that is not finite, or an sd that is not 0 or more.
    """
    if not all(math.isfinite(score) for score in (*before.values(), *after.values())):
        raise ValueError("a score is not a finite number")
    if not 0 <= observer_sd < math.inf:
        raise ValueError(f"an observer sd of {observer_sd}: it must be 0 or more")
    least = CHANGE_IN_SDS * observer_sd
    return PairedChange(
        tuple(
            Change(point, before[point], after[point], abs(after[point] - before[point]) > least)
            for point in sorted(before.keys() & after.keys())
        ),
        least,
        tuple(sorted(before.keys() ^ after.keys())),
    )


def bray_curtis(one: Mapping[str, float], other: Mapping[str, float]) -> float:
    """Return the distance of two lists of covers, 0 alike to 1 nothing shared.

    Bray and Curtis (1957) Ecol. Monogr. 27:325-349: sum|a - b| / sum(a + b); 0 if both empty.

    Raises:
        ValueError: A cover that is not finite or below 0.
    """
    if not all(0 <= cover < math.inf for cover in (*one.values(), *other.values())):
        raise ValueError("a cover is not a finite number of 0 or more")
    pairs = [(one.get(name, 0.0), other.get(name, 0.0)) for name in one.keys() | other.keys()]
    whole = math.fsum(a + b for a, b in pairs)
    return math.fsum(abs(a - b) for a, b in pairs) / whole if whole > 0 else 0.0


@dataclass(frozen=True)
class TreeChange:
    """The same tagged trees at two visits; medians are of matched trees and None without any."""

    trees: PairedChange
    median_before: float | None
    median_after: float | None
    classes_before: Mapping[str, float]  # share of matched trees in each class
    classes_after: Mapping[str, float]


def tree_change(
    before: Mapping[str, float],
    after: Mapping[str, float],
    observer_sd: float = OBSERVER_SD_PERCENT,
) -> TreeChange:
    """Compare crown extent or density [percent] of tagged trees, those scored both times.

    Raises:
        UnreadableError: A score outside 0 to 100.
        ValueError: An sd that is not 0 or more.
    """
    for score in (*before.values(), *after.values()):
        _cover(score)
    trees = paired_change(before, after, observer_sd)
    first = [change.before for change in trees.changes]
    second = [change.after for change in trees.changes]
    return TreeChange(
        trees,
        median(first) if first else None,
        median(second) if second else None,
        _class_shares(first),
        _class_shares(second),
    )


def _class_shares(scores: Sequence[float]) -> dict[str, float]:
    classes = [crown_class(score) for score in scores]
    return {name: classes.count(name) / len(classes) for name in CROWN_CLASSES if classes}


def _cover(percent: float) -> float:
    if not 0 <= percent <= 100:
        raise UnreadableError(f"{percent} percent: 0 to 100 is possible")
    return percent
