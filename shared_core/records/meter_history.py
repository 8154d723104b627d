"""A meter against hours times the pump's rate, through time: a step in the ratio, or off throughout.

A lasting fall of the ratio is a meter that loses counts, a blocked screen or a worn pump; a ratio off
from the first day is a measured rate or a unit that does not hold.
"""

import statistics
from collections.abc import Iterator
from itertools import pairwise
from typing import Final

from shared_core.records.base import Known
from shared_core.records.counts import counted, face_of, hours_between, meters_of, pump_rate
from shared_core.records.meter_setup import MeterFitted, PumpedEstimate
from shared_core.records.overviews import Overview, day, overview
from shared_core.records.pump_meter import MeterReading
from shared_core.records.run_of_values import Value, steps_in, without_lone

LEAST_HOURS: Final = 2.0  # of pumping between two looks before their ratio says something
RATIO_STEP: Final = 0.15  # lasting change that is told; two meters of 5 % differ by 0.07 (computed)
RATIO_OFF: Final = 0.20  # from 1, over all looks: rates measured on site hold to 10 % (from memory)
RATIO_SD: Final = 0.05  # one ratio: meter and hours (computed)
LEAST_LOOKS: Final = 3


def meter_ratios(known: Known, site: str, meter: MeterFitted) -> list[Value]:
    """Return what a meter counted over hours x rate, from each look to the next.

    Looks without the hour meter beside them, and those in the time of an estimate, say nothing.
    """
    standings = [
        s
        for s in known.every(MeterReading, site)
        if s.record.point == meter.meter and not s.record.unused
    ]
    estimates = [s.record for s in known.every(PumpedEstimate, site)]
    found = []
    for earlier, later in pairwise(standings):
        start, end = face_of(earlier.record), face_of(later.record)
        rate = pump_rate(known, site, meter.pump, end.at)
        hours = hours_between(known, site, meter.pump, start.at, end.at)
        excused = any(
            each.meter == meter.meter and each.valid_from < end.at and start.at < each.until
            for each in estimates
        )
        if rate is None or hours is None or hours < LEAST_HOURS or excused or end.estimate:
            continue
        clock_h = (end.at - start.at).total_seconds() / 3600.0
        volume_m3 = counted(meter, start, end, most_m3=rate.at_most_m3(clock_h)).volume_m3
        if volume_m3 is not None:
            ids = (earlier.record_id, later.record_id)
            found.append(Value(end.at, volume_m3 / (rate.rate_m3_h * hours), ids))
    return found


def meter_overviews(
    known: Known, site: str, *, least: float = RATIO_STEP, off: float = RATIO_OFF
) -> Iterator[Overview]:
    """Yield what the ratio of each meter of a site says over time."""
    for meter in meters_of(known, site):
        run = without_lone(meter_ratios(known, site, meter), least)
        steps = list(steps_in(run, least=least, sd=RATIO_SD))
        for step in steps:
            yield overview(
                "meter-ratio-step",
                (step.last_before, step.first_after),
                f"{meter.meter} counted {step.before:.2f} of hours times rate up to"
                f" {day(step.last_before.at)} and {step.after:.2f} from {day(step.first_after.at)} on.",
                "A pump does not change so much by itself.",
                "Time the dial; look at screen, valves and the meter's strainer.",
            )
        middle = statistics.median(value.value for value in run) if run else 1.0
        if not steps and len(run) >= LEAST_LOOKS and abs(middle - 1.0) > off:
            yield overview(
                "meter-ratio",
                run,
                f"{meter.meter} counted {middle:.2f} of hours times rate in all of {len(run)} looks.",
                "Near 1 the measured rate, the hour meter and the meter agree.",
                "Measure the pump's rate again, and look at the meter's unit and certificate.",
            )
