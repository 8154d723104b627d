"""What is odd about a shoreline walk, and what it measured, beside the rating at the level read."""

import functools
from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import Any, Final

from shared_core.errors import StrandlineError
from shared_core.records.base import Answer, Finding, Known, Severity
from shared_core.records.context import rating_at
from shared_core.records.folding import folded
from shared_core.records.levels_seen import newest_level, zero_at
from shared_core.records.limits import limits_at
from shared_core.records.places import BEYOND_SITE_M, beyond_site
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.track import (
    USUAL_CLEANING,
    USUAL_CLOSING,
    CleaningLimits,
    ClosingLimits,
    Dropped,
    Fix,
    Reason,
    WalkMeasure,
    boundary_offset_m,
    measure_walk,
)
from shared_core.units import MM_PER_M, hectares

POOR_SHARE: Final = 0.10  # of fixes worse than 10 m; open sky gives 2 to 5 (Tomastik et al. 2017)
# Walked area over the rating's: walks of one invented season lie in 0.995 to 1.031; doubled and
# rounded up, and again (computed).
RATIO_ASK: Final = (0.93, 1.07)
RATIO_FAR: Final = (0.85, 1.15)
ISLAND_SHARE: Final = 0.05  # of the area, for islands seen and not walked (from memory)
STEADY_M: Final = 0.020  # between the gauge read before a walk and after it: common practice
WILD: Final = (Reason.JUMP, Reason.ACCURACY, Reason.SPEED)
ORDER: Final = ("walk-gap", "walk-loop", "walk-area")


def walk_findings(walk: ShorelineWalk, known: Known) -> Iterator[Finding]:
    """Yield what is odd about a walk that can be told without the ground's heights."""
    limits = limits_at(known, walk.site, walk.when)
    away = beyond_site(known, walk, limits.get("site-distance", BEYOND_SITE_M))
    if away is not None:
        yield away
    try:
        measure = measured(walk, limits)
    except StrandlineError as error:
        yield Finding(
            code="walk-too-short",
            severity=Severity.STOP,
            field="fixes",
            saw=f"{error}",
            do="Walk on; a ring needs the whole waterline.",
        )
        return
    checks = (
        *_gap(walk, measure),
        *_quality(measure, limits),
        *_loops(measure),
        *_area(walk, known, measure, limits),
        *_steady(walk, limits),
    )
    yield from folded(checks, ORDER)


def fixes_of(rows: tuple[tuple[Any, ...], ...]) -> tuple[Fix, ...]:
    """Return the rows of a track as fixes; the last five values of a row speak."""
    return tuple(Fix(*row[-5:]) for row in rows)


def islands_of(walk: ShorelineWalk) -> tuple[tuple[Fix, ...], ...]:
    """Return the walked islands, each as its fixes."""
    numbers = sorted({row[0] for row in walk.islands_walked})
    return tuple(
        fixes_of(tuple(row for row in walk.islands_walked if row[0] == number))
        for number in numbers
    )


def measured(walk: ShorelineWalk, limits: Mapping[str, float]) -> WalkMeasure:
    """Return what a walk measured.

    Raises:
        UnreadableError: fewer than three fixes count.
    """
    cleaning = CleaningLimits(
        accuracy_m=walk.longest_accuracy_m or USUAL_CLEANING.accuracy_m,
        speed_m_s=walk.fastest_m_s or USUAL_CLEANING.speed_m_s,
        jump_m=limits.get("walk-jump", USUAL_CLEANING.jump_m),
    )
    closing = ClosingLimits(
        gap_m=limits.get("walk-gap", USUAL_CLOSING.gap_m),
        gap_share=limits.get("walk-gap-share", USUAL_CLOSING.gap_share),
    )
    return _measured(walk.fixes, islands_of(walk), cleaning, closing)


@functools.lru_cache(maxsize=16)
def _measured(
    fixes: tuple[tuple[Any, ...], ...],
    islands: tuple[tuple[Fix, ...], ...],
    cleaning: CleaningLimits,
    closing: ClosingLimits,
) -> WalkMeasure:
    return measure_walk(fixes_of(fixes), islands=islands, cleaning=cleaning, closing=closing)


def _gap(walk: ShorelineWalk, measure: WalkMeasure) -> Iterator[Finding]:
    closing = measure.closing
    if not closing.needs_mark:
        if not walk.closed:
            yield Finding(
                code="walk-not-closed",
                severity=Severity.NOTE,
                field="closed",
                saw=f"Not marked as closed; {closing.gap_m:.0f} m are left.",
                expected="So short a gap does no harm.",
            )
        return
    yield Finding(
        code="walk-gap",
        severity=Severity.ASK,
        field="closed",
        saw=f"The walk ends {closing.gap_m:.0f} m from its start,"
        f" {closing.gap_share:.1%} of the way round.",
        expected="Up to 10 m or 1 % is closed by a straight line without harm.",
        do="Walk on to the start, or say in the remark why not.",
        suggests="no" if walk.closed else None,
    )


