"""A record being filled in: text exactly as typed, on disk at every key, read when it can be."""

import dataclasses
import json
from collections.abc import Callable, Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from shared_core.errors import StrandlineError, UnreadableError
from shared_core.field_kinds import Field
from shared_core.fields import fields_of
from shared_core.logbook import Logbook, Said
from shared_core.merge import Entry
from shared_core.records.base import Answer, Finding, Record, Seen, Severity

HEAD = frozenset(field.name for field in fields_of(Seen)) - {"remark", "photos"}
# A check that cannot be made, such as one outside a survey's range or on a figure beyond all
# arithmetic, never stops a record.
UNJUDGED: Final = (StrandlineError, ArithmeticError, ValueError)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Circumstances:
    """What the device itself adds to a record: where, when, who, how sure."""

    seen_at: datetime
    offset_min: int
    time_source: str
    observers: tuple[str, ...]
    position: tuple[float, float, float | None] | None = None
    clock_error_s: float | None = None


@dataclasses.dataclass(frozen=True, kw_only=True)
class Saved:
    """What saving gave: the line written, and what was shown beside it."""

    entry: Entry
    findings: tuple[Finding, ...]
    answers: tuple[Answer, ...]


@dataclasses.dataclass(frozen=True, kw_only=True)
class Correcting:
    """The record that a draft corrects, and the heads that were on screen when it was begun."""

    record_id: str
    read: Sequence[str]


