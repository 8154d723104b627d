"""Whether the time of a record can be right, beside the visit it belongs to and the site's own clock.

The visit carries the alarm about a wrong clock; what was seen on it only says that it shares it.
"""

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Final

from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.limits import limits_at
from shared_core.records.site_setup import Site
from shared_core.records.visit import AHEAD_OF_NOW, CLOCK_ASK_MIN, Visit, offsets_at

AWAY_H: Final = 10.0  # from its visit: nobody stays so long (from memory)
HALF_A_DAY: Final = timedelta(hours=12)
HALF_A_DAY_WITHIN: Final = timedelta(hours=3)  # 12 h off by so much: morning and afternoon mixed up
VISIT_NEAR: Final = timedelta(days=2)
SECONDS_PER_MINUTE: Final = 60.0
SECONDS_PER_HOUR: Final = 3600.0


def time_findings(seen: Seen, known: Known) -> Iterator[Finding]:
    """Yield what is odd about the time of a record; a visit looks after its own clock."""
    yield from _before_the_site(seen, known)
    if isinstance(seen, Visit):
        return
    yield from _yet_to_come(seen, known)
    near = known.between(Visit, seen.site, seen.when - VISIT_NEAR, seen.when + VISIT_NEAR)
    visits = [s.record for s in near if s.record.visit == seen.visit]
    if visits:
        yield from _beside_visit(seen, visits[0], known)
    yield from _offset(seen, known, visits[0] if visits else None)


def _before_the_site(seen: Seen, known: Known) -> Iterator[Finding]:
    if known.in_force(Site, seen.site, seen.when) is not None:
        return
    later = known.after(Site, seen.site, seen.when)
    if later:
        yield Finding(
            code="clock-old",
            severity=Severity.STOP,
            field="seen_at",
            saw=f"This is stamped {seen.wall_clock:%-d %B %Y}.",
            expected=f"{later[0].record.name} was set up on {later[0].record.when:%-d %B %Y}.",
            do="Set the clock, and the time of this record.",
        )


def _yet_to_come(seen: Seen, known: Known) -> Iterator[Finding]:
    if known.now is not None and seen.when - known.now > AHEAD_OF_NOW:
        yield Finding(
            code="clock-future",
            severity=Severity.STOP,
            field="seen_at",
            saw=f"This is stamped {seen.wall_clock:%-d %B %H:%M}, which is yet to come.",
            do="Set the clock, and the time of this record.",
        )


def _beside_visit(seen: Seen, visit: Visit, known: Known) -> Iterator[Finding]:
    limits = limits_at(known, seen.site, seen.when)
    away = _away(seen.when, visit)
    if abs(away).total_seconds() / SECONDS_PER_HOUR > limits.get("clock-visit", AWAY_H):
        yield _off_the_visit(seen, away)
        return
    error = visit.clock_error
    minutes = error.total_seconds() / SECONDS_PER_MINUTE if error is not None else 0.0
    stamped_wrong = seen.time_source == "device" and visit.time_source == "device"
    if stamped_wrong and abs(minutes) > limits.get("clock", CLOCK_ASK_MIN):
        way = "ahead of" if minutes > 0 else "behind"
        yield Finding(
            code="clock",
            severity=Severity.NOTE,  # the visit asks, once for all that was seen on it
            field="seen_at",
            saw=f"The clock of this visit was {abs(minutes):.0f} min {way} satellite time.",
            do="The time is put right with that of the visit.",
        )


def _away(at: datetime, visit: Visit) -> timedelta:
    """Return how far a time lies after (+) or before (-) a visit; nothing while it lasts."""
    first = min(visit.arrived or visit.when, visit.when)
    last = max(visit.left or visit.when, visit.when)
    if at > last:
        return at - last
    return min(at - first, timedelta(0))


def _off_the_visit(seen: Seen, away: timedelta) -> Finding:
    hours = abs(away).total_seconds() / SECONDS_PER_HOUR
    way = "after" if away > timedelta(0) else "before"
    mixed = abs(abs(away) - HALF_A_DAY) <= HALF_A_DAY_WITHIN
    meant = seen.wall_clock - (HALF_A_DAY if away > timedelta(0) else -HALF_A_DAY)
    return Finding(
        code="clock-visit",
        severity=Severity.ASK,
        field="seen_at",
        saw=f"This is stamped {hours:.0f} h {way} its visit.",
        expected=f"Morning and afternoon mixed up? {meant:%H:%M} would fit." if mixed else "",
        do="Look at the time, and at which visit this belongs to.",
        suggests=meant.isoformat(timespec="minutes") if mixed else None,
    )


def _offset(seen: Seen, known: Known, visit: Visit | None) -> Iterator[Finding]:
    """Tell of an offset that the site does not keep then; ask where the visit had the right one."""
    standing = known.in_force(Site, seen.site, seen.when)
    if standing is None or seen.offset_min in (right := offsets_at(standing.record, seen.when)):
        return
    unlike = visit is not None and visit.offset_min != seen.offset_min
    yield Finding(
        code="clock-offset",
        severity=Severity.ASK if unlike else Severity.NOTE,
        field="offset_min",
        saw=f"The clock's offset is UTC{seen.offset_min / 60:+g}.",
        expected=f"On this date it is UTC{right[0] / 60:+g} there: daylight saving?",
        do="Look at the time zone of the device.",
        suggests=str(right[0]),
    )
