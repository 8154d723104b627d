"""Who speaks for a record: the same answer from the same entries, in any order of arrival."""

import dataclasses
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.errors import DamagedError, UnreadableError
from shared_core.merge import (
    NO_CHAIN,
    WITHDRAWN,
    Entry,
    Joined,
    as_read,
    chain_holds,
    chain_of,
    changes,
    heads,
    joined,
    read_entry,
    written,
)

NOON = datetime(2026, 3, 1, 12, tzinfo=UTC)


def said(
    name: str, body: Mapping[str, Any] | None, *replaces: str, minutes: int = 0, author: str = "Ana"
) -> Entry:
    return Entry(
        entry=name,
        record="r",
        kind="gauge_reading",
        site="REEDY",
        body=body,
        replaces=replaces,
        author=author,
        device=f"device of {author}",
        seq=1,
        written_at=NOON + timedelta(minutes=minutes),
    )


ROOT = said("a", {"stage_m": 1.4, "remark": "calm", "waves": "calm"})


def test_one_entry_speaks_for_itself() -> None:
    assert joined([ROOT]) == Joined(heads=(ROOT,), body=ROOT.body, disputed={})


def test_nothing_was_said_is_a_mistake() -> None:
    with pytest.raises(ValueError, match="nothing was said"):
        joined([])


def test_a_correction_replaces_what_its_author_had_read() -> None:
    fixed = said("b", {"stage_m": 1.42, "remark": "calm", "waves": "calm"}, "a")
    assert joined([ROOT, fixed]) == Joined(heads=(fixed,), body=fixed.body, disputed={})


def test_edits_of_different_fields_are_joined() -> None:
    stage = said("b", {"stage_m": 1.42, "remark": "calm", "waves": "calm"}, "a")
    remark = said("c", {"stage_m": 1.4, "remark": "gate open", "waves": "calm"}, "a")
    found = joined([ROOT, stage, remark])
    assert found.body == {"stage_m": 1.42, "remark": "gate open", "waves": "calm"}
    assert found.disputed == {}
    assert found.heads == (stage, remark)


def test_one_field_given_two_values_is_disputed_and_both_stay() -> None:
    one = said("b", {"stage_m": 1.42, "remark": "calm", "waves": "calm"}, "a")
    other = said("c", {"stage_m": 1.24, "remark": "calm", "waves": "calm"}, "a")
    found = joined([ROOT, other, one])
    assert found.disputed == {"stage_m": (("b", 1.42), ("c", 1.24))}
    assert found.body is not None
    assert found.body["remark"] == "calm"


def test_the_same_correction_by_two_people_is_no_dispute() -> None:
    one = said("b", {"stage_m": 1.42, "remark": "calm", "waves": "calm"}, "a")
    other = said("c", {"stage_m": 1.42, "remark": "calm", "waves": "calm"}, "a")
    found = joined([ROOT, one, other])
    assert (found.body, found.disputed) == (one.body, {})


def test_one_and_one_point_nought_and_yes_are_not_the_same() -> None:
    entries = [
        ROOT,
        said("b", {"x": 1}, "a"),
        said("c", {"x": 1.0}, "a"),
        said("d", {"x": True}, "a"),
    ]
    assert [name for name, _ in joined(entries).disputed["x"]] == ["b", "c", "d"]


def test_a_field_taken_away_and_a_field_changed_is_a_dispute() -> None:
    gone = said("b", {"stage_m": 1.4, "waves": "calm"}, "a")
    changed = said("c", {"stage_m": 1.4, "remark": "gate", "waves": "calm"}, "a")
    assert joined([ROOT, gone, changed]).disputed == {"remark": (("b", None), ("c", "gate"))}


def test_a_field_taken_away_by_one_is_gone() -> None:
    gone = said("b", {"stage_m": 1.4, "waves": "calm"}, "a")
    other = said("c", {"stage_m": 1.5, "remark": "calm", "waves": "calm"}, "a")
    found = joined([ROOT, gone, other])
    assert (found.body, found.disputed) == ({"stage_m": 1.5, "waves": "calm"}, {})


def test_an_entry_that_replaces_all_heads_closes_the_dispute() -> None:
    one = said("b", {"stage_m": 1.42}, "a")
    other = said("c", {"stage_m": 1.24}, "a")
    closing = said("d", {"stage_m": 1.42}, "b", "c", author="Kim")
    assert joined([ROOT, one, other, closing]) == Joined(
        heads=(closing,), body=closing.body, disputed={}
    )


def test_an_entry_that_replaces_one_head_leaves_the_other_standing() -> None:
    one = said("b", {"stage_m": 1.42}, "a")
    other = said("c", {"stage_m": 1.24}, "a")
    answer = said("d", {"stage_m": 1.43}, "b")
    assert joined([ROOT, one, other, answer]).disputed == {"stage_m": (("c", 1.24), ("d", 1.43))}


