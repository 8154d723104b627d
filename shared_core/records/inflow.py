"""What came in by the pump between two times, as an expectation needs it at once.

Only the few readings around the time are looked at, so it costs the same after ten seasons; the
balance, which must account for every count, goes by :mod:`shared_core.records.pumping`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from shared_core.records.base import Known
from shared_core.records.counts import (
    HOURS_NEAR,
    Counted,
    Face,
    PumpRate,
    faces,
    hours_between,
    meters_of,
    pump_rate,
    steps,
)
from shared_core.records.meter_setup import MeterFitted, PumpedEstimate
from shared_core.records.pump_run import PumpRun
from shared_core.units import SECONDS_PER_HOUR

ESTIMATE_SD_FRACTION: Final = 0.10  # hours x measured rate (from memory)
STANDS_STILL_SHARE: Final = 0.05  # of the pump's rate: below it the pump is off
# A meter that stands still, or whose unit is ten times too small: the hours speak instead.
NEXT_TO_NOTHING: Final = 0.2
STUCK_HOURS: Final = 1.0  # of pumping without a count
HOUR_METER_MARGIN_H: Final = 0.5
SHORTEST_LOOK_H: Final = 6.0  # two looks nearer than this do not tell whether a pump is off


@dataclass(frozen=True, kw_only=True)
class Inflow:
    """Water pumped in between two times [m3].

    ``volume_m3`` is metered plus estimated; ``possible_m3`` is what the pump could have moved in
    hours of which this device knows nothing: it ran when it was last seen, or nobody wrote.
    """

    volume_m3: float = 0.0
    sd_m3: float = 0.0
    metered_m3: float = 0.0
    estimated_m3: float = 0.0
    problems: tuple[str, ...] = ()
    possible_m3: float = 0.0


@dataclass(frozen=True)
class _Span:
    start: datetime
    end: datetime

    def share(self, start: datetime, end: datetime) -> float:
        """Return the share of another span that lies in this one."""
        length = (end - start).total_seconds()
        inside = (min(end, self.end) - max(start, self.start)).total_seconds()
        return max(0.0, min(1.0, inside / length)) if length > 0 else 0.0


def inflow_between(known: Known, site: str, start: datetime, end: datetime) -> Inflow:
    """Return what was pumped into a site from one time to a later one, across meter changes."""
    span = _Span(start, end)
    meters = _in_service([m for m in meters_of(known, site) if m.valid_from < end])
    parts = [_metered(known, site, meter, span) for meter in meters]
    if not meters:
        parts.append(_by_hours(known, site, span))
    parts.append(_estimated(known, site, span))
    metered_m3 = sum(part.metered_m3 for part in parts)
    estimated_m3 = sum(part.estimated_m3 for part in parts)
    return Inflow(
        volume_m3=metered_m3 + estimated_m3,
        sd_m3=math.hypot(*(part.sd_m3 for part in parts)),
        metered_m3=metered_m3,
        estimated_m3=estimated_m3,
        problems=tuple(problem for part in parts for problem in part.problems),
        possible_m3=sum(part.possible_m3 for part in parts),
    )


def _in_service(meters: Sequence[MeterFitted]) -> list[MeterFitted]:
    """Return meters with the day of removal that the next one on the same pump implies."""
    found = []
    for meter in meters:
        after = [
            other.valid_from
            for other in meters
            if other.valid_from > meter.valid_from
            and (other.replaces == meter.meter or (other.pump and other.pump == meter.pump))
        ]
        removed_at = meter.removed_at or min(after, default=None)
        found.append(meter.changed(removed_at=removed_at))
    return found


def _metered(known: Known, site: str, meter: MeterFitted, span: _Span) -> Inflow:
    if meter.valid_from >= span.end or (meter.removed_at and meter.removed_at <= span.start):
        return Inflow()
    rate = pump_rate(known, site, meter.pump, span.end)
    found = faces(known, site, meter, span.start, span.end)
    counted = list(steps(meter, found, rate))
    metered_m3 = estimated_m3 = impossible_m3 = 0.0
    problems = []
    for step in counted:
        share = span.share(step.start.at, step.end.at)
        stuck_m3 = _while_stuck_m3(known, site, meter, step, rate) if share > 0 else 0.0
        if stuck_m3 > 0:
            problems.append(f"{meter.meter} counted next to nothing while the pump ran")
            estimated_m3 += share * stuck_m3
        elif step.volume_m3 is None:
            if share > 0:
                problems.append(
                    f"{meter.meter} falls from {step.start.display} to {step.end.display}"
                )
        elif rate is not None and step.volume_m3 > rate.at_most_m3(step.hours):
            if share > 0:
                problems.append(f"{meter.meter} counted more than the pump can move")
            estimated_m3 += share * rate.at_most_m3(step.hours) / 2
            impossible_m3 += share * rate.at_most_m3(step.hours) / math.sqrt(12)
        elif step.end.estimate:
            estimated_m3 += share * step.volume_m3
        else:
            metered_m3 += share * step.volume_m3
        if share > 0 and step.rolled and step.volume_m3 is not None and not step.end.rolled:
            problems.append(f"{meter.meter} passed zero, not confirmed")
    possible_m3 = _unread_m3(known, site, meter, (found, counted), rate, span)
    sd_m3 = math.hypot(
        meter.scale_sd * metered_m3, ESTIMATE_SD_FRACTION * estimated_m3, impossible_m3
    )
    return Inflow(
        metered_m3=metered_m3,
        estimated_m3=estimated_m3,
        sd_m3=sd_m3,
        problems=tuple(problems),
        possible_m3=possible_m3,
    )


def _while_stuck_m3(
    known: Known, site: str, meter: MeterFitted, step: Counted, rate: PumpRate | None
) -> float:
    """Return hours x rate [m3] where a meter counted next to nothing while the pump ran, else 0.

    Nothing too where somebody has written an estimate for that time.
    """
    if rate is None or step.volume_m3 is None:
        return 0.0
    most_hours = step.hours + HOUR_METER_MARGIN_H
    if step.volume_m3 > NEXT_TO_NOTHING * most_hours * rate.rate_m3_h:
        return 0.0  # whatever the hour meter says, which need not be looked up
    hours = hours_between(known, site, meter.pump, step.start.at, step.end.at)
    if hours is None or not STUCK_HOURS < hours <= most_hours:
        return 0.0
    if step.volume_m3 > NEXT_TO_NOTHING * hours * rate.rate_m3_h:
        return 0.0
    estimates = (standing.record for standing in known.every(PumpedEstimate, site))
    written = any(
        each.meter == meter.meter and each.valid_from < step.end.at and step.start.at < each.until
        for each in estimates
    )
    return 0.0 if written else hours * rate.rate_m3_h


def _unread_m3(
    known: Known,
    site: str,
    meter: MeterFitted,
    seen: tuple[Sequence[Face], Sequence[Counted]],
    rate: PumpRate | None,
    span: _Span,
) -> float:
    """Return the most that may have been pumped after the last look at a meter [m3].

    Nothing where somebody wrote that it stopped, or the pump stood still at that look and nobody
    wrote that it started.
    """
    found, counted = seen
    last = found[-1].at if found else meter.valid_from
    if rate is None or meter.removed_at or last >= span.end:
        return 0.0
    run = _newest_run(known, site, meter.pump, last, span.end)
    if run is not None and (run.stopped_because or run.stopped):
        return 0.0
    started = run is not None and run.started is not None
    if not started and counted and _stood_still(known, site, meter, counted[-1], rate):
        return 0.0
    return rate.ceiling_m3_h * _hours(max(last, span.start), span.end)


def _hours(start: datetime, end: datetime) -> float:
    return max(0.0, (end - start).total_seconds()) / SECONDS_PER_HOUR


def _stood_still(
    known: Known, site: str, meter: MeterFitted, step: Counted, rate: PumpRate
) -> bool:
    if step.hours < SHORTEST_LOOK_H or _while_stuck_m3(known, site, meter, step, rate) > 0:
        return False
    flow_m3_h = (step.volume_m3 or 0.0) / max(step.hours, 0.01)
    return flow_m3_h < STANDS_STILL_SHARE * rate.rate_m3_h


def _by_hours(known: Known, site: str, span: _Span) -> Inflow:
    """Return hours x rate where no meter is known here; all is possible where no hours are either."""
    rate = pump_rate(known, site, None, span.end)
    if rate is None:
        return Inflow()
    before = known.before(PumpRun, site, span.start + HOURS_NEAR, limit=3)
    since = known.between(PumpRun, site, span.start + HOURS_NEAR, span.end)
    runs = [standing.record for standing in (*reversed(before), *since)]
    read = [run for run in runs if run.hours_reading is not None]
    first = next((run for run in reversed(read) if run.when <= span.start + HOURS_NEAR), None)
    if first is None or not read:
        return Inflow(possible_m3=rate.ceiling_m3_h * _hours(span.start, span.end))
    last = read[-1]
    volume_m3 = max(0.0, (last.hours_reading or 0.0) - (first.hours_reading or 0.0))
    volume_m3 *= rate.rate_m3_h
    off = bool(last.stopped_because or last.stopped)
    unread_h = 0.0 if off else _hours(max(last.when, span.start), span.end)
    return Inflow(
        estimated_m3=volume_m3,
        sd_m3=ESTIMATE_SD_FRACTION * volume_m3,
        possible_m3=rate.ceiling_m3_h * unread_h,
    )


def _newest_run(
    known: Known, site: str, pump: str | None, last: datetime, end: datetime
) -> PumpRun | None:
    """Return what was last written about the pump, at the last look at its meter or since."""
    runs = known.between(PumpRun, site, last - timedelta(hours=2), end, point=pump)
    return runs[-1].record if runs else None


def _estimated(known: Known, site: str, span: _Span) -> Inflow:
    total_m3 = sd_m3 = 0.0
    for standing in known.every(PumpedEstimate, site):
        estimate = standing.record
        volume_m3 = estimate.volume_m3 * span.share(estimate.valid_from, estimate.until)
        total_m3 += volume_m3
        sd_m3 += volume_m3 * estimate.sd_fraction
    return Inflow(estimated_m3=total_m3, sd_m3=sd_m3)


def estimated_m3(known: Known, site: str, start: datetime, end: datetime, meter: str) -> float:
    """Return what was written as pumped past a meter between two times [m3]."""
    span = _Span(start, end)
    estimates = (standing.record for standing in known.every(PumpedEstimate, site))
    return sum(
        each.volume_m3 * span.share(each.valid_from, each.until)
        for each in estimates
        if each.meter == meter
    )
