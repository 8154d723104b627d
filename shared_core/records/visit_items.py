"""What was due on a visit and has neither a record nor a reason."""

from collections.abc import Iterator
from datetime import timedelta
from typing import Final

from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.bore import BoreDip
from shared_core.records.levels_seen import gauges_of
from shared_core.records.logger_check import LoggerCheck
from shared_core.records.photo_point import PhotoTaken
from shared_core.records.plan import NEAR_THE_DAY, PlannedVisit, is_team
from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.tree import TreeScore
from shared_core.records.vegetation_plot import PlotScore
from shared_core.records.visit import Visit
from shared_core.records.water_quality import WaterSample

LONGEST_STAY: Final = timedelta(hours=18)  # after it a visit that nobody closed counts as over
# The words of a plan, and the kind of record that does what they say.
WORDS: Final[tuple[tuple[str, type[Seen]], ...]] = (
    ("walk", ShorelineWalk),
    ("photo", PhotoTaken),
    ("plot", PlotScore),
    ("tree", TreeScore),
    ("bore", BoreDip),
    ("logger", LoggerCheck),
    ("meter", MeterReading),
    ("rain", RainReading),
    ("water", WaterSample),
    ("gauge", GaugeReading),
)


def missing_items(visit: Visit, known: Known) -> Iterator[Finding]:
    """Ask about what was due on a visit that is over, was not done and has no reason.

    Due are every staff gauge of the site and what the visit's plan names. A plan's words that mean
    no kind of record are for people, and nothing is asked about them.
    """
    if not _is_over(visit, known):
        return
    excused = " ".join(visit.not_done).casefold()
    missing = [name for name in _missing(visit, known) if name.casefold() not in excused]
    if missing:
        yield Finding(
            code="items-missing",
            severity=Severity.ASK,
            field="not_done",
            saw=f"Due on this visit, and neither done nor left out: {', '.join(missing)}.",
            do="Do it now, or put it under 'Not done' with the reason: a blank is not a zero.",
        )


def _is_over(visit: Visit, known: Known) -> bool:
    return visit.left is not None or (
        known.now is not None and known.now - visit.when > LONGEST_STAY
    )


def _missing(visit: Visit, known: Known) -> list[str]:
    read = {record.point for record in _of_visit(visit, known, GaugeReading)}
    gauges = [name for name in gauges_of(known, visit.site, visit.when) if name not in read]
    planned = [name for name in _planned(visit, known) if name not in (*gauges, *read)]
    return [*gauges, *(name for name in planned if not _is_done(visit, known, name))]


def _of_visit(visit: Visit, known: Known, kind: type[Seen]) -> list[Seen]:
    near = known.between(
        kind, visit.site, visit.when - LONGEST_STAY, visit.when + LONGEST_STAY, also_unused=True
    )
    return [standing.record for standing in near if standing.record.visit == visit.visit]


def _planned(visit: Visit, known: Known) -> list[str]:
    near = known.between(
        PlannedVisit, visit.site, visit.when - NEAR_THE_DAY, visit.when + NEAR_THE_DAY
    )
    plans = [s.record for s in near if is_team(s.record.team, visit.team)]
    plan = min(plans, key=lambda each: abs(each.valid_from - visit.when), default=None)
    return list(plan.items) if plan else []


def _is_done(visit: Visit, known: Known, name: str) -> bool:
    """Tell whether a planned item has a record; one that means no kind of record is taken as done."""
    kinds = [kind for word, kind in WORDS if word in name.casefold()]
    if kinds:
        return any(_of_visit(visit, known, kind) for kind in kinds)
    return True
