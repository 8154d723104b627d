"""Readings of one gauge by two visits near in time: the same one twice, or two that disagree.

Both stay; a person picks, with the photos of the plate side by side. Nothing is averaged by itself.
"""

from collections.abc import Iterator
from typing import Final

from shared_core.records.base import Finding, Known, Severity, Standing
from shared_core.records.context import expected_from, stage_level
from shared_core.records.levels_seen import recent_levels
from shared_core.records.overviews import Overview
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.staff_gauge_pairs import COPY_M, COPY_WITHIN, TEAMS_M, TEAMS_WITHIN
from shared_core.units import MM_PER_M

PHOTO_LETTERS: Final = 12  # of a photo's fingerprint, enough to find it


def twin_overviews(known: Known, site: str, *, least_m: float = TEAMS_M) -> Iterator[Overview]:
    """Yield two visits' readings of a gauge that look alike, or that do not agree.

    Args:
        known: What is known.
        site: The site.
        least_m: How far two may lie apart beyond the change expected [m].
    """
    readings = [s for s in known.every(GaugeReading, site) if not s.record.unused]
    for place, earlier in enumerate(readings):
        for later in readings[place + 1 :]:
            apart = later.record.when - earlier.record.when
            if apart > TEAMS_WITHIN:
                break
            if _are_twins(earlier.record, later.record):
                yield from _told(known, earlier, later, least_m)


def _are_twins(one: GaugeReading, other: GaugeReading) -> bool:
    same_gauge = one.point == other.point
    return same_gauge and one.visit != other.visit and None not in (one.stage_m, other.stage_m)


def _told(
    known: Known, earlier: Standing[GaugeReading], later: Standing[GaugeReading], least_m: float
) -> Iterator[Overview]:
    first, second = earlier.record, later.record
    apart_m = (second.stage_m or 0.0) - (first.stage_m or 0.0)
    near = second.when - first.when <= COPY_WITHIN and abs(apart_m) < COPY_M
    if near and _is_retyped(first, second):
        yield _overview(
            "twin-same",
            earlier,
            later,
            "Probably one reading typed twice; set one aside as 'not used'.",
        )
        return
    beyond_m = _beyond_m(known, earlier, later, apart_m)
    if not near and abs(beyond_m) > least_m:
        yield _overview(
            "twin-apart",
            earlier,
            later,
            f"They lie {abs(beyond_m) * MM_PER_M:.0f} mm apart beyond the change expected.",
        )


def _is_retyped(one: GaugeReading, other: GaugeReading) -> bool:
    """Two people who both stood there are two readings; who did has a position or a photo."""
    from_paper = bool(one.typed_from_paper_by or other.typed_from_paper_by)
    same_people = bool(set(one.observers) & set(other.observers))
    stood = [bool(each.position or each.photos) for each in (one, other)]
    return from_paper or same_people or stood[0] != stood[1]


def _beyond_m(
    known: Known, earlier: Standing[GaugeReading], later: Standing[GaugeReading], apart_m: float
) -> float:
    """Return how much of the difference was not to be expected [m]."""
    second = later.record
    bases = recent_levels(known, second.site, second.when)
    base = next((b for b in bases if b.standing.record_id == earlier.record_id), None)
    level = stage_level(known, second)
    window = expected_from(known, base, second.when, gauge=second.point) if base else None
    if level is None or window is None or base is None or base.level_m is None:
        return apart_m
    return window.misses_by_m(level.level_m)


def _overview(
    code: str, earlier: Standing[GaugeReading], later: Standing[GaugeReading], expected: str
) -> Overview:
    first, second = earlier.record, later.record
    return Overview(
        record_ids=(earlier.record_id, later.record_id),
        finding=Finding(
            code=code,
            severity=Severity.ASK,
            field="stage_m",
            saw=f"{first.point} was read {first.stage_m:.3f} m by {earlier.author} and"
            f" {second.stage_m:.3f} m by {later.author}, {first.wall_clock:%-d %B %Y %H:%M} and"
            f" {second.wall_clock:%H:%M}.",
            expected=expected,
            do=f"Put the photos side by side: {_photos(first)} and {_photos(second)}.",
        ),
    )


def _photos(reading: GaugeReading) -> str:
    return ", ".join(name[:PHOTO_LETTERS] for name in reading.photos) or "none taken"
