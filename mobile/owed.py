"""What is owed at a site by now: readings by the table below, a walk, corrections to answer.

The table is a default from trade practice (common practice). A site sets its own figure with a
limit named ``every-`` and the kind, such as ``every-gauge_reading`` 3 [days].
"""

import dataclasses
from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Final

from mobile.field_day import FieldDay
from mobile.visiting import planned_here
from shared_core.records.base import Known, Seen
from shared_core.records.limits import limits_at
from shared_core.records.plan import WateringPlan
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_quality import WaterSample

PHASES: Final = {
    "commissioning": "before the first water",
    "filling": "while it fills",
    "full": "while it is held",
    "drawdown": "while it falls",
    "dry": "when dry",
}
# Days between two records of a kind, phase by phase (common practice). A kind that is not named
# is not owed by the calendar in that phase.
HOW_OFTEN: Final[Mapping[str, Mapping[str, float]]] = {
    "commissioning": {},
    "filling": {
        "gauge_reading": 7, "meter_reading": 1, "rain_reading": 1, "photo_taken": 7,
        "water_sample": 7, "bore_dip": 14,
    },
    "full": {
        "gauge_reading": 14, "rain_reading": 1, "photo_taken": 30, "plot_score": 56,
        "water_sample": 14, "bore_dip": 30,
    },
    "drawdown": {
        "gauge_reading": 14, "rain_reading": 1, "photo_taken": 30, "water_sample": 7, "bore_dip": 30,
    },
    "dry": {},
}  # fmt: skip
LOOK_BACK: Final = timedelta(days=7)  # a pump that ran, or a level that fell, within this time
FELL_M: Final = 0.01  # less is within what two readings of one plate differ by


@dataclasses.dataclass(frozen=True, kw_only=True)
class Owed:
    """One thing that should be done by now."""

    title: str
    says: str


def phase_at(known: Known, site: str, now: datetime) -> str:
    """Return the phase a site is in, as far as this device knows it."""
    plan = known.in_force(WateringPlan, site, now)
    if plan is not None and plan.record.dry_on and plan.record.dry_on <= now.date():
        return "dry"
    if _pumped(known, site, now):
        return "filling"
    readings = known.before(GaugeReading, site, now, limit=30)
    if not readings:
        return "commissioning"
    last = readings[0].record
    same = [s.record for s in readings[1:] if s.record.point == last.point]
    if last.state == "dry":
        return "dry"
    earlier = next((r for r in same if r.stage_m is not None), None)
    if earlier is None or last.stage_m is None or earlier.stage_m is None:
        return "full"
    return "drawdown" if earlier.stage_m - last.stage_m > FELL_M else "full"


def _pumped(known: Known, site: str, now: datetime) -> bool:
    if known.between(PumpRun, site, now - LOOK_BACK, now):
        return True
    readings = known.before(MeterReading, site, now, limit=2)
    if len(readings) < 2 or now - readings[0].record.when > LOOK_BACK:
        return False
    return readings[0].record.display != readings[1].record.display


def owed(day: FieldDay, corrections: int = 0) -> list[Owed]:
    """Return what is owed at the site of the visit, in the order of the feet.

    Args:
        day: the day in the field.
        corrections: how many corrections by others have not been read yet.
    """
    now = day.here().now
    known = day.logbook.known()
    phase = phase_at(known, day.site, now)
    limits = limits_at(known, day.site, now)
    found = []
    for item in day.to_do():
        says = _late(known, day, item.kind, item.point, _every(item.kind, phase, limits))
        if says and not item.done:
            found.append(Owed(title=item.title, says=f"{says} {PHASES[phase]}."))
    says = _late(known, day, WaterSample, None, _every(WaterSample, phase, limits))
    if says:
        found.append(Owed(title=WaterSample.title, says=f"{says} {PHASES[phase]}."))
    return found + _walk(day, known, phase, now) + _to_answer(day, corrections)


def _every(kind: type[Seen], phase: str, limits: Mapping[str, float]) -> float | None:
    return limits.get(f"every-{kind.kind}", HOW_OFTEN[phase].get(kind.kind))


def _late(
    known: Known, day: FieldDay, kind: type[Seen], point: str | None, every_days: float | None
) -> str:
    if every_days is None:
        return ""
    now = day.here().now
    last = known.before(kind, day.site, now, point=point)
    often = "daily" if every_days == 1 else f"every {every_days:g} days"
    if not last:
        return f"Never recorded here; {often}"
    age = now - last[0].record.when
    if age < timedelta(days=every_days) - timedelta(hours=12):
        return ""
    ago = "yesterday" if age.days == 1 else f"{age.days} days ago" if age.days else "today"
    return f"Last {ago}; {often}"


def _walk(day: FieldDay, known: Known, phase: str, now: datetime) -> list[Owed]:
    plan = planned_here(day)
    if any(True for _ in day.seen_here((ShorelineWalk,))):
        return []
    if plan is not None and plan.walk_due:
        return [Owed(title=ShorelineWalk.title, says="The plan of this visit asks for it.")]
    if phase == "full" and not known.before(ShorelineWalk, day.site, now):
        return [Owed(title=ShorelineWalk.title, says="Once when full; none is known here yet.")]
    return []


def _to_answer(day: FieldDay, corrections: int) -> list[Owed]:
    found = []
    if corrections:
        found.append(
            Owed(
                title="Corrections to answer",
                says=f"{corrections} by others not read yet: they stand on the home screen.",
            )
        )
    disputed = len(day.logbook.disputed(day.site))
    if disputed:
        found.append(
            Owed(
                title="Disputed records",
                says=f"Of {disputed} here two people say different things; look on site.",
            )
        )
    return found