def test_back_to_the_old_value_is_a_change_too() -> None:
    wrong = said("b", {"stage_m": 1.0, "remark": "calm", "waves": "calm"}, "a")
    back = said("c", {"stage_m": 1.4, "remark": "calm", "waves": "calm"}, "b")
    aside = said("d", {"stage_m": 1.4, "remark": "gate", "waves": "calm"}, "a")
    found = joined([ROOT, wrong, back, aside])
    assert found.body == {"stage_m": 1.4, "remark": "gate", "waves": "calm"}
    assert found.disputed == {}


def test_withdrawn_by_all_is_withdrawn() -> None:
    assert joined([ROOT, said("b", None, "a"), said("c", None, "a")]).body is None


def test_withdrawn_by_one_while_another_wrote_on_is_disputed() -> None:
    gone = said("b", None, "a")
    wrote = said("c", {"stage_m": 1.42, "remark": "calm", "waves": "calm"}, "a")
    found = joined([ROOT, gone, wrote])
    assert found.disputed[WITHDRAWN] == (("b", True), ("c", False))
    assert found.body == wrote.body
    closing = said("d", None, "b", "c")
    assert joined([ROOT, gone, wrote, closing]) == Joined(heads=(closing,), body=None, disputed={})


def test_what_was_withdrawn_can_be_written_again() -> None:
    again = said("c", {"stage_m": 1.42}, "b")
    assert joined([ROOT, said("b", None, "a"), again]) == Joined(
        heads=(again,), body=again.body, disputed={}
    )


def test_replacing_what_is_not_here_does_no_harm() -> None:
    late = said("b", {"stage_m": 1.42}, "never seen", "a")
    assert joined([ROOT, late]).heads == (late,)
    assert joined([late]).body == {"stage_m": 1.42}


def test_replacing_itself_does_no_harm() -> None:
    alone = said("b", {"stage_m": 1.42}, "b")
    assert joined([alone]) == Joined(heads=(alone,), body=alone.body, disputed={})


def test_a_circle_replaces_nobody_and_can_still_be_closed() -> None:
    one = said("b", {"stage_m": 1.0}, "a", "c")
    other = said("c", {"stage_m": 2.0}, "b")
    found = joined([ROOT, one, other])
    assert found.heads == (one, other)
    assert found.disputed["stage_m"] == (("b", 1.0), ("c", 2.0))
    closing = said("d", {"stage_m": 1.5}, "b", "c")
    assert joined([ROOT, one, other, closing]).heads == (closing,)
    assert joined([ROOT, one, other, closing]).disputed == {}


def test_changes_name_the_fields_with_old_and_new() -> None:
    fixed = said("b", {"stage_m": 1.42, "waves": "calm", "wind_m_s": 2.0}, "a")
    assert changes(fixed, [ROOT, fixed]) == {
        "stage_m": (1.4, 1.42),
        "wind_m_s": (None, 2.0),
        "remark": ("calm", None),
    }
    assert changes(ROOT, [ROOT])["stage_m"] == (None, 1.4)


def test_as_read_is_what_stands_behind_some_heads() -> None:
    one, other = said("b", {"x": 1}, "a"), said("c", {"x": 2}, "a")
    later = said("d", {"x": 3}, "b")
    assert {entry.entry for entry in as_read([ROOT, one, other, later], ["d"])} == {"a", "b", "d"}
    assert as_read([ROOT], ["unknown"]) == []


# any order, any repeat


@st.composite
def some_history(draw: st.DrawFn) -> list[Entry]:
    """Draw entries about one record, each replacing some that came before it, or unknown ones."""
    size = draw(st.integers(1, 7))
    names = draw(st.permutations("abcdefgh"))
    entries: list[Entry] = []
    for name in names[:size]:
        earlier = [entry.entry for entry in entries]
        replaces = draw(st.lists(st.sampled_from([*earlier, "unknown"]), max_size=3))
        body = draw(
            st.none()
            | st.dictionaries(st.sampled_from(["x", "y", "z"]), st.integers(0, 2), max_size=3)
        )
        minutes = draw(st.integers(-10_000, 10_000))  # clocks are off; they decide nothing
        entries.append(said(name, body, *replaces, minutes=minutes))
    return entries


Rule = Callable[[Iterable[Entry]], Mapping[str, Any] | None]


def same_in_any_order(rule: Rule, entries: Sequence[Entry], order: Sequence[Entry]) -> bool:
    return rule(entries) == rule(order) == rule([*order, *entries])


def loses_nobodys_word(rule: Rule, entries: Sequence[Entry]) -> bool:
    """Every value of a head that no other head contradicts stands."""
    found = rule(entries) or {}
    standing = [head for head in heads(entries) if head.body is not None]
    for field in ("x", "y", "z"):
        values = {str(head.body.get(field)) for head in standing if head.body is not None}
        if len(values) == 1 and len(standing) == len(heads(entries)):
            known = values == {str(found.get(field))}
            if not known:
                return False
    return True


def last_writer_wins(entries: Iterable[Entry]) -> Mapping[str, Any] | None:
    return max(entries, key=lambda entry: (entry.written_at, entry.entry)).body


def last_to_arrive_wins(entries: Iterable[Entry]) -> Mapping[str, Any] | None:
    return list(entries)[-1].body


