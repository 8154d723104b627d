"""The landholder's log: meter, hours, gauges and rain, day by day while the pump runs."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from typing import Final

from demo_visits.acts import PLACES, Act, gauge_reading, seen_at, slipped
from demo_visits.scenario import GAUGES, IC_1, INES, STANDARD, gauge_zero_m, wall_clock
from demo_visits.truth import level_at
from demo_visits.weather import RAIN_MM

READ_AT: Final = time(9, 0, tzinfo=STANDARD)


@dataclass(frozen=True)
class PumpDay:
    """One line of the pump log as it should read at 09:00 standard time."""

    day: date
    meter: str
    display: str
    hours: str
    stopped_because: str = ""
    logged: bool = True


def _aug(day: int, display: str, hours: str, why: str = "", *, logged: bool = True) -> PumpDay:
    return PumpDay(date(2023, 8, day), "M1", display, hours, why, logged)


def _oct(day: int, meter: str, display: str, hours: str, why: str = "") -> PumpDay:
    return PumpDay(date(2023, 10, day), meter, display, hours, why)


PUMP_LOG: Final = (
    _aug(5, "871240", "4310.2"),
    _aug(6, "883200", "4333.2"),
    _aug(7, "895420", "4356.7"),
    _aug(8, "907640", "4380.2"),
    _aug(9, "919860", "4403.7"),
    _aug(10, "932080", "4427.2"),
    _aug(11, "944300", "4450.7"),
    _aug(12, "956520", "4474.2"),
    _aug(13, "968740", "4497.7"),
    _aug(14, "980960", "4521.2"),
    _aug(15, "985900", "4530.7", "suction screen blocked"),
    _aug(16, "985900", "4530.7"),
    _aug(17, "998120", "4554.2"),
    _aug(18, "010340", "4577.7"),
    _aug(19, "022560", "4601.2"),
    _aug(20, "034780", "4624.7"),
    _aug(21, "047000", "4648.2"),
    _aug(22, "055320", "4664.2", "storm, off overnight"),
    _aug(23, "067540", "4687.7"),
    _aug(24, "079760", "4711.2", logged=False),  # E05
    _aug(25, "091980", "4734.7", logged=False),  # E05
    _aug(26, "104200", "4758.2", logged=False),  # E05
    _aug(27, "116420", "4781.7"),
    _aug(28, "128640", "4805.2"),
    _aug(29, "140860", "4828.7"),
    _aug(30, "146060", "4838.7", "target level reached"),
    _oct(17, "M1", "146060", "4838.7"),
    _oct(18, "M1", "156980", "4859.7"),
    _oct(19, "M1", "169200", "4883.2"),
    _oct(20, "M1", "181420", "4906.7"),
    _oct(21, "M1", "181420", "4930.2"),
    _oct(22, "M1", "181420", "4942.2", "meter change"),
    _oct(23, "M2", "001234", "4965.7"),
    _oct(24, "M2", "001676", "4974.2", "target level reached"),
)
# What was typed where it was not the line above: E03, E06, E12. E04 and E11 were typed as seen.
_TYPED_DISPLAY: Final = {
    date(2023, 8, 12): ("E03", {"display": "965520"}),
    date(2023, 10, 23): ("E12", {"display": "1234", "remark": "1234 kL"}),
}
_TRUE_BUT_ODD: Final = {
    date(2023, 8, 18): "E04",
    date(2023, 10, 21): "E11",
    date(2023, 10, 22): "E11",
}
_TYPED_HOURS: Final = {
    date(2023, 8, 15): ("E06", {"hours_reading": "4544.7", "stopped_because": ""})
}
# On these days a team stood at the gauges at the same hour and wrote the stages.
READ_BY_A_TEAM: Final = frozenset(
    {
        date(2023, 8, 5),
        date(2023, 8, 30),
        date(2023, 10, 17),
        date(2023, 10, 22),
        date(2023, 10, 24),
    }
)
_RAIN_OF_E27: Final = date(2023, 10, 22)


def _morning(day: date, minutes: int) -> datetime:
    return wall_clock(datetime.combine(day, READ_AT) + timedelta(minutes=minutes))


def _act(when: datetime, kind: str, point: str, typed: dict[str, str]) -> Act:
    key = f"{when.date().isoformat()} {kind} {point}"
    return Act(
        key=key,
        when=when,
        stamped=when,
        who=(INES,),
        device=IC_1,
        kind=kind,
        point=point,
        typed=typed,
        true=typed,
        position=seen_at(key, PLACES[point]),
    )


def _meter_act(line: PumpDay) -> Act:
    planted, typed = _TYPED_DISPLAY.get(line.day, (None, {"display": line.display}))
    act = _act(_morning(line.day, 0), "meter_reading", line.meter, dict(typed))
    act = replace(act, photo="meter")
    if planted is not None:
        return slipped(act, planted, display=line.display)
    return replace(act, planted=_TRUE_BUT_ODD.get(line.day))


def _river_stage_m(day: date) -> str:
    """Return the river's stage [m], an invented slow fall that never nears the licence's limit."""
    top_up = day >= date(2023, 10, 1)
    start, stage_m = (date(2023, 10, 17), 1.74) if top_up else (date(2023, 8, 5), 2.31)
    return f"{stage_m - 0.01 * (day - start).days:.2f}"


def _run_act(line: PumpDay) -> Act:
    true = {"hours_reading": line.hours, "river_level_m": _river_stage_m(line.day)}
    if line.stopped_because:
        true["stopped_because"] = line.stopped_because
    slip = _TYPED_HOURS.get(line.day)
    if slip is None:
        return _act(_morning(line.day, 3), "pump_run", "PU1", true)
    planted, wrong = slip
    act = _act(_morning(line.day, 3), "pump_run", "PU1", {**true, **wrong})
    return slipped(act, planted, **true)


def _gauge_acts(line: PumpDay) -> Iterator[Act]:
    level_m = level_at(datetime.combine(line.day, READ_AT))
    for minutes, gauge in zip((12, 20), GAUGES, strict=True):
        when = _morning(line.day, minutes)
        typed = gauge_reading(gauge.name, level_m, gauge_zero_m(gauge.name, when))
        yield replace(_act(when, "gauge_reading", gauge.name, typed), photo="plate")


def _rain_act(day: date, rain_mm: float) -> Act:
    typed = {"rain_mm": f"{rain_mm:.1f}", "days_covered": "1", "read_on": day.isoformat()}
    return _act(_morning(day, 30), "rain_reading", "RG", typed)


def _rain_acts() -> Iterator[Act]:
    """Yield every rain day, and every logged pumping day without rain as 0.0."""
    wet = set(RAIN_MM) - {_RAIN_OF_E27}
    logged = {line.day for line in PUMP_LOG if line.logged} - {_RAIN_OF_E27}
    event_day = _RAIN_OF_E27 - timedelta(days=1)
    for day in sorted((wet | logged) - {event_day}):
        yield _rain_act(day, RAIN_MM.get(day, 0.0))
    # E27: written in the evening under the day of the storm, not at 09:00 under the day it ends.
    when = wall_clock(datetime.combine(event_day, time(19, 30, tzinfo=STANDARD)))
    early = _rain_act(event_day, RAIN_MM[_RAIN_OF_E27])
    early = replace(early, when=when, stamped=when)
    yield slipped(early, "E27", read_on=_RAIN_OF_E27.isoformat())


def landholder_acts() -> tuple[Act, ...]:
    """Return everything the landholder wrote on her phone outside the visits."""
    acts: list[Act] = list(_rain_acts())
    for line in PUMP_LOG:
        if not line.logged:
            continue
        acts.extend((_meter_act(line), _run_act(line)))
        if line.day not in READ_BY_A_TEAM:
            acts.extend(_gauge_acts(line))
    return tuple(sorted(acts, key=lambda act: act.when))
