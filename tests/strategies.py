"""Hypothesis strategies read off the field declarations, so a new kind is tested without a line."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

from hypothesis import strategies as st

from shared_core.field_kinds import Choice, Day, Digits, Field, Flag, Moment, Number, Text, Whole
from shared_core.field_shapes import Place, Position, Rows, Typed, Words
from shared_core.fields import fields_of
from shared_core.portable import LARGEST_NUMBER
from shared_core.records.base import Record

# every character that all stores hold: no NUL, no half characters
CHARACTERS = st.characters(codec="utf-8", exclude_characters="\0")
PLAIN = st.text(CHARACTERS, max_size=20)
MOMENTS = st.datetimes(datetime(2000, 1, 1), datetime(2080, 1, 1), timezones=st.just(UTC)).map(
    lambda moment: moment.replace(microsecond=moment.microsecond // 1000 * 1000)
)


def numbers(field: Number) -> st.SearchStrategy[float]:
    low, high = field.likely or (-LARGEST_NUMBER, LARGEST_NUMBER)
    return st.one_of(
        st.floats(low, high).map(lambda value: round(value, field.decimals)),
        st.floats(-LARGEST_NUMBER, LARGEST_NUMBER),  # unlikely, but portable: never refused
    )


def positions() -> st.SearchStrategy[Position]:
    return st.builds(
        Position,
        lat_deg=st.floats(-90, 90),
        lon_deg=st.floats(-180, 180),
        accuracy_m=st.none() | st.floats(0, 1000),
    )


def values(field: Field) -> st.SearchStrategy[Any]:
    """Draw what a field may hold as a person would have entered it: no blanks around words."""
    for kind in type(field).__mro__:
        if kind in _DRAWN:
            return _DRAWN[kind](field)
    raise TypeError(f"no strategy for {field}")


def _rows(field: Rows) -> st.SearchStrategy[Any]:
    cells = [
        values(column) if column.required else st.none() | values(column)
        for column in field.columns
    ]
    return st.lists(st.tuples(*cells), min_size=int(field.required), max_size=3).map(tuple)


def words_without(letters: str) -> st.SearchStrategy[str]:
    allowed = st.characters(codec="utf-8", exclude_characters="\0" + letters)
    return st.text(allowed, min_size=1, max_size=12).map(str.strip).filter(bool)


_DRAWN: dict[type, Callable[[Any], st.SearchStrategy[Any]]] = {
    Whole: lambda _: st.integers(-LARGEST_NUMBER, LARGEST_NUMBER),
    Number: numbers,
    Choice: lambda field: st.sampled_from(sorted(field.answers)),
    Flag: lambda _: st.booleans(),
    Digits: lambda _: st.text("0123456789", min_size=1, max_size=12),
    Moment: lambda _: MOMENTS,
    Day: lambda _: st.dates(date(2000, 1, 1), date(2080, 1, 1)),
    Text: lambda _: words_without(""),
    Place: lambda _: positions(),
    Words: lambda field: st.lists(words_without(","), min_size=int(field.required), max_size=3).map(
        tuple
    ),
    Typed: lambda _: st.dictionaries(st.sampled_from(["stage_m", "remark", "rain_mm"]), PLAIN),
    Rows: _rows,
}


def records(kind: type[Record], **fixed: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    """Draw records of a kind; a field that may be empty sometimes is."""
    drawn = {
        field.name: fixed.get(field.name, values(field))
        for field in fields_of(kind)
        if field.required or field.name in fixed
    }
    maybe = {field.name: values(field) for field in fields_of(kind) if field.name not in drawn}
    return st.fixed_dictionaries(drawn, optional=maybe).map(lambda found: kind(**found))
