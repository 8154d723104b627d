"""A shoreline walk, without a screen: fixes to disk first, then what they mean, then the logbook."""

import dataclasses
import enum
import functools
import queue
from collections.abc import Callable, Sequence
from datetime import datetime
from pathlib import Path
from typing import Any, Final

from mobile.device.choice import Receivers
from mobile.device.receivers import Sink, Source, State
from mobile.drafts import Draft, Saved
from mobile.entering import Button, Entering, Seen
from mobile.field_day import FieldDay
from mobile.walk_journal import Event, WalkJournal
from mobile.walk_live import Live
from mobile.walk_record import NEAR_S, already_kept, fixed_of, gauge_read, main_words, rated
from mobile.walk_track import WalkTrack, fix_event
from shared_core.errors import StrandlineError
from shared_core.geodesy import PlanePoint, local_projection
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.site_setup import Site
from shared_core.track import Fix

WHOLE_SITE: Final = "site"
AT_ONCE: Final = 2000  # fixes taken in at one step, so that a long file does not stop the screen
SPARSER_AFTER: Final = 5000  # fixes; after each so many they are taken a second farther apart
DEGREE_DECIMALS: Final = 7  # of a kept position: 11 mm


REASONS: Final = ("Could not go on", "The line is right", "Gauge read again")
MARKS: Final = ("pause", "island", "shore", "back")  # words that go into the journal as they are
ASKS: Final = ("off", "discard")  # words that open a question


class Phase(enum.StrEnum):
    """How far a walk has come."""

    READY = "ready"
    WALKING = "walking"
    PAUSED = "paused"
    FINISHED = "finished"


@dataclasses.dataclass(frozen=True, kw_only=True)
class Parts:
    """What a walk needs from its device."""

    folder: Path
    receivers: Callable[[], Sequence[Receivers]]
    make: Callable[[str, Sink], Source]
    clock: Callable[[], datetime]


