"""What was pumped between two times, off the faces of the meters and the estimates beside them."""

import dataclasses
import itertools
import math
from collections import defaultdict
from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta, timezone
from typing import Final, NamedTuple

from shared_core.records.base import Known, Standing
from shared_core.records.meter_setup import MeterFitted, Pump, PumpedEstimate
from shared_core.records.pump_meter import MeterReading
from shared_core.records.site_setup import Site
from shared_core.units import M3_PER_MEGALITRE, SECONDS_PER_HOUR

ESTIMATE_SD: Final = 0.10  # figures that nobody read, 1 sd as a share; common practice, from memory
IMPOSSIBLE: Final = 5.0  # times the rate on the pump's plate: a slip of unit or digits, not water
SHORTEST_H: Final = 1.0  # two readings closer than this say little of a rate
FAR_BACK: Final = timedelta(days=400)  # a season's first reading is not older than this
TWICE_MEGALITRES: Final = 0.01  # less than this counted beside an estimate is nobody's concern


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

    @property
    def source(self) -> str:
        """Name of the error that this span shares with others: of a meter, or of a pump's rate."""
        return f"estimate {self.meter}" if self.estimated else f"meter {self.meter}"

    def share(self, start: datetime, end: datetime) -> float:
        """Return the share of this span that lies between two times, 0 where none does."""
        inside = (min(self.end, end) - max(self.start, start)) / (self.end - self.start)
        return max(0.0, inside)


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


class _Snag(NamedTuple):
    """Why something between two times does not count."""

    start: datetime
    end: datetime
    says: str

    def touches(self, start: datetime, end: datetime) -> bool:
        """Tell whether it concerns the time between two moments."""
        if self.start == self.end:
            return start <= self.start <= end
        return self.start < end and self.end > start


@dataclasses.dataclass(frozen=True, kw_only=True)
class _Fitting:
    """A meter while it was fitted."""

    known: Known
    meter: MeterFitted
    standing: Standing[MeterFitted]
    until: datetime | None  # removed, or fitted anew
    zone: timezone

    def day(self, at: datetime) -> str:
        """Write a day as the clock of the site's standard time has it."""
        return f"{at.astimezone(self.zone):%Y-%m-%d}"

    def figures(self, face: Face) -> str:
        """Write a face as it stands there, zeros too."""
        return f"{face.display:0{self.meter.figures}d}"


def counted(before: int, after: int, figures: int, *, rolled: bool = False) -> int:
    """Return how many counts passed between two faces of a meter with so many figures.

    A face that fell counts as passed zero only if *rolled* says so; else the count is negative
    and somebody has to look. Modular counter; check value unit.rollover.
    """
    return after - before + (10**figures if rolled and after < before else 0)


def pumping(known: Known, site: str, start: datetime, end: datetime) -> Pumping:
    """Return all spans that touch a time, oldest first, and the problems that touch it."""
    found = [*_estimates(known, site)]
    for fitting in _fittings(known, site):
        found += _spans_of(site, fitting, end)
    spans = [item for item in found if isinstance(item, Span)]
    spans.sort(key=lambda span: (span.start, span.end, span.meter))
    snags = [item for item in found if isinstance(item, _Snag)]
    snags += _twice(spans, _zone(known, site))
    return Pumping(
        spans=tuple(span for span in spans if span.share(start, end) > 0),
        problems=tuple(snag.says for snag in snags if snag.touches(start, end)),
    )


def pumped_between(known: Known, site: str, start: datetime, end: datetime) -> Pumped:
    """Return what was pumped between two times; a span that reaches beyond counts by its share.

    Errors of one meter add straight, those of different meters in squares.
    """
    found = pumping(known, site, start, end)
    metered = estimated = 0.0
    sd_of: dict[str, float] = defaultdict(float)
    for span in found.spans:
        volume = span.volume_m3 * span.share(start, end)
        sd_of[span.source] += volume * span.sd_fraction
        if span.estimated:
            estimated += volume
        else:
            metered += volume
    return Pumped(
        volume_m3=metered + estimated,
        sd_m3=math.hypot(*sd_of.values()),
        metered_m3=metered,
        estimated_m3=estimated,
        problems=found.problems,
    )


def _zone(known: Known, site: str) -> timezone:
    sites = known.every(Site, site)
    return timezone(timedelta(minutes=sites[-1].record.standard_offset_min if sites else 0))


