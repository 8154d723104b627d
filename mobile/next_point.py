"""Where to go next: the next tree, plot or other point of a kind on this visit."""

from mobile.field_day import FieldDay
from shared_core.records.base import Record, Seen


def next_point(day: FieldDay, setup: type[Record], kind: type[Seen], point: str) -> str:
    """Return the next point of a kind that has no record on this visit yet, or nothing.

    Args:
        day: the visit.
        setup: what names the points.
        kind: what is recorded at each.
        point: where the last record was made; the search goes on after it, then from the start.
    """
    done = {standing.record.where for standing in day.seen_here([kind])} | {point}
    every = sorted({s.record.where for s in day.logbook.known().every(setup, day.site)})
    after = [code for code in every if code > point]
    return next((code for code in (*after, *every) if code not in done), "")
