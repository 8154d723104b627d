"""What is odd about a meter's figures, and what they tell: volume, rate, share of what is allowed."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC
from typing import Final

from shared_core.records import pump_meter_words as say
from shared_core.records.base import Answer, Finding, Known, Severity
from shared_core.records.counts import (
    Counted,
    Face,
    PumpRate,
    counted,
    face_of,
    faces,
    hours_between,
    pump_rate,
)
from shared_core.records.folding import folded
from shared_core.records.inflow import STANDS_STILL_SHARE, inflow_between
from shared_core.records.limits import limits_at
from shared_core.records.meter_setup import MeterFitted, PumpedEstimate
from shared_core.records.plan import Allocation, Licence
from shared_core.records.pump_meter import MeterReading
from shared_core.slips import Counter, Slip, explain_counter
from shared_core.units import HOURS_PER_DAY, M3_PER_MEGALITRE, megalitres

FLAT_HOURS: Final = 1.0  # of pumping with no count at all: common practice
DAILY_FROM_DAYS: Final = 0.5  # a shorter look does not speak for a day
GAP_NOTE_DAYS: Final = 2.0  # without a look while the pump runs: common practice
GAP_ASK_DAYS: Final = 7.0  # meters are often to be read weekly: local licences say how often
USED_NOTE: Final = 0.80  # of the water allowed: common practice
USED_ASK: Final = 0.95  # the same
NO_UPPER_END: Final = float("inf")


@dataclass(frozen=True, kw_only=True)
class Look:
    """One look at a meter beside an earlier one, and what the pump can have done meanwhile."""

    meter: MeterFitted
    step: Counted
    rate: PumpRate | None
    pump_hours: float | None

    @property
    def most_m3(self) -> float:
        if self.rate is None:
            return NO_UPPER_END
        by_clock_m3 = self.rate.at_most_m3(max(self.step.hours, 0.1))
        if self.pump_hours is None:
            return by_clock_m3
        return min(by_clock_m3, self.rate.at_most_m3(max(self.pump_hours, FLAT_HOURS)))

    @property
    def least_m3(self) -> float:
        """The least that must have been counted; nothing where the hours are not known."""
        if self.rate is None or self.pump_hours is None or self.pump_hours <= FLAT_HOURS:
            return 0.0
        return self.rate.at_least_m3(self.pump_hours)

    @property
    def counter(self) -> Counter:
        count_m3 = self.meter.m3_per_count
        return Counter(
            figures=self.meter.figures,
            before=int(self.step.start.display),
            low=self.least_m3 / count_m3,
            high=self.most_m3 / count_m3,
        )

    @property
    def volume_m3(self) -> float | None:
        return self.step.volume_m3

    @property
    def fits(self) -> bool:
        volume_m3 = self.volume_m3
        return volume_m3 is not None and self.least_m3 <= volume_m3 <= self.most_m3


def meter_findings(reading: MeterReading, known: Known) -> Iterator[Finding]:
    """Yield what is odd about a meter's figures, one alarm for one mistake."""
    fitted = known.in_force(MeterFitted, reading.site, reading.when, point=reading.point)
    if fitted is None:
        yield say.unknown_meter(reading)
        return
    meter, limits = fitted.record, limits_at(known, reading.site, reading.when)
    earlier = _looks_back(reading, known, meter)
    checks = [*_figures(reading, meter)]
    if not meter.start_display and not earlier:
        checks.append(say.no_start(reading))
    if earlier:
        checks += _since(reading, known, earlier, limits)
    yield from folded(checks, say.ORDER)


def _looks_back(reading: MeterReading, known: Known, meter: MeterFitted) -> list[Look]:
    """Return this look beside the last one and the one before it, newest first."""
    here = face_of(reading)
    last = known.before(MeterReading, reading.site, reading.when, point=reading.point, limit=2)
    since = last[-1].record.when if last else meter.valid_from
    before = [
        face
        for face in faces(known, reading.site, meter, since, reading.when)
        if face.at < reading.when
    ]
    rate = pump_rate(known, reading.site, meter.pump, reading.when)
    return [_look(reading, known, meter, face, here, rate) for face in reversed(before[-3:])][:2]