def _fittings(known: Known, site: str) -> Iterator[_Fitting]:
    """Yield each meter with the time it was in service: fitted anew, its earlier fitting is over."""
    zone = _zone(known, site)
    standings = known.every(MeterFitted, site)
    for place, standing in enumerate(standings):
        meter = standing.record
        later = (s.record.valid_from for s in standings[place + 1 :])
        same = (s.record.meter == meter.meter for s in standings[place + 1 :])
        ends = [*itertools.compress(later, same), *filter(None, [meter.removed_at])]
        until = min(ends, default=None)
        yield _Fitting(known=known, meter=meter, standing=standing, until=until, zone=zone)


def _estimates(known: Known, site: str) -> Iterator[Span | _Snag]:
    for standing in known.every(PumpedEstimate, site):
        estimate = standing.record
        first, last = estimate.valid_from, estimate.until
        if last <= first:
            says = f"The estimate for {estimate.meter} ends before it starts; it is not counted."
            yield _Snag(last, first, says)
            continue
        yield Span(
            meter=estimate.meter,
            start=first,
            end=last,
            volume_m3=estimate.volume_m3,
            sd_fraction=estimate.sd_fraction,
            estimated=True,
            evidence=(standing.record_id,),
        )


def _twice(spans: Sequence[Span], zone: timezone) -> Iterator[_Snag]:
    """Yield where a meter, or another estimate, counts water in the time of an estimate."""
    for one, other in itertools.combinations(spans, 2):
        estimate, beside = (one, other) if one.estimated else (other, one)
        if not estimate.estimated or one.meter != other.meter:
            continue
        megalitres = (
            beside.volume_m3 * beside.share(estimate.start, estimate.end) / M3_PER_MEGALITRE
        )
        if megalitres >= TWICE_MEGALITRES:
            first, last = (t.astimezone(zone) for t in (estimate.start, estimate.end))
            yield _Snag(
                estimate.start,
                estimate.end,
                f"{one.meter}: {megalitres:.2f} ML are counted within the time of the estimate from"
                f" {first:%Y-%m-%d %H:%M} to {last:%Y-%m-%d %H:%M}; see that no water is in both.",
            )


def _spans_of(site: str, fitting: _Fitting, end: datetime) -> Iterator[Span | _Snag]:
    faces = []
    for found in _in_order(fitting, _faces(site, fitting, end)):
        if isinstance(found, _Snag):
            yield found
        else:
            faces.append(found)
    yield from _unknown_ends(fitting, faces)
    yield from (_between(fitting, *pair) for pair in itertools.pairwise(faces))


def _unknown_ends(fitting: _Fitting, faces: Sequence[Face]) -> Iterator[_Snag]:
    """Yield what is not known of a meter's first and last hours."""
    meter = fitting.meter
    if fitting.standing.disputed:
        fields = ", ".join(fitting.standing.disputed)
        says = f"{meter.meter}: {fields} is disputed; what it counts stands on one of the values."
        yield _Snag(meter.valid_from, fitting.until or meter.valid_from + FAR_BACK, says)
    if faces and faces[0].at > meter.valid_from:
        says = f"{meter.meter} has no figures from the day it was fitted; it counts from its first reading"
        yield _Snag(meter.valid_from, faces[0].at, f"{says}, {fitting.day(faces[0].at)}.")
    if faces and fitting.until is not None and faces[-1].at < fitting.until:
        says = f"{meter.meter} has no figures from the day it was removed; it counts to its last reading"
        yield _Snag(faces[-1].at, fitting.until, f"{says}, {fitting.day(faces[-1].at)}.")


def _faces(site: str, fitting: _Fitting, end: datetime) -> Iterator[Face | _Snag]:
    """Yield the figures of a meter in order of time, and the readings that do not count."""
    meter, until = fitting.meter, fitting.until
    if meter.start_display is not None:
        yield _set_face(fitting, meter.valid_from, meter.start_display)
    last = min(until or end + FAR_BACK, end + FAR_BACK)
    readings = fitting.known.between(
        MeterReading, site, meter.valid_from, last, point=meter.meter, also_unused=True
    )
    for standing in readings:
        reading = standing.record
        which = f"{meter.meter} of {reading.wall_clock:%Y-%m-%d %H:%M}"
        disputed = {"display", "seen_at", "rolled", "quality"} & standing.disputed.keys()
        if reading.unused:
            yield _Snag(reading.seen_at, reading.seen_at, f"{which}: set aside, not used.")
        elif disputed:
            says = f"{which}: {', '.join(sorted(disputed))} is disputed; settle it and it counts."
            yield _Snag(reading.seen_at, reading.seen_at, says)
        else:
            yield Face(
                at=reading.seen_at,
                display=int(reading.display),
                rolled=bool(reading.rolled),
                estimate=bool(reading.estimate) or reading.quality == "estimated",
                evidence=standing.record_id,
            )
    if meter.removed_at is not None and meter.final_display is not None:
        yield _set_face(fitting, meter.removed_at, meter.final_display)


