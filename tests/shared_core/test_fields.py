"""Each kind of field reads, writes, shows, stores and describes its value."""

from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.errors import UnreadableError
from shared_core.field_kinds import (
    Choice,
    Day,
    Digits,
    Field,
    Flag,
    Moment,
    Number,
    Text,
    Whole,
)
from shared_core.field_shapes import Place, Position, Rows, Typed, Words
from shared_core.fields import choice, fields_of, number, record, typed
from shared_core.portable import LARGEST_NUMBER, read_json, write_json
from tests.strategies import values

STAGE = Number(label="Stage", unit="m", decimals=3, likely=(-0.5, 3.0))
ROUGH = Number(label="Wind", unit="m/s", decimals=0)
COUNT = Whole(label="Frames", unit="frames")
GROUP = Choice(label="Water group", answers={"AT": "Amphibious, tolerates", "T": "Dry ground"})
ROWS = Rows(
    label="Plants",
    columns=(
        Text(label="Plant", name="taxon"),
        Number(label="Cover", unit="%", name="cover_pct", required=False),
        GROUP,
        Flag(label="Native", name="native", required=False),
    ),
)
EVERY = (
    STAGE, COUNT, GROUP, Flag(label="Dial moving"), Text(label="Remark"), Digits(label="Figures"),
    Moment(label="Time seen"), Day(label="Read on"), Place(label="Position"),
    Words(label="Seen by"), Typed(label="As typed"), ROWS,
)  # fmt: skip


every_field = pytest.mark.parametrize("field", EVERY, ids=lambda field: type(field).__name__)


def test_every_kind_of_field_is_tried_here() -> None:
    def below(kind: type[Field]) -> set[type[Field]]:
        return {kind}.union(*(below(inner) for inner in kind.__subclasses__()))

    here = {kind for kind in below(Field) if kind.__module__.startswith("shared_core.")}
    assert here - {Field} == {type(field) for field in EVERY}


# reading what was typed


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("1.42", 1.42),
        (" 1.42 ", 1.42),
        ("1,42", 1.42),  # decimal comma
        ("\u22120.05", -0.05),  # minus sign
        ("-0.05", -0.05),
        ("+1.5", 1.5),
        ("1 250.5", 1250.5),
        ("0", 0.0),
        (".5", 0.5),
    ],
)
def test_a_number_is_read_as_people_type_it(text: str, value: float) -> None:
    assert STAGE.read(text) == value


@pytest.mark.parametrize(
    "text", ["1.4.2", "1.234,5", "abc", "1_000", "nan", "inf", "-Infinity", "1e400", "0x10", "--1"]
)
def test_what_is_no_number_is_named_and_what_would_be_read_is_said(text: str) -> None:
    with pytest.raises(UnreadableError, match="Stage: a number in m, not") as error:
        STAGE.read(text)
    assert repr(text) in str(error.value)


@pytest.mark.parametrize(
    ("field", "text", "sentence"),
    [
        (STAGE, "", "Stage is needed: a number in m"),
        (Number(label="pH"), "x", "pH: a number, not 'x'"),
        (COUNT, "1.5", "Frames: a whole number of frames, not '1.5'"),
        (Whole(label="Islands"), "few", "Islands: a whole number, not 'few'"),
        (GROUP, "X", "Water group: one of Amphibious, tolerates, Dry ground, not 'X'"),
        (Flag(label="Moving"), "maybe", "Moving: yes or no, not 'maybe'"),
        (Digits(label="Figures"), "12 3", "Figures: the figures on the face, left to right"),
        (Digits(label="Figures"), "\u0661", "Figures: the figures on the face"),
        (Digits(label="Figures"), "9" * 5000, "Figures: the figures on the face"),
        (Text(label="Code", longest=3), "abcd", "Code: at most 3 characters, not 4"),
        (Moment(label="Seen"), "10:00", "Seen: a date and time with its offset, such as 2023"),
        (Moment(label="Seen"), "2023-08-21 10:00", "lacks its offset, such as \\+10:00"),
        (Moment(label="Seen"), "0001-01-01T00:00+10:00", "Seen: a date and time"),
        (Moment(label="Seen"), "9999-12-31T23:59-10:00", "Seen: a date and time"),
        (Day(label="Read on"), "21.8.2023", "Read on: a date such as 2023-08-21"),
        (Place(label="Position"), "91 0", "Position: latitude and longitude in degrees"),
        (Place(label="Position"), "-36,48 155,45", "Position: latitude and longitude in degrees"),
        (Place(label="Position"), "nan 0", "Position: latitude and longitude in degrees"),
        (ROWS, "Reed; 5", "a row has 2 values, 4 are needed: Plant, Cover \\[%\\], Water group"),
        (ROWS, "Reed; lots; T; yes", "Cover: a number in %, not 'lots'"),
        (ROWS, "Reed; 5; ; yes", "Water group is needed: one of"),
    ],
)  # fmt: skip
def test_unreadable_text_gets_a_clear_sentence(field: Field, text: str, sentence: str) -> None:
    with pytest.raises(UnreadableError, match=sentence):
        field.read(text)


