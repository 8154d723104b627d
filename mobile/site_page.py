"""What there is to do at a site, in the order of the feet, without a screen."""

import dataclasses
from typing import Final

from mobile.field_day import FieldDay, Item
from mobile.meter_change import MeterChange
from shared_core.records.base import Record
from shared_core.records.hazard import Hazard
from shared_core.records.meter_setup import MeterFitted, Pump
from shared_core.records.points_setup import TreeTagged
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.site_setup import Gauge, Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.tree import TreeScore
from shared_core.records.water_quality import WaterSample

WHOLE_SITE: Final = "site"  # the point of a record that belongs to no mark or peg
CAUTION: Final = (
    "Follow your organisation's work plan, local law and licensed people."
    " This app does not judge whether it is safe."
)
LEFT_OUT_BECAUSE: Final = ("Danger there", "Locked gate", "Flooded", "Not found", "No time")

OWN_SCREEN: Final = {  # kinds that have a screen of their own
    "gauge_reading": "gauge",
    "meter_reading": "meter",
    "shoreline_walk": "walk",
    "photo_taken": "photo_point",
    "meter_change": "meter_change",
    "bore_dip": "bore",
    "tree_score": "tree",
    "plot_score": "plot",
}

# What may be recorded on any visit: heading, set-up that names its points or None, kind.
ANY_TIME: Final[tuple[tuple[str, type[Record] | None, type[Record]], ...]] = (
    ("On arrival", None, Hazard),
    ("Water", Gauge, GaugeReading),
    ("Water", MeterFitted, MeterReading),
    ("Water", MeterFitted, MeterChange),
    ("Water", Pump, PumpRun),
    ("Water", None, WaterSample),
    ("On foot", None, ShorelineWalk),
    ("On foot", TreeTagged, TreeScore),
)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Row:
    """One thing to touch on the site screen."""

    screen: str  # where a touch leads: gauge, meter or form
    kind: str
    point: str
    title: str
    state: str  # todo, begun, done or left
    says: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class Section:
    """Rows under one heading."""

    heading: str
    rows: tuple[Row, ...]


@dataclasses.dataclass(frozen=True, kw_only=True)
class SiteShown:
    """What the site screen shows."""

    name: str
    sub: str
    caution: str
    sections: tuple[Section, ...]


def site_shown(day: FieldDay) -> SiteShown:
    """Return what to show for the site where the visit is."""
    site = next(s.record for s in day.sites() if s.record.site == day.site)
    items = day.to_do()
    begun = {name for name in day.logbook.drafts() if name.endswith(f"/{day.visit}")}
    rows = tuple(_row_of(item, day, begun) for item in items)
    done = sum(row.state in ("done", "left") for row in rows)
    today = Section(heading=f"To do today: {done} of {len(rows)}", rows=rows)
    return SiteShown(
        name=site.name,
        sub=_sub(site, day),
        caution=CAUTION,
        sections=(*((today,) if rows else ()), *_any_time(day, items, begun)),
    )


def _sub(site: Site, day: FieldDay) -> str:
    return f"{site.site}, visit by {', '.join(day.observers)}"


def screen_for(kind: type[Record]) -> str:
    """Return the screen that records a kind: its own, or the form that any kind has."""
    return OWN_SCREEN.get(kind.kind, "form")


def _draft_name(kind: type[Record], day: FieldDay, point: str) -> str:
    return f"{kind.kind}/{day.site}/{point}/{day.visit}"


def _row_of(item: Item, day: FieldDay, begun: set[str]) -> Row:
    state, says = "todo", "Not yet"
    if item.done:
        state, says = "done", "Done"
    elif item.because:
        state, says = "left", f"Not done: {item.because[:1].lower()}{item.because[1:]}"
    elif _draft_name(item.kind, day, item.point) in begun:
        state, says = "begun", "Begun, not kept yet"
    return Row(
        screen=screen_for(item.kind),
        kind=item.kind.kind,
        point=item.point,
        title=item.title,
        state=state,
        says=says,
    )


def _any_time(day: FieldDay, items: list[Item], begun: set[str]) -> tuple[Section, ...]:
    due: set[tuple[type[Record], str]] = {(item.kind, item.point) for item in items}
    sections: dict[str, list[Row]] = {}
    for heading, setup, kind in ANY_TIME:
        points = [WHOLE_SITE]
        if setup is not None:
            every = day.logbook.known().every(setup, day.site)
            there = [s.record for s in every if not getattr(s.record, "removed_at", None)]
            points = sorted({record.where for record in there})
        for point in points:
            if (kind, point) in due:
                continue
            half = _draft_name(kind, day, point) in begun
            sections.setdefault(heading, []).append(
                Row(
                    screen=screen_for(kind),
                    kind=kind.kind,
                    point=point,
                    title=kind.title if point == WHOLE_SITE else f"{kind.title} {point}",
                    state="begun" if half else "free",
                    says="Begun, not kept yet" if half else "",
                )
            )
    return tuple(Section(heading=name, rows=tuple(rows)) for name, rows in sections.items())
