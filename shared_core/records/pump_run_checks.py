"""What is odd about pump hours, beside the clock and beside the meter."""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from typing import Final

from shared_core.records.base import Answer, Finding, Known, Severity
from shared_core.records.counts import (
    HOURS_NEAR,
    LEAST_OF_RATE,
    PumpRate,
    faces,
    meters_of,
    pump_rate,
    steps,
)
from shared_core.records.folding import folded
from shared_core.records.inflow import estimated_m3
from shared_core.records.limits import limits_at
from shared_core.records.meter_setup import MeterFitted, Pump
from shared_core.records.plan import Licence
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from shared_core.slips import near_power_of_ten
from shared_core.units import SECONDS_PER_HOUR, megalitres

CLOCK_MARGIN_H: Final = 0.5  # an hour meter gains no more on the clock than this (computed)
LEAST_HOURS: Final = 1.0
# Litres of diesel for a megalitre: 0.68 x head [m] / efficiency, from 2.725 kWh per m and ML and
# 0.25 L/kWh (computed); pumps of 0.65 to 0.85 (NSW DPI pump fact sheet) on a 0.9 drive.
LITRES_PER_MEGALITRE_M: Final = 0.68
PUMP_AND_DRIVE: Final = 0.70 * 0.9
FUEL_BAND: Final = 2.0


def run_findings(run: PumpRun, known: Known) -> Iterator[Finding]:
    """Yield what is odd about pump hours."""
    limits = limits_at(known, run.site, run.when)
    checks = (*_own_times(run), *_hours(run, known, limits), *_river(run, known))
    yield from folded(checks, ("hours-too-many", "hours-fall", "hours-without-water"))


def _own_times(run: PumpRun) -> Iterator[Finding]:
    if run.started is not None and run.stopped is not None and run.stopped < run.started:
        yield Finding(
            code="stop-before-start",
            severity=Severity.ASK,
            field="stopped",
            saw="The pump stops before it starts.",
            do="Look at both times: morning and afternoon?",
        )
    if run.hours_reading is None and run.started is None and run.stopped is None:
        yield Finding(
            code="no-hours",
            severity=Severity.ASK,
            field="hours_reading",
            saw="Neither the hour meter nor a start or a stop.",
            do="Write what the hour meter shows.",
        )


def _earlier(run: PumpRun, known: Known) -> list[PumpRun]:
    found = known.before(PumpRun, run.site, run.when, point=run.point, limit=4)
    return [s.record for s in found if s.record.hours_reading is not None]


def _gone(run: PumpRun, last: PumpRun) -> tuple[float, float]:
    """Return hours by the hour meter and by the clock since an earlier look."""
    by_meter = (run.hours_reading or 0.0) - (last.hours_reading or 0.0)
    return by_meter, (run.when - last.when).total_seconds() / SECONDS_PER_HOUR


def _possible(hours: tuple[float, float], margin_h: float) -> bool:
    by_meter, by_clock = hours
    return -0.05 <= by_meter <= by_clock + margin_h


def _hours(run: PumpRun, known: Known, limits: Mapping[str, float]) -> Iterator[Finding]:
    earlier = _earlier(run, known)
    if run.hours_reading is None or not earlier:
        return
    margin_h = limits.get("hours-too-many", CLOCK_MARGIN_H)
    hours = _gone(run, earlier[0])
    if _possible(hours, margin_h):
        yield from _water(run, known, earlier, limits)
        return
    if len(earlier) > 1 and _possible(_gone(run, earlier[1]), margin_h):
        yield Finding(
            code="last-hours-odd",
            severity=Severity.NOTE,
            field="hours_reading",
            saw=f"This fits the hours before, but not the {earlier[0].hours_reading:.1f} of"
            f" {earlier[0].wall_clock:%-d %B}.",
            do="Look at that one again.",
        )
        return
    fell = hours[0] < 0
    yield Finding(
        code="hours-fall" if fell else "hours-too-many",
        severity=Severity.STOP,
        field="hours_reading",
        saw=f"The hour meter is {abs(hours[0]):.1f} h {'behind' if fell else 'ahead of'} the last"
        " look.",
        expected=f"{hours[1]:.1f} h have gone by.",
        do="Read it again.",
    )


