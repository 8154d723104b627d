"""What was planned: the watering, the water it may use, and the visits."""

from collections.abc import Iterator
from datetime import date, datetime, timedelta
from typing import Any, ClassVar, Final

from shared_core.field_kinds import Moment, Text
from shared_core.fields import choice, day, flag, moment, number, record, rows, text, words
from shared_core.records.base import Finding, Known, SetUp, Severity
from shared_core.records.limits import limits_at
from shared_core.records.visit import Visit
from shared_core.records.weather import standard_offset

OVERDUE_DAYS: Final = 2.0  # common practice: teams are home and in coverage by then
NEAR_THE_DAY: Final = timedelta(
    days=1, hours=15
)  # a day either way, and a plan stamped at midnight

VISIT_STATES: Final = {
    "planned": "Planned",
    "done": "Done on the device",
    "received": "Received",
    "lost": "Lost",
    "cancelled": "Cancelled",
    "unsafe": "Not done for safety",
}
PERIOD_COLUMNS: Final = (
    Text(label="Period", name="name", longest=40),
    Moment(label="Starts", name="starts"),
)


@record
class WateringPlan(SetUp):
    """The aim of a season's watering at a site, and how it ended."""

    kind: ClassVar[str] = "watering_plan"
    title: ClassVar[str] = "Watering plan"

    season: str = text("Season", longest=20)
    aim: str | None = text("Aim", default=None)
    target_level_m: float | None = number("Target level", "m", (-50.0, 3000.0), default=None)
    slowest_fall_mm_day: float | None = number(
        "Fall at most", "mm/day", (1.0, 100.0), default=None, decimals=0
    )
    until: datetime = moment("Season ends")
    periods: tuple[tuple[Any, ...], ...] = rows(
        "Periods of the balance", PERIOD_COLUMNS, default=(), help="Further cuts, each a start."
    )
    first_full_on: date | None = day("First full on", default=None)
    dry_on: date | None = day("Dry on", default=None)

    @property
    def where(self) -> str:
        return self.season


@record
class Allocation(SetUp):
    """Water allotted to the site for a season."""

    kind: ClassVar[str] = "allocation"
    title: ClassVar[str] = "Allocation"

    account: str = text("Account", longest=40)
    allocated_megalitres: float = number("Allocated", "ML", (0.0, 100_000.0), decimals=1)
    until: datetime = moment("Until")
    funder: str | None = text("Funder", default=None, longest=120)

    @property
    def where(self) -> str:
        return self.account


@record
class Licence(SetUp):
    """What the works approval says; the tool records and warns, it never decides."""

    kind: ClassVar[str] = "licence"
    title: ClassVar[str] = "Licence"

    licence: str = text("Licence", longest=40)
    daily_limit_megalitres: float | None = number(
        "At most a day", "ML", (0.0, 1000.0), default=None, decimals=1
    )
    rate_limit_l_s: float | None = number(
        "At most", "L/s", (0.0, 10_000.0), default=None, decimals=0
    )
    volume_limit_megalitres: float | None = number(
        "At most a season", "ML", (0.0, 100_000.0), default=None, decimals=0
    )
    river_at_least_m: float | None = number("River gauge at least", "m", (-5.0, 20.0), default=None)
    meter_rule: str | None = text("Meter is read", default=None, longest=200)

    @property
    def where(self) -> str:
        return self.licence


@record
class PlannedVisit(SetUp):
    """A visit that somebody is expected to make on the day it is valid from."""

    kind: ClassVar[str] = "planned_visit"
    title: ClassVar[str] = "Planned visit"

    code: str = text("Code", longest=40)
    team: str = text("Team", longest=60)
    items: tuple[str, ...] = words("Planned there", default=())
    state: str = choice("State", VISIT_STATES, default="planned")
    state_because: str | None = text("Because", default=None, longest=300)
    walk_due: bool | None = flag("Walk due", default=None)

    @property
    def where(self) -> str:
        return self.code

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
        if known.now is None or self.state not in ("planned", "done"):
            return
        late = known.now - self.valid_from
        limits = limits_at(known, self.site, known.now)
        if late <= timedelta(days=limits.get("visit-missing", OVERDUE_DAYS)):
            return
        near = known.between(
            Visit, self.site, self.valid_from - NEAR_THE_DAY, self.valid_from + NEAR_THE_DAY
        )
        if any(is_team(self.team, standing.record.team) for standing in near):
            return
        planned_on = self.valid_from + standard_offset(known, self.site, self.valid_from)
        came = f" {near[0].record.team} was there." if near else ""
        yield Finding(
            code="visit-missing",
            severity=Severity.ASK,
            field="state",
            saw=f"Nothing has come in of {self.team}'s visit of {planned_on:%-d %B %Y}.{came}",
            expected=f"It was planned {late.days} days ago.",
            do="Ask the team: is it still on a device or on paper? Then mark it received, lost,"
            " cancelled or not done.",
        )


def is_team(planned: str, came: str) -> bool:
    """Tell whether a team came, perhaps with somebody else."""
    one, other = planned.casefold(), came.casefold()
    return one in other or other in one
