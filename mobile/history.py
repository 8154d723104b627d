"""What was said about a record, by whom and why; and a person's own records. No Kivy."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime, timedelta, timezone
from typing import Any, Final

from mobile.drafts import HEAD
from mobile.field_day import FieldDay
from shared_core.errors import UnknownError, UnreadableError
from shared_core.field_kinds import Field
from shared_core.fields import fields_of
from shared_core.logbook import Logbook, Said
from shared_core.merge import WITHDRAWN, Entry, changes, heads, joined, read_entry
from shared_core.records.base import Record, Seen

REASONS: Final = (
    "I typed it wrong",
    "I read it again",
    "Wrong gauge or meter",
    "The photo shows it",
)
UNSAID: Final = frozenset(
    ("as_typed", "position")
)  # shown apart, or of no use in a list of changes
PAGE: Final = 40  # own records on one page
_LINES_AT_ONCE: Final = 100  # of this device's log, read while a page is filled


@dataclasses.dataclass(frozen=True, kw_only=True)
class Change:
    """What one entry changed in a field."""

    label: str
    before: str
    after: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class Saying:
    """One entry as people read it."""

    what: str  # Written, Corrected, Withdrawn
    who: str
    when: str
    device: str
    reason: str
    changes: tuple[Change, ...]
    raw: tuple[tuple[str, str], ...]  # label and the text exactly as it was typed


@dataclasses.dataclass(frozen=True, kw_only=True)
class Dispute:
    """A field for which people who had not read each other wrote different values."""

    label: str
    sides: tuple[tuple[str, str], ...]  # who and when, value


@dataclasses.dataclass(frozen=True, kw_only=True)
class HistoryShown:
    """What the page of one record shows."""

    title: str
    sub: str
    sayings: tuple[Saying, ...]  # newest first
    disputes: tuple[Dispute, ...]
    may_change: bool
    why_not: str


def wall_clock(moment: datetime, offset_min: int) -> str:
    """Return a time as a clock on site showed it."""
    local = moment.astimezone(timezone(timedelta(minutes=offset_min)))
    return f"{local.day} {local:%b %Y, %H:%M}"


class RecordHistory:
    """All that was said about one record, and what its writer may do about it."""

    def __init__(self, day: FieldDay, record_id: str) -> None:
        """Read what is here now; a withdrawal replaces these heads and no later ones.

        Raises:
            UnknownError: if nothing is known of the record.
        """
        self.record_id = record_id
        self._day = day
        self._entries = day.logbook.history(record_id)
        if not self._entries:
            raise UnknownError("that record is not on this device any more")
        self._kind = day.logbook.kinds.get(self._entries[0].kind)
        self._fields = {field.name: field for field in fields_of(self._kind)} if self._kind else {}

    def shown(self) -> HistoryShown:
        """Return what to show."""
        first = self._entries[0]
        body = first.body or {}
        point = str(body.get("point") or "")
        why_not = self._why_not()
        return HistoryShown(
            title=" ".join(part for part in (self._title(), point) if part),
            sub=f"Written by {first.author}, {wall_clock(first.written_at, first.offset_min)}",
            sayings=tuple(self._saying(entry) for entry in reversed(self._entries)),
            disputes=self._disputes(),
            may_change=not why_not,
            why_not=why_not,
        )

    def _title(self) -> str:
        return self._kind.title if self._kind else self._entries[0].kind

    def _saying(self, entry: Entry) -> Saying:
        what = "Corrected" if entry.replaces else "Written"
        return Saying(
            what="Withdrawn" if entry.body is None else what,
            who=entry.author,
            when=wall_clock(entry.written_at, entry.offset_min),
            device=entry.device,
            reason=entry.note,
            changes=self._changes(entry) if entry.body is not None else (),
            raw=self._raw(entry),
        )

    def _changes(self, entry: Entry) -> tuple[Change, ...]:
        hidden = UNSAID if entry.replaces else UNSAID | HEAD | {"site"}
        found = (
            Change(
                label=self._label(name), before=self._show(name, old), after=self._show(name, new)
            )
            for name, (old, new) in changes(entry, self._entries).items()
            if name not in hidden
        )
        return tuple(change for change in found if change.before != change.after)

    def _raw(self, entry: Entry) -> tuple[tuple[str, str], ...]:
        """Return what was typed, unless the entry it replaces already says the same."""
        typed = (entry.body or {}).get("as_typed") or {}
        before = {e.entry: (e.body or {}).get("as_typed") for e in self._entries}
        if any(before.get(name) == typed for name in entry.replaces):
            return ()
        return tuple((self._label(name), str(text)) for name, text in typed.items())

    def _label(self, name: str) -> str:
        field = self._fields.get(name)
        return "The whole record" if name == WITHDRAWN else field.label if field else name

    def _show(self, name: str, stored: Any) -> str:  # noqa: ANN401 - any stored value
        if name == WITHDRAWN:
            return "withdrawn" if stored else "kept"
        return shown(self._fields.get(name), stored)

    def _disputes(self) -> tuple[Dispute, ...]:
        by_name = {entry.entry: entry for entry in self._entries}

        def side(name: str, field: str, value: Any) -> tuple[str, str]:  # noqa: ANN401 - the same
            entry = by_name[name]
            who = f"{entry.author}, {wall_clock(entry.written_at, entry.offset_min)}"
            return who, self._show(field, value)

        return tuple(
            Dispute(label=self._label(field), sides=tuple(side(n, field, v) for n, v in pairs))
            for field, pairs in joined(self._entries).disputed.items()
        )

    def _why_not(self) -> str:
        if not began(self._entries, self._day.author):
            return (
                "Somebody else wrote this record. If you saw it otherwise, tell the coordinator,"
                " who can correct it with a reason."
            )
        if self._kind is None or self._day.logbook.standing(self.record_id) is None:
            return "This record is withdrawn. Its history stays."
        return ""

    def withdraw(self, reason: str) -> Entry:
        """Withdraw the record; everything said about it stays readable.

        Raises:
            UnreadableError: if no reason is given, or it is not the person's own record.
        """
        if not reason.strip():
            raise UnreadableError("a withdrawal needs its reason, such as: read the wrong gauge")
        if self._why_not():
            raise UnreadableError(self._why_not())
        said = Said(
            author=self._day.author,
            note=reason.strip(),
            offset_min=self._day.here().offset_min,
        )
        read = [entry.entry for entry in heads(self._entries)]
        return self._day.logbook.withdraw(self.record_id, said, read=read)


def began(entries: Sequence[Entry], name: str) -> bool:
    """Tell whether all first entries about a record are by one person."""
    here = {entry.entry for entry in entries}
    first = [entry for entry in entries if not here & set(entry.replaces)]
    return bool(first) and all(entry.author == name for entry in first)


def shown(field: Field | None, stored: Any) -> str:  # noqa: ANN401 - any stored value
    """Return a stored value as people read it."""
    if field is None:
        return "–" if stored is None else str(stored)
    return field.show(None if stored is None else field.decode(stored))


# own records ---------------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True, kw_only=True)
class OwnRow:
    """One record of this device, and what became of it."""

    record_id: str
    title: str
    says: str
    state: str  # waits, sent, changed, asked, gone
    state_words: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class OwnVisit:
    """The records of one visit."""

    heading: str
    rows: tuple[OwnRow, ...]


@dataclasses.dataclass(frozen=True, kw_only=True)
class OwnPage:
    """A page of own records, newest first."""

    visits: tuple[OwnVisit, ...]
    older: int  # where the next page begins; 0: there is none


def own_records(logbook: Logbook, sent_to: str, before: int = 0, most: int = PAGE) -> OwnPage:
    """Return a page of the observations written on this device, by visit.

    Only as many lines are read as a page needs, however long the log is.

    Args:
        logbook: this device's.
        sent_to: name of the other end, to tell what still waits.
        before: where the page begins (``OwnPage.older``); 0 begins with the newest.
        most: records on the page.
    """
    number = before or logbook.last_seq() + 1
    sent_up_to = logbook.unsent_after(sent_to)
    found: list[tuple[Entry, OwnRow]] = []
    while number > 1 and len(found) < most:
        start = max(0, number - 1 - _LINES_AT_ONCE)
        lines = logbook.lines_of(logbook.device, start, number - 1 - start)
        entries = [read_entry(line) for line in lines]
        for entry in reversed(entries):
            number = entry.seq
            kind = logbook.kinds.get(entry.kind)
            if entry.replaces or entry.body is None or kind is None or not issubclass(kind, Seen):
                continue
            found.append((entry, _own_row(logbook, entry, kind, sent=entry.seq <= sent_up_to)))
            if len(found) == most:
                break
        else:
            number = start + 1
    return OwnPage(visits=_by_visit(found), older=number if number > 1 else 0)


def _by_visit(found: Sequence[tuple[Entry, OwnRow]]) -> tuple[OwnVisit, ...]:
    visits: dict[str, list[tuple[Entry, OwnRow]]] = {}
    for entry, row in found:
        visits.setdefault(str((entry.body or {}).get("visit", "")), []).append((entry, row))
    return tuple(
        OwnVisit(heading=_heading(pairs[-1][0]), rows=tuple(row for _, row in pairs))
        for pairs in visits.values()
    )


def _heading(first: Entry) -> str:
    return f"{first.site}, {wall_clock(first.written_at, first.offset_min)}"


def _own_row(logbook: Logbook, entry: Entry, kind: type[Record], *, sent: bool) -> OwnRow:
    state, words = _fate(logbook, entry, sent=sent)
    point = str((entry.body or {}).get("point") or "")
    standing = logbook.standing(entry.record)
    record = standing.record if standing else kind.decoded(entry.body or {})
    return OwnRow(
        record_id=entry.record,
        title=f"{kind.title} {point}".strip(),
        says=in_words(record),
        state=state,
        state_words=words,
    )


def _fate(logbook: Logbook, entry: Entry, *, sent: bool) -> tuple[str, str]:
    standing = logbook.standing(entry.record)
    if standing is not None and not standing.corrected:
        return ("sent", "Sent") if sent else ("waits", "Kept here, not sent yet")
    newest = logbook.history(entry.record)[-1]
    by = "you" if newest.author == entry.author else newest.author
    why = f": {newest.note}" if newest.note else ""
    if standing is None:
        return "gone", f"Withdrawn by {by}{why}"
    if standing.disputed:
        return "asked", "Two people wrote different things; the coordinator decides"
    if standing.record.unused:
        return "gone", f"Set aside by {by}{why}"
    return "changed", f"Corrected by {by}{why}"


def in_words(record: Record, most: int = 2) -> str:
    """Return the first things a record says beyond place and time."""
    said = []
    for field in fields_of(type(record)):
        value = getattr(record, field.name)
        if field.name in HEAD | {"site", "photos", "remark"} or value in (None, ()):
            continue
        said.append(f"{field.label}: {field.show(value)}")
    return "; ".join(said[:most]) or "Nothing beyond time and place"
