"""The visit under way: its note on disk, its one record, who is along, and which time it keeps."""

import json
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any, Final

from mobile.drafts import Draft
from mobile.field_day import FieldDay
from mobile.site_page import WHOLE_SITE
from shared_core.field_kinds import Field
from shared_core.fields import fields_of
from shared_core.records.base import Standing
from shared_core.records.plan import PlannedVisit
from shared_core.records.visit import Visit

OUT: Final = "out"  # name of the draft that says who is out, and until when
FIELDS: Final[dict[str, Field]] = {field.name: field for field in fields_of(Visit)}


def note_of(day: FieldDay) -> dict[str, Any]:
    """Return what is noted on disk about the visit under way."""
    kept = json.loads(day.logbook.drafts().get(f"visit/{day.site}", "{}"))
    return dict(kept) if kept.get("visit") == day.visit else {}


def note(day: FieldDay, **more: object) -> None:
    """Note something about the visit under way; it is on disk when this returns."""
    begun = {
        "visit": day.visit,
        "observers": list(day.observers),
        "begun": day.clock_shows().now.isoformat(),
    }
    kept = {**begun, **note_of(day), **more}
    day.logbook.keep_draft(f"visit/{day.site}", json.dumps(kept, ensure_ascii=False))


def go_with(day: FieldDay, people: Sequence[str]) -> None:
    """Say who is along; all records of the visit from now on name them."""
    day.observers = tuple(people) or (day.author,)
    note(day, observers=list(day.observers))


def take_time(day: FieldDay, ahead: timedelta, source: str) -> None:
    """Stamp the records of this visit with another time than the device's clock shows.

    Args:
        day: the day in the field.
        ahead: how far the device's clock is ahead of that time.
        source: where that time comes from, one of ``records.base.TIME_SOURCES``.
    """
    note(day, clock_ahead_s=ahead.total_seconds(), time_from=source)
    day.clock_ahead, day.time_from = ahead, source


def keep_clock(day: FieldDay) -> None:
    """Go back to the time of the device's clock."""
    note(day, clock_ahead_s=0.0, time_from="")
    day.clock_ahead, day.time_from = timedelta(0), ""


def visit_standing(day: FieldDay) -> Standing[Visit] | None:
    """Return the record of the visit under way, once it has been written."""
    known = day.seen_here((Visit,))
    found = [standing for standing in known if isinstance(standing.record, Visit)]
    return day_last(found)


def day_last(found: Sequence[Standing[Any]]) -> Standing[Any] | None:
    """Return the record that was written last."""
    return max(found, key=lambda standing: standing.written_at, default=None)


def visit_draft(day: FieldDay) -> Draft:
    """Begin the record of this visit, or a correction of it if it has been written."""
    standing = visit_standing(day)
    if standing is not None:
        return day.correct(standing.record_id)
    return day.draft(Visit, WHOLE_SITE)


def planned_here(day: FieldDay) -> PlannedVisit | None:
    """Return the plan that this visit carries out: that of its code, or the only one of today."""
    today = day.here().now
    known = day.logbook.known()
    by_code = known.in_force(PlannedVisit, day.site, today + timedelta(days=30), point=day.visit)
    if by_code is not None:
        return by_code.record
    near = [s.record for s in day.planned(day.site) if s.record.state == "planned"]
    near = [plan for plan in near if abs(plan.valid_from - today) < timedelta(hours=24)]
    return near[0] if len(near) == 1 else None


def ensure_team(day: FieldDay, draft: Draft) -> None:
    """Fill in the team if nobody has: that of the plan, or the person whose hands these are."""
    if not draft.typed.get("team", "").strip():
        plan = planned_here(day)
        draft.type("team", plan.team if plan else ", ".join(day.observers) or day.author)


def moment_in(draft: Draft, field: str) -> datetime | None:
    """Return the moment that a box of the visit holds, if it holds one."""
    text = draft.typed.get(field, "")
    return None if not text else datetime.fromisoformat(text)


def end_visit(day: FieldDay) -> None:
    """Forget the note of the visit under way: the next touch of the site begins another."""
    day.logbook.drop_draft(f"visit/{day.site}")
    if f"left-out/{day.visit}" in day.logbook.drafts():
        day.logbook.drop_draft(f"left-out/{day.visit}")
    day.clock_ahead, day.time_from = timedelta(0), ""
