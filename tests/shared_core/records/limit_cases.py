"""One case for each limit: a record whose measured quantity is the argument, at or beyond the limit."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from shared_core.records.base import Record
from shared_core.records.checks import LIMITS
from shared_core.records.hazard import Hazard
from shared_core.records.logger_check import LoggerSeries
from shared_core.records.plan import Allocation, PlannedVisit
from shared_core.records.tree import TreeScore
from shared_core.records.vegetation_plot import PlotScore
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at, place

MORNING = "2023-07-20 09:00+10:00"
LATER = "2023-07-30 09:00+10:00"
FITTED = "2023-08-05 09:00+10:00"
SITE_LIMIT = {"daily-volume": 14.0}  # the licence of the invented swamp


@dataclass(frozen=True, kw_only=True)
class Case:
    """A limit, the finding it governs, and how to make a record at a value.

    A slack below 0 is a limit that is asked about from below.
    """

    limit: str
    code: str
    slack: float
    make: Callable[[Swamp, float], Record]
    severity: str = ""
    after: timedelta | None = None  # asked so long after the morning, where the answer is about now

    @property
    def value(self) -> float:
        default = LIMITS[self.limit].default
        return SITE_LIMIT[self.limit] if default is None else default


def finds(swamp: Swamp, case: Case, value: float) -> bool:
    """Tell whether the case's finding is made at a value."""
    made = case.make(swamp, value)
    now = at(MORNING) + timedelta(days=value) if case.after is not None else None
    return any(
        found.code == case.code and case.severity in ("", str(found.severity))
        for found in swamp.finds(made, now=now)
    )


def hazard(swamp: Swamp, **more: Any) -> Hazard:
    head = swamp.head(MORNING, "V", ("Tom Lindqvist",))
    facts: dict[str, Any] = {
        "hazard": "crack",
        "position": place(0, 0),
        "keep_out_m": 5.0,
        "point": "pin",
    }
    return Hazard(**{**head, **facts, **more})


def tree(swamp: Swamp, when: str = MORNING, **more: Any) -> TreeScore:
    return TreeScore(**{**swamp.head(when, "V", ("Tom Lindqvist",)), "point": "T1", **more})


def days_later(days: float, start: str = MORNING) -> str:
    return (at(start) + timedelta(days=days)).isoformat()


def at_gauge(swamp: Swamp, x: float) -> Record:
    return swamp.gauge("SG1", MORNING, 0.4, position=place(-30 + x, -20))


def at_photo_point(swamp: Swamp, x: float) -> Record:
    return swamp.photo("PP1", MORNING, bearing_deg=110.0, position=place(-350 + x, 120))


def at_plot(swamp: Swamp, x: float) -> Record:
    return swamp.plot("Q4", MORNING, position=place(-245 + x, -85, 0.0))


def clock_ahead(swamp: Swamp, minutes: float) -> Record:
    true = at(MORNING)
    shows = true + timedelta(minutes=minutes)
    return swamp.visit(MORNING, clock_shows=shows, satellite_time=true)


def after_its_visit(swamp: Swamp, hours: float) -> Record:
    swamp.write(swamp.visit(MORNING))
    return swamp.water(days_later(hours / 24))


def planned(swamp: Swamp, days: float) -> Record:
    return PlannedVisit(site=SITE, valid_from=at(MORNING), code="P1", team="Heron")


def fell(swamp: Swamp, per_day_m: float) -> Record:
    swamp.write(swamp.gauge("SG1", MORNING, 0.800))
    return swamp.gauge("SG1", LATER, 0.800 - 10 * per_day_m)


def pump_off(swamp: Swamp) -> None:
    """Write that the pump stands still, so that nothing unseen may have come in."""
    swamp.write(swamp.hours(days_later(-3), 100.0, stopped_because="not needed"))


def rose(swamp: Swamp, per_day_m: float) -> Record:
    pump_off(swamp)
    swamp.write(swamp.rain(MORNING, date(2023, 7, 20), 0.0), swamp.gauge("SG1", MORNING, 0.500))
    return swamp.gauge("SG1", LATER, 0.500 + 10 * per_day_m)


def pair(swamp: Swamp, apart_m: float) -> Record:
    swamp.write(swamp.gauge("SG1", MORNING, 0.800))
    return swamp.gauge("SG2", MORNING, 0.250 + apart_m)


