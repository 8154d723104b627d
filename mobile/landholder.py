"""The landholder's one page: meter, pump hours, gauge and rain, typed in turn and kept together.

No Kivy. Figures go where the mark is; each is a draft on disk at once. One touch keeps them all.
"""

import dataclasses
from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta, timezone
from typing import Any, Final

from mobile.drafts import Saved
from mobile.entering import REASONS, Button, Entering, Mood, Result, Seen
from mobile.field_day import FieldDay
from shared_core.errors import StrandlineError
from shared_core.records.base import Record, Standing
from shared_core.records.base import Seen as SeenRecord
from shared_core.records.meter_setup import METER_UNITS, MeterFitted, Pump
from shared_core.records.points_setup import RainGauge
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Gauge
from shared_core.records.staff_gauge import STATES, GaugeReading

# What a landholder logs, in the order of the walk: set-up, record, field, heading, figures before
# and after the point.
LOGGED: Final[tuple[tuple[type[Record], type[SeenRecord], str, str, int, int], ...]] = (
    (MeterFitted, MeterReading, "display", "Pump meter", 12, 0),
    (Pump, PumpRun, "hours_reading", "Pump hours", 6, 2),
    (Gauge, GaugeReading, "stage_m", "Gauge", 2, 3),
    (RainGauge, RainReading, "rain_mm", "Rain", 3, 1),
)
UNITS: Final = {"hours_reading": "hours", "stage_m": "m", "rain_mm": "mm"}
NO_NUMBER: Final = {  # what a plate can show instead; a reason must be as easy as a number
    "Over the plate": ("over_plate", ""),
    "Below zero": ("below_zero", ""),
    "Dry": ("dry", ""),
    "Danger at the edge": ("not_read", "Danger at the edge"),
    "Could not reach it": ("not_read", "Could not reach it"),
    "Plate bent or gone": ("not_read", "Plate bent or gone"),
}
WITH_PHOTO: Final = ("meter_reading", "gauge_reading")
SINCE: Final = "Pumped since last reading"
USED: Final = "Used of "
ASKS: Final = (Mood.CANNOT, Mood.LOOK)
NOTHING_HERE: Final = (
    "Nothing to log is set up here yet. It comes with an exchange; ask your coordinator."
)


@dataclasses.dataclass(frozen=True, kw_only=True)
class LogLine:
    """One thing to log."""

    key: str  # kind and point
    heading: str
    places: tuple[str, ...]  # a meter's figures one by one; empty where it is no counter
    after_point: int
    text: str  # what is typed, or what stands there instead of a number
    unit: str
    hint: str  # last reading and what the face counts
    day: date | None  # the day rain was read
    covers: int  # days since it was emptied
    active: bool
    takes_no_number: bool
    photos: int | None  # None: no photo is offered
    kept: bool  # written on this visit already
    seen: Seen


@dataclasses.dataclass(frozen=True, kw_only=True)
class LogShown:
    """What the landholder's page shows."""

    lines: tuple[LogLine, ...]
    since: tuple[Result, ...]  # volume since last time
    used: tuple[str, ...]  # of the water allowed
    button: Button
    asking: bool
    reason: str
    done: str  # summary after it was kept
    empty: str


class _Item:
    """One thing to log with its draft."""

    def __init__(self, day: FieldDay, setup: Record, place: int, now: datetime) -> None:
        _, self.kind, self.field, self.heading, self.whole, self.decimals = LOGGED[place]
        self.setup = setup
        self.point = setup.where
        self.entering = Entering(day.draft(self.kind, self.point), empty="")
        known = day.logbook.known()
        earlier = known.before(self.kind, day.site, now, point=self.point, limit=1)
        self.last: SeenRecord | None = earlier[0].record if earlier else None

    @property
    def key(self) -> str:
        return f"{self.kind.kind} {self.point}"

    @property
    def filled(self) -> bool:
        return any(self.entering.text(name) for name in (self.field, "state"))


