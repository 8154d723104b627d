"""Any kind of record being filled in, without a screen."""

import dataclasses
from datetime import datetime, timedelta, timezone
from typing import Final, Protocol

from mobile.attached import Attached
from mobile.drafts import Draft, Saved
from mobile.entering import Entering, Seen
from mobile.field_day import Device
from mobile.pictures import Pictures
from shared_core.errors import UnreadableError
from shared_core.field_kinds import Day, Digits, Field, Moment, Number
from shared_core.field_shapes import Place, Position

LAST: Final = ("remark", "photos")
KEYPAD_KEYS: Final = "0123456789.-"
EMPTY: Final = "Nothing filled in yet"


class Filled(Protocol):
    """What a box fills in."""

    def text(self, field: str) -> str:
        """Return what a box holds."""
        ...

    def type(self, field: str, text: str) -> None:
        """Take what a box now holds."""
        ...

    def press(self, field: str, key: str) -> str:
        """Take a key of the keypad for a box and return what the box holds then."""
        ...

    def now(self, field: Field) -> str:
        """Return what the device itself would fill in: time, date or position."""
        ...

    def step(self, field: Field, by: timedelta) -> str:
        """Move a time or a date from where it is, or from now, and return it."""
        ...


@dataclasses.dataclass(frozen=True, kw_only=True)
class FormShown:
    """What the form shows beside its boxes."""

    title: str
    seen: Seen


def pressed(text: str, key: str) -> str:
    """Return what a box holds after a key of the keypad: a figure, ``.``, ``-``, back or clear."""
    if key in ("back", "clear"):
        return text[:-1] if key == "back" else ""
    if key == "-":
        return text[1:] if text.startswith("-") else f"-{text}"
    if key in KEYPAD_KEYS and not (key == "." and "." in text):
        return text + key
    return text


class FormEntry:
    """A form for the fields of one kind of record."""

    def __init__(self, draft: Draft, device: Device, pictures: Pictures | None = None) -> None:
        """Take a draft, what the device knows of time and place, and the pictures on it."""
        self._entering = Entering(draft, empty=EMPTY)
        self._draft = draft
        self._device = device
        self.photos = Attached(self._entering, pictures)

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
        new = pressed(self.text(field), key)
        self.type(field, new)
        return new

    def now(self, field: Field) -> str:
        """Return what the device itself would fill in: time, date or position."""
        return fill_in(field, self._device)

    def step(self, field: Field, by: timedelta) -> str:
        """Move a time or a date from where it is, or from now, and return it."""
        new = stepped(field, self.text(field.name), by, self._device)
        self.type(field.name, new)
        return new

    def again(self) -> None:
        """Go back to typing after the value was asked about."""
        self._entering.again()

    def choose_reason(self, reason: str) -> None:
        """Say why a value that was asked about is kept."""
        self._entering.choose_reason(reason)

    def keep(self) -> Saved | None:
        """Touch the main action."""
        saved = self._entering.press()
        if saved is not None:
            self.photos.record_kept()
        return saved

    def shown(self) -> FormShown:
        """Return what to show now."""
        return FormShown(title=self._draft.kind.title, seen=self._entering.seen(self._in_short()))

    def _in_short(self) -> str:
        """Return the first figure that is needed, the way a person reads it: "12.5 mm"."""
        for field in self._draft.fields:
            if field.required and isinstance(field, Number | Digits) and self.text(field.name):
                try:
                    return field.show(field.read(self.text(field.name)))
                except UnreadableError:
                    return ""
        return ""


def fill_in(field: Field, device: Device) -> str:
    """Return what a device itself would fill in: time, date or position; nothing for the rest."""
    if isinstance(field, Moment):
        return _on_site(device.now, device).isoformat(sep=" ", timespec="minutes")
    if isinstance(field, Day):
        return _on_site(device.now, device).date().isoformat()
    if isinstance(field, Place) and device.position is not None:
        return field.write(Position(*device.position))
    return ""


def stepped(field: Field, text: str, by: timedelta, device: Device) -> str:
    """Return a time or a date moved from what a box holds; from now where it cannot be read."""
    read: Field = dataclasses.replace(field, required=True)
    try:
        value = read.read(text)
    except UnreadableError:
        value = read.read(fill_in(field, device))
    if isinstance(value, datetime):
        return _on_site(value + by, device).isoformat(sep=" ", timespec="minutes")
    moved: str = (value + by).isoformat()
    return moved


def _on_site(moment: datetime, device: Device) -> datetime:
    return moment.astimezone(timezone(timedelta(minutes=device.offset_min)))
