"""How a record is declared: once, field by field.

A record class declares its fields with :func:`number`, :func:`choice` and the other declarators
below. Storage, the wire, the views, the tablet's forms, the server's pages, CSV headings and the
reference page are all read off those declarations with :func:`fields_of`.
"""

import dataclasses
from collections.abc import Mapping
from typing import Any, Final, TypeVar, dataclass_transform

from shared_core.field_kinds import Choice, Day, Digits, Field, Flag, Moment, Number, Text, Whole
from shared_core.field_shapes import Place, Rows, Typed, Words

_SPEC: Final = "strandline.field"


def _declare(spec: Field, default: Any, factory: Any = dataclasses.MISSING) -> Any:
    return dataclasses.field(default=default, default_factory=factory, metadata={_SPEC: spec})


def number(
    label: str,
    unit: str,
    likely: tuple[float, float] | None = None,
    *,
    default: Any = dataclasses.MISSING,
    **more: Any,
) -> Any:
    """Declare a measured quantity, with the range in which nobody would look twice."""
    return _declare(Number(label=label, unit=unit, likely=likely, **more), default)


def whole(
    label: str,
    unit: str = "",
    likely: tuple[float, float] | None = None,
    *,
    default: Any = dataclasses.MISSING,
    **more: Any,
) -> Any:
    """Declare a count."""
    return _declare(Whole(label=label, unit=unit, likely=likely, **more), default)


def choice(
    label: str, answers: Mapping[str, str], *, default: Any = dataclasses.MISSING, **more: Any
) -> Any:
    """Declare a field with a few answers."""
    return _declare(Choice(label=label, answers=answers, **more), default)


def flag(label: str, *, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """Declare a yes or no."""
    return _declare(Flag(label=label, **more), default)


def text(label: str, *, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """Declare a field of free words."""
    return _declare(Text(label=label, **more), default)


def digits(label: str, *, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """Declare figures copied from a face, leading zeros kept."""
    return _declare(Digits(label=label, **more), default)


def moment(label: str, *, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """Declare a time."""
    return _declare(Moment(label=label, **more), default)


def day(label: str, *, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """Declare a calendar date."""
    return _declare(Day(label=label, **more), default)


def position(label: str, *, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """Declare a position."""
    return _declare(Place(label=label, **more), default)


def words(label: str, *, default: Any = dataclasses.MISSING, **more: Any) -> Any:
    """Declare several short words."""
    return _declare(Words(label=label, **more), default)


def typed(label: str, *, default_factory: Any = dict, **more: Any) -> Any:
    """Declare the raw texts of a record."""
    return _declare(Typed(label=label, **more), dataclasses.MISSING, default_factory)


def rows(
    label: str, columns: tuple[Field, ...], *, default: Any = dataclasses.MISSING, **more: Any
) -> Any:
    """Declare a table."""
    return _declare(Rows(label=label, columns=columns, **more), default)


C = TypeVar("C")


@dataclass_transform(
    kw_only_default=True,
    frozen_default=True,
    field_specifiers=(
        number, whole, choice, flag, text, digits, moment, day, position, words, typed, rows,
    ),
)  # fmt: skip
def record(cls: type[C]) -> type[C]:
    """Make a class body of declared fields into an immutable record."""
    return dataclasses.dataclass(frozen=True, kw_only=True)(cls)


def fields_of(kind: type) -> tuple[Field, ...]:
    """Return the declared fields of a record class, in the order they are filled in."""
    if kind not in _READ_OFF:
        _READ_OFF[kind] = _read_off(kind)
    return _READ_OFF[kind]


_READ_OFF: dict[type, tuple[Field, ...]] = {}


def _read_off(kind: type) -> tuple[Field, ...]:
    return tuple(
        dataclasses.replace(
            declared.metadata[_SPEC],
            name=declared.name,
            required=declared.default is dataclasses.MISSING
            and declared.default_factory is dataclasses.MISSING,
        )
        for declared in dataclasses.fields(kind)
        if _SPEC in declared.metadata
    )
