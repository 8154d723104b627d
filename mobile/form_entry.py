"""Any kind of record being filled in, without a screen."""

import dataclasses
from datetime import datetime, timedelta, timezone
from typing import Final

from mobile.drafts import Draft, Saved
from mobile.entering import Entering, Seen
from mobile.field_day import Device
from shared_core.field_kinds import Day, Field, Moment
from shared_core.field_shapes import Place, Position

LAST: Final = ("remark", "photos")
KEYPAD_KEYS: Final = "0123456789.-"


@dataclasses.dataclass(frozen=True, kw_only=True)
class FormShown:
    """What the form shows beside its boxes."""

    title: str
    seen: Seen


class FormEntry:
    """A form for the fields of one kind of record."""

    def __init__(self, draft: Draft, device: Device) -> None:
        """Take a draft, and what the device knows of time and place for the "now" keys."""
        self._entering = Entering(draft, empty="Nothing filled in yet")
        self._draft = draft
        self._device = device

    @property
    def fields(self) -> tuple[Field, ...]:
        """What there is to fill in: the needed ones first, remark and photos at the end."""
        return tuple(
            sorted(self._draft.fields, key=lambda field: (not field.required, field.name in LAST))
        )

    def text(self, field: str) -> str:
        """Return what a box holds."""
        return self._entering.text(field)

    def type(self, field: str, text: str) -> None:
        """Take what a box now holds."""
        if text != self.text(field):
            self._entering.type(field, text)

    def press(self, field: str, key: str) -> str:
        """Take a key of the keypad for a box and return what the box holds then."""
        text = self.text(field)
        new = {"back": text[:-1], "clear": ""}.get(key, text)
        if key == "-":
            new = text[1:] if text.startswith("-") else f"-{text}"
        elif key in KEYPAD_KEYS and not (key == "." and "." in text):
            new = text + key
        self.type(field, new)
        return new

    def now(self, field: Field) -> str:
        """Return what the device itself would fill in: time, date or position."""
        if isinstance(field, Moment):
            return self._here(self._device.now).isoformat(sep=" ", timespec="minutes")
        if isinstance(field, Day):
            return self._here(self._device.now).date().isoformat()
        if isinstance(field, Place) and self._device.position is not None:
            return field.write(Position(*self._device.position))
        return ""

    def _here(self, moment: datetime) -> datetime:
        return moment.astimezone(timezone(timedelta(minutes=self._device.offset_min)))

    def again(self) -> None:
        """Go back to typing after the value was asked about."""
        self._entering.again()

    def choose_reason(self, reason: str) -> None:
        """Say why a value that was asked about is kept."""
        self._entering.choose_reason(reason)

    def keep(self) -> Saved | None:
        """Touch the main action."""
        return self._entering.press()

    def shown(self) -> FormShown:
        """Return what to show now."""
        return FormShown(title=self._draft.kind.title, seen=self._entering.seen(""))
