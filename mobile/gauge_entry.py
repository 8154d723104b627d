"""A staff gauge being read, without a screen: what the keys do and what is to be shown."""

import dataclasses
from datetime import datetime
from typing import Final

from mobile.attached import Attached
from mobile.drafts import Saved
from mobile.entering import Entering, Result, Seen
from mobile.field_day import FieldDay
from mobile.pictures import Pictures
from shared_core.records.site_setup import Gauge
from shared_core.records.staff_gauge import STATES, WAVES, GaugeReading

NOT_READ_BECAUSE: Final = (  # common practice: a reason must be as easy to touch as a number
    "Danger at the edge",
    "Could not reach it",
    "Reeds in front",
    "Plate bent or gone",
    "No time",
)
STATE_KEYS: Final = {  # as short as a key on a phone needs it
    "over_plate": "Over the plate",
    "below_zero": "Below zero",
    "dry": "Dry",
    "not_read": "Not read",
}
STEP_M: Final = 0.01
MOST_DECIMALS: Final = 3  # a plate is read to the millimetre at best
MOST_METRES: Final = 2  # figures before the point
UNTYPED: Final = "–"
MAIN: Final = ("Volume", "Area")  # labels of the answers that stand large
SINCE: Final = "Since last reading"  # label of the answer that stands under the number


@dataclasses.dataclass(frozen=True, kw_only=True)
class GaugeShown:
    """What the gauge screen shows."""

    figures: str
    typed: int  # how many characters of the figures the person typed
    state: str  # a word of STATES, or nothing
    state_words: str
    because: str
    waves: str
    drawn_m: float  # where the drawn staff stands
    plate_from_m: float
    plate_to_m: float
    last_m: float | None
    last_line: str
    change: str
    main: tuple[Result, ...]  # what people look for first
    others: tuple[Result, ...]
    seen: Seen


class GaugeEntry:
    """One gauge on one visit."""

    def __init__(
        self, day: FieldDay, point: str, now: datetime, pictures: Pictures | None = None
    ) -> None:
        """Begin, or take up what was left half-typed at this gauge."""
        self.point = point
        self._entering = Entering(day.draft(GaugeReading, point), empty="Type the reading")
        self.photos = Attached(self._entering, pictures)
        known = day.logbook.known()
        fitted = known.in_force(Gauge, day.site, now, point=point)
        self._plate = (
            (fitted.record.plate_from_m, fitted.record.plate_to_m) if fitted else (0.0, 1.0)
        )
        earlier = known.before(GaugeReading, day.site, now, point=point, limit=1)
        self._last = earlier[0].record if earlier else None
        self._choosing_reason = False

    @property
    def choosing_reason(self) -> bool:
        """Whether the screen is to offer the reasons for "not read"."""
        return self._choosing_reason

    def press(self, key: str) -> None:
        """Take a key: a figure, ``.``, ``back``, ``clear``, ``up`` or ``down``."""
        text = self._entering.text("stage_m")
        if key == "back" and self._entering.text("state"):
            self.choose_state("")
            return
        new = _typed(text, key) if key not in ("up", "down") else self._stepped(key)
        if self._entering.text("state"):
            self._clear_state()
        self._choosing_reason = False
        if new != text:
            self._entering.type("stage_m", new)

    def _stepped(self, key: str) -> str:
        start = self._number()
        if start is None:
            start = self._last.stage_m if self._last and self._last.stage_m is not None else 0.0
        return f"{max(0.0, start + (STEP_M if key == 'up' else -STEP_M)):.2f}"

    def _clear_state(self) -> None:
        self._entering.type("state", "")
        self._entering.type("not_read_because", "")

    def choose_state(self, state: str) -> None:
        """Say what the plate shows instead of a number; the same word again takes it back."""
        if state == self._entering.text("state") and not self._choosing_reason:
            state = ""
        self._clear_state()
        self._choosing_reason = state == "not_read"
        if state:
            self._entering.type("stage_m", "")
            self._entering.type("state", state)

    def choose_because(self, reason: str) -> None:
        """Say why the gauge was not read."""
        self._entering.type("not_read_because", reason)
        self._choosing_reason = False

    def choose_waves(self, word: str) -> None:
        """Say how the water's surface is; the same word again takes it back."""
        self._entering.type("waves", "" if word == self._entering.text("waves") else word)

    def again(self) -> None:
        """Go back to typing after the value was asked about."""
        self._entering.again()

    def choose_reason(self, reason: str) -> None:
        """Say why a value that was asked about is kept."""
        self._entering.choose_reason(reason)

    def take(self, field: str, suggestion: str) -> None:
        """Take what a finding suggests for a field."""
        if field == "state":
            self.choose_state(suggestion)
        else:
            self._entering.type(field, suggestion)

    def keep(self) -> Saved | None:
        """Touch the main action."""
        saved = self._entering.press()
        if saved is not None:
            self.photos.record_kept()
        return saved

    def _number(self) -> float | None:
        try:
            return float(self._entering.text("stage_m"))
        except ValueError:
            return None

    def shown(self) -> GaugeShown:
        """Return what to show now."""
        text, state = self._entering.text("stage_m"), self._entering.text("state")
        number = self._number()
        because = self._entering.text("not_read_because")
        last = self._last
        seen = self._entering.seen(_in_words(number, state, because))
        by_label = {result.label: result for result in seen.results}
        return GaugeShown(
            figures=_padded(text),
            typed=len(text),
            state=state,
            state_words=STATES.get(state, ""),
            because=because,
            waves=self._entering.text("waves"),
            drawn_m=self._drawn(number, state),
            plate_from_m=self._plate[0],
            plate_to_m=self._plate[1],
            last_m=last.stage_m if last else None,
            last_line=_last_line(last),
            change=by_label[SINCE].says if SINCE in by_label else "",
            main=tuple(by_label[label] for label in MAIN if label in by_label),
            others=tuple(r for r in seen.results if r.label not in (*MAIN, SINCE)),
            seen=seen,
        )

    def _drawn(self, number: float | None, state: str) -> float:
        low, high = self._plate
        if state == "over_plate":
            return high + 0.02
        if state in ("below_zero", "dry"):
            return low - 0.05
        if number is not None:
            return min(max(number, low - 0.05), high + 0.05)
        return self._last.stage_m if self._last and self._last.stage_m is not None else low


def _typed(text: str, key: str) -> str:
    if key == "back":
        return text[:-1]
    if key == "clear":
        return ""
    if key == ".":
        return text if "." in text else f"{text or '0'}."
    metres, point, rest = text.partition(".")
    full = len(rest) >= MOST_DECIMALS if point else len(metres) >= MOST_METRES
    if full or not key.isdigit():
        return text
    return key if text == "0" else text + key


def _padded(text: str) -> str:
    metres, point, rest = text.partition(".")
    if not point:
        return f"{metres or UNTYPED}.{UNTYPED}{UNTYPED}"
    return f"{metres}.{rest}{UNTYPED * (2 - len(rest))}"


def _in_words(number: float | None, state: str, because: str) -> str:
    if state:
        words = STATE_KEYS[state].lower()
        return f"“{words}, {because.lower()}”" if because else f"“{words}”"
    return "" if number is None else f"{number:.3f}".removesuffix("0") + " m"


def _last_line(last: GaugeReading | None) -> str:
    if last is None:
        return "First reading here"
    what = STATES.get(last.state or "", "no number")
    if last.stage_m is not None:
        what = f"{last.stage_m:.3f}".removesuffix("0") + " m"
    return f"Last: {what}, {last.wall_clock:%d %b %Y}".replace(", 0", ", ")


SURFACES: Final = WAVES