def test_nothing_typed_is_nothing_where_nothing_is_needed() -> None:
    assert Number(label="Wind", required=False).read("  ") is None
    assert Moment(label="Left", required=False).read("") is None


def test_an_answer_is_read_by_its_word_or_by_what_people_see() -> None:
    assert GROUP.read("AT") == GROUP.read("at") == GROUP.read("amphibious, Tolerates") == "AT"
    assert Flag(label="Moving").read("Yes") is True
    assert Flag(label="Moving").read("no") is False


def test_leading_zeros_of_a_counter_stay() -> None:
    assert Digits(label="Figures").read("004210") == "004210"


def test_a_time_is_held_in_utc_to_the_millisecond() -> None:
    seen = Moment(label="Seen").read("2023-08-21 10:00:00.123987+10:00")
    assert seen == datetime(2023, 8, 21, 0, 0, 0, 123000, tzinfo=UTC)
    assert seen.tzinfo is UTC


def test_positions_are_read_with_and_without_accuracy() -> None:
    field = Place(label="Position")
    assert field.read("\u221236.48006, 155.45573") == Position(-36.48006, 155.45573)
    assert field.read("-36.48006 155.45573 ±4") == Position(-36.48006, 155.45573, 4.0)


def test_a_cell_with_a_semicolon_is_put_in_quotes() -> None:
    rows = (('Reed "tall"; bent\nover', 5.0, "T", None),)
    assert ROWS.write(rows) == '"Reed ""tall""; bent\nover"; 5; T; '
    assert ROWS.read(ROWS.write(rows)) == rows


def test_what_was_typed_is_evidence_to_the_last_blank() -> None:
    field = Typed(label="As typed")
    raw = {"stage_m": " 1,42 ", "remark": "dry\nthen a=b \\n wet\r\n "}
    assert field.read(field.write(raw)) == raw


# showing


def test_a_number_is_shown_with_its_unit_and_a_minus_sign() -> None:
    assert STAGE.show(-0.05) == "\u22120.050 m"
    assert ROUGH.show(3.4) == "3 m/s"
    assert STAGE.show(None) == "–"


def test_everything_empty_is_shown_as_a_dash() -> None:
    for field in EVERY:
        if not isinstance(field, Rows):
            assert field.show(None) == "–"
        assert field.write(None) == ""


def test_people_see_answers_not_stored_words() -> None:
    assert GROUP.show("AT") == "Amphibious, tolerates"
    assert GROUP.show("XX") == "XX"  # of a newer version
    assert Flag(label="Moving").show(value=True) == "yes"
    assert Words(label="By").show(("A", "B")) == "A, B"
    assert ROWS.show((("Reed", 5.0, "T", None),)) == "1 rows"
    assert Typed(label="As typed").show({"stage_m": "1,4"}) == "stage_m: “1,4”"


def test_a_time_is_shown_with_the_zone_it_is_in() -> None:
    assert Moment(label="Seen").show(datetime(2023, 8, 21, 0, 5, tzinfo=UTC)) == (
        "2023-08-21 00:05 UTC"
    )


def test_an_unlikely_value_is_named_and_never_refused() -> None:
    assert STAGE.read("14.2") == 14.2
    assert STAGE.oddity(14.2) == "Stage 14.200 m is outside the usual -0.5 to 3 m"
    assert STAGE.oddity(1.42) == STAGE.oddity(None) == ROUGH.oddity(99.0) == ""


def test_a_heading_carries_the_unit() -> None:
    assert STAGE.heading == "Stage [m]"
    assert Flag(label="Moving").heading == "Moving"


# storing