def by_joining(entries: Iterable[Entry]) -> Mapping[str, Any] | None:
    return joined(entries).body


@given(some_history(), st.data())
def test_any_order_of_arrival_gives_the_same_answer(
    entries: list[Entry], data: st.DataObject
) -> None:
    order = data.draw(st.permutations(entries))
    assert joined(order) == joined(entries) == joined([*order, *entries])
    assert same_in_any_order(by_joining, entries, order)


@given(some_history())
def test_what_nobody_contradicts_stands(entries: list[Entry]) -> None:
    assert loses_nobodys_word(by_joining, entries)


def test_last_writer_wins_fails_the_same_test() -> None:
    # a clock a year ahead: what was corrected after reading it must still be seen
    ahead = said("a", {"x": 0}, minutes=525_600)
    fixed = said("b", {"x": 1}, "a")
    assert loses_nobodys_word(by_joining, [ahead, fixed])
    assert not loses_nobodys_word(last_writer_wins, [ahead, fixed])
    # and two edits of different fields: the one made first is lost
    one, other = said("c", {"x": 2, "y": 0}, "d"), said("e", {"x": 0, "y": 2}, "d", minutes=1)
    base = said("d", {"x": 0, "y": 0})
    assert by_joining([base, one, other]) == {"x": 2, "y": 2}
    assert last_writer_wins([base, one, other]) == {"x": 0, "y": 2}


def test_last_to_arrive_wins_fails_the_same_test() -> None:
    one, other = said("b", {"x": 1}, "a"), said("c", {"x": 2}, "a")
    assert same_in_any_order(by_joining, [one, other], [other, one])
    assert not same_in_any_order(last_to_arrive_wins, [one, other], [other, one])


@given(some_history())
def test_the_last_to_read_all_heads_is_the_only_one_who_speaks(entries: list[Entry]) -> None:
    closing = said("z", {"x": 9}, *(head.entry for head in heads(entries)))
    assert joined([*entries, closing]) == Joined(heads=(closing,), body={"x": 9}, disputed={})


@given(some_history())
def test_a_disputed_field_names_two_different_values(entries: list[Entry]) -> None:
    for field, pairs in joined(entries).disputed.items():
        assert len({str(value) for _, value in pairs}) > 1, field


@given(st.lists(st.tuples(st.sampled_from("abcde"), st.sets(st.sampled_from("abcde"))), min_size=1))
def test_any_tangle_of_replacing_has_an_answer_and_can_be_closed(
    links: list[tuple[str, set[str]]],
) -> None:
    entries = [said(name, {"x": name}, *sorted(above)) for name, above in dict(links).items()]
    found = joined(entries)
    assert found == joined(entries[::-1])
    assert found.heads
    closing = said("z", {"x": "closed"}, *(head.entry for head in found.heads))
    assert joined([*entries, closing]).heads == (closing,)


# lines and chains


def chained(count: int) -> list[Entry]:
    made: list[Entry] = []
    chain = NO_CHAIN
    for seq in range(1, count + 1):
        entry = dataclasses.replace(said(f"n{seq}", {"stage_m": seq / 10}), seq=seq)
        made.append(written(entry, chain))
        chain = made[-1].chain
    return made


def test_a_line_reads_back_as_the_entry() -> None:
    (entry,) = chained(1)
    assert read_entry(entry.line) == entry
    assert read_entry(entry.line).line == entry.line


def test_members_stand_in_the_order_of_the_wire() -> None:
    (entry,) = chained(1)
    places = [entry.line.index(f'"{name}":') for name in (
        "entry", "record", "kind", "site", "body", "replaces", "author", "device", "seq",
        "written_at", "offset_min", "clock", "note", "core", "chain",
    )]  # fmt: skip
    assert places == sorted(places)


def test_the_chain_is_sha256_over_the_last_value_and_this_line() -> None:
    import hashlib

    first, second = chained(2)
    start = first.line.encode()[: -len(',"chain":""}') - 64]
    assert first.chain == hashlib.sha256(bytes(32) + start).hexdigest()
    assert chain_holds(first.line, NO_CHAIN)
    assert chain_holds(second.line, first.chain)
    assert not chain_holds(second.line, NO_CHAIN)
    assert chain_of(second.line) == second.chain


@given(st.integers(0, 10_000), st.integers(0, 6))
def test_a_flipped_bit_anywhere_in_a_line_breaks_it(place: int, bit: int) -> None:
    (entry,) = chained(1)
    raw = bytearray(entry.line.encode())
    raw[place % len(raw)] ^= 1 << bit
    line = raw.decode("utf-8", "surrogateescape")
    try:
        read_entry(line)
    except (UnreadableError, DamagedError):
        return
    assert not chain_holds(line, NO_CHAIN)


def test_a_value_no_store_could_hold_is_refused_when_written() -> None:
    with pytest.raises(UnreadableError, match="stage_m holds nan"):
        written(said("a", {"stage_m": float("nan")}), NO_CHAIN)
    with pytest.raises(UnreadableError, match="at most 1,048,576 fit"):
        written(said("a", {"remark": "x" * 2**20}), NO_CHAIN)