def _look(
    reading: MeterReading,
    known: Known,
    meter: MeterFitted,
    start: Face,
    end: Face,
    rate: PumpRate | None,
) -> Look:
    hours = hours_between(known, reading.site, meter.pump, start.at, end.at)
    if hours is not None and (hours < 0 or hours > _elapsed_hours(start, end) + 0.5):
        hours = None  # the hour meter has its own alarm
    if _is_estimated(known, reading.site, meter, end):
        hours = None  # somebody has already said that the meter does not speak for this span
    clock_m3 = rate.at_most_m3(_elapsed_hours(start, end)) if rate else None
    return Look(
        meter=meter,
        step=counted(meter, start, end, most_m3=clock_m3),
        rate=rate,
        pump_hours=hours,
    )


def _is_estimated(known: Known, site: str, meter: MeterFitted, end: Face) -> bool:
    estimates = (standing.record for standing in known.every(PumpedEstimate, site))
    return any(
        each.meter == meter.meter and each.valid_from < end.at <= each.until for each in estimates
    )


def _elapsed_hours(start: Face, end: Face) -> float:
    return (end.at - start.at).total_seconds() / 3600.0


def _figures(reading: MeterReading, meter: MeterFitted) -> Iterator[Finding]:
    if len(reading.display) != meter.figures:
        yield say.figures(reading, meter)


def _since(
    reading: MeterReading, known: Known, earlier: list[Look], limits: Mapping[str, float]
) -> Iterator[Finding]:
    look = earlier[0]
    if not look.fits and len(earlier) > 1 and _last_is_odd(reading, known, *earlier):
        yield say.last_was_odd(look.step.start, reading.wall_clock.tzinfo or UTC)
        return
    yield from _rolled(reading, look)
    if not look.fits:
        slips = explain_counter(reading.display, look.counter)
        if slips and not (look.step.rolled and look.volume_m3 is not None):
            yield _explained(reading, look, slips[0])
        else:
            yield from _rate(look)
    yield from _licence(reading, known, look, limits)
    yield from _gap(look, limits)


def _last_is_odd(reading: MeterReading, known: Known, look: Look, longer: Look) -> bool:
    """Tell whether this fits the figures before the last, and the last did not."""
    if not longer.fits or not longer.volume_m3:
        return False
    last = _look(reading, known, look.meter, longer.step.start, look.step.start, look.rate)
    return not last.fits


def _rolled(reading: MeterReading, look: Look) -> Iterator[Finding]:
    if look.step.rolled and look.volume_m3 is not None:
        yield say.rolled(reading, look, fits=look.fits)


def _explained(reading: MeterReading, look: Look, slip: Slip) -> Finding:
    if slip.code == "meter-flat":
        return say.flat(look)
    if slip.code == "meter-changed":
        return say.changed(reading, look)
    if slip.code == "unit-times-ten":
        return say.times_ten(look, slip)
    return say.slipped(reading, look, slip)


def _rate(look: Look) -> Iterator[Finding]:
    volume_m3 = look.volume_m3
    if volume_m3 is None or look.rate is None:
        return
    if volume_m3 > look.most_m3:
        yield say.too_fast(look)
    elif volume_m3 < look.least_m3:
        yield say.too_slow(look)


def _licence(
    reading: MeterReading, known: Known, look: Look, limits: Mapping[str, float]
) -> Iterator[Finding]:
    standing = known.in_force(Licence, reading.site, reading.when)
    days = look.step.hours / HOURS_PER_DAY
    if standing is None or look.volume_m3 is None:
        return
    daily = standing.record.daily_limit_megalitres
    if daily is not None and days >= DAILY_FROM_DAYS:
        per_day = megalitres(look.volume_m3) / days
        if per_day > limits.get("daily-volume", daily):
            yield say.daily_volume(standing.record.licence, per_day, daily)
    if look.fits:
        yield from _used_up(reading, known, standing.record, limits)