def waves(swamp: Swamp, half_m: float) -> Record:
    return swamp.gauge("SG1", MORNING, 0.4, lowest_m=0.4 - half_m, highest_m=0.4 + half_m)


def teams(swamp: Swamp, apart_m: float) -> Record:
    swamp.write(swamp.gauge("SG1", MORNING, 0.800, visit="A"))
    return swamp.gauge("SG1", days_later(0.02), 0.800 + apart_m, visit="B", who=("Jo Marchetti",))


def rained(swamp: Swamp, mm: float) -> Record:
    return swamp.rain(MORNING, date(2023, 7, 20), mm)


def no_rain(swamp: Swamp, rise_m: float) -> Record:
    pump_off(swamp)
    swamp.write(swamp.gauge("SG1", days_later(-1), 0.5), swamp.gauge("SG1", MORNING, 0.5 + rise_m))
    return swamp.rain(days_later(0.01), date(2023, 7, 20), 0.0)


def ec(swamp: Swamp, us_cm: float) -> Record:
    return swamp.water(MORNING, ec_us_cm=us_cm)


def ec_changed(swamp: Swamp, share: float) -> Record:
    swamp.write(swamp.water(MORNING, ec_us_cm=1000.0))
    return swamp.water(LATER, ec_us_cm=1000.0 * (1 + share))


def saltier(swamp: Swamp, share: float) -> Record:
    pump_off(swamp)
    swamp.write(swamp.gauge("SG1", MORNING, 0.8), swamp.gauge("SG1", LATER, 0.8))
    return ec_changed(swamp, share)


def oxygen(swamp: Swamp, mg_l: float) -> Record:
    return swamp.water(MORNING, oxygen_mg_l=mg_l)


def warm(swamp: Swamp, degrees: float) -> Record:
    return swamp.water(MORNING, water_c=degrees)


def dips_apart(swamp: Swamp, apart_m: float) -> Record:
    return swamp.dip(MORNING, 6.0, apart_m)


def dip_changed(swamp: Swamp, by_m: float) -> Record:
    swamp.write(swamp.dip(MORNING, 6.0))
    return swamp.dip(days_later(7), 6.0 + by_m)


def logger_off(swamp: Swamp, off_m: float) -> Record:
    return swamp.logger(MORNING, 72.0 + off_m, 72.0)


def logger_drifted(swamp: Swamp, off_m: float) -> Record:
    swamp.write(swamp.logger(MORNING, 72.0 + off_m - 0.005, 72.0))
    return swamp.logger(LATER, 72.0 + off_m, 72.0)


def series(swamp: Swamp, step_m: float) -> Record:
    rows = ((at(MORNING), 1.0), (at(MORNING) + timedelta(minutes=15), 1.0 + step_m))
    return LoggerSeries(site=SITE, valid_from=JULY, logger="PT1", file_sha256="0" * 64, values=rows)


def hours_gained(swamp: Swamp, hours: float) -> Record:
    swamp.write(swamp.hours(FITTED, 100.0))
    return swamp.hours(days_later(0.5, FITTED), 112.0 + hours)


def pumped(swamp: Swamp, megalitres: float, days: float) -> Record:
    return swamp.meter(
        "M1", days_later(days, FITTED), f"{871240 + round(1000 * megalitres):06d}"[-6:]
    )


def little_water(swamp: Swamp, share: float) -> Record:
    swamp.write(swamp.hours(FITTED, 100.0), pumped(swamp, 0.52 * 20 * share, 1.0))
    return swamp.hours(days_later(1.0, FITTED), 120.0)


def used(swamp: Swamp, share: float) -> Record:
    swamp.write(
        Allocation(
            site=SITE,
            valid_from=at(FITTED),
            account="small",
            allocated_megalitres=10.0,
            until=datetime.fromisoformat("2024-03-31T00:00:00+10:00"),
        )
    )
    return pumped(swamp, 10.0 * share, 1.0)


def gap(swamp: Swamp, days: float) -> Record:
    return pumped(swamp, 12.0 * days, days)


def bare(swamp: Swamp, percent: float) -> Record:
    return swamp.plot("Q4", MORNING, bare_pct=percent - 20, litter_pct=20.0)


