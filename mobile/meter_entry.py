"""A pump meter being read, without a screen: figures as they stand on the face."""

import dataclasses
from datetime import datetime
from typing import Final

from mobile.attached import Attached
from mobile.drafts import Saved
from mobile.entering import Entering, Seen
from mobile.field_day import FieldDay
from mobile.pictures import Pictures
from shared_core.records.meter_setup import METER_UNITS, MeterFitted
from shared_core.records.pump_meter import MeterReading

FIGURES_UNKNOWN: Final = 6  # drawn where no set-up says how many the face has
MOST_FIGURES: Final = 12  # largest number of figures a meter may be set up with


@dataclasses.dataclass(frozen=True, kw_only=True)
class MeterShown:
    """What the meter screen shows."""

    places: tuple[str, ...]  # one for each figure on the face, empty where nothing is typed yet
    after_point: int  # how many of them stand after the point
    unit_line: str
    serial_line: str
    last_line: str
    rolled: str
    moving: str
    seen: Seen


class MeterEntry:
    """One meter on one visit."""

    def __init__(
        self, day: FieldDay, point: str, now: datetime, pictures: Pictures | None = None
    ) -> None:
        """Begin, or take up what was left half-typed at this meter."""
        self.point = point
        self._entering = Entering(day.draft(MeterReading, point), empty="Type the figures")
        self.photos = Attached(self._entering, pictures)
        known = day.logbook.known()
        fitted = known.in_force(MeterFitted, day.site, now, point=point)
        self._meter = fitted.record if fitted else None
        earlier = known.before(MeterReading, day.site, now, point=point, limit=1)
        self._last = earlier[0].record if earlier else None

    def press(self, key: str) -> None:
        """Take a key: a figure, ``back`` or ``clear``."""
        text = self._entering.text("display")
        new = {"back": text[:-1], "clear": ""}.get(key, text)
        room = self._meter.figures if self._meter else MOST_FIGURES
        if key.isdigit() and len(text) < room:
            new = text + key
        if new != text:
            self._entering.type("display", new)

    def choose(self, field: str, word: str) -> None:
        """Answer yes or no to ``rolled`` or ``dial_moving``; the same word again takes it back."""
        self._entering.type(field, "" if word == self._entering.text(field) else word)

    def again(self) -> None:
        """Go back to typing after the value was asked about."""
        self._entering.again()

    def choose_reason(self, reason: str) -> None:
        """Say why a value that was asked about is kept."""
        self._entering.choose_reason(reason)

    def take(self, field: str, suggestion: str) -> None:
        """Take what a finding suggests for a field."""
        self._entering.type(field, suggestion)

    def keep(self) -> Saved | None:
        """Touch the main action."""
        saved = self._entering.press()
        if saved is not None:
            self.photos.record_kept()
        return saved

    def shown(self) -> MeterShown:
        """Return what to show now."""
        text = self._entering.text("display")
        meter = self._meter
        count = max(meter.figures if meter else FIGURES_UNKNOWN, len(text))
        unit = METER_UNITS[meter.unit] if meter else ""
        return MeterShown(
            places=(*text, *("",) * (count - len(text))),
            after_point=meter.decimals if meter else 0,
            unit_line=_unit_line(meter),
            serial_line=f"Serial {meter.serial}" if meter else "",
            last_line=_last_line(self._last),
            rolled=self._entering.text("rolled"),
            moving=self._entering.text("dial_moving"),
            seen=self._entering.seen(f"{text} {unit}".strip() if text else ""),
        )


def _unit_line(meter: MeterFitted | None) -> str:
    if meter is None:
        return "No meter of this name is set up here; the figures are kept as they stand."
    unit = METER_UNITS[meter.unit]
    if meter.multiplier == 1.0:
        return f"The face counts {unit}"
    return f"The face counts {unit} × {meter.multiplier:g}"


def _last_line(last: MeterReading | None) -> str:
    if last is None:
        return "First reading here"
    return f"Last: {last.display}, {last.wall_clock:%d %b %Y}".replace(", 0", ", ")
