"""One list of hazard values, judged alike by the reader, the logbook and the SQLite beneath it."""

import json
import sqlite3
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.errors import StrandlineError, UnreadableError
from shared_core.logbook import Logbook
from shared_core.merge import read_entry
from shared_core.portable import (
    DEEPEST,
    LARGEST_NUMBER,
    LONGEST_LINE_BYTES,
    check_portable,
    read_json,
    write_json,
)
from tests.hazards import CORPUS, line_holding, line_with, spelled

VALUES = [
    pytest.param(hazard["text"], hazard["portable"], id=hazard["name"])
    for hazard in CORPUS["values"]
]
LINES = [
    pytest.param(hazard["members"], hazard["verdict"], id=hazard["name"])
    for hazard in CORPUS["lines"]
]


def logbook() -> Logbook:
    return Logbook(
        ":memory:", device="server", clock=lambda: datetime(2026, 3, 2, tzinfo=UTC), new_id=str
    )


def test_the_corpus_holds_forty_hazards_and_both_verdicts() -> None:
    assert len(CORPUS["values"]) >= 40
    assert {hazard["portable"] for hazard in CORPUS["values"]} == {True, False}
    assert {hazard["verdict"] for hazard in CORPUS["lines"]} == {"taken", "quarantined"}


@pytest.mark.parametrize(("text", "portable"), VALUES)
def test_a_hazard_value_gets_its_verdict(text: Any, portable: bool) -> None:
    line = line_holding(spelled(text))
    with logbook() as book:
        (verdict,) = book.absorb([line], source="test")
        assert verdict.outcome == ("taken" if portable else "quarantined")
        if portable:
            assert book.lines_of("tablet 1", 0) == [line]  # the same bytes come back
        else:
            assert verdict.why
            assert len(book.quarantined()) == 1


@pytest.mark.parametrize(("text", "portable"), VALUES)
def test_what_is_portable_survives_sqlite_as_text_and_as_json(text: Any, portable: bool) -> None:
    if not portable:
        with pytest.raises(StrandlineError):
            read_entry(line_holding(spelled(text)))
        return
    value = read_json(spelled(text))
    with sqlite3.connect(":memory:") as file:
        stored = write_json(value)
        (back,) = file.execute("select ?", (stored,)).fetchone()
        (valid,) = file.execute("select json_valid(?)", (stored,)).fetchone()
    file.close()
    assert back == stored
    assert valid
    assert json.dumps(read_json(stored)) == json.dumps(value)


@pytest.mark.parametrize(("members", "verdict"), LINES)
def test_a_hazard_line_gets_its_verdict(members: dict[str, Any], verdict: str) -> None:
    line = line_with(**members)
    with logbook() as book:
        (given_verdict,) = book.absorb([line], source="test")
        assert given_verdict.outcome == verdict, given_verdict.why
        # whatever the line was, the next one of this device is judged, not stumbled over
        book.absorb([line_with(entry='"next"', seq="2", device='"tablet 1"')], source="test")


def test_one_hazard_never_blocks_the_lines_around_it() -> None:
    good = [
        line_with(entry=f'"good {number}"', record=f'"r{number}"', device=f'"tablet {number}"')
        for number in range(2, 5)
    ]
    bad = [line_with(**hazard["members"]) for hazard in CORPUS["lines"]]
    with logbook() as book:
        verdicts = book.absorb([good[0], *bad, good[1], *bad, good[2]], source="test")
        by_name = {verdict.entry: verdict.outcome for verdict in verdicts}
        assert [by_name[f"good {number}"] for number in range(2, 5)] == ["taken"] * 3


def test_the_sentence_names_the_place_and_what_would_be_right() -> None:
    with pytest.raises(UnreadableError, match=r"the entry, body, stage_m holds inf; a finite"):
        check_portable({"body": {"stage_m": float("inf")}})
    with pytest.raises(UnreadableError, match="a key that is not text: 1"):
        check_portable({1: 2})
    with pytest.raises(UnreadableError, match="datetime, which has no JSON form"):
        check_portable([datetime(2026, 3, 1, tzinfo=UTC)])
    with pytest.raises(UnreadableError, match=r"this is not JSON: .* at character 3"):
        read_json("[1,]")


def test_the_limits_are_those_of_the_wire() -> None:
    # design of the wire: numbers within 2^53 - 1, depth 8, a line of 1 MiB
    assert (LARGEST_NUMBER, DEEPEST, LONGEST_LINE_BYTES) == (2**53 - 1, 8, 2**20)


PORTABLE = st.recursive(
    st.none()
    | st.booleans()
    | st.integers(-LARGEST_NUMBER, LARGEST_NUMBER)
    | st.floats(-LARGEST_NUMBER, LARGEST_NUMBER)
    | st.text(st.characters(codec="utf-8", exclude_characters="\0")),
    lambda inner: (
        st.lists(inner, max_size=3) | st.dictionaries(st.text("ab\u00e9"), inner, max_size=3)
    ),
    max_leaves=12,
)


@given(PORTABLE)
def test_what_can_be_written_reads_back_equal(value: Any) -> None:
    try:
        text = write_json(value)
    except UnreadableError:  # nested deeper than the wire allows
        return
    assert json.dumps(read_json(text)) == json.dumps(value)


@given(st.text() | st.binary().map(lambda raw: raw.decode("utf-8", "surrogateescape")))
def test_any_text_at_all_gets_a_verdict(text: str) -> None:
    with logbook() as book:
        (verdict,) = book.absorb([text], source="test")
        assert verdict.outcome == "quarantined"
        assert len(book.quarantined()) == 1
