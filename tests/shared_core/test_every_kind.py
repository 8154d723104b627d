"""What every kind of record must do, the ones added tomorrow included."""

import re
from collections.abc import Iterator
from typing import Any, Final

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared_core.field_kinds import Field, Number
from shared_core.field_shapes import Rows
from shared_core.fields import fields_of
from shared_core.portable import read_json, write_json
from shared_core.records import KINDS
from shared_core.records.base import Record, Seen, SetUp
from tests.logbooks import ANA, logbook
from tests.strategies import records

SUFFIX_OF_UNIT: Final = {
    "m": "_m",
    "mm": "_mm",
    "km": "_km",
    "m2": "_m2",
    "m3": "_m3",
    "s": "_s",
    "min": "_min",
    "h": "hours",
    "days": "_days",
    "deg": "_deg",
    "%": "_pct",
    "°C": "_c",
    "uS/cm": "_us_cm",
    "mg/L": "_mg_l",
    "NTU": "_ntu",
    "L": "_litres",
    "L/s": "_l_s",
    "m/s": "_m_s",
    "ML": "_megalitres",
    "ML/h": "_megalitres_per_hour",
    "mm/day": "_mm_day",
}
KEPT_AS_THEY_ARE: Final = {  # stored names, never changed once written; each says its unit inside
    ("photo_taken", "focal_35mm"),
    ("photo_point", "focal_35mm"),
    ("pump_run", "hours_reading"),
    ("rain_reading", "days_covered"),
    ("evaporation_table", "reference_mm"),  # a column of monthly_mm_per_day
}
UNITS_IN_NAMES: Final = {suffix.lstrip("_") for suffix in SUFFIX_OF_UNIT.values()} - {"c", "s"}

every_kind = pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.kind)


def numbers_of(kind: type[Record]) -> Iterator[Number]:
    for field in fields_of(kind):
        columns = field.columns if isinstance(field, Rows) else ()
        yield from (part for part in (field, *columns) if isinstance(part, Number))


@every_kind
@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_a_record_comes_back_from_its_json(kind: type[Record], data: st.DataObject) -> None:
    drawn = data.draw(records(kind))
    assert kind.decoded(read_json(write_json(drawn.encoded()))) == drawn


@every_kind
@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_a_record_comes_back_from_the_form(kind: type[Record], data: st.DataObject) -> None:
    drawn = data.draw(records(kind))
    typed = {field.name: field.write(getattr(drawn, field.name)) for field in fields_of(kind)}
    read = {field.name: field.read(typed[field.name]) for field in fields_of(kind)}
    assert kind(**{name: value for name, value in read.items() if value is not None}) == drawn


@every_kind
@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_a_record_can_be_written_down_found_and_shown(
    kind: type[Record], data: st.DataObject
) -> None:
    drawn = data.draw(records(kind))
    with logbook() as book:
        entry = book.write(drawn, ANA)
        standing = book.standing(entry.record)
        assert standing is not None
        assert standing.record == drawn
        assert [found.record for found in book.known().every(kind)] == [drawn]
    assert all(field.show(getattr(drawn, field.name)) for field in fields_of(kind))


@every_kind
def test_a_kind_says_what_it_is(kind: type[Record]) -> None:
    assert re.fullmatch("[a-z][a-z0-9_]*", kind.kind)
    assert kind.title.strip() == kind.title != ""
    assert kind.__doc__
    assert not kind.__doc__.startswith(kind.__name__ + "(")  # what a dataclass makes up by itself
    assert issubclass(kind, Seen | SetUp)


def test_kinds_and_titles_are_told_apart() -> None:
    assert len({kind.kind for kind in KINDS}) == len(KINDS)
    assert len({kind.title for kind in KINDS}) == len(KINDS)


@every_kind
def test_labels_are_told_apart_and_say_something(kind: type[Record]) -> None:
    labels = [field.label for field in fields_of(kind)]
    assert len(set(labels)) == len(labels)
    assert all(label.strip() == label != "" for label in labels)


@every_kind
def test_the_unit_of_a_number_stands_in_its_name(kind: type[Record]) -> None:
    for field in numbers_of(kind):
        if (kind.kind, field.name) in KEPT_AS_THEY_ARE:
            continue
        if field.unit:
            assert field.name.endswith(SUFFIX_OF_UNIT[field.unit]), (kind.kind, field.name)
        else:
            assert field.name.rpartition("_")[2] not in UNITS_IN_NAMES, (kind.kind, field.name)
        assert not field.name.endswith("_ml"), "reads as millilitres"


@every_kind
def test_a_likely_range_goes_upwards(kind: type[Record]) -> None:
    for field in numbers_of(kind):
        assert field.likely is None or field.likely[0] < field.likely[1], field.name


def schemas(field: Field) -> Iterator[tuple[Field, dict[str, Any]]]:
    yield field, field.schema()
    for column in getattr(field, "columns", ()):
        yield from schemas(column)


@every_kind
def test_a_field_is_described_in_json_schema(kind: type[Record]) -> None:
    # the words used here are those of JSON Schema 2020-12, Validation, sections 6 and 7
    for declared in fields_of(kind):
        for field, schema in schemas(declared):
            assert schema["type"] in {"string", "number", "integer", "boolean", "array", "object"}
            assert schema["title"] == field.heading
            assert set(schema) <= {
                "type", "title", "description", "enum", "format", "minItems", "maxItems", "items",
                "additionalProperties",
            }  # fmt: skip
            assert read_json(write_json(schema)) == schema


@every_kind
@settings(max_examples=20, deadline=None)
@given(data=st.data())
def test_what_is_stored_is_what_was_described(kind: type[Record], data: st.DataObject) -> None:
    python = {
        "string": str, "number": float, "integer": int, "boolean": bool, "array": list,
        "object": dict,
    }  # fmt: skip
    drawn = data.draw(records(kind))
    stored = drawn.encoded()
    for field in fields_of(kind):
        if field.name in stored:
            schema = field.schema()
            assert isinstance(stored[field.name], python[schema["type"]])
            assert "enum" not in schema or stored[field.name] in schema["enum"]
