"""The visit itself on the site screen: the trip card, arriving and leaving."""

from mobile.field_day import FieldDay
from mobile.site_page import Row
from mobile.time_words import clock_words
from mobile.trip import out_shown
from mobile.visiting import visit_standing
from shared_core.records.visit import Visit


def visit_rows(day: FieldDay) -> tuple[Row, ...]:
    """Return the rows of the visit under way, in the order of the feet."""
    device = day.here()
    out = out_shown(day.logbook, device)
    standing = visit_standing(day)
    arrived = standing.record.arrived if standing else None
    when = f"At {clock_words(arrived, device.now, device.offset_min)}" if arrived else "Not yet"
    rows = (
        ("trip", "Trip card", "done" if out else "todo", out.title if out else "Not filled in yet"),
        ("arrive", "Arrive", "done" if arrived else "todo", when),
        ("leave", "Leave", "free", "Review, second copy, check-out"),
    )
    return tuple(
        Row(screen=screen, kind=Visit.kind, point=screen, title=title, state=state, says=says)
        for screen, title, state, says in rows
    )
