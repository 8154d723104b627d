"""Kinds of field that hold one value: each reads, shows, stores and describes itself."""

import dataclasses
import math
from collections.abc import Mapping
from datetime import UTC, date, datetime
from typing import Any, ClassVar, Final

from shared_core.errors import UnreadableError
from shared_core.portable import LARGEST_NUMBER, LONGEST_DIGITS

LONGEST_TEXT: Final = 4000  # characters in one remark; a page of a notebook


@dataclasses.dataclass(frozen=True, kw_only=True)
class Field:
    """One thing a person fills in."""

    sql: ClassVar[str] = "text"  # how a view shows it: text, real or integer
    label: str
    help: str = ""
    unit: str = ""
    name: str = ""  # name and required are filled in from the class body by fields_of
    required: bool = True

    @property
    def heading(self) -> str:
        """Heading of this field in a table, unit included."""
        return f"{self.label} [{self.unit}]" if self.unit else self.label

    def encode(self, value: Any) -> Any:
        """Turn a value into what JSON holds."""
        return value

    def decode(self, stored: Any) -> Any:
        """Undo :meth:`encode`; raises UnreadableError if this cannot have been stored here."""
        if not isinstance(stored, str):
            raise self.wrong(stored)
        return stored

    def read(self, typed: str) -> Any:
        """Read what a person typed, an empty text as nothing.

        Raises:
            UnreadableError: if it cannot be a value of this field; says what would be.
        """
        text = typed.strip()
        if text:
            return self.parse(text)
        if self.required:
            raise UnreadableError(f"{self.label} is needed: {self.wanted()}")
        return None

    def parse(self, text: str) -> Any:
        """Read text that is not empty."""
        return self.decode(text)

    def wanted(self) -> str:
        """Say what would be read here."""
        return "some words"

    def wrong(self, given: object) -> UnreadableError:
        """Return the error that says what is wrong and what would be right."""
        return UnreadableError(f"{self.label}: {self.wanted()}, not {str(given)[:60]!r}")

    def write(self, value: Any) -> str:
        """Write a value the way a person would type it; :meth:`read` gives it back."""
        return "" if value is None else str(value)

    def show(self, value: Any) -> str:
        """Write a value the way a person reads it."""
        if value is None:
            return "–"
        return f"{self.write(value)} {self.unit}".rstrip()

    def schema(self) -> dict[str, Any]:
        """Describe the stored value in JSON Schema."""
        return {"type": "string", "title": self.heading, "description": self.help}

    def oddity(self, value: Any) -> str:
        """Say what is unlikely about a value, or nothing."""
        del value
        return ""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Number(Field):
    """A measured quantity."""

    sql: ClassVar[str] = "real"
    likely: tuple[float, float] | None = None
    decimals: int = 2

    def decode(self, stored: Any) -> float:
        if isinstance(stored, bool) or not isinstance(stored, int | float):
            raise self.wrong(stored)
        return float(stored)

    def parse(self, text: str) -> float:
        plain = text.replace("\u2212", "-").replace(",", ".").replace(" ", "")
        try:
            value = float(plain)
        except ValueError:
            value = math.nan
        if "_" in plain or not -LARGEST_NUMBER <= value <= LARGEST_NUMBER:
            raise self.wrong(text)
        return value

    def wanted(self) -> str:
        return f"a number in {self.unit}" if self.unit else "a number"

    def write(self, value: float | None) -> str:
        if value is None:
            return ""
        short = f"{value:.10g}"
        return short if float(short) == value and "e" not in short else repr(value)

    def show(self, value: float | None) -> str:
        if value is None:
            return "–"
        return f"{value:.{self.decimals}f} {self.unit}".rstrip().replace("-", "\u2212")

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "type": "number"}

    def oddity(self, value: float | None) -> str:
        if value is None or self.likely is None or self.likely[0] <= value <= self.likely[1]:
            return ""
        low, high = self.likely
        return f"{self.label} {self.show(value)} is outside the usual {low:g} to {high:g} {self.unit}".rstrip()


