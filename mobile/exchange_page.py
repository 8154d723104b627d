"""An exchange as the person sees it: how far it is, how it ended, what came back. No screen."""

import dataclasses
from datetime import datetime
from typing import Final

from mobile.carrying import counted, size_words
from mobile.courier import Delivery, NoWayError, StoppedError
from mobile.time_words import local
from shared_core.errors import DamagedError, RefusedError, StrandlineError, UnreadableError
from shared_core.logbook import Logbook
from shared_core.merge import Entry
from shared_core.records.hazard import HAZARDS

MOST_LINES: Final = 8  # of hazards or plans told one by one


@dataclasses.dataclass(kw_only=True)
class Turn:
    """One exchange: it begins, moves things, and ends."""

    began_at: int  # place of the logbook after which everything came in with it
    delivery: Delivery = dataclasses.field(default_factory=Delivery)
    ended: bool = False
    says: str = ""

    def end(self, delivery: Delivery | None, says: str) -> None:
        """Take how it ended; None if it was cut off."""
        self.delivery = delivery or self.delivery
        self.ended, self.says = True, says


@dataclasses.dataclass(frozen=True, kw_only=True)
class ExchangeShown:
    """What the exchange screen shows."""

    busy: bool
    can_start: bool
    main: str  # words of the main action
    entries: str
    photos: str
    share: float  # of the photos' bytes that the server has, 0 to 1
    last: str
    news: str  # corrections by others, to touch; empty if there are none
    hazards: tuple[str, ...]
    plans: tuple[str, ...]


def failure_words(error: StrandlineError | None, says: str) -> str:
    """Say why an exchange ended early: what happened, and who can do something about it."""
    says = says.rstrip(".")
    if isinstance(error, StoppedError):
        return "Stopped, as you asked; it goes on from here next time."
    if isinstance(error, RefusedError):
        return (
            f"The server does not let this device in ({says}). Ask your coordinator for a new code."
        )
    if isinstance(error, UnreadableError | DamagedError):
        return f"What the server answered cannot be right ({says}). Tell your coordinator."
    if isinstance(error, NoWayError):
        return f"{says}."
    return f"{says}. Try again; tell your coordinator if it happens twice."


def exchange_shown(
    turn: Turn | None, logbook: Logbook, *, enrolled: bool, busy: bool, state: str, news: int
) -> ExchangeShown:
    """Return what the exchange screen shows now.

    Args:
        turn: the exchange under way, or the last one.
        logbook: of this device.
        enrolled: whether a server has let this device in.
        busy: whether an exchange is under way.
        state: the words of the home screen about it.
        news: how many corrections by others have not been read yet.
    """
    delivery = turn.delivery if turn else Delivery()
    came = _came(logbook, turn.began_at) if turn and turn.ended else []
    main = "Stop" if busy else "Exchange now" if turn is None or _whole(turn) else "Go on"
    return ExchangeShown(
        busy=busy,
        can_start=enrolled,
        main=main,
        entries=_entries_words(delivery) if turn else "",
        photos=_photos_words(delivery) if turn else "",
        share=delivery.bytes_there / delivery.bytes if delivery.bytes else 0.0,
        last=turn.says if turn and turn.ended else state,
        news=counted(news, "correction by others", "corrections by others") if news else "",
        hazards=_few([line for kind, line in came if kind == "hazard"]),
        plans=_few([line for kind, line in came if kind == "planned_visit"]),
    )


def _whole(turn: Turn) -> bool:
    done = turn.delivery
    return turn.ended and turn.says.startswith("Exchanged") and done.photos_there == done.photos


def _entries_words(done: Delivery) -> str:
    moved = done.entries
    return (
        f"Entries: {moved.sent} sent, {moved.received} received"
        f" in {counted(moved.requests, 'request', 'requests')}."
    )


def _photos_words(done: Delivery) -> str:
    if not done.photos:
        return "Photos: none on this device."
    return (
        f"Photos, after the entries: {done.photos_there} of {done.photos} there,"
        f" {size_words(done.bytes_there)} of {size_words(done.bytes)}."
    )


def _few(lines: list[str]) -> tuple[str, ...]:
    if len(lines) <= MOST_LINES:
        return tuple(lines)
    return (*lines[:MOST_LINES], f"and {len(lines) - MOST_LINES} more")


def _came(logbook: Logbook, place: int) -> list[tuple[str, str]]:
    """Return the hazards and plans that others wrote and that came after a place."""
    found: dict[str, tuple[str, str]] = {}
    while True:
        entries, reached = logbook.since(place)
        if reached == place:
            return list(found.values())
        place = reached
        for entry in entries:
            line = _line(entry) if entry.device != logbook.device else ""
            if line:
                found[entry.record] = (entry.kind, line)


def _line(entry: Entry) -> str:
    body = entry.body
    if body is None:
        return ""
    if entry.kind == "hazard":
        keep_m = body.get("keep_out_m")
        keep = f", keep away by {keep_m:.0f} m" if isinstance(keep_m, int | float) else ""
        return f"{entry.site}: {HAZARDS.get(str(body.get('hazard')), 'Hazard')}{keep}"
    if entry.kind == "planned_visit":
        return f"{entry.site}: {body.get('code')}, {body.get('team')}{_on(body.get('valid_from'))}"
    return ""


def _on(stamp: object) -> str:
    try:
        day = local(datetime.fromisoformat(str(stamp)), 0)
    except ValueError:
        return ""
    return f", {day:%a} {day.day} {day:%b}"
