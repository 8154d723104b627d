"""The trip card: who goes where, until when, and who is called if they are not back. No screen.

It is kept as a draft of the visit; once people are out, the home screen shows it large.
"""

import dataclasses
import json
from datetime import datetime, timedelta
from typing import Any, Final

from mobile.field_day import Device, FieldDay
from mobile.time_words import clock_words, span_words, typed_time
from mobile.visiting import OUT, ensure_team, go_with, moment_in, planned_here, visit_draft
from shared_core.errors import UnreadableError
from shared_core.logbook import Logbook

HOURS: Final = (2, 4, 6, 8)  # offered as ways to say when one is due back
WRITTEN: Final = {  # boxes of the card in their order, with the words over them
    "people": "Who goes (names with commas between them)",
    "team": "Team",
    "route": "Vehicle and route",
    "called_if_late": "Who is called if you are late, and their number",
}


@dataclasses.dataclass(frozen=True, kw_only=True)
class TripShown:
    """What the trip card shows."""

    due_words: str
    message: str
    missing: str  # what a card should still say
    is_out: bool
    button: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class OutShown:
    """What the home screen shows while people are out."""

    title: str
    says: str
    overdue: bool
    message: str


class Trip:
    """The card of one visit, filled in before leaving."""

    def __init__(self, day: FieldDay) -> None:
        """Take up the card of the visit under way, or begin it with what is known."""
        self._day = day
        self._draft = visit_draft(day)
        ensure_team(day, self._draft)
        self._before()
        self.due_typed = ""
        self.due_wrong = ""

    def _before(self) -> None:
        """Take over what the card of the same trip says, on the way to the next site."""
        out = _out(self._day.logbook)
        for field in ("route", "called_if_late", "due_back"):
            if out.get(field) and not self._draft.typed.get(field):
                self._draft.type(field, out[field])
        if out.get("people") and self._day.observers == (self._day.author,):
            go_with(self._day, out["people"])

    def text(self, box: str) -> str:
        """Return what a box of the card holds."""
        if box == "people":
            return ", ".join(self._day.observers)
        return self._draft.typed.get(box, "")

    def type(self, box: str, text: str) -> None:
        """Take what a box of the card now holds; it is on disk when this returns."""
        if box == "people":
            names = [name.strip() for name in text.split(",") if name.strip()]
            go_with(self._day, names)
        elif text != self.text(box):
            self._draft.type(box, text)

    def due_in(self, hours: int) -> None:
        """Be due back so many hours from now."""
        self.due_typed = self.due_wrong = ""
        due = self._day.here().now + timedelta(hours=hours)
        self._draft.type("due_back", due.replace(second=0, microsecond=0).isoformat())

    def type_due(self, text: str) -> None:
        """Take the time of day at which one is due back; what is no time yet is said, and kept."""
        self.due_typed, self.due_wrong = text, ""
        device = self._day.here()
        try:
            due = typed_time(text, device.now, device.offset_min, ahead=True)
        except UnreadableError as error:
            self.due_wrong = str(error) if text.strip() else ""
        else:
            self._draft.type("due_back", due.isoformat())

    @property
    def message(self) -> str:
        """The card as text to send to somebody before coverage ends."""
        day, device = self._day, self._day.here()
        names = {s.record.site: s.record.name for s in day.sites()}
        plan = planned_here(day)
        due = moment_in(self._draft, "due_back")
        lines = [
            f"{self.text('people')}, team {self.text('team')}",
            f"To: {names.get(day.site, day.site)} ({day.site})"
            + (f", planned visit {plan.code}" if plan else ""),
            f"Vehicle and route: {self.text('route') or 'not said'}",
            f"Leaving: {clock_words(_since(day, device), device.now, device.offset_min)}",
            "Due back: " + (clock_words(due, device.now, device.offset_min) if due else "not said"),
            f"Not back by then: call {self.text('called_if_late') or '(nobody named)'}",
        ]
        return "\n".join(lines)

    def shown(self) -> TripShown:
        """Return what to show now."""
        device = self._day.here()
        due = moment_in(self._draft, "due_back")
        words = "Nobody knows yet when you are due back."
        if due is not None:
            words = f"Due back at {clock_words(due, device.now, device.offset_min)}."
            if due < device.now:
                words += " That time has passed."
        missing = [
            label
            for label, said in (
                ("when you are due back", due),
                ("who is called if you are late", self.text("called_if_late").strip()),
            )
            if not said
        ]
        is_out = bool(_out(self._day.logbook))
        return TripShown(
            due_words=self.due_wrong or words,
            message=self.message,
            missing=f"The card does not say {' and '.join(missing)}." if missing else "",
            is_out=is_out,
            button="Change the card" if is_out else "I am out",
        )

    def go(self) -> None:
        """Be out from now on; who is out already keeps the hour of leaving."""
        day, device = self._day, self._day.here()
        card: dict[str, Any] = {
            "since": _since(day, device).isoformat(),
            "site": day.site,
            "people": list(day.observers),
            "message": self.message,
            **{box: self.text(box) for box in ("route", "called_if_late", "due_back")},
        }
        day.logbook.keep_draft(OUT, json.dumps(card, ensure_ascii=False))


def _out(logbook: Logbook) -> dict[str, Any]:
    return dict(json.loads(logbook.drafts().get(OUT, "{}")))


def _since(day: FieldDay, device: Device) -> datetime:
    since = _out(day.logbook).get("since")
    return datetime.fromisoformat(since) if since else device.now


def out_shown(logbook: Logbook, device: Device) -> OutShown | None:
    """Return what the home screen says of people who are out, or None if nobody is."""
    out = _out(logbook)
    if not out:
        return None
    since = datetime.fromisoformat(out["since"])
    due = datetime.fromisoformat(out["due_back"]) if out.get("due_back") else None
    title = f"Out since {clock_words(since, device.now, device.offset_min)}"
    called = out.get("called_if_late") or "the person who waits for you"
    if due is None:
        return OutShown(
            title=title, says="Nobody knows when you are due back: fill in the trip card.",
            overdue=False, message=out["message"],
        )  # fmt: skip
    title += f", due back {clock_words(due, device.now, device.offset_min)}"
    if device.now <= due:
        left = span_words(due - device.now)
        return OutShown(
            title=title, says=f"{left} left. If you are late, {called} is called.",
            overdue=False, message=out["message"],
        )  # fmt: skip
    return OutShown(
        title=f"Overdue by {span_words(device.now - due)}",
        says=f"{title}. Tell {called} where you are: this app calls nobody.",
        overdue=True,
        message=out["message"],
    )


def out_site(logbook: Logbook) -> str:
    """Return the site that people who are out went to, or nothing if nobody is out."""
    return str(_out(logbook).get("site", ""))


def back_again(logbook: Logbook) -> None:
    """Be back: nobody waits any more."""
    logbook.drop_draft(OUT)


def shift(logbook: Logbook, change: timedelta) -> None:
    """Move the hours of the card when the clock they were taken from turns out to be wrong."""
    out = _out(logbook)
    for name in ("since", "due_back"):
        if out.get(name):
            out[name] = (datetime.fromisoformat(out[name]) + change).isoformat()
    if out:
        logbook.keep_draft(OUT, json.dumps(out, ensure_ascii=False))
