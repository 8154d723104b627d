"""The checks after the fact: as it was known at the time, and with hindsight."""

from collections.abc import Iterator

import pytest

from shared_core.fields import number, record
from shared_core.logbook import Logbook, Said
from shared_core.records import KINDS
from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.rain import RainReading
from sync_server import audit as module
from sync_server.audit import audit
from tests.sync_server.rooms import Clock, Names, gauge, rain, seen


@record
class Tally(Seen):
    """A kind that finds how many others of its kind are known: for these tests only."""

    kind = "tally"
    title = "Tally"
    value: float = number("Value", "", default=0.0)

    def findings(self, known: Known) -> Iterator[Finding]:
        others = len(known.every(Tally))
        yield Finding(code="others", severity=Severity.NOTE, field="value", saw=f"{others} others.")


@pytest.fixture
def tallies(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Lines of three tallies by two devices, the last one a correction of the first."""
    kinds = (*KINDS, Tally)

    def opened(path: str) -> Logbook:
        return Logbook(path, device="reader", clock=Clock(), new_id=Names(), kinds=kinds)

    monkeypatch.setattr(module, "opened_to_read", opened)
    clock = Clock()
    with (
        Logbook(":memory:", device="A", clock=clock, new_id=Names(1), kinds=kinds) as ana,
        Logbook(":memory:", device="B", clock=clock, new_id=Names(2), kinds=kinds) as ben,
    ):
        first = ana.write(Tally(**seen()), Said(author="Ana"))
        clock.tick(minutes=1)
        ben.write(Tally(**seen()), Said(author="Ben"))
        clock.tick(minutes=1)
        ana.write(Tally(**seen(), value=1.0), Said(author="Ana"), record_id=first.record)
        clock.tick(minutes=1)
        ana.write(Tally(**seen(), value=2.0), Said(author="Ana"))
        return [*ben.lines_of("B", 0), *ana.lines_of("A", 0)]


def test_each_entry_is_judged_by_what_had_been_written_before(tallies: list[str]) -> None:
    assert [found.says for found in audit(tallies)] == [
        "0 others.", "1 others.", "1 others.", "2 others.",
    ]  # fmt: skip


def test_with_hindsight_each_entry_is_judged_by_everything_but_itself(tallies: list[str]) -> None:
    says = [found.says for found in audit(tallies, hindsight=True)]
    assert says == ["2 others."] * 4


def test_the_order_of_the_lines_does_not_matter(tallies: list[str]) -> None:
    assert list(audit(tallies)) == list(audit(reversed(tallies)))


def lines() -> list[str]:
    with Logbook(":memory:", device="A", clock=Clock(), new_id=Names()) as logbook:
        logbook.write(rain(999.0), Said(author="Ana"))
        logbook.write(gauge(), Said(author="Ana"))
        return logbook.lines_of("A", 0)


def test_a_finding_carries_what_a_reader_needs() -> None:
    found = next(f for f in audit(lines()) if f.kind == RainReading.kind)
    assert found.field == "rain_mm"
    assert found.severity in ("stop", "ask", "note")
    assert "999" in found.says
    assert found.entry
    assert found.record


@pytest.mark.parametrize("hindsight", [False, True])
def test_lines_that_cannot_be_taken_are_findings(hindsight: bool) -> None:
    first, second = lines()
    altered = second.replace('"stage_m":0.42', '"stage_m":0.24')
    codes = [f.code for f in audit(["no json", first, altered], hindsight=hindsight)]
    assert codes.count("not-taken") == 2
    assert len(codes) > 2


def test_nothing_was_found_in_nothing() -> None:
    assert list(audit([])) == []
    assert list(audit([], hindsight=True)) == []
