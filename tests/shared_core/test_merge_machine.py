"""The season of :class:`tests.teams.Teams`, played sound, and then with each fault planted."""

from collections.abc import Callable, Iterable
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, settings
from hypothesis.stateful import RuleBasedStateMachine, run_state_machine_as_test

from shared_core import logbook as logbook_module
from shared_core import merge as merge_module
from shared_core.errors import StrandlineError
from shared_core.logbook import Logbook, Verdict
from shared_core.merge import Entry, Joined, read_entry
from tests.teams import Teams

QUICK = settings(
    max_examples=40,
    stateful_step_count=30,
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.filter_too_much],
)
TestTeams = Teams.TestCase
TestTeams.settings = QUICK


# planted faults: the machine must go red for each ------------------------------------------------

FOUND_BY_CHANCE = settings(
    QUICK, max_examples=400, derandomize=True, database=None, phases=[Phase.generate],
    report_multiple_bugs=False,
)  # fmt: skip


def goes_red(machine: type[RuleBasedStateMachine]) -> bool:
    try:
        run_state_machine_as_test(machine, settings=FOUND_BY_CHANCE)
    except (AssertionError, StrandlineError):
        return True
    return False


def test_a_place_kept_before_the_data_is_found_out() -> None:
    class Early(Teams):
        place_kept_first = True

    assert goes_red(Early)


def test_order_of_arrival_deciding_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    real = merge_module.joined

    def last_to_arrive(entries: Iterable[Entry]) -> Joined:
        said = list(entries)
        found = real(said)
        return Joined(heads=found.heads, body=said[-1].body, disputed={})

    def as_arrived(book: Logbook, record_id: str) -> list[Entry]:
        sql = "select line from entry where record = ? order by place"
        return [read_entry(line) for (line,) in book.rows(sql, record_id)]

    monkeypatch.setattr(logbook_module, "joined", last_to_arrive)
    monkeypatch.setattr(Logbook, "history", as_arrived)
    assert goes_red(Teams)


def test_lines_taken_twice_are_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def take(book: Logbook, entry: Entry, source: str, refuse: Callable[[Entry], str]) -> Verdict:
        why = refuse(entry) or book._clash(entry)
        if why:
            return book._hold(entry.line, entry, source, why)
        book._insert(entry)
        return Verdict(entry=entry.entry, outcome="taken")

    monkeypatch.setattr(Logbook, "_take", take)
    assert goes_red(Teams)


def test_replaced_entries_that_still_speak_are_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(merge_module, "_parents", lambda unique: dict.fromkeys(unique, ()))
    assert goes_red(Teams)


def test_last_writer_wins_is_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    real = merge_module.joined

    def last_writer(entries: Iterable[Entry]) -> Joined:
        said = list(entries)
        newest = max(said, key=lambda entry: (entry.written_at, entry.entry))
        return Joined(heads=real(said).heads, body=newest.body, disputed={})

    monkeypatch.setattr(logbook_module, "joined", last_writer)
    assert goes_red(Teams)


def test_forks_that_are_swallowed_are_found_out(monkeypatch: pytest.MonkeyPatch) -> None:
    def take(book: Logbook, entry: Entry, *_: Any) -> Verdict:
        clash = book._clash(entry)  # as "insert or ignore" would
        if not clash:
            book._insert(entry)
        return Verdict(entry=entry.entry, outcome="had it" if clash else "taken")

    monkeypatch.setattr(Logbook, "_take", take)
    assert goes_red(Teams)
