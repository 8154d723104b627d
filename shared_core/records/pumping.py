"""What was pumped between two times, off the faces of the meters and the estimates beside them."""

import dataclasses
import itertools
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from typing import Final

from shared_core.records.base import Known, Standing
from shared_core.records.meter_setup import MeterFitted, Pump, PumpedEstimate
from shared_core.records.pump_meter import MeterReading
from shared_core.units import M3_PER_MEGALITRE, SECONDS_PER_HOUR

METER_SD: Final = 0.025  # validated meter, 1 sd as a share; trade 2.2, from memory
IMPOSSIBLE: Final = 5.0  # times the rate on the pump's plate: a slip of unit or digits, not water
SHORTEST_H: Final = 1.0  # two readings closer than this say little of a rate
FAR_BACK: Final = timedelta(days=400)  # a season's first reading is not older than this


@dataclasses.dataclass(frozen=True, kw_only=True)
class Face:
    """Figures on a meter at a moment."""

    at: datetime
    display: int
    rolled: bool
    estimate: bool
    evidence: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class Span:
    """Water between two faces of one meter, or one estimate."""

    meter: str
    start: datetime
    end: datetime
    volume_m3: float
    sd_fraction: float
    estimated: bool
    evidence: tuple[str, ...]


@dataclasses.dataclass(frozen=True, kw_only=True)
class Pumping:
    """The spans of a time, and what stands in the way of some."""

    spans: tuple[Span, ...]
    problems: tuple[str, ...]


@dataclasses.dataclass(frozen=True, kw_only=True)
class Pumped:
    """Water pumped between two times [m3]."""

    volume_m3: float
    sd_m3: float
    metered_m3: float
    estimated_m3: float
    problems: tuple[str, ...]


def counted(before: int, after: int, figures: int, *, rolled: bool = False) -> int:
    """Return how many counts passed between two faces of a meter with so many figures.

    A face that fell counts as passed zero only if *rolled* says so; else the count is negative
    and somebody has to look. Modular counter; check value unit.rollover.
    """
    return after - before + (10**figures if rolled and after < before else 0)


def pumping(known: Known, site: str, start: datetime, end: datetime) -> Pumping:
    """Return all spans that touch a time, oldest first."""
    spans: list[Span] = []
    problems: list[str] = []
    for fitted in known.every(MeterFitted, site):
        for found in _spans_of(known, site, fitted, end):
            if isinstance(found, str):
                problems.append(found)
            elif found.end > start and found.start < end:
                spans.append(found)
    spans.extend(
        _estimated(estimate)
        for estimate in known.every(PumpedEstimate, site)
        if estimate.record.until > start and estimate.record.valid_from < end
    )
    ordered = sorted(spans, key=lambda span: (span.start, span.end, span.meter))
    return Pumping(spans=tuple(ordered), problems=tuple(problems))


def pumped_between(known: Known, site: str, start: datetime, end: datetime) -> Pumped:
    """Return what was pumped between two times; a span that reaches beyond counts by its share."""
    found = pumping(known, site, start, end)
    metered = estimated = scale_sd = independent_variance = 0.0
    for span in found.spans:
        inside = (min(span.end, end) - max(span.start, start)) / (span.end - span.start)
        volume = span.volume_m3 * inside
        if span.estimated:
            estimated += volume
            independent_variance += (volume * span.sd_fraction) ** 2
        else:
            metered += volume
            scale_sd += volume * span.sd_fraction  # one instrument: its errors add straight
    return Pumped(
        volume_m3=metered + estimated,
        sd_m3=(scale_sd**2 + independent_variance) ** 0.5,
        metered_m3=metered,
        estimated_m3=estimated,
        problems=found.problems,
    )


def _estimated(standing: Standing[PumpedEstimate]) -> Span:
    estimate = standing.record
    return Span(
        meter=estimate.meter,
        start=estimate.valid_from,
        end=estimate.until,
        volume_m3=estimate.volume_m3,
        sd_fraction=estimate.sd_fraction,
        estimated=True,
        evidence=(standing.record_id,),
    )


def _spans_of(
    known: Known, site: str, fitted: Standing[MeterFitted], end: datetime
) -> Iterator[Span | str]:
    meter = fitted.record
    faces = _faces(known, site, fitted, end)
    if faces and meter.start_display is None:
        yield f"{meter.meter} has no figures from the day it was fitted; it counts from its first reading"
    for before, after in itertools.pairwise(faces):
        yield _between(known, meter, before, after)


def _faces(known: Known, site: str, fitted: Standing[MeterFitted], end: datetime) -> Sequence[Face]:
    meter = fitted.record
    until = min(meter.removed_at or end + FAR_BACK, end + FAR_BACK)
    faces = [
        Face(
            at=standing.record.seen_at,
            display=int(standing.record.display),
            rolled=bool(standing.record.rolled),
            estimate=bool(standing.record.estimate),
            evidence=standing.record_id,
        )
        for standing in known.between(
            MeterReading, site, meter.valid_from, until, point=meter.meter
        )
        if "display" not in standing.disputed
    ]
    if meter.start_display is not None and not any(face.at == meter.valid_from for face in faces):
        faces.insert(0, _set_face(meter.valid_from, meter.start_display, fitted.record_id))
    if meter.removed_at is not None and meter.final_display is not None:
        faces.append(_set_face(meter.removed_at, meter.final_display, fitted.record_id))
    return sorted(faces, key=lambda face: face.at)


def _set_face(at: datetime, display: str, evidence: str) -> Face:
    return Face(at=at, display=int(display), rolled=False, estimate=False, evidence=evidence)


def _between(known: Known, meter: MeterFitted, before: Face, after: Face) -> Span | str:
    counts = counted(before.display, after.display, meter.figures, rolled=after.rolled)
    if counts < 0:
        return (
            f"{meter.meter} fell from {before.display:0{meter.figures}d} to"
            f" {after.display:0{meter.figures}d} by {after.at:%Y-%m-%d}: confirm that it passed"
            " zero, or enter the change of meter; that span is not counted"
        )
    if after.at == before.at:
        return (
            f"{meter.meter} has two readings at {after.at:%Y-%m-%d %H:%M} UTC; one is not counted"
        )
    volume_m3 = counts * meter.m3_per_count
    if counts and _beyond_plate(known, meter, volume_m3, after.at - before.at):
        return (
            f"{meter.meter} counted {volume_m3 / M3_PER_MEGALITRE:.2f} ML by {after.at:%Y-%m-%d},"
            " more than the pump's plate allows; look at unit and figures; that span is not counted"
        )
    return Span(
        meter=meter.meter,
        start=before.at,
        end=after.at,
        volume_m3=volume_m3,
        sd_fraction=meter.sd_fraction or METER_SD,
        estimated=after.estimate,
        evidence=tuple(dict.fromkeys((before.evidence, after.evidence))),
    )


def _beyond_plate(known: Known, meter: MeterFitted, volume_m3: float, elapsed: timedelta) -> bool:
    """Tell whether a volume is far more than the pump's plate lets through in a time.

    Far: a wrong digit that makes one day too large and the next too small carries no water, and
    is for the checks to find; only a span that cannot be water at all is left out here.
    """
    pump = known.in_force(Pump, meter.site, meter.valid_from, point=meter.pump)
    if pump is None:
        return False
    hours = elapsed.total_seconds() / SECONDS_PER_HOUR
    most = pump.record.nameplate_megalitres_per_hour * max(hours, SHORTEST_H)
    return volume_m3 / M3_PER_MEGALITRE > IMPOSSIBLE * most