class Walking:
    """One walk round one site; a new one on the same folder goes on where the last one was."""

    def __init__(self, day: FieldDay, parts: Parts) -> None:
        """Take up the walk that was left at this site, or be ready for one."""
        self.day = day
        self.site = day.site
        self._parts = parts
        self._journal = WalkJournal(parts.folder, day.site)
        standing = day.logbook.known().in_force(Site, day.site, parts.clock())
        found = standing.record if standing else next(s.record for s in day.sites())
        self._plane = local_projection(found.centre.lat_deg, found.centre.lon_deg)
        self.outline: list[PlanePoint] = [self._plane.forward(*row) for row in found.outline]
        self.asking = ""  # a question on the screen: off, metres or discard
        self._off = ""
        self.fault = ""  # why fixes are not on disk yet
        self.source: Source | None = None
        self._queue: queue.SimpleQueue[Fix] = queue.SimpleQueue()
        self._unkept: list[Fix] = []  # what the disk has not taken yet
        self.newest: Fix | None = None  # from the receiver, recorded or not
        self.entering: Entering | None = None
        self._intents: dict[str, Callable[[str], None]] = {
            "receiver": self._choose,
            "look": lambda _: self.look(),
            "on": self._go_on,
            "seen": self._see,
            "side": lambda side: self._mark("side", side),
            "reason": self._choose_reason,
            "again": self._again,
        } | {word: functools.partial(self._mark_only, word) for word in MARKS}
        self._afresh()
        self._take_up()

    def _afresh(self) -> None:
        self.track = WalkTrack(self._plane)
        self.live = Live()
        self.entering = None
        self._rated: tuple[float | None, float | None] | None = None  # asked for at every step
        self.choices: tuple[Receivers, ...] = ()
        self.chosen = ""

    def _take_up(self) -> None:
        for event in self._journal.read():
            try:
                self.track.apply(event)
            except (ValueError, TypeError, LookupError, AttributeError):
                self._journal.unread += 1
        self._begin_anyhow()
        if self.track.begun is None or already_kept(self.day, self.track):
            self._journal.drop()
            self._afresh()
            self.look()
            return
        if self.track.begun.receiver:
            self.chosen = self.track.begun.receiver
        else:
            self.look()
        self.live.update(self.track, at_once=True)
        if self.phase is Phase.FINISHED:
            self._enter()
        else:
            self._listen()

    def _begin_anyhow(self) -> None:
        """Lose no fix because the line that began the walk cannot be read."""
        if self.track.begun is None and self.track.shore.fixes:
            told = {
                "visit": self.day.visit,
                "receiver": "",
                "gauge": None,
                "stage_m": None,
                "at": self.track.shore.fixes[0].time.isoformat(),
            }
            self.track.apply(("begin", told))

    # what is going on --------------------------------------------------------------------------

    @property
    def phase(self) -> Phase:
        """How far the walk has come."""
        if self.track.begun is None:
            return Phase.READY
        if self.track.finished:
            return Phase.FINISHED
        return Phase.PAUSED if self.track.paused else Phase.WALKING

    @property
    def unread(self) -> int:
        """Lines of the walk's file that could not be read when it was taken up."""
        return self._journal.unread

    @property
    def listening(self) -> bool:
        """Whether a receiver is open."""
        return self.source is not None

    def look(self) -> None:
        """Look which receivers there are; one alone is chosen."""
        self.choices = tuple(self._parts.receivers())
        names = [each.name for each in self.choices]
        if self.chosen not in names:
            self.chosen = names[0] if len(names) == 1 else ""

    def _listen(self) -> None:
        self.stop()
        try:
            self.source = self._parts.make(self.chosen, self._queue.put)
            self.source.start()
        except StrandlineError as error:
            self.source = None
            self.fault = f"{error}."

    def stop(self) -> None:
        """Stop listening, such as when the app is closed; the walk is on disk."""
        if self.source is not None:
            self.source.stop()
            self.source = None

    # fixes -------------------------------------------------------------------------------------

    def take_in(self) -> bool:
        """Take in what the receiver has sent; say whether anything is new."""
        fixes: list[Fix] = []
        while len(fixes) < AT_ONCE:
            try:
                fixes.append(self._queue.get_nowait())
            except queue.Empty:
                break
        return self.take(fixes) if fixes or self._unkept else False

    def take(self, fixes: Sequence[Fix]) -> bool:
        """Put fixes on disk, then count them; say whether any was new."""
        if fixes:
            self.newest = fixes[-1]
        if self.phase is Phase.WALKING:
            self._unkept += self._wanted(fixes)
        if not self._unkept:
            return bool(fixes)
        taken, self._unkept = self._unkept, []
        if not self._put([fix_event(fix) for fix in taken]):
            self._unkept = taken
            return True
        self.live.update(self.track)
        return True

    def _wanted(self, fixes: Sequence[Fix]) -> list[Fix]:
        """Leave out what comes too fast; a file that is played again brings nothing twice."""
        last = self._unkept[-1] if self._unkept else self.track.last
        apart_s = NEAR_S + self.track.count // SPARSER_AFTER
        from_file = self.chosen.startswith("file:")
        wanted = []
        for fix in fixes:
            ahead_s = apart_s if last is None else (fix.time - last.time).total_seconds()
            if ahead_s >= apart_s or (ahead_s < 0 and not from_file):
                last = dataclasses.replace(
                    fix, lat=round(fix.lat, DEGREE_DECIMALS), lon=round(fix.lon, DEGREE_DECIMALS)
                )
                wanted.append(last)
        return wanted

    def _put(self, events: Sequence[Event]) -> bool:
        """Put events on disk, and only then into the walk."""
        try:
            self._journal.append(events)
        except OSError as error:
            self.fault = f"Not on disk yet: {error.strerror or error}. It is tried again."
            return False
        self.fault = ""
        for event in events:
            self.track.apply(event)
        return True

    # touches -----------------------------------------------------------------------------------

    def press(self, code: str) -> None:
        """Take the touch of a key: a word, then what goes with it."""
        word, _, rest = code.partition(" ")
        if word in ASKS:
            self.asking = word
            return
        asked, self.asking = self.asking, ""
        if word == "how":
            self._off, self.asking = rest, "" if rest == "not_walked" else "metres"
            if not self.asking:
                self._put([("off", rest, None)])
        elif word == "metres" and asked == "metres":
            self._put([("off", self._off, float(rest) if rest else None)])
        elif word == "discard!" and asked == "discard":
            self._discard()
        elif word in self._intents:
            self._intents[word](rest)

    def _choose(self, name: str) -> None:
        self.chosen = "" if name == self.chosen else name

    def _start(self, _: str = "") -> None:
        if self.phase is not Phase.READY or not self.chosen:
            return
        self._rated = None
        now = self._parts.clock()
        read = gauge_read(self.day, now)
        told = {
            "visit": self.day.visit,
            "receiver": self.chosen,
            "gauge": read.point if read else None,
            "stage_m": read.stage_m if read else None,
            "at": now.isoformat(),
        }
        if self._put([("begin", told)]):
            self._draft_begun()
            self._listen()

    def _draft_begun(self) -> None:
        receiver = "file" if self.chosen.startswith("file:") else "handheld"
        draft = self.day.draft(ShorelineWalk, WHOLE_SITE)
        draft.type("receiver", receiver)  # the site screen now says that a walk is begun

    def _go_on(self, _: str = "") -> None:
        if self._put([("on",)]):
            self.entering = None
            if self.source is None:
                self._listen()

    def _finish(self, _: str = "") -> None:
        if self.track.count and self._put([("finish",)]):
            self.stop()
            self.live.update(self.track, at_once=True)
            self._enter()

    def _see(self, step: str) -> None:
        self._mark("seen", max(0, self.track.seen_only + int(step)))

    def _mark_only(self, word: str, _: str) -> None:
        self._mark(word)

    def _mark(self, *event: Any) -> None:  # noqa: ANN401 - words and figures
        self._put([event])
        if self.phase is Phase.FINISHED:
            self._enter()

    def _discard(self) -> None:
        self.stop()
        self._draft().discard()
        self._journal.drop()
        self._unkept.clear()
        self._afresh()
        self.look()

    def _choose_reason(self, reason: str) -> None:
        if self.entering:
            self.entering.choose_reason(reason)

    def _again(self, _: str = "") -> None:
        if self.entering:
            self.entering.again()

    # keeping -----------------------------------------------------------------------------------

    def _draft(self) -> Draft:
        begun = self.track.begun
        visit = begun.visit if begun else self.day.visit
        fixed = fixed_of(self.day, self.track, self._parts.clock())
        return self.day.draft(ShorelineWalk, WHOLE_SITE, **{"visit": visit, **fixed})

    def _enter(self) -> None:
        self.entering = Entering(self._draft(), empty="Nothing walked yet")
        self.entering.choose_reason(REASONS[0])

    def refresh(self) -> None:
        """Take up what was recorded meanwhile, such as the gauge read after the walk."""
        self._rated = None
        if self.phase is Phase.FINISHED:
            self._enter()
        elif self.phase is Phase.READY:
            self.look()

    def main(self) -> Saved | None:
        """Touch the main action: start, finish, or keep.

        Returns:
            What was saved, or None if nothing was written into the logbook.
        """
        self.asking = ""
        if self.phase is Phase.READY:
            self._start()
        elif self.phase is not Phase.FINISHED:
            self._finish()
        elif self.entering is not None:
            saved = self.entering.press()
            if saved is not None:
                self._journal.drop()
                self._afresh()
            return saved
        return None

    def seen(self) -> Seen | None:
        """Return findings and answers of a walk that is finished."""
        return self.entering.seen(main_words(self.live.measure)) if self.entering else None

    def button(self) -> Button:
        """Return the main action in words for this moment."""
        if self.phase is Phase.READY:
            return Button(words="Start the walk", tone="go" if self.chosen else "off")
        if not self.track.count:
            return Button(words="Waiting for a fix", tone="off")
        return Button(words=f"Finish {main_words(self.live.measure)}".strip(), tone="go")

    def rated(self) -> tuple[float | None, float | None]:
        """Return the level of this walk [m], and the area of the rating there [m2]."""
        if self._rated is None:
            self._rated = rated(self.day, self.track.begun, self._parts.clock())
        return self._rated

    @property
    def gauge_read_after(self) -> bool:
        """Whether the gauge was read again since the walk began."""
        begun = self.track.begun
        if begun is None or begun.gauge is None:
            return False
        now = self._parts.clock()
        found = gauge_read(self.day, now, visit=begun.visit, gauge=begun.gauge, since=begun.at)
        return found is not None

    def state(self) -> State:
        """Return how the receiver is."""
        return self.source.state if self.source else State.OFF