@dataclasses.dataclass(frozen=True, kw_only=True)
class Whole(Number):
    """A count."""

    sql: ClassVar[str] = "integer"
    decimals: int = 0

    def decode(self, stored: Any) -> int:
        if isinstance(stored, bool) or not isinstance(stored, int):
            raise self.wrong(stored)
        return stored

    def parse(self, text: str) -> int:
        value = super().parse(text)
        if value != int(value):
            raise self.wrong(text)
        return int(value)

    def wanted(self) -> str:
        return f"a whole number of {self.unit}" if self.unit else "a whole number"

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "type": "integer"}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Choice(Field):
    """One of a few answers, each a stored word and what people read."""

    answers: Mapping[str, str]

    def decode(self, stored: Any) -> str:
        return str(super().decode(stored))  # an answer a newer version added is kept as it is

    def parse(self, text: str) -> str:
        for word, shown in self.answers.items():
            if text.lower() in (word.lower(), shown.lower()):
                return word
        raise self.wrong(text)

    def wanted(self) -> str:
        return f"one of {', '.join(self.answers.values())}"

    def show(self, value: str | None) -> str:
        return "–" if value is None else self.answers.get(value, value)

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "enum": list(self.answers)}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Flag(Field):
    """Yes or no."""

    sql: ClassVar[str] = "integer"

    def decode(self, stored: Any) -> bool:
        if not isinstance(stored, bool):
            raise self.wrong(stored)
        return stored

    def parse(self, text: str) -> bool:
        word = text.lower()
        if word not in ("yes", "no"):
            raise self.wrong(text)
        return word == "yes"

    def wanted(self) -> str:
        return "yes or no"

    def write(self, value: bool | None) -> str:  # noqa: FBT001 - the value itself is a yes or no
        return {None: "", True: "yes", False: "no"}[value]

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "type": "boolean"}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Text(Field):
    """Free words."""

    longest: int = LONGEST_TEXT

    def parse(self, text: str) -> str:
        if len(text) > self.longest:
            raise UnreadableError(
                f"{self.label}: at most {self.longest} characters, not {len(text)}"
            )
        return text


@dataclasses.dataclass(frozen=True, kw_only=True)
class Digits(Field):
    """Figures as a counter's face shows them, leading zeros kept."""

    def decode(self, stored: Any) -> str:
        return self.parse(super().decode(stored))

    def parse(self, text: str) -> str:
        if not (text.isascii() and text.isdigit() and len(text) <= LONGEST_DIGITS):
            raise self.wrong(text)
        return text

    def wanted(self) -> str:
        return "the figures on the face, left to right, leading zeros too"


@dataclasses.dataclass(frozen=True, kw_only=True)
class Moment(Field):
    """A time, held in UTC to the millisecond."""

    def encode(self, value: datetime) -> str:
        return value.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")

    def decode(self, stored: Any) -> datetime:
        return self.parse(super().decode(stored))

    def parse(self, text: str) -> datetime:
        try:
            value = datetime.fromisoformat(text)
        except ValueError:
            raise self.wrong(text) from None
        if value.tzinfo is None:
            raise UnreadableError(f"{self.label}: {text!r} lacks its offset, such as +10:00")
        try:
            value = value.astimezone(UTC)
        except OverflowError:  # the first or the last day that a calendar here can hold
            raise self.wrong(text) from None
        return value.replace(microsecond=value.microsecond // 1000 * 1000)

    def wanted(self) -> str:
        return "a date and time with its offset, such as 2023-08-21 10:00+10:00"

    def write(self, value: datetime | None) -> str:
        return "" if value is None else self.encode(value)

    def show(self, value: datetime | None) -> str:
        return "–" if value is None else f"{value:%Y-%m-%d %H:%M} UTC"

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "format": "date-time"}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Day(Field):
    """A calendar date."""

    def encode(self, value: date) -> str:
        return value.isoformat()

    def decode(self, stored: Any) -> date:
        return self.parse(super().decode(stored))

    def parse(self, text: str) -> date:
        try:
            return date.fromisoformat(text)
        except ValueError:
            raise self.wrong(text) from None

    def wanted(self) -> str:
        return "a date such as 2023-08-21"

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "format": "date"}