class LandholderLog:
    """What a landholder writes on one visit to one site."""

    def __init__(self, day: FieldDay) -> None:
        """Begin, or take up what was left half-typed; the visit is the field day's."""
        self._day = day
        here = day.here()
        self._today = here.now.astimezone(timezone(timedelta(minutes=here.offset_min))).date()
        self._asking = False
        self._reason = REASONS[0]
        self._done = ""
        self._take_up()

    def _take_up(self) -> None:
        now, known = self._day.here().now, self._day.logbook.known()
        self._items = [
            _Item(self._day, standing.record, place, now)
            for place, (setup, *_) in enumerate(LOGGED)
            for standing in _in_use(known.every(setup, self._day.site), now)
        ]
        self._active = self._items[0].key if self._items else ""

    # touches ---------------------------------------------------------------------------------

    def go(self, key: str) -> None:
        """Put the mark on another thing to log."""
        self._active = key
        self._asking = False

    def go_on(self) -> None:
        """Put the mark on the next thing to log; after the last on the first."""
        keys = [item.key for item in self._items]
        if keys:
            self.go(keys[(keys.index(self._active) + 1) % len(keys)])

    def press(self, key: str) -> None:
        """Take a key for what is marked: a figure, ``.``, ``back``, ``clear`` or ``next``."""
        if key == "next":
            self.go_on()
            return
        item = self._item(self._active)
        if item is None:
            return
        if item.entering.text("state"):
            self._without_number(item, "", "")
        whole, decimals = item.whole, item.decimals
        if isinstance(item.setup, MeterFitted):
            whole = item.setup.figures
        text = item.entering.text(item.field)
        new = _typed(text, key, whole, decimals)
        if new != text:
            self._type(item, new)

    def _type(self, item: _Item, text: str) -> None:
        self._asking, self._done = False, ""
        item.entering.type(item.field, text)
        if item.kind is RainReading and not item.entering.text("read_on"):
            item.entering.type("read_on", self._today.isoformat())

    def no_number(self, words: str) -> None:
        """Say what the marked gauge shows instead of a number, a word of NO_NUMBER."""
        item = self._item(self._active)
        if item is not None and item.kind is GaugeReading:
            item.entering.type("stage_m", "")
            self._without_number(item, *NO_NUMBER[words])

    def _without_number(self, item: _Item, state: str, because: str) -> None:
        self._asking, self._done = False, ""
        item.entering.type("state", state)
        item.entering.type("not_read_because", because)

    def read_on(self, key: str, days_ago: int) -> None:
        """Say on which day rain was read: 0 today, 1 yesterday."""
        item = self._item(key)
        if item is not None:
            self._asking = False
            item.entering.type("read_on", self.day_before(days_ago).isoformat())

    def cover(self, key: str, days: int) -> None:
        """Say how many days rain had fallen for."""
        item = self._item(key)
        if item is not None:
            self._asking = False
            item.entering.type("days_covered", str(days))

    def day_before(self, days_ago: int) -> date:
        """Return today's date on site, or one before it."""
        return self._today - timedelta(days=days_ago)

    def attach(self, key: str, fingerprint: str) -> None:
        """Add a photo that was put into the photo folder."""
        item = self._item(key)
        if item is not None:
            photos = [*filter(None, item.entering.text("photos").split(", ")), fingerprint]
            item.entering.type("photos", ", ".join(dict.fromkeys(photos)))

    def take(self, key: str, field: str, suggestion: str) -> None:
        """Take what a finding suggests."""
        item = self._item(key)
        if item is not None:
            self._asking = False
            item.entering.type(field, suggestion)

    def again(self) -> None:
        """Go back to typing after something was asked about."""
        self._asking = False

    def choose_reason(self, reason: str) -> None:
        """Say why what was asked about is kept."""
        self._reason = reason

    def keep(self) -> tuple[Saved, ...]:
        """Touch the main action: keep all that is filled in, or ask once to look again.

        Each thing is a record of its own; one that cannot be kept stays as a draft.
        """
        filled = [item for item in self._items if item.filled]
        asked = [item for item in filled if item.entering.seen("").mood in ASKS]
        if asked and not self._asking:
            self._asking = True
            return ()
        saved, told = [], ""
        for item in filled:
            reason = self._reason if item in asked else ""
            try:
                saved.append(item.entering.draft.save(reason=reason, keep_unread=item in asked))
            except StrandlineError as error:  # such as no room: the rest stays half-typed
                told = str(error)
                break
        self._done = " ".join(filter(None, (_summary(saved, filled), told)))
        self._asking = False
        self._take_up()
        return tuple(saved)

    def _item(self, key: str) -> _Item | None:
        return next((item for item in self._items if item.key == key), None)

    # what to show ----------------------------------------------------------------------------

    def shown(self) -> LogShown:
        """Return what to show now."""
        kinds = [kind for _, kind, *_ in LOGGED]
        kept = {f"{s.record.kind} {s.record.point}" for s in self._day.seen_here(kinds)}
        lines = _said_once(self._line(item, item.key in kept) for item in self._items)
        results = [result for line in lines for result in line.seen.results]
        return LogShown(
            lines=lines,
            since=tuple(result for result in results if result.label == SINCE),
            used=tuple(
                f"{r.says} of {r.label.removeprefix(USED)} used"
                for r in results
                if r.label.startswith(USED)
            ),
            button=self._button(lines),
            asking=self._asking,
            reason=self._reason,
            done=self._done,
            empty="" if self._items else NOTHING_HERE,
        )

    def _button(self, lines: Sequence[LogLine]) -> Button:
        filled = sum(item.filled for item in self._items)
        if not filled:
            return Button(words="Type what you read", tone="off")
        what = "1 reading" if filled == 1 else f"{filled} readings"
        if self._asking:
            return Button(words=f"Seen twice: keep {what}", tone="look")
        if any(line.seen.mood in ASKS for line in lines):
            return Button(words=f"Look again: {what}", tone="look")
        return Button(words=f"Keep {what}", tone="go")

    def _line(self, item: _Item, kept: bool) -> LogLine:  # noqa: FBT001 - a state, not a switch
        entering, text = item.entering, item.entering.text(item.field)
        meter = item.setup if isinstance(item.setup, MeterFitted) else None
        several = sum(other.kind is item.kind for other in self._items) > 1
        state = entering.text("state")
        read_on = entering.text("read_on")
        photos = len([*filter(None, entering.text("photos").split(", "))])
        return LogLine(
            key=item.key,
            heading=f"{item.heading} {item.point}" if several else item.heading,
            places=(*text, *("",) * (meter.figures - len(text))) if meter else (),
            after_point=meter.decimals if meter else 0,
            text=entering.text("not_read_because") or STATES.get(state, text),
            unit=_unit(meter) if meter else UNITS[item.field] if not state else "",
            hint=_hint(item.last),
            day=_day(item.kind, read_on, self._today),
            covers=int(entering.text("days_covered") or 1),
            active=item.key == self._active,
            takes_no_number=item.kind is GaugeReading,
            photos=photos if item.kind.kind in WITH_PHOTO else None,
            kept=kept,
            seen=_quiet(entering.seen("")) if item.filled else _NOTHING,
        )