def _set_face(fitting: _Fitting, at: datetime, display: str) -> Face:
    evidence = fitting.standing.record_id
    return Face(at=at, display=int(display), rolled=False, estimate=False, evidence=evidence)


def _in_order(fitting: _Fitting, found: Iterator[Face | _Snag]) -> Iterator[Face | _Snag]:
    """Yield the faces that a totaliser can have shown one after the other.

    One alone outside those before and after it is a slip: left out, it costs no water, as the
    totaliser carries the volume to the next.
    """
    faces: list[Face] = []
    for item in found:
        if isinstance(item, _Snag):
            yield item
        elif not faces or item.at > faces[-1].at:
            faces.append(item)
        elif item.display != faces[-1].display:
            says = (
                f"{fitting.meter.meter} has two readings at the same time on"
                f" {fitting.day(item.at)}: {fitting.figures(faces[-1])} counts,"
                f" {fitting.figures(item)} does not."
            )
            yield _Snag(item.at, item.at, says)
    for place, face in enumerate(faces):
        before, after = faces[max(place - 1, 0)], faces[min(place + 1, len(faces) - 1)]
        if not _alone(before, face, faces[place + 1 : place + 3]):
            yield face
            continue
        says = (
            f"{fitting.meter.meter} shows {fitting.figures(face)} on {fitting.day(face.at)}, outside"
            f" {fitting.figures(before)} before and {fitting.figures(after)} after; it is left out,"
            " which costs no water."
        )
        yield _Snag(face.at, face.at, says)


def _alone(before: Face, face: Face, following: Sequence[Face]) -> bool:
    """Tell whether a face alone does not fit: below the one before, or above the next two."""
    if not following or any(other.rolled for other in (face, *following)):
        return False
    if before.display > following[0].display:
        return False
    below = face.display < before.display
    above = all(face.display > other.display for other in following)
    return below or (above and len(following) == 2)


def _between(fitting: _Fitting, before: Face, after: Face) -> Span | _Snag:
    meter = fitting.meter
    counts = counted(before.display, after.display, meter.figures, rolled=after.rolled)
    if counts < 0:
        says = (
            f"{meter.meter} fell from {fitting.figures(before)} to {fitting.figures(after)} by"
            f" {fitting.day(after.at)}: confirm that it passed zero, or enter the change of meter;"
            " that span is not counted."
        )
        return _Snag(before.at, after.at, says)
    volume_m3 = counts * meter.m3_per_count
    if counts and _beyond_plate(fitting, volume_m3, before.at, after.at):
        says = (
            f"{meter.meter} counted {volume_m3 / M3_PER_MEGALITRE:.2f} ML by"
            f" {fitting.day(after.at)}, more than the pump's plate allows; look at unit and figures;"
            " that span is not counted."
        )
        return _Snag(before.at, after.at, says)
    sd_fraction = meter.scale_sd
    return Span(
        meter=meter.meter,
        start=before.at,
        end=after.at,
        volume_m3=volume_m3,
        sd_fraction=max(sd_fraction, ESTIMATE_SD) if after.estimate else sd_fraction,
        estimated=after.estimate,
        evidence=tuple(dict.fromkeys((before.evidence, after.evidence))),
    )


def _beyond_plate(fitting: _Fitting, volume_m3: float, start: datetime, end: datetime) -> bool:
    """Tell whether a volume is far more than the pump's plate lets through in a time.

    Far: a wrong digit that makes one day too large and the next too small carries no water, and
    is for the checks to find; only a span that cannot be water at all is left out here.
    """
    meter = fitting.meter
    pump = fitting.known.in_force(Pump, meter.site, end, point=meter.pump)
    if pump is None:
        return False
    hours = (end - start).total_seconds() / SECONDS_PER_HOUR
    most = pump.record.nameplate_megalitres_per_hour * max(hours, SHORTEST_H)
    return volume_m3 / M3_PER_MEGALITRE > IMPOSSIBLE * most
