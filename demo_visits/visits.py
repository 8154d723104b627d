"""The 27 visits of the season: who, when, what the gauges stood at, and the clock they carried."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Final

from demo_visits.acts import PLACES, Act, seen_at
from demo_visits.scenario import (
    BIT_1,
    BITTERN,
    DAYLIGHT,
    HER_1,
    HERON,
    IC_1,
    INES,
    SITE,
    STANDARD,
    wall_clock,
)

OVER: Final = "over_plate"
BELOW: Final = "below_zero"
DRY: Final = "dry"


@dataclass(frozen=True)
class Visit:
    """One stay at the site; sg1 and sg2 are true stages [m] to 1 mm, or the state of the gauge."""

    name: str
    start: datetime
    team: str
    who: tuple[str, ...]
    device: str
    level_m: float | None
    sg1: str
    sg2: str
    remark: str = ""
    clock_error_min: int = 0
    clock_planted: str | None = None


_TEAMS: Final[Mapping[str, tuple[tuple[str, ...], str]]] = {
    "Heron": (HERON, HER_1),
    "Heron + landholder": ((*HERON, INES), HER_1),
    "Bittern": (BITTERN, BIT_1),
    "landholder": ((INES,), IC_1),
}


def _visit(name: str, start: str, team: str, stages: str, remark: str = "") -> Visit:
    """Return a visit from its wall-clock start and its "level SG1 SG2"."""
    moment = datetime.fromisoformat(start).replace(tzinfo=STANDARD)
    zone = wall_clock(moment).tzinfo or DAYLIGHT
    level, sg1, sg2 = stages.split()
    who, device = _TEAMS[team]
    level_m = None if level == DRY else float(level)
    moment = moment.replace(tzinfo=zone)
    return Visit(name, moment, team, who, device, level_m, sg1, sg2, remark)


def _with_clock(visit: Visit, minutes: int, planted: str) -> Visit:
    return replace(visit, clock_error_min=minutes, clock_planted=planted)


VISITS: Final = (
    _visit("V01", "2023-07-12 10:10", "Heron", "dry dry dry", "Commissioning. M1 shows 871240."),
    _visit("V02", "2023-08-05 09:05", "Heron + landholder", "dry dry dry", "Pump start witnessed."),
    _visit("V03", "2023-08-11 11:30", "Bittern", "71.702 0.402 dry"),
    _visit("V04", "2023-08-21 10:00", "Heron", "72.121 0.821 0.271"),
    _visit("V05", "2023-08-30 09:00", "Heron", "72.441 over_plate 0.591", "Pump stopped."),
    _visit("V06", "2023-09-06 09:30", "Bittern", "72.399 over_plate 0.549"),
    _visit("V07", "2023-09-14 12:00", "Heron", "72.355 over_plate 0.505"),
    _visit("V08", "2023-09-26 10:30", "Bittern", "72.302 1.002 0.452"),
    _with_clock(_visit("V09", "2023-10-10 11:00", "Heron", "72.219 0.919 0.369"), -60, "E10"),
    _visit("V10", "2023-10-17 10:00", "Heron + landholder", "72.171 0.871 0.321"),
    _visit(
        "V11",
        "2023-10-22 10:00",
        "Heron + landholder",
        "72.354 over_plate 0.504",
        "M1 stuck; M2 fitted in its place.",
    ),
    _visit("V12", "2023-10-24 10:00", "Heron", "72.399 over_plate 0.549", "Pump stopped."),
    _visit("V13", "2023-10-26 10:40", "Heron", "72.385 over_plate 0.535"),
    _with_clock(_visit("V14", "2023-11-06 11:40", "Bittern", "72.298 0.998 0.508"), 720, "V14"),
    _visit("V15", "2023-11-20 10:50", "Heron", "72.191 0.891 0.401"),
    _visit("V16", "2023-11-20 14:15", "Bittern", "72.190 0.890 0.400"),
    _visit("V17", "2023-11-30 10:00", "Heron", "72.123 0.823 0.333", "SG2's post leans and sank."),
    _visit("V18", "2023-12-11 10:20", "Bittern", "72.020 0.720 0.230"),
    _visit("V19", "2023-12-20 12:00", "Heron", "71.943 0.643 0.153"),
    _visit("V20", "2024-01-02 09:30", "landholder", "71.814 0.514 0.024", "Passing by."),
    _visit("V21", "2024-01-11 10:00", "Bittern", "71.749 0.449 dry"),
    _visit("V22", "2024-01-16 10:10", "Heron", "71.708 0.408 dry"),
    _visit("V23", "2024-02-01 11:00", "Bittern", "71.548 0.248 dry"),
    _visit("V24", "2024-02-16 10:00", "Bittern", "71.417 0.117 dry"),
    _visit("V25", "2024-03-01 10:30", "Heron", "71.304 0.004 dry"),
    _visit("V26", "2024-03-12 11:00", "Bittern", "71.223 below_zero dry"),
    _visit("V27", "2024-03-30 10:00", "Heron", "dry dry dry", "Close-out."),
)
_BY_NAME: Final = {visit.name: visit for visit in VISITS}


def visit_named(name: str) -> Visit:
    """Return the visit with this name, V01 to V27.

    Raises:
        KeyError: there is no such visit.
    """
    return _BY_NAME[name]


def visit_act(name: str, minutes: int, what: str, typed: Mapping[str, str], mark: str = "") -> Act:
    """Return an act of a visit, so many minutes after its start; ``what`` is "kind point".

    ``mark`` tells apart two acts of one kind at one point.
    """
    visit = visit_named(name)
    kind, point = what.split(" ")
    key = f"{name} {what} {mark}".rstrip()
    when = visit.start + timedelta(minutes=minutes)
    return Act(
        key=key,
        when=when,
        stamped=when + timedelta(minutes=visit.clock_error_min),
        who=visit.who,
        device=visit.device,
        kind=kind,
        point=point,
        typed=dict(typed),
        true=dict(typed),
        visit=name,
        site=SITE,
        planted=visit.clock_planted,
        position=seen_at(key, PLACES[point]),
    )