def _used_up(
    reading: MeterReading, known: Known, licence: Licence, limits: Mapping[str, float]
) -> Iterator[Finding]:
    for name, share in _shares(reading, known, licence):
        if share > limits.get("used-up-note", USED_NOTE):
            asks = share > limits.get("used-up", USED_ASK)
            yield say.used_up(name, share, Severity.ASK if asks else Severity.NOTE)


def _shares(
    reading: MeterReading, known: Known, licence: Licence | None
) -> Iterator[tuple[str, float]]:
    """Yield what has been used of each of the things that allow water."""
    allocation = known.in_force(Allocation, reading.site, reading.when)
    allowed = []
    if allocation is not None and reading.when <= allocation.record.until:
        account = allocation.record
        allowed.append((account.account, account.allocated_megalitres, account.valid_from))
    if licence is not None and licence.volume_limit_megalitres:
        allowed.append((licence.licence, licence.volume_limit_megalitres, licence.valid_from))
    last_step_m3 = _last_step_m3(reading, known) if allowed else 0.0
    since = {  # often the same day for both
        start: inflow_between(known, reading.site, start, reading.when).volume_m3
        for start in {start for _, _, start in allowed}
    }
    for name, limit_megalitres, start in allowed:
        used_m3 = since[start] + last_step_m3
        if limit_megalitres > 0:
            yield name, megalitres(used_m3) / limit_megalitres


def _last_step_m3(reading: MeterReading, known: Known) -> float:
    """Return what this reading adds; what is known leaves out the record that is judged."""
    fitted = known.in_force(MeterFitted, reading.site, reading.when, point=reading.point)
    looks = _looks_back(reading, known, fitted.record) if fitted else []
    later = known.after(MeterReading, reading.site, reading.when, point=reading.point)
    return (looks[0].volume_m3 or 0.0) if looks and not later else 0.0


def _gap(look: Look, limits: Mapping[str, float]) -> Iterator[Finding]:
    days = look.step.hours / HOURS_PER_DAY
    if look.rate is None or not look.volume_m3 or days <= limits.get("log-gap-note", GAP_NOTE_DAYS):
        return
    flow_m3_h = look.volume_m3 / look.step.hours
    if flow_m3_h > STANDS_STILL_SHARE * look.rate.rate_m3_h:
        asks = days > limits.get("log-gap", GAP_ASK_DAYS)
        yield say.gap(look, days, Severity.ASK if asks else Severity.NOTE)


def meter_answers(reading: MeterReading, known: Known) -> Iterator[Answer]:
    """Yield what a meter's figures tell at once."""
    fitted = known.in_force(MeterFitted, reading.site, reading.when, point=reading.point)
    looks = _looks_back(reading, known, fitted.record) if fitted else []
    if looks and looks[0].volume_m3 is not None:
        look = looks[0]
        volume_m3 = look.volume_m3 or 0.0
        yield Answer(
            label="Pumped since last reading",
            says=f"{megalitres(volume_m3):.2f} ML in {look.step.hours:.0f} h",
            value=volume_m3,
            unit="m3",
        )
        hours = look.pump_hours or look.step.hours
        if hours > 0 and volume_m3 > 0:
            per_hour = volume_m3 / M3_PER_MEGALITRE / hours
            of_what = "pump hours" if look.pump_hours else "hours gone by"
            yield Answer(
                label="Rate",
                says=f"{per_hour:.3f} ML/h over the {of_what}",
                value=per_hour,
                unit="ML/h",
            )
    licence = known.in_force(Licence, reading.site, reading.when)
    for name, share in _shares(reading, known, licence.record if licence else None):
        yield Answer(label=f"Used of {name}", says=f"{share:.0%}", value=share)