def _quality(measure: WalkMeasure, limits: Mapping[str, float]) -> Iterator[Finding]:
    if measure.inaccurate_share > limits.get("walk-accuracy", POOR_SHARE):
        yield Finding(
            code="walk-accuracy",
            severity=Severity.NOTE,
            field="fixes",
            saw=f"{measure.inaccurate_share:.0%} of the fixes are worse than 10 m.",
            expected="The area is that much less sure.",
            do="Wait for a better fix, or walk the stretch under the trees again.",
        )
    wild = [dropped for dropped in measure.dropped if dropped.reason in WILD]
    share = len(wild) / (len(wild) + len(measure.closing.ring))
    many = share > limits.get("walk-wild", POOR_SHARE)
    if wild:
        yield Finding(
            code="walk-wild",
            severity=Severity.NOTE,
            field="fixes",
            saw=f"{len(wild)} wild fixes are left out of the area: {_times(wild)}.",
            expected=f"They are {share:.0%} of all: jumps, speeds, poor accuracy."
            if many
            else "They stay in the track.",
            do="Walk the stretch again, or at a slower pace." if many else "",
        )


def _times(dropped: list[Dropped]) -> str:
    shown = ", ".join(f"{each.fix.time:%H:%M:%S}" for each in dropped[:3])
    return shown + (" and more, UTC" if len(dropped) > 3 else " UTC")


def _loops(measure: WalkMeasure) -> Iterator[Finding]:
    if not measure.loops:
        return
    longest = max(measure.loops, key=lambda loop: loop.length_m)
    more = f" and {len(measure.loops) - 1} more" if len(measure.loops) > 1 else ""
    yield Finding(
        code="walk-loop",
        severity=Severity.ASK if longest.area_m2 > 0.005 * measure.area_m2 else Severity.NOTE,
        field="fixes",
        saw=f"The line crosses itself in a loop of {longest.length_m:.0f} m"
        f" ({hectares(longest.area_m2):.3f} ha){more}.",
        do="Was a stretch walked twice? Mark it.",
    )


def level_walked_m(walk: ShorelineWalk, known: Known) -> float | None:
    """Return the level during a walk [m]: the gauge read before and after it, else the last one."""
    stages = [s for s in (walk.stage_before_m, walk.stage_after_m) if s is not None]
    zero = zero_at(known, walk.site, walk.gauge, walk.when) if walk.gauge else None
    if stages and zero is not None:
        return sum(stages) / len(stages) + zero.zero_m
    newest = newest_level(known, walk.site, walk.when)
    return newest.level_m if newest else None


def _rated_m2(walk: ShorelineWalk, known: Known, at: datetime) -> float | None:
    level_m = level_walked_m(walk, known)
    table = rating_at(known, walk.site, at)
    if level_m is None or table is None or not table.rating.contains(level_m):
        return None
    return table.rating.area_at(level_m)


def _area(
    walk: ShorelineWalk, known: Known, measure: WalkMeasure, limits: Mapping[str, float]
) -> Iterator[Finding]:
    rated_m2 = _rated_m2(walk, known, walk.when)
    if not rated_m2:
        return
    ratio = measure.area_m2 / rated_m2
    low = limits.get("walk-area-low", RATIO_ASK[0])
    high = limits.get("walk-area-high", RATIO_ASK[1])
    unwalked = (walk.islands_seen or 0) - len(islands_of(walk))
    if unwalked > 0:
        high += ISLAND_SHARE  # the rating leaves its islands out, this walk does not
    if low <= ratio <= high:
        return
    far = not RATIO_FAR[0] <= ratio <= RATIO_FAR[1]
    islands = " An island was seen and not walked." if unwalked > 0 else ""
    offset_m = boundary_offset_m(measure.area_m2, rated_m2, measure.perimeter_m)
    way = "outside" if offset_m > 0 else "inside"
    yield Finding(
        code="walk-area",
        severity=Severity.ASK,
        field="fixes",
        saw=f"{hectares(measure.area_m2):.2f} ha walked, {ratio:.2f} of the"
        f" {hectares(rated_m2):.2f} ha of the rating: {abs(offset_m):.0f} m {way} all round."
        f"{islands}",
        expected="Walk and rating agree within 7 %.",
        do=("Read the gauge again, and look at the whole track: " if far else "")
        + "Was it the water's edge or the plants'? Islands, arms?",
    )


def _steady(walk: ShorelineWalk, limits: Mapping[str, float]) -> Iterator[Finding]:
    if walk.stage_before_m is None or walk.stage_after_m is None:
        return
    change_m = walk.stage_after_m - walk.stage_before_m
    if abs(change_m) > limits.get("walk-steady", STEADY_M):
        yield Finding(
            code="walk-steady",
            severity=Severity.ASK,
            field="stage_after_m",
            saw=f"The gauge moved {change_m * MM_PER_M:+.0f} mm during the walk.",
            expected="A walk needs a steady level.",
            do="Read the gauge again.",
        )


def walk_answers(walk: ShorelineWalk, known: Known) -> Iterator[Answer]:
    """Yield what a walk measured."""
    try:
        measure = measured(walk, limits_at(known, walk.site, walk.when))
    except StrandlineError:
        return
    area_ha, sd_ha = hectares(measure.area_m2), hectares(measure.area_sd_m2)
    per_metre_ha = hectares(measure.offset_area_per_metre_m2)
    yield Answer(
        label="Area walked",
        says=f"{area_ha:.2f} ± {sd_ha:.2f} ha; one metre off the water's edge all round would be"
        f" {per_metre_ha:.2f} ha",
        value=measure.area_m2,
        sd=measure.area_sd_m2,
        unit="m2",
    )
    yield Answer(
        label="Shoreline",
        says=f"{measure.perimeter_m:.0f} m",
        value=measure.perimeter_m,
        unit="m",
    )
    rated_m2 = _rated_m2(walk, known, walk.when)
    if rated_m2:
        ratio = measure.area_m2 / rated_m2
        yield Answer(label="Walked to rating", says=f"{ratio:.3f}", value=ratio)