@every_field
@given(data=st.data())
def test_stored_values_come_back(field: Field, data: st.DataObject) -> None:
    value = data.draw(values(field))
    stored = field.encode(value)
    assert field.decode(read_json(write_json(stored))) == value


@every_field
@given(data=st.data())
def test_what_is_written_in_a_form_reads_back(field: Field, data: st.DataObject) -> None:
    value = data.draw(values(field))
    assert field.read(field.write(value)) == value


@every_field
@given(text=st.text())
def test_any_text_is_read_or_refused_in_words(field: Field, text: str) -> None:
    try:
        value = field.read(text)
    except UnreadableError as refused:
        says = str(refused)
    else:
        assert value is not None or not text.strip()
        return
    labels = [field.label, *(column.label for column in getattr(field, "columns", ()))]
    assert any(says.startswith(label) for label in labels)


STORED: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False) | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner),
    max_leaves=6,
)


@every_field
@given(stored=STORED)
def test_what_cannot_have_been_stored_is_refused_in_words(field: Field, stored: Any) -> None:
    try:
        value = field.decode(stored)
    except UnreadableError:
        return
    field.show(value)  # what was let in can be shown and written
    field.write(value)


@pytest.mark.parametrize(
    ("field", "stored"),
    [
        (STAGE, True), (STAGE, "1.4"), (COUNT, 1.0), (COUNT, True), (GROUP, 1), (Text(label="t"), 1),
        (Flag(label="f"), 1), (Digits(label="d"), 12), (Digits(label="d"), "12a"),
        (Moment(label="m"), "2023-08-21"), (Day(label="d"), "2023-13-01"),
        (Place(label="p"), [1.0, 2.0]), (Place(label="p"), [1.0, 2.0, "x"]),
        (Place(label="p"), [True, 2.0, None]), (Place(label="p"), [91.0, 0.0, None]),
        (Words(label="w"), "a"), (Words(label="w"), [1]), (Typed(label="t"), {"a": 1}),
        (ROWS, ["a"]), (ROWS, [["a"]]),
    ],
)  # fmt: skip
def test_another_kind_of_value_is_refused(field: Field, stored: Any) -> None:
    with pytest.raises(UnreadableError):
        field.decode(stored)


def test_an_answer_of_a_newer_version_is_kept() -> None:
    assert GROUP.decode("XX") == "XX"


@given(st.integers(-LARGEST_NUMBER, LARGEST_NUMBER))
def test_a_count_is_read_to_the_last_figure(value: int) -> None:
    assert COUNT.read(COUNT.write(value)) == value


# declaring


@record
class Sample:
    """A record class, outside any logbook."""

    depth_m: float = number("Depth", "m", (0.0, 3.0))
    waves: str | None = choice("Waves", {"calm": "Calm"}, default=None)
    as_typed: dict[str, str] = typed("As typed", default_factory=dict)
    not_declared: int = 0


def test_fields_are_read_off_the_class_in_order_with_name_and_need() -> None:
    assert [(field.name, field.required) for field in fields_of(Sample)] == [
        ("depth_m", True),
        ("waves", False),
        ("as_typed", False),
    ]
    assert fields_of(Sample) is fields_of(Sample)


def test_a_record_is_made_by_name_and_never_changed() -> None:
    sample = Sample(depth_m=1.0)
    assert (sample.waves, sample.as_typed) == (None, {})
    with pytest.raises(AttributeError):
        sample.depth_m = 2.0  # type: ignore[misc]  # that is the point
    with pytest.raises(TypeError):
        Sample(1.0)  # type: ignore[call-arg]  # that is the point


@pytest.mark.parametrize(
    ("field", "kind"),
    [
        (STAGE, "number"), (COUNT, "integer"), (GROUP, "string"), (Flag(label="f"), "boolean"),
        (Day(label="d"), "string"), (Place(label="p"), "array"), (Words(label="w"), "array"),
        (Typed(label="t"), "object"), (ROWS, "array"),
    ],
)  # fmt: skip
def test_a_field_describes_what_it_stores(field: Field, kind: str) -> None:
    assert field.schema()["type"] == kind
    assert field.schema()["title"] == field.heading


def test_dates_and_answers_are_described_too() -> None:
    assert Moment(label="m").schema()["format"] == "date-time"
    assert Day(label="d").schema()["format"] == "date"
    assert GROUP.schema()["enum"] == ["AT", "T"]
    assert Day(label="d").encode(date(2023, 8, 21)) == "2023-08-21"
