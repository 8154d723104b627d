"""What a meter counted between two looks at its face, and what the pump can have done meanwhile."""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Final

from shared_core.records.base import Known
from shared_core.records.meter_setup import MeterFitted, Pump
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from shared_core.units import M3_PER_MEGALITRE, SECONDS_PER_HOUR

# A band round hours x measured rate; manufacturers' figures are not adequate for a pump's rate
# because pipes and wear matter (UF/IFAS AE067), so the measured rate is used where there is one.
LEAST_OF_RATE: Final = 0.7
MOST_OF_RATE: Final = 1.2
MOST_OF_NAMEPLATE: Final = 1.05
NAMEPLATE_SHARE: Final = 0.9  # of the plate's rate, where none was measured (from memory)
HOURS_NEAR: Final = timedelta(hours=2)  # an hour meter read so near to the pump meter belongs to it


@dataclass(frozen=True, kw_only=True)
class Face:
    """A meter's figures at a time, and what the reader said about them."""

    at: datetime
    display: str
    rolled: bool | None = None
    estimate: bool = False
    record_id: str = ""


@dataclass(frozen=True, kw_only=True)
class Counted:
    """What a meter counted from one face to the next [m3]; None where the figures do not say."""

    start: Face
    end: Face
    volume_m3: float | None
    rolled: bool = False  # the figures passed zero

    @property
    def hours(self) -> float:
        return (self.end.at - self.start.at).total_seconds() / SECONDS_PER_HOUR


@dataclass(frozen=True, kw_only=True)
class PumpRate:
    """What a pump does in an hour [m3], and at most by its plate."""

    rate_m3_h: float
    ceiling_m3_h: float

    def at_least_m3(self, hours: float) -> float:
        return LEAST_OF_RATE * self.rate_m3_h * hours

    def at_most_m3(self, hours: float) -> float:
        return max(MOST_OF_RATE * self.rate_m3_h, MOST_OF_NAMEPLATE * self.ceiling_m3_h) * hours


def counted(meter: MeterFitted, start: Face, end: Face, *, most_m3: float | None = None) -> Counted:
    """Return what a meter counted between two faces.

    Figures that fall are taken as passed zero where the reader said so, or where what follows is no
    more than the pump can have moved.
    """
    counts = int(end.display) - int(start.display)
    rolled = counts < 0
    if rolled:
        counts += 10**meter.figures
    volume_m3: float | None = counts * meter.m3_per_count
    possible = most_m3 is not None and volume_m3 is not None and volume_m3 <= most_m3
    if rolled and not end.rolled and not possible:
        volume_m3 = None
    return Counted(start=start, end=end, volume_m3=volume_m3, rolled=rolled)


def faces(
    known: Known, site: str, meter: MeterFitted, start: datetime, end: datetime
) -> list[Face]:
    """Return a meter's faces between two times, with the last two before and the next one after.

    Two before tell whether the pump ran when it was last seen.
    """
    point = meter.meter
    standings = [
        *known.before(MeterReading, site, start, point=point, limit=2),
        *known.between(MeterReading, site, start, end, point=point),
        *(s for s in known.after(MeterReading, site, end, point=point) if s.record.when > end),
    ]
    found = [face_of(standing.record, standing.record_id) for standing in standings]
    found += _fitted_faces(meter)
    within = [face for face in found if _in_service(meter, face.at)]
    return sorted(within, key=lambda face: face.at)


def face_of(reading: MeterReading, record_id: str = "") -> Face:
    """Return what a meter reading says of the face."""
    return Face(
        at=reading.when,
        display=reading.display,
        rolled=reading.rolled,
        estimate=bool(reading.estimate) or reading.quality == "estimated",
        record_id=record_id,
    )


def _fitted_faces(meter: MeterFitted) -> Iterator[Face]:
    if meter.start_display:
        yield Face(at=meter.valid_from, display=meter.start_display)
    if meter.removed_at is not None and meter.final_display:
        yield Face(at=meter.removed_at, display=meter.final_display)


def _in_service(meter: MeterFitted, at: datetime) -> bool:
    return meter.removed_at is None or at <= meter.removed_at


def meters_of(known: Known, site: str) -> list[MeterFitted]:
    """Return the meters of a site as they are set up, oldest first; the newest entry of each."""
    newest = {standing.record.meter: standing.record for standing in known.every(MeterFitted, site)}
    return list(newest.values())


def pump_rate(known: Known, site: str, pump: str | None, at: datetime) -> PumpRate | None:
    """Return what the pump of a meter does, or None where no pump is set up."""
    standing = known.in_force(Pump, site, at, point=pump) if pump else None
    standing = standing or known.in_force(Pump, site, at)
    if standing is None:
        return None
    plate = standing.record.nameplate_megalitres_per_hour
    measured = standing.record.measured_megalitres_per_hour
    rate = measured if measured is not None else NAMEPLATE_SHARE * plate
    return PumpRate(rate_m3_h=rate * M3_PER_MEGALITRE, ceiling_m3_h=plate * M3_PER_MEGALITRE)


def hours_between(
    known: Known, site: str, pump: str | None, start: datetime, end: datetime
) -> float | None:
    """Return how long the engine ran by its hour meter, read near both times; None if unknown."""
    first, last = _hours_near(known, site, pump, start), _hours_near(known, site, pump, end)
    if first is None or last is None or last.when <= first.when:
        return None
    return (last.hours_reading or 0.0) - (first.hours_reading or 0.0)


def _hours_near(known: Known, site: str, pump: str | None, at: datetime) -> PumpRun | None:
    near = known.between(PumpRun, site, at - HOURS_NEAR, at + HOURS_NEAR, point=pump)
    read = [standing.record for standing in near if standing.record.hours_reading is not None]
    return min(read, key=lambda run: abs(run.when - at), default=None)


def steps(meter: MeterFitted, found: Sequence[Face], rate: PumpRate | None) -> Iterator[Counted]:
    """Yield what was counted from each face to the next."""
    for start, end in pairwise(found):
        hours = (end.at - start.at).total_seconds() / SECONDS_PER_HOUR
        most_m3 = rate.at_most_m3(hours) if rate else None
        yield counted(meter, start, end, most_m3=most_m3)
