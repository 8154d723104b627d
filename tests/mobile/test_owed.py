"""How often: trade practice 1.9, common practice; weekly by an officer while filling."""

from datetime import timedelta
from typing import Any

import pytest

from mobile.field_day import DUE_AT, FieldDay
from mobile.owed import HOW_OFTEN, PHASES, owed, phase_at
from shared_core.logbook import Said
from shared_core.records import KINDS
from shared_core.records.plan import PlannedVisit, WateringPlan
from shared_core.records.pump_run import PumpRun
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_quality import WaterSample
from shared_core.records.water_setup import Limits


def titles(day: FieldDay) -> Any:
    return {thing.title: thing.says for thing in owed(day)}


def test_the_table_names_kinds_that_exist_and_every_phase() -> None:
    assert set(HOW_OFTEN) == set(PHASES)
    known = {kind.kind for kind in KINDS}
    due = {kind.kind for _, kind in DUE_AT} | {WaterSample.kind}
    for often in HOW_OFTEN.values():
        assert set(often) <= known & due
        assert all(days > 0 for days in often.values())


def pumping(day: FieldDay, clock: Any) -> None:
    day.logbook.write(
        PumpRun(
            site="PRA", visit="V1", point="P1", seen_at=clock.now - timedelta(hours=3),
            offset_min=600, time_source="device", observers=("Bert",),
        ),
        Said(author="Bert"),
    )  # fmt: skip


def test_a_pump_that_ran_means_filling(day: FieldDay, clock: Any) -> None:
    assert phase_at(day.logbook.known(), "PRA", clock.now) == "full"
    pumping(day, clock)
    assert phase_at(day.logbook.known(), "PRA", clock.now) == "filling"


def test_a_level_that_fell_means_draw_down(day: FieldDay) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.40"})  # 0.46 m six days ago
    assert phase_at(day.logbook.known(), "PRA", day.here().now + timedelta(1)) == "drawdown"


def test_a_plan_that_says_dry_is_believed(day: FieldDay, clock: Any) -> None:
    plan = WateringPlan(
        site="PRA", valid_from=clock.now - timedelta(days=50), season="1", dry_on=clock.now.date(),
        until=clock.now + timedelta(days=90),
    )  # fmt: skip
    day.logbook.write(plan, Said(author="Ruth"))
    assert phase_at(day.logbook.known(), "PRA", clock.now) == "dry"
    assert owed(day) == []


@pytest.mark.parametrize(("days", "is_owed"), [(0, False), (1, True)])
def test_a_weekly_reading_is_owed_after_a_week(
    day: FieldDay, clock: Any, days: int, is_owed: Any
) -> None:
    clock.now += timedelta(days=days)  # the last reading was 6 days before
    pumping(day, clock)
    found = titles(day)
    assert ("Staff gauge G1" in found) is is_owed
    if is_owed:
        assert found["Staff gauge G1"] == "Last 7 days ago; every 7 days while it fills."


def test_what_is_done_on_this_visit_is_not_owed(day: FieldDay, clock: Any) -> None:
    clock.now += timedelta(days=8)
    pumping(day, clock)
    day.record(GaugeReading, "G1", {"stage_m": "0.47"})
    assert "Staff gauge G1" not in titles(day)


def test_a_site_sets_its_own_figure(day: FieldDay, clock: Any) -> None:
    limits = Limits(
        site="PRA",
        valid_from=clock.now - timedelta(days=1),
        values=(("every-gauge_reading", 3.0, "agreed"),),
    )
    assert "Staff gauge G1" not in titles(day)
    day.logbook.write(limits, Said(author="Ruth"))
    assert titles(day)["Staff gauge G1"].startswith("Last 6 days ago; every 3 days")


def test_a_walk_that_the_plan_asks_for_is_owed(day: FieldDay, clock: Any) -> None:
    plan = PlannedVisit(site="PRA", valid_from=clock.now, code="V7", team="Heron", walk_due=True)
    day.logbook.write(plan, Said(author="Ruth"))
    assert titles(day)[ShorelineWalk.title] == "The plan of this visit asks for it."


def test_corrections_that_were_not_read_are_owed_an_answer(day: FieldDay) -> None:
    assert "Corrections to answer" not in titles(day)
    assert "3 by others" in next(o.says for o in owed(day, 3) if "answer" in o.title)