def covered(swamp: Swamp, by_percent: float) -> Record:
    def scored(when: str, cover: float) -> PlotScore:
        plant = ("Sedge", "AT", cover, None, None, True, True)
        return swamp.plot("Q4", when, (plant,))

    swamp.write(scored(MORNING, 10.0))
    return scored(LATER, 10.0 + by_percent)


def crown(swamp: Swamp, by_percent: float) -> Record:
    swamp.write(tree(swamp, extent_pct=40.0))
    return tree(swamp, LATER, extent_pct=40.0 + by_percent)


def trunk(swamp: Swamp, share: float) -> Record:
    swamp.write(tree(swamp, diameter_m=0.50))
    return tree(swamp, LATER, diameter_m=0.50 * (1 + share))


def row(
    limit: str, code: str, slack: float, make: Callable[[Swamp, float], Record], severity: str = ""
) -> Case:
    return Case(limit=limit, code=code, slack=slack, make=make, severity=severity)


CASES = (
    row("site-distance", "site-distance", 5, lambda s, x: hazard(s, position=place(530 + x, 0))),
    row("point-distance", "point-distance", 0.5, at_gauge),
    row("photo-distance", "point-distance", 0.3, at_photo_point),
    row("plot-distance", "plot-distance", 0.3, at_plot),
    row("clock-note", "clock", 0.01, clock_ahead),
    row("clock", "clock", 0.01, clock_ahead, "ask"),
    row("clock-visit", "clock-visit", 0.01, after_its_visit),
    Case(limit="visit-missing", code="visit-missing", slack=0.01, make=planned, after=timedelta(0)),
    row(
        "bearing",
        "bearing-off",
        0.2,
        lambda s, x: s.photo("PP1", MORNING, bearing_deg=110.0 + x, position=place(-350, 120)),
    ),
    row(
        "focal-length",
        "focal-length",
        0.001,
        lambda s, x: s.photo("PP1", MORNING, bearing_deg=110.0, focal_35mm=26.0 * (1 + x)),
    ),
    row("plate-range", "plate-range", 0.0005, lambda s, x: s.gauge("SG1", MORNING, 1.0 + x)),
    row("level-rate-fall", "level-rate", 0.0005, fell),
    row("level-rate-rise", "level-rate", 0.0005, rose),
    row("wave-spread-note", "wave-spread", 0.0005, waves),
    row("wave-spread", "wave-spread", 0.0005, waves, "ask"),
    row("teams", "teams", 0.002, teams),
    row("rain-heavy", "rain-heavy", 0.1, rained),
    row("rain-none-rise", "rain-none-rise", 0.0005, no_rain),
    row("ec-lowest", "ec-unit", -0.1, ec),
    row("ec-highest", "ec-range", 1, ec),
    row("ec-change", "ec-change", 0.001, ec_changed),
    row("salt-rise", "salt-rise", 0.001, saltier),
    row("oxygen-low", "oxygen-low", -0.01, oxygen),
    row("oxygen-very-low", "oxygen-very-low", -0.01, oxygen),
    row("water-coldest", "water-temperature", -0.1, warm),
    row("water-warmest", "water-temperature", 0.1, warm),
    row("bore-repeat", "bore-repeat", 0.0005, dips_apart),
    row("bore-change", "bore-change", 0.0005, dip_changed),
    row("logger-off-note", "logger-off", 0.0005, logger_off),
    row("logger-off", "logger-off", 0.0005, logger_off, "ask"),
    row("logger-off-far", "logger-off", 0.0005, logger_drifted, "ask"),
    row("logger-step", "logger-step", 0.0005, series),
    row("hours-too-many", "hours-too-many", 0.01, hours_gained),
    row("hours-without-water", "hours-without-water", -0.001, little_water),
    row("daily-volume", "daily-volume", 0.1, lambda s, x: pumped(s, x, 1.0)),
    row("used-up-note", "used-up", 0.01, used),
    row("used-up", "used-up", 0.01, used, "ask"),
    row("log-gap-note", "log-gap", 0.01, gap),
    row("log-gap", "log-gap", 0.01, gap, "ask"),
    row("cover-sum", "cover-sum", 0.5, bare),
    row("cover-jump", "cover-jump", 0.5, covered),
    row("tree-jump", "tree-jump", 0.5, crown),
    row("tree-girth", "tree-girth", 0.001, trunk),
)
