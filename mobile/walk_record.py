"""A finished walk as a record: its fixes, the gauge before and after, what the walker said."""

from datetime import datetime, timedelta
from typing import Any, Final

from mobile.field_day import FieldDay
from mobile.walk_live import BACK_M, makes_a_ring
from mobile.walk_track import Begun, Line, WalkTrack
from shared_core.field_shapes import Position
from shared_core.records.context import rating_at
from shared_core.records.levels_seen import newest_level, zero_at
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.staff_gauge import GaugeReading
from shared_core.track import Fix, WalkMeasure
from shared_core.units import hectares

NEAR_S: Final = 1.0  # fixes are taken no closer: common practice is 1 to 5 s
LARGEST_GAP_M: Final = 100.0  # beyond it a gap is no figure worth keeping; the findings say it
MOST_READINGS: Final = 20  # of one visit
JUST_NOW: Final = timedelta(seconds=1)  # a reading of this very moment counts as before it


def gauge_read(
    day: FieldDay,
    now: datetime,
    *,
    visit: str = "",
    gauge: str | None = None,
    since: datetime | None = None,
) -> GaugeReading | None:
    """Return the newest stage read on a visit, at one gauge if it is named, since a time."""
    known = day.logbook.known()
    readings = known.before(
        GaugeReading, day.site, now + JUST_NOW, point=gauge, limit=MOST_READINGS
    )
    for standing in readings:
        reading = standing.record
        fits = reading.visit == (visit or day.visit) and reading.stage_m is not None
        if fits and (since is None or reading.seen_at > since):
            return reading
    return None


def rated(day: FieldDay, begun: Begun | None, now: datetime) -> tuple[float | None, float | None]:
    """Return the level at a walk's beginning [m], and the area of the rating there [m2]."""
    level_m = _level_m(day, begun, now)
    table = rating_at(day.logbook.known(), day.site, now)
    if level_m is None or table is None or not table.rating.contains(level_m):
        return level_m, None
    return level_m, table.rating.area_at(level_m)


def _level_m(day: FieldDay, begun: Begun | None, now: datetime) -> float | None:
    known = day.logbook.known()
    read = begun or gauge_read(day, now)
    gauge, stage_m = None, None
    if isinstance(read, Begun):
        gauge, stage_m = read.gauge, read.stage_m
    elif read is not None:
        gauge, stage_m = read.point, read.stage_m
    if gauge is not None and stage_m is not None:
        zero = zero_at(known, day.site, gauge, now)
        if zero is not None:
            return stage_m + zero.zero_m
    newest = newest_level(known, day.site, now + JUST_NOW)
    return newest.level_m if newest else None


def fixed_of(day: FieldDay, track: WalkTrack, now: datetime) -> dict[str, Any]:
    """Return everything of a walk that the walker need not type."""
    begun, shore = track.begun, track.shore
    rings = [line for line in track.islands if makes_a_ring(line)]
    after = None
    if begun and begun.gauge:
        after = gauge_read(day, now, visit=begun.visit, gauge=begun.gauge, since=begun.at)
    fixed: dict[str, Any] = {
        "fixes": tuple(map(_row, shore.fixes)),
        "stage_before_m": begun.stage_m if begun else None,
        "stage_after_m": after.stage_m if after else None,
        "gauge": begun.gauge if begun else None,
        "closed": bool(shore.fixes) and shore.gap_m <= BACK_M,
        "gap_m": round(shore.gap_m, 1) if shore.gap_m <= LARGEST_GAP_M else None,
        "water_side": track.water_side or None,
        "off_waterline": _stretches(track),
        "islands_seen": len(track.islands) + track.seen_only,
        "islands_walked": _islands(rings),
    }
    if shore.fixes:
        last = shore.fixes[-1]
        fixed |= {
            "seen_at": last.time,
            "time_source": "gnss",
            "position": Position(last.lat, last.lon, last.accuracy_m),
        }
    return fixed


def _row(fix: Fix) -> tuple[Any, ...]:
    return (fix.time, fix.lat, fix.lon, fix.accuracy_m, fix.speed_m_s)


def _stretches(track: WalkTrack) -> tuple[tuple[Any, ...], ...]:
    newest = max(0, len(track.shore.fixes) - 1)
    return tuple(
        (
            float(stretch.first),
            float(newest if stretch.last is None else stretch.last),
            stretch.offset_m,
            stretch.how,
        )
        for stretch in track.stretches
    )


def _islands(rings: list[Line]) -> tuple[tuple[Any, ...], ...]:
    return tuple(
        (float(number), *_row(fix)) for number, line in enumerate(rings, 1) for fix in line.fixes
    )


def already_kept(day: FieldDay, track: WalkTrack) -> bool:
    """Tell whether a walk reached the logbook, although the app was ended right after that."""
    begun, fixes = track.begun, track.shore.fixes
    if begun is None or not fixes:
        return False
    known = day.logbook.known()
    kept = known.between(ShorelineWalk, day.site, fixes[-1].time, fixes[-1].time)
    return any(
        standing.record.visit == begun.visit and len(standing.record.fixes) == len(fixes)
        for standing in kept
    )


def main_words(measure: WalkMeasure | None) -> str:
    """Say the area of a walk the way people do."""
    return "" if measure is None else f"{hectares(measure.area_m2):.2f} ha"
