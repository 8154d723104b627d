"""E29 of the invented season: two tablets wrote different dry dates, neither had read the other."""

from datetime import UTC, date, datetime

from shared_core.logbook import Logbook, Said
from shared_core.records import KINDS
from shared_core.records.base import Severity
from shared_core.records.disputes import dispute_findings
from shared_core.records.plan import WateringPlan
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at

PLAN = WateringPlan(
    site=SITE, valid_from=JULY, season="2023-24", until=at("2024-03-31 09:00+10:00")
)


def _other_tablet(swamp: Swamp) -> Logbook:
    names = iter(f"00000000-0000-7000-9000-{n:012x}" for n in range(1, 100))
    other = Logbook(
        ":memory:",
        device="BIT-1",
        clock=lambda: datetime(2024, 3, 30, 5, tzinfo=UTC),
        new_id=lambda: next(names),
        kinds=KINDS,
    )
    other.absorb(swamp.logbook.lines_of("HER-1", 0), source="HER-1")
    return other


def test_two_dry_dates_are_shown_side_by_side(swamp: Swamp) -> None:
    plan_id = swamp.write(PLAN)
    other = _other_tablet(swamp)
    swamp.logbook.write(
        PLAN.changed(dry_on=date(2024, 3, 30)), Said(author="Priya Okafor"), record_id=plan_id
    )
    other.write(
        PLAN.changed(dry_on=date(2024, 3, 28)), Said(author="Jo Marchetti"), record_id=plan_id
    )
    swamp.logbook.absorb(other.lines_of("BIT-1", 0), source="BIT-1")
    standing = swamp.logbook.standing(plan_id)
    assert standing is not None
    found = list(dispute_findings(standing))
    assert [(f.code, f.field, f.severity) for f in found] == [("disputed", "dry_on", Severity.ASK)]
    assert "2024-03-28" in found[0].saw
    assert "2024-03-30" in found[0].saw
    other.close()


def test_what_nobody_disputes_raises_nothing(swamp: Swamp) -> None:
    standing = swamp.logbook.standing(swamp.write(PLAN))
    assert standing is not None
    assert list(dispute_findings(standing)) == []
