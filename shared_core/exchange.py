"""Exchange of entries with another end; any number of times, in any order, cut off anywhere.

What the other end has of this device's lines is what it says it has; it is never remembered ahead
of the data. What was fetched is absorbed first, and only then is the place kept.
"""

import dataclasses
import itertools
from collections.abc import Callable, Sequence
from typing import Protocol

from shared_core.errors import DamagedError
from shared_core.logbook import BATCH, Logbook, Verdict
from shared_core.logbook_file import PeerPlace
from shared_core.merge import Entry, read_entry

BATCH_BYTES = 2_000_000  # text of one request; a slow line gets through it in a sitting


@dataclasses.dataclass(frozen=True, kw_only=True)
class Reply:
    """What another end answers to one request."""

    log: str  # name of its log; another one than last time means it was made anew
    verdicts: tuple[Verdict, ...]
    has: int  # every line of the asking device up to here was handed in
    lines: tuple[str, ...]  # what arrived there after the place asked for
    place: int  # the place these reach
    more: bool  # more has arrived beyond it


class Peer(Protocol):
    """The other end: over HTTP on the tablet, in memory in tests."""

    name: str

    def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
        """Hand lines over and ask for what arrived after a place of a log.

        Returns only once the lines are on disk at the other end.

        Raises:
            RefusedError: if the other end does not let this device in.
            StrandlineError: if it could not be reached or understood.
        """
        ...


@dataclasses.dataclass(frozen=True, kw_only=True)
class Exchanged:
    """What one exchange moved."""

    sent: int = 0
    had: int = 0
    received: int = 0
    quarantined: tuple[Verdict, ...] = ()
    held_here: tuple[Verdict, ...] = ()
    requests: int = 0
    missing_here: int = 0  # lines of this device beyond its last one, which only the other end has


def exchange(
    logbook: Logbook, peer: Peer, *, progress: Callable[[Exchanged], None] = lambda _: None
) -> Exchanged:
    """Send what the other end lacks of this device's lines and take what it has for us.

    When nothing is new this is one request.

    Raises:
        StrandlineError: whatever the peer raised; what was moved until then stays moved.
    """
    done = Exchanged()
    place = logbook.place_with(peer.name)
    up_to = logbook.unsent_after(peer.name)
    while True:
        lines, end = _next_lines(logbook, up_to)
        reply = peer.request(lines, after=place.fetched, log=place.log)
        taken = logbook.absorb(reply.lines, source=peer.name)
        before, place = place, PeerPlace(log=reply.log, fetched=reply.place)
        logbook.keep_place(peer.name, place)
        start, up_to = up_to, _handed_over(logbook, end, reply.has)
        logbook.keep_sent(peer.name, up_to=up_to, has=reply.has)
        done = dataclasses.replace(
            _added(done, reply, taken), missing_here=max(0, reply.has - logbook.last_seq())
        )
        progress(done)
        if lines and up_to <= start and done.requests > 1:
            raise DamagedError(f"{peer.name} did not take line {up_to + 1} of this device")
        if reply.more and reply.log == before.log and reply.place <= before.fetched:
            raise DamagedError(f"{peer.name} says there is more beyond {reply.place}, not what")
        if not reply.more and not logbook.lines_of(logbook.device, up_to, 1):
            return done


def _next_lines(logbook: Logbook, after_seq: int) -> tuple[list[str], int]:
    """Return the lines of this device for the next request, and the number of the last."""
    found = [read_entry(line) for line in logbook.lines_of(logbook.device, after_seq)]
    found = found[: _fitting(found)]
    return [entry.line for entry in found], found[-1].seq if found else after_seq


def _handed_over(logbook: Logbook, end: int, has: int) -> int:
    """Return up to which number this device's lines need not be sent again.

    Args:
        logbook: of this device.
        end: number of the last line that was sent.
        has: every line up to this number is at the other end.
    """
    if has >= end:
        return end
    following = logbook.lines_of(logbook.device, has, 1)
    missing_here = not following or read_entry(following[0]).seq != has + 1
    return end if missing_here else has  # a line that this file lost must not hold up the others


def _added(done: Exchanged, reply: Reply, taken: Sequence[Verdict]) -> Exchanged:
    outcomes = [verdict.outcome for verdict in reply.verdicts]
    return Exchanged(
        sent=done.sent + outcomes.count("taken"),
        had=done.had + outcomes.count("had it"),
        received=done.received + sum(verdict.outcome == "taken" for verdict in taken),
        quarantined=done.quarantined
        + tuple(verdict for verdict in reply.verdicts if verdict.outcome == "quarantined"),
        held_here=done.held_here
        + tuple(verdict for verdict in taken if verdict.outcome == "quarantined"),
        requests=done.requests + 1,
    )


@dataclasses.dataclass(frozen=True, kw_only=True)
class Asking:
    """One request of a device, as it arrives at the other end."""

    device: str
    lines: Sequence[str]
    after: int
    log: str
    limit: int = BATCH


def answer(
    logbook: Logbook,
    asking: Asking,
    *,
    refuse: Callable[[Entry], str] = lambda _: "",
    may_see: Callable[[Entry], bool] = lambda _: True,
) -> Reply:
    """Answer one request of a device: the other half of :func:`exchange`.

    A device never gets its own lines back. Lines that it may not see are passed over, and the
    place moves on past them.
    """
    device = asking.device
    verdicts = logbook.absorb(asking.lines, source=device, refuse=refuse) if asking.lines else []
    start = asking.after if asking.log == logbook.log else 0
    found, place = logbook.since(start, asking.limit)
    fitting = _fitting(found)
    if fitting < len(found):
        found, place = logbook.since(start, fitting)
    visible = [entry.line for entry in found if entry.device != device and may_see(entry)]
    return Reply(
        log=logbook.log,
        verdicts=tuple(verdicts),
        has=logbook.unbroken(device),
        lines=tuple(visible),
        place=place,
        more=bool(logbook.since(place, 1)[0]),
    )


def _fitting(entries: Sequence[Entry]) -> int:
    """Return how many of some entries go into one answer: at least one."""
    sizes = itertools.accumulate(len(entry.line) for entry in entries)
    return max(1, sum(size <= BATCH_BYTES for size in sizes))


class LogbookPeer:
    """Another logbook in the same process: a second tablet in tests, or a file on a stick."""

    def __init__(self, logbook: Logbook, *, name: str, device: str) -> None:
        self.name = name
        self._logbook = logbook
        self._device = device

    def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
        """Hand lines over and ask for what arrived after a place of a log."""
        return answer(self._logbook, Asking(device=self._device, lines=lines, after=after, log=log))