_NOTHING: Final = Seen(
    lines=(), more_lines=0, results=(), button=Button(words="", tone="off"), mood=Mood.EMPTY,
    asking=False, reason="",
)  # fmt: skip


def _quiet(seen: Seen) -> Seen:
    """Leave out "nothing odd": with several things on one page it would only fill it."""
    lines = tuple(line for line in seen.lines if line.mood is not Mood.FITS)
    return dataclasses.replace(seen, lines=lines)


def _said_once(lines: Iterable[LogLine]) -> tuple[LogLine, ...]:
    """Leave out what an earlier thing on the page was told already, such as about the clock."""
    told: set[str] = set()
    found = []
    for line in lines:
        new = tuple(each for each in line.seen.lines if each.says not in told)
        told |= {each.says for each in new}
        found.append(dataclasses.replace(line, seen=dataclasses.replace(line.seen, lines=new)))
    return tuple(found)


def _day(kind: type[Record], read_on: str, today: date) -> date | None:
    if kind is not RainReading:
        return None
    return date.fromisoformat(read_on) if read_on else today


def _unit(meter: MeterFitted) -> str:
    unit = METER_UNITS[meter.unit]
    return unit if meter.multiplier == 1.0 else f"{unit} × {meter.multiplier:g}"


def _hint(last: SeenRecord | None) -> str:
    if last is None:
        return "First time here"
    what: Any = ""
    if isinstance(last, MeterReading):
        what = last.display
    elif isinstance(last, PumpRun):
        what = "" if last.hours_reading is None else f"{last.hours_reading:g}"
    elif isinstance(last, GaugeReading):
        what = STATES.get(last.state or "", "") if last.stage_m is None else f"{last.stage_m:g}"
    elif isinstance(last, RainReading):
        what = f"{last.rain_mm:g}"
    when = f"{last.wall_clock.day} {last.wall_clock:%b}"
    return f"Last: {what}, {when}" if what else f"Last: {when}"


def _typed(text: str, key: str, whole: int, decimals: int) -> str:
    """Return a text after a key; a counter (no decimals) keeps its leading zeros."""
    if key == "back":
        return text[:-1]
    if key == "clear":
        return ""
    if key == ".":
        return text if "." in text or not decimals else f"{text or '0'}."
    before, point, after = text.partition(".")
    full = len(after) >= decimals if point else len(before) >= whole
    if full or not key.isdigit():
        return text
    return key if decimals and text == "0" else text + key


def _in_use(standings: Sequence[Standing[Record]], now: datetime) -> list[Standing[Record]]:
    """Return for each point the fact in force now, what was removed left out."""
    latest = {s.record.where: s for s in standings if s.record.when <= now}
    return [
        latest[point]
        for point in sorted(latest)
        if (getattr(latest[point].record, "removed_at", None) or now) >= now
    ]


def _summary(saved: Sequence[Saved], items: Sequence[_Item]) -> str:
    """Say in a line what was kept."""
    parts = []
    for each, item in zip(saved, items, strict=False):
        body = each.entry.body or {}
        value = body.get(item.field, STATES.get(str(body.get("state")), ""))
        parts.append(f"{item.heading} {value} {UNITS.get(item.field, '')}".rstrip())
    return f"Kept: {', '.join(parts)}." if parts else ""