class Draft:
    """One record being filled in for a visit."""

    def __init__(
        self,
        kind: type[Record],
        logbook: Logbook,
        *,
        name: str,
        fixed: Mapping[str, Any],
        circumstances: Callable[[], Circumstances],
        author: str,
        correcting: Correcting | None = None,
    ) -> None:
        """Begin or take up a draft.

        Args:
            kind: what is written.
            logbook: where to.
            name: under which the draft is kept until it is saved.
            fixed: what the screen already knows, decoded.
            circumstances: tells where and when the device is.
            author: whose hands these are.
            correcting: what is corrected, if it is a correction; a draft taken up again keeps the
                heads of its beginning, so that what came in meanwhile is not overruled.
        """
        self.kind = kind
        self.name = name
        self.record_id = correcting.record_id if correcting else None
        self.why = ""  # a correction's reason, where it was given before the boxes were opened
        self._logbook = logbook
        self._fixed = dict(fixed)
        self._circumstances = circumstances
        self._author = author
        kept = json.loads(logbook.drafts().get(name, "{}"))
        self.typed: dict[str, str] = kept.get("typed", {})
        self._heads: Sequence[str] | None = kept.get("read", correcting and correcting.read)

    @property
    def logbook(self) -> Logbook:
        """Where the record will be written."""
        return self._logbook

    @property
    def fields(self) -> tuple[Field, ...]:
        """What there is to fill in by hand."""
        filled = set(self._fixed) | (HEAD if issubclass(self.kind, Seen) else set())
        return tuple(field for field in fields_of(self.kind) if field.name not in filled)

    def type(self, field: str, text: str) -> None:
        """Take what a field's box now holds; it is on disk when this returns.

        Raises:
            UnreadableError: if the kind has no such field.
        """
        if field not in {known.name for known in fields_of(self.kind)}:
            raise UnreadableError(f"{self.kind.title} has no field called {field!r}")
        self.typed[field] = text
        self._logbook.keep_draft(
            self.name,
            json.dumps(
                {
                    "kind": self.kind.kind,
                    "typed": self.typed,
                    "record": self.record_id,
                    "read": None if self._heads is None else list(self._heads),
                },
                ensure_ascii=False,
            ),
        )

    def unreadable(self) -> list[Finding]:
        """Return one finding for each box that cannot be read yet."""
        problems = []
        for field in self.fields:
            try:
                field.read(self.typed.get(field.name, "")) if self._asked(field) else None
            except UnreadableError as error:
                problems.append(
                    Finding(
                        code="unreadable",
                        severity=Severity.ASK,
                        field=field.name,
                        saw=f"{error}.",
                        do="" if field.required else "Type it again, or keep it as it stands.",
                    )
                )
        return problems

    def _asked(self, field: Field) -> bool:
        """Tell whether a box must be read: one left empty takes the field's default."""
        return field.required or bool(self.typed.get(field.name, "").strip())

    def record(self, *, keep_unread: bool = False) -> Record:
        """Read the draft.

        Args:
            keep_unread: leave a field that is not needed and cannot be read without a value; its
                text stays among what was typed.

        Raises:
            UnreadableError: naming the first box that cannot be read.
        """
        values: dict[str, Any] = dict(self._fixed)
        for field in (*self.fields, *self._typed_head()):
            if not self._asked(field):
                continue
            try:
                values[field.name] = field.read(self.typed.get(field.name, ""))
            except UnreadableError:
                if field.required or not keep_unread:
                    raise
        if issubclass(self.kind, Seen) and self.record_id is None:
            values = {**self._head(), **values}
        return self.kind(**values)

    def _typed_head(self) -> tuple[Field, ...]:
        """Return what the device fills in but a person typed all the same, such as from paper."""
        if not issubclass(self.kind, Seen):
            return ()
        return tuple(
            field
            for field in fields_of(self.kind)
            if field.name in HEAD and field.name in self.typed and field.name not in self._fixed
        )

    def _head(self) -> dict[str, Any]:
        around = self._circumstances()
        by_name = {field.name: field for field in fields_of(Seen)}
        position = None if around.position is None else list(around.position)
        return {
            "seen_at": around.seen_at,
            "offset_min": around.offset_min,
            "time_source": around.time_source,
            "observers": around.observers,
            "position": None if position is None else by_name["position"].decode(position),
            "as_typed": {name: text for name, text in self.typed.items() if text.strip()},
        }

    def findings(self) -> list[Finding]:
        """Return everything a person should look at; nothing of it stops them from saving."""
        problems = self.unreadable()
        needed = {field.name for field in self.fields if field.required}
        if any(problem.field in needed for problem in problems):
            return problems
        known = self._logbook.known(without=self.record_id or "")
        try:
            return problems + list(self.record(keep_unread=True).findings(known))
        except UNJUDGED as error:
            return [*problems, _not_judged(error)]

    def answers(self) -> list[Answer]:
        """Return what the draft tells already; nothing before a number has been typed."""
        if not any(text.strip() for text in self.typed.values()) or self.unreadable():
            return []
        try:
            return list(self.record().tells(self._logbook.known(without=self.record_id or "")))
        except UNJUDGED:  # the findings say so
            return []

    def save(self, *, reason: str = "", keep_unread: bool = False) -> Saved:
        """Write the record down; it is on disk when this returns, and the draft is gone.

        Args:
            reason: why a value is kept although a finding asks, or why a record is corrected.
            keep_unread: see :meth:`record`.

        Raises:
            UnreadableError: if a needed box cannot be read; the draft stays.
        """
        record = self.record(keep_unread=keep_unread)
        shown = (tuple(self.findings()), tuple(self.answers()))
        around = self._circumstances()
        entry = self._logbook.write(
            record,
            Said(
                author=self._author,
                note="; ".join(filter(None, (self.why, reason))),
                offset_min=around.offset_min,
                clock={
                    "source": around.time_source,
                    "error_s": around.clock_error_s,
                },
            ),
            record_id=self.record_id,
            read=self._heads,
        )
        self._logbook.drop_draft(self.name)
        return Saved(entry=entry, findings=shown[0], answers=shown[1])

    def discard(self) -> None:
        """Throw the draft away."""
        self.typed = {}
        self._logbook.drop_draft(self.name)


def _not_judged(error: Exception) -> Finding:
    return Finding(
        code="not-judged",
        severity=Severity.NOTE,
        field="",
        saw=f"Not everything could be checked here: {error}.",
        do="Keep it as you saw it.",
    )
