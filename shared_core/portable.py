"""Values that a tablet, SQLite and PostgreSQL hold alike; everything else is refused at the door.

A line that one store takes and another refuses would jam the exchange for ever, so the same
rules are applied at save on the tablet and on arrival at the server.
"""

import json
from collections.abc import Iterable
from typing import Any, Final

from shared_core.errors import UnreadableError

LARGEST_NUMBER: Final = 2**53 - 1  # beyond it a float no longer holds every whole number
DEEPEST: Final = 8  # levels of lists and objects in one entry
LONGEST_LINE_BYTES: Final = 1_048_576  # 1 MiB, design of the wire
LONGEST_DIGITS: Final = 32  # a number written longer than this is no reading


def check_portable(value: object, where: str = "the entry", depth: int = 0) -> None:
    """Check that a value survives every store unchanged.

    Raises:
        UnreadableError: naming the place and what would be accepted.
    """
    if depth > DEEPEST:
        raise UnreadableError(f"{where} is nested deeper than {DEEPEST} levels")
    if isinstance(value, str):
        _check_text(value, where)
    elif isinstance(value, dict):
        for key, inner in value.items():
            _check_key(key, where)
            check_portable(inner, f"{where}, {key}", depth + 1)
    elif isinstance(value, list | tuple):
        for inner in value:
            check_portable(inner, where, depth + 1)
    elif value is not None:
        _check_number(value, where)


def _check_key(key: object, where: str) -> None:
    if not isinstance(key, str):
        raise UnreadableError(f"{where} has a key that is not text: {key!r}")
    _check_text(key, where)


def _check_number(value: object, where: str) -> None:
    if not isinstance(value, int | float):
        raise UnreadableError(f"{where} holds a {type(value).__name__}, which has no JSON form")
    if not -LARGEST_NUMBER <= value <= LARGEST_NUMBER:  # also false for a not-a-number
        raise UnreadableError(
            f"{where} holds {value!r}; a finite number between ±{LARGEST_NUMBER} is needed"
        )


def _check_text(text: str, where: str) -> None:
    if "\0" in text:
        raise UnreadableError(f"{where} holds a NUL character; text without it is needed")
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise UnreadableError(f"{where} holds half a character (a lone surrogate)") from error


def _object(pairs: Iterable[tuple[str, Any]]) -> dict[str, Any]:
    found: dict[str, Any] = {}
    for key, value in pairs:
        if key in found:
            raise UnreadableError(f"the key {key!r} stands twice in one object")
        found[key] = value
    return found


def _refuse_constant(word: str) -> None:
    raise UnreadableError(f"{word} is not a number that every store can hold")


def _whole(digits: str) -> int:
    if len(digits) > LONGEST_DIGITS:
        raise UnreadableError("a number is written with more than 32 digits")
    return int(digits)


def _float(digits: str) -> float:
    if len(digits) > LONGEST_DIGITS:
        raise UnreadableError("a number is written with more than 32 digits")
    return float(digits)


def read_json(text: str) -> Any:  # noqa: ANN401 - JSON may hold any portable value
    """Read JSON that holds portable values only.

    Raises:
        UnreadableError: if it is no JSON, has a key twice, or holds a value some store refuses.
    """
    try:
        value = json.loads(
            text,
            object_pairs_hook=_object,
            parse_constant=_refuse_constant,
            parse_int=_whole,
            parse_float=_float,
        )
    except RecursionError as error:
        raise UnreadableError(f"the line is nested deeper than {DEEPEST} levels") from error
    except json.JSONDecodeError as error:
        raise UnreadableError(f"this is not JSON: {error.msg} at character {error.pos}") from error
    check_portable(value)
    return value


def write_json(value: object) -> str:
    """Write a portable value as compact JSON text.

    Raises:
        UnreadableError: if some store would refuse it.
    """
    check_portable(value)
    return json.dumps(value, separators=(",", ":"), ensure_ascii=False, allow_nan=False)
