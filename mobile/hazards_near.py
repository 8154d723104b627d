"""Hazards that other teams pinned at a site, nearest first, with what they ask."""

import dataclasses
from datetime import timedelta
from typing import Final

from mobile.field_day import FieldDay
from mobile.time_words import span_words
from shared_core.field_shapes import Position
from shared_core.geodesy import geodesic
from shared_core.records.base import Standing
from shared_core.records.hazard import HAZARDS, Hazard
from shared_core.records.site_setup import Site

POINTS: Final = ("north", "north-east", "east", "south-east", "south", "south-west", "west",
                 "north-west")  # fmt: skip


@dataclasses.dataclass(frozen=True, kw_only=True)
class HazardLine:
    """One hazard, as the arrival screen says it."""

    title: str
    says: str
    within: bool  # the device is nearer than the stated distance
    distance_m: float | None


def hazards_near(day: FieldDay) -> list[HazardLine]:
    """Return the hazards at the site of the visit that other devices pinned."""
    sites = [s.record for s in day.sites() if s.record.site == day.site]
    lines = [
        _line(standing, day, sites[0])
        for standing in day.logbook.known().every(Hazard, day.site)
        if standing.device != day.logbook.device and not standing.record.unused
    ]
    far = float("inf")
    return sorted(lines, key=lambda line: far if line.distance_m is None else line.distance_m)


def _line(standing: Standing[Hazard], day: FieldDay, site: Site) -> HazardLine:
    hazard, device = standing.record, day.here()
    here = device.position
    whence = "from the middle of the site" if here is None else "from here"
    start = site.centre if here is None else Position(*here)
    parts = []
    away_m: float | None = None
    if hazard.position is None:
        parts.append("Its place was not pinned.")
    else:
        pin = hazard.position
        away_m, azimuth = geodesic((start.lat_deg, start.lon_deg), (pin.lat_deg, pin.lon_deg))
        point = POINTS[round(azimuth / 45.0) % len(POINTS)]
        parts.append(f"{away_m:.0f} m to the {point} {whence}.")
    keep_m = hazard.keep_out_m
    parts.append(f"Keep away by {keep_m:.0f} m." if keep_m else "No distance was stated.")
    within = here is not None and away_m is not None and keep_m is not None and away_m < keep_m
    if within:
        parts.append("You are nearer than that.")
    if hazard.remark:
        parts.append(hazard.remark)
    who = ", ".join(hazard.observers) or standing.author
    age = device.now - hazard.seen_at
    ago = f", {span_words(age)} ago" if age >= timedelta(0) else ""  # one of the clocks is wrong
    parts.append(f"Pinned by {who}{ago}.")
    return HazardLine(
        title=HAZARDS[hazard.hazard], says=" ".join(parts), within=within, distance_m=away_m
    )
