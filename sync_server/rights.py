"""What a person may write and read: pure rules over one entry and what was said before.

Writing. A line that breaks a rule goes to quarantine whole and unchanged, never to nowhere.

* Author and device of a line are those of the token; nobody writes in another's name.
* The site lies in the person's scope, and so do the sites under which the record stood before.
* A correction names a record that has arrived here, and keeps its kind.
* A landholder writes visits, gauge and meter readings, pump hours, rain, photos and hazards, about
  their own points where these are listed, and corrects only records they began themselves.
* An officer writes every observation, the set-up that is made in the field (gauges, zeros, level
  checks, bench marks, pumps, meters, loggers and their files, bores, rain gauges, photo points,
  plots, trees), and kinds of a newer version that are unknown here. They correct records they began
  themselves, and of other people's records only what closes in the field: the plan's dates first
  full and dry, a planned visit's state, the removal of a meter.
* A coordinator writes and corrects everything in scope, and closes what is disputed.

Reading. Everybody sees their sites only. A landholder sees the set-up, hazards, and the records
they began themselves, with every correction of these by others.
"""

from collections.abc import Callable, Mapping, Sequence
from typing import Final

from shared_core.merge import Entry, changes
from shared_core.records import KINDS
from shared_core.records.base import Seen, SetUp
from sync_server.access import COORDINATOR, LANDHOLDER, Caller

LANDHOLDER_KINDS: Final = frozenset(
    ("visit", "gauge_reading", "meter_reading", "pump_run", "rain_reading", "photo_taken", "hazard")
)
POINT_KINDS: Final = frozenset(("gauge_reading", "meter_reading", "pump_run", "rain_reading"))
SET_UP_KINDS: Final = frozenset(kind.kind for kind in KINDS if issubclass(kind, SetUp))
SEEN_KINDS: Final = frozenset(kind.kind for kind in KINDS if issubclass(kind, Seen))
FIELD_SET_UP: Final = frozenset(
    (
        "gauge", "gauge_zero", "level_check", "bench_mark", "pump", "meter_fitted", "level_logger",
        "logger_series", "bore", "rain_gauge", "photo_point", "plot_set", "tree_tagged",
    )
)  # fmt: skip
CLOSED_IN_THE_FIELD: Final[Mapping[str, frozenset[str]]] = {
    "watering_plan": frozenset(("first_full_on", "dry_on")),
    "planned_visit": frozenset(("state", "state_because")),
    "meter_fitted": frozenset(("removed_at", "final_display")),
}
SEEN_BY_ALL: Final = SET_UP_KINDS | {
    "hazard"
}  # a pin on the ground is for everyone who walks there


def refusal(entry: Entry, caller: Caller, earlier: Sequence[Entry]) -> str:
    """Say why a line may not be taken from this caller, or nothing.

    Args:
        entry: the line that was handed in.
        caller: who the token belongs to.
        earlier: what is here about the same record.
    """
    if caller.revoked_at is not None:
        return f"device {caller.device} was shut out on {caller.revoked_at:%Y-%m-%d %H:%M} UTC"
    if entry.device != caller.device:
        return f"the line is of device {entry.device}, the token of {caller.device}"
    if entry.author != caller.name:
        return f"the line is by {entry.author}, the token of {caller.name}"
    return _site_refusal(entry, caller, earlier) or _record_refusal(entry, caller, earlier)


def _site_refusal(entry: Entry, caller: Caller, earlier: Sequence[Entry]) -> str:
    in_body = (entry.body or {}).get("site", entry.site)
    if in_body != entry.site:
        return f"the line is for site {entry.site}, its record for {in_body!r}"
    for site in (entry.site, *(before.site for before in earlier)):
        if not caller.reaches(site):
            return f"site {site} is outside the scope of {caller.name}"
    return ""


def _record_refusal(entry: Entry, caller: Caller, earlier: Sequence[Entry]) -> str:
    here = {before.entry for before in earlier}
    if any(before.kind != entry.kind for before in earlier):
        return f"the record is a {earlier[0].kind}, the line says {entry.kind}"
    if not set(entry.replaces) <= here:
        return "it corrects something that has not arrived here"
    if caller.role == COORDINATOR:
        return ""
    if earlier and not began(earlier, caller.name):
        return _others_refusal(entry, caller, earlier)
    return _kind_refusal(entry, caller)


def _others_refusal(entry: Entry, caller: Caller, earlier: Sequence[Entry]) -> str:
    open_fields = CLOSED_IN_THE_FIELD.get(entry.kind, frozenset())
    if caller.role != LANDHOLDER and entry.body is not None and entry.replaces:
        changed = set(changes(entry, earlier))
        if changed <= open_fields:
            return ""
    return f"the record was begun by somebody else; a coordinator corrects it, not a {caller.role}"


def _kind_refusal(entry: Entry, caller: Caller) -> str:
    kind = entry.kind
    if caller.role == LANDHOLDER:
        if kind not in LANDHOLDER_KINDS:
            return f"a landholder does not write a {kind}"
        point = (entry.body or {}).get("point", "")
        if caller.points and kind in POINT_KINDS and entry.body and point not in caller.points:
            return f"point {point} is outside the scope of {caller.name}"
        return ""
    if kind in SEEN_KINDS or kind in FIELD_SET_UP or kind not in SET_UP_KINDS:
        return ""
    return f"a {kind} is written by a coordinator, not by an {caller.role}"


def began(entries: Sequence[Entry], name: str) -> bool:
    """Tell whether all first entries about a record are by one person."""
    here = {entry.entry for entry in entries}
    first = [entry for entry in entries if not here & set(entry.replaces)]
    return bool(first) and all(entry.author == name for entry in first)


def may_see(entry: Entry, caller: Caller, history: Callable[[str], Sequence[Entry]]) -> bool:
    """Tell whether a caller may read a line; ``history`` gives all that was said of a record."""
    if caller.revoked_at is not None or not caller.reaches(entry.site):
        return False
    if caller.role != LANDHOLDER or entry.kind in SEEN_BY_ALL or entry.author == caller.name:
        return True
    first = history(entry.record)
    here = {before.entry for before in first}
    return any(before.author == caller.name for before in first if not here & set(before.replaces))
