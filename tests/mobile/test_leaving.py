import itertools
from datetime import timedelta
from typing import Any

import pytest

from mobile.arrival import Arrival
from mobile.field_day import FieldDay
from mobile.leaving import REASONS, Leaving
from shared_core.logbook import Said
from shared_core.records.plan import PlannedVisit
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_setup import RatingTable
from shared_core.units import megalitres
from tests.mobile.kept import record_of


@pytest.fixture
def there(day: FieldDay) -> Any:
    """A day at the site, arrived."""
    day.take_up("PRA")
    Arrival(day).arrive()
    return day


def test_each_thing_is_done_or_not_yet_or_not_done_because(there: FieldDay) -> None:
    there.record(GaugeReading, "G1", {"stage_m": "0.42"})
    leaving = Leaving(there)
    leaving.because("Pump meter M1", "Locked gate")
    shown = leaving.shown()
    assert shown.done == ("Staff gauge G1",)
    assert shown.not_done == (("Pump meter M1", "Locked gate"),)
    assert {"Rain gauge R1", "Vegetation plot Q1"} <= set(shown.missing)
    assert len(shown.missing) == len(there.to_do()) - 2
    leaving.because("Pump meter M1", "")
    assert "Pump meter M1" in leaving.shown().missing


def test_leaving_asks_once_for_reasons_and_then_lets_go(there: FieldDay) -> None:
    leaving = Leaving(there)
    count = len(there.to_do())
    assert leaving.shown().button == f"Look again: {count} without a reason"
    assert leaving.leave() is None
    assert leaving.shown().button == f"Leave {count} without a reason"
    visit = record_of(there, leaving.leave())
    assert len(visit.not_done) == count
    assert visit.not_done_because is None


def test_checking_out_corrects_the_visit(there: FieldDay, clock: Any) -> None:
    there.record(GaugeReading, "G1", {"stage_m": "0.42"})
    clock.now += timedelta(hours=2, minutes=5)
    leaving = Leaving(there)
    assert leaving.shown().on_site == "2 h 5 min on site"
    reasons = dict(zip(leaving.shown().missing, itertools.cycle(REASONS), strict=False))
    for title, reason in reasons.items():
        leaving.because(title, reason)
    leaving.choose("clean_on_leaving", "yes")
    leaving.type("copied_to", "STICK/a.strand")
    saved = leaving.leave()
    visit = record_of(there, saved)
    assert saved is not None
    assert len(there.logbook.history(saved.entry.record)) == 2
    assert visit.left == clock.now
    assert visit.arrived == clock.now - timedelta(hours=2, minutes=5)
    assert visit.not_done == tuple(reasons)
    assert visit.not_done_because.startswith(
        "Pump meter M1: Danger there; Rain gauge R1: Locked gate; "
    )
    assert visit.clean_on_leaving is True
    assert visit.copied_to == "STICK/a.strand"


def test_after_the_check_out_another_visit_begins(there: FieldDay) -> None:
    first = there.visit
    leaving = Leaving(there)
    leaving.leave()
    leaving.leave()
    assert there.take_up("PRA") != first


def test_who_never_arrived_can_leave_all_the_same(day: FieldDay) -> None:
    leaving = Leaving(day)
    assert leaving.shown().on_site == "Arrival was not kept."
    leaving.leave()
    visit = record_of(day, leaving.leave())
    assert (visit.arrived, visit.team) == (None, "Ada")


def test_a_reading_that_looks_odd_is_shown_with_its_finding(there: FieldDay) -> None:
    saved = there.record(GaugeReading, "G1", {"stage_m": "4.2"})
    (flagged,) = Leaving(there).shown().flagged
    assert flagged.record_id == saved.entry.record
    assert flagged.title == "Staff gauge G1"
    assert flagged.says
    draft = there.correct(flagged.record_id)
    draft.type("stage_m", "0.42")
    draft.save(reason="looked at again")
    assert Leaving(there).shown().flagged == ()


def test_the_water_there_now_is_that_of_the_last_reading(there: FieldDay, clock: Any) -> None:
    there.record(GaugeReading, "G1", {"stage_m": "0.40"})
    clock.now += timedelta(minutes=30)
    there.record(GaugeReading, "G1", {"stage_m": "0.42"})
    table = there.logbook.known().every(RatingTable)[0].record.rating
    volume = megalitres(table.volume_at(50.42))  # gauge zero 50 m
    assert Leaving(there).shown().volume.startswith(f"{volume:.2f}")


def a_walk(day: FieldDay) -> None:
    walk = ShorelineWalk(
        site="PRA", visit=day.visit, point="site", seen_at=day.here().now, offset_min=600,
        time_source="gnss", observers=("Ada",), fixes=(), closed=True,
    )  # fmt: skip
    day.logbook.write(walk, Said(author="Ada"))


def test_a_gauge_is_read_once_more_after_a_walk(there: FieldDay, clock: Any) -> None:
    there.record(GaugeReading, "G1", {"stage_m": "0.42"})
    assert Leaving(there).shown().gauge_again == ""
    clock.now += timedelta(hours=1)
    a_walk(there)
    assert Leaving(there).shown().gauge_again == "G1"
    clock.now += timedelta(minutes=1)
    there.record(GaugeReading, "G1", {"stage_m": "0.42"})
    assert Leaving(there).shown().gauge_again == ""


def test_what_only_the_plan_names_is_missed_too(there: FieldDay, clock: Any) -> None:
    plan = PlannedVisit(
        site="PRA", valid_from=clock.now, code="V7", team="Heron", walk_due=True,
        items=("Gauge G1", "Trees at the inlet", "Talk to the neighbour"),
    )  # fmt: skip
    there.logbook.write(plan, Said(author="Ruth"))
    leaving = Leaving(there)
    assert leaving.shown().missing[-2:] == ("Trees at the inlet", ShorelineWalk.title)
    leaving.because("Trees at the inlet", "No time")
    assert ("Trees at the inlet", "No time") in leaving.shown().not_done
    a_walk(there)
    assert ShorelineWalk.title in Leaving(there).shown().done
