"""Kinds of field that hold several values: a position, words, raw texts, a table."""

import csv
import dataclasses
import io
import math
import re
from collections.abc import Mapping, Sequence
from typing import Any, Final

from shared_core.errors import UnreadableError
from shared_core.field_kinds import Field


@dataclasses.dataclass(frozen=True)
class Position:
    """A point on the ground in GDA2020 or WGS 84 latitude and longitude."""

    lat_deg: float
    lon_deg: float
    accuracy_m: float | None = None


@dataclasses.dataclass(frozen=True, kw_only=True)
class Place(Field):
    """A position with its accuracy."""

    def encode(self, value: Position) -> list[float | None]:
        return [value.lat_deg, value.lon_deg, value.accuracy_m]

    def decode(self, stored: Any) -> Position:
        numbers = stored if isinstance(stored, list) and len(stored) == 3 else [None]
        needed = numbers[:2] if numbers[-1] is None else numbers
        if not all(isinstance(part, int | float) and not isinstance(part, bool) for part in needed):
            raise self.wrong(stored)
        return self._checked(Position(*map(float, needed)), stored)

    def parse(self, text: str) -> Position:
        parts = text.replace("±", " ").replace(",", " ").replace("\u2212", "-").split()
        try:
            numbers = [float(part) for part in parts]
        except ValueError:
            numbers = []
        if len(numbers) not in (2, 3) or not all(map(math.isfinite, numbers)):
            raise self.wrong(text)
        return self._checked(Position(*numbers), text)

    def _checked(self, position: Position, given: object) -> Position:
        if abs(position.lat_deg) > 90 or abs(position.lon_deg) > 180:
            raise self.wrong(given)
        return position

    def wanted(self) -> str:
        return "latitude and longitude in degrees, such as -36.48006 155.45573 ±4"

    def write(self, value: Position | None) -> str:
        if value is None:
            return ""
        accuracy = "" if value.accuracy_m is None else f" ±{value.accuracy_m!r}"
        return f"{value.lat_deg!r} {value.lon_deg!r}{accuracy}"

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "type": "array", "minItems": 3, "maxItems": 3}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Words(Field):
    """Several short words, such as names, codes or fingerprints of photos."""

    def encode(self, value: Sequence[str]) -> list[str]:
        return list(value)

    def decode(self, stored: Any) -> tuple[str, ...]:
        if not isinstance(stored, list) or not all(isinstance(word, str) for word in stored):
            raise self.wrong(stored)
        return tuple(stored)

    def parse(self, text: str) -> tuple[str, ...]:
        return tuple(word.strip() for word in text.split(",") if word.strip())

    def wanted(self) -> str:
        return "words with commas between them"

    def write(self, value: Sequence[str] | None) -> str:
        return ", ".join(value or ())

    def show(self, value: Sequence[str] | None) -> str:
        return self.write(value) or "–"

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "type": "array", "items": {"type": "string"}}


_LINE_BREAK: Final = re.compile(r"\r?\n")
_ESCAPES: Final = {"\\": "\\\\", "\n": "\\n", "\r": "\\r"}  # one line a field, nothing rewritten


def _escaped(words: str) -> str:
    return "".join(_ESCAPES.get(letter, letter) for letter in words)


def _unescaped(words: str) -> str:
    back = {escaped: letter for letter, escaped in _ESCAPES.items()}
    return re.sub(r"\\[\\nr]", lambda found: back[found[0]], words)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Typed(Field):
    """The raw text of each field exactly as it was typed: evidence, never rewritten."""

    def encode(self, value: Mapping[str, str]) -> dict[str, str]:
        return dict(value)

    def decode(self, stored: Any) -> Mapping[str, str]:
        if not isinstance(stored, dict) or not all(isinstance(v, str) for v in stored.values()):
            raise self.wrong(stored)
        return stored

    def read(self, typed: str) -> Mapping[str, str]:
        return self.parse(typed)  # unlike elsewhere, blanks at either end are part of the evidence

    def parse(self, text: str) -> Mapping[str, str]:
        pairs = [line.partition("=") for line in _LINE_BREAK.split(text) if line.strip()]
        return {name.strip(): _unescaped(words) for name, _, words in pairs}

    def wanted(self) -> str:
        return "lines of field=text"

    def write(self, value: Mapping[str, str] | None) -> str:
        return "\n".join(f"{name}={_escaped(words)}" for name, words in (value or {}).items())

    def show(self, value: Mapping[str, str] | None) -> str:
        return "; ".join(f"{name}: “{words}”" for name, words in (value or {}).items()) or "–"

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "type": "object", "additionalProperties": {"type": "string"}}


def _quoted(cell: str) -> str:
    """Put a cell in quotes where it would else be read as several cells or lines."""
    if not set(cell) & set(';"\n\r'):
        return cell
    return '"' + cell.replace('"', '""') + '"'


@dataclasses.dataclass(frozen=True, kw_only=True)
class Rows(Field):
    """A table: each row holds one value for each column, and columns are fields themselves."""

    columns: tuple[Field, ...]

    def encode(self, value: Sequence[Sequence[Any]]) -> list[list[Any]]:
        return [
            [None if cell is None else column.encode(cell) for column, cell in self._pairs(row)]
            for row in value
        ]

    def decode(self, stored: Any) -> tuple[tuple[Any, ...], ...]:
        if not isinstance(stored, list) or not all(isinstance(row, list) for row in stored):
            raise self.wrong(stored)
        return tuple(
            tuple(
                None if cell is None else column.decode(cell) for column, cell in self._pairs(row)
            )
            for row in stored
        )

    def _pairs(self, row: Sequence[Any]) -> list[tuple[Field, Any]]:
        if len(row) != len(self.columns):
            raise UnreadableError(
                f"{self.label}: a row has {len(row)} values, {len(self.columns)} are needed:"
                f" {', '.join(column.heading for column in self.columns)}"
            )
        return list(zip(self.columns, row, strict=True))

    def parse(self, text: str) -> tuple[tuple[Any, ...], ...]:
        lines = csv.reader(io.StringIO(text, newline=""), delimiter=";", skipinitialspace=True)
        try:
            cells = [line for line in lines if "".join(line).strip() or len(line) > 1]
        except csv.Error:
            raise self.wrong(text) from None
        return tuple(
            tuple(column.read(cell) for column, cell in self._pairs(line)) for line in cells
        )

    def wanted(self) -> str:
        return f"a row a line: {'; '.join(column.heading for column in self.columns)}"

    def write(self, value: Sequence[Sequence[Any]] | None) -> str:
        return "\n".join(
            "; ".join(_quoted(column.write(cell)) for column, cell in self._pairs(row))
            for row in value or ()
        )

    def show(self, value: Sequence[Sequence[Any]] | None) -> str:
        return f"{len(value or ())} rows"

    def schema(self) -> dict[str, Any]:
        return {**super().schema(), "type": "array", "items": {"type": "array"}}