def _water(
    run: PumpRun, known: Known, earlier: Sequence[PumpRun], limits: Mapping[str, float]
) -> Iterator[Finding]:
    """Ask where the pump is said to have run and the meter has too little to show for it."""
    last = earlier[0]
    hours, _ = _gone(run, last)
    rate = pump_rate(known, run.site, run.point, run.when)
    if rate is None or hours <= LEAST_HOURS:
        return
    pumped_m3 = _counted_m3(run, known, last)
    if pumped_m3 is None:
        return
    ratio = pumped_m3 / (rate.rate_m3_h * hours)
    if pumped_m3 > 0 and near_power_of_ten(ratio):
        return  # the meter's unit, which the meter reading asks about
    if ratio < limits.get("hours-without-water", LEAST_OF_RATE):
        if len(earlier) > 1 and _had_too_much(known, earlier[0], earlier[1], rate):
            return  # the figures before this were too high, which the meter reading tells
        yield Finding(
            code="hours-without-water",
            severity=Severity.ASK,
            field="hours_reading",
            saw=f"{hours:.1f} h of pumping, and the meter has {megalitres(pumped_m3):.2f} ML:"
            f" {megalitres(pumped_m3) / hours:.2f} ML/h.",
            expected=f"The pump moves about {megalitres(rate.rate_m3_h):.2f} ML/h.",
            do="Did it stop meanwhile, or does the meter stand still? Read hours and dial again.",
        )
        return
    yield from _fuel(run, known, pumped_m3)


def _had_too_much(known: Known, last: PumpRun, before: PumpRun, rate: PumpRate) -> bool:
    """Tell whether the meter had counted more than the pump can move up to the last look."""
    hours, by_clock = _gone(last, before)
    counted_m3 = _counted_m3(last, known, before)
    return counted_m3 is not None and counted_m3 > rate.at_most_m3(min(hours, by_clock))


def _counted_m3(run: PumpRun, known: Known, last: PumpRun) -> float | None:
    """Return what came in between two looks at the hours [m3]; None if no meter was read at both.

    As the figures say, and what somebody has written as an estimate.
    """
    volumes_m3: list[float] = []
    for meter in meters_of(known, run.site):
        if meter.pump not in (None, run.point):
            continue
        first = _read_near(known, run.site, meter, last.when)
        second = _read_near(known, run.site, meter, run.when)
        if first is None or second is None or second <= first:
            continue
        rate = pump_rate(known, run.site, run.point, run.when)
        found = faces(known, run.site, meter, first, second)
        inside = [face for face in found if first <= face.at <= second]
        for step in steps(meter, inside, rate):
            if step.volume_m3 is None:
                return None
            volumes_m3.append(step.volume_m3)
        volumes_m3.append(estimated_m3(known, run.site, first, second, meter.meter))
    return sum(volumes_m3) if volumes_m3 else None


def _read_near(known: Known, site: str, meter: MeterFitted, at: datetime) -> datetime | None:
    """Return when a meter was read nearest to a time, within two hours."""
    near = known.between(MeterReading, site, at - HOURS_NEAR, at + HOURS_NEAR, point=meter.meter)
    times = [standing.record.when for standing in near]
    if meter.start_display and abs(meter.valid_from - at) <= HOURS_NEAR:
        times.append(meter.valid_from)
    return min(times, key=lambda time: abs(time - at), default=None)


def _fuel(run: PumpRun, known: Known, pumped_m3: float) -> Iterator[Finding]:
    standing = known.in_force(Pump, run.site, run.when, point=run.point)
    head_m = standing.record.head_m if standing else None
    if not head_m or not run.fuel_litres or pumped_m3 <= 0:
        return
    usual = LITRES_PER_MEGALITRE_M * head_m / PUMP_AND_DRIVE
    burnt = run.fuel_litres / megalitres(pumped_m3)
    if not usual / FUEL_BAND <= burnt <= usual * FUEL_BAND:
        yield Finding(
            code="fuel",
            severity=Severity.NOTE,
            field="fuel_litres",
            saw=f"{burnt:.1f} L of fuel for each ML.",
            expected=f"With {head_m:g} m of head about {usual:.1f} are usual.",
            do="Say in the remark if the tank was filled up for longer.",
        )


def _river(run: PumpRun, known: Known) -> Iterator[Finding]:
    licence = known.in_force(Licence, run.site, run.when)
    least_m = licence.record.river_at_least_m if licence else None
    if least_m is not None and run.river_level_m is not None and run.river_level_m < least_m:
        yield Finding(
            code="river-low",
            severity=Severity.ASK,
            field="river_level_m",
            saw=f"The river stands at {run.river_level_m:.2f} m.",
            expected=f"Licence {licence.record.licence if licence else ''} names {least_m:.2f} m.",
            do="Contact the coordinator.",
        )


def run_answers(run: PumpRun, known: Known) -> Iterator[Answer]:
    """Yield what pump hours tell at once."""
    earlier = _earlier(run, known)
    if run.hours_reading is None or not earlier:
        return
    hours, by_clock = _gone(run, earlier[0])
    yield Answer(
        label="Pumped since last look",
        says=f"{hours:.1f} h of {by_clock:.1f} h gone by",
        value=hours,
        unit="h",
    )
