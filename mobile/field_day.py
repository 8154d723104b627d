"""A day in the field without a screen: the plan, drafts, findings, answers, saving, news."""

import dataclasses
import itertools
import json
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from mobile.drafts import HEAD, Circumstances, Correcting, Draft, Saved
from shared_core.errors import UnknownError
from shared_core.field_kinds import Field
from shared_core.fields import fields_of
from shared_core.logbook import Logbook, Said
from shared_core.merge import Entry, changes
from shared_core.records.base import QUALITIES, Record, Seen, Standing
from shared_core.records.bore import BoreDip
from shared_core.records.logger_check import LoggerCheck
from shared_core.records.meter_setup import MeterFitted
from shared_core.records.photo_point import PhotoTaken
from shared_core.records.plan import PlannedVisit
from shared_core.records.points_setup import Bore, LevelLogger, PhotoPoint, PlotSet, RainGauge
from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Gauge, Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.vegetation_plot import PlotScore

# What is due at a point, in the order of the feet (trade practice, common practice).
DUE_AT: Final[tuple[tuple[type[Record], type[Seen]], ...]] = (
    (Gauge, GaugeReading),
    (LevelLogger, LoggerCheck),
    (MeterFitted, MeterReading),
    (RainGauge, RainReading),
    (PhotoPoint, PhotoTaken),
    (PlotSet, PlotScore),
    (Bore, BoreDip),
)

VISIT_LASTS: Final = timedelta(hours=14)  # a long day in the field; after it a new visit begins
VISIT_WITHIN: Final = timedelta(days=2)  # what belongs to a visit is stamped this near to it


@dataclasses.dataclass(frozen=True, kw_only=True)
class Item:
    """One thing to do at a site, and whether it is done."""

    kind: type[Seen]
    point: str
    title: str
    done: bool
    because: str = ""  # why it was left out, if it was


@dataclasses.dataclass(frozen=True, kw_only=True)
class News:
    """A correction that somebody else made to a record written on this device."""

    record_id: str
    title: str
    by: str
    reason: str
    changed: tuple[tuple[str, str, str], ...]  # label, before, after


@dataclasses.dataclass(frozen=True, kw_only=True)
class Device:
    """What this device knows of itself at this moment."""

    now: datetime
    offset_min: int
    position: tuple[float, float, float | None] | None = None
    time_source: str = "device"
    clock_error_s: float | None = None
    satellite: datetime | None = None  # satellite time at this moment, if a receiver has a fix


class FieldDay:
    """What one person does on one device, at one site after another."""

    def __init__(
        self,
        logbook: Logbook,
        *,
        author: str,
        device: Callable[[], Device],
        new_id: Callable[[], str],
    ) -> None:
        self.logbook = logbook
        self.author = author
        self._clockwork = device
        self._device = self.here
        self._new_id = new_id
        self.clock_ahead = timedelta(0)  # of the time that was taken instead, for this visit
        self.time_from = ""  # where that time came from, if it was taken
        self.visit: str = ""
        self.site: str = ""
        self.observers: tuple[str, ...] = (author,)

    def here(self) -> Device:
        """Return what the device knows now, in the time that was taken for this visit."""
        device = self._clockwork()
        if not self.time_from:
            return device
        return dataclasses.replace(
            device,
            now=device.now - self.clock_ahead,
            time_source=self.time_from,
            clock_error_s=self.clock_ahead.total_seconds(),
        )

    def clock_shows(self) -> Device:
        """Return what the device itself knows now, whatever time was taken."""
        return self._clockwork()

    # the visit -------------------------------------------------------------------------------

    def sites(self) -> Sequence[Standing[Site]]:
        """Return the sites that have reached this device."""
        return self.logbook.known().every(Site)

    def planned(self, site: str) -> Sequence[Standing[PlannedVisit]]:
        """Return the visits planned at a site from yesterday on."""
        start = self._device().now - timedelta(days=1)
        return self.logbook.known().after(PlannedVisit, site, start, limit=20)

    def arrive(self, site: str, observers: Sequence[str], *, code: str = "") -> str:
        """Begin a visit and return its code; records from now on belong to it.

        Raises:
            UnknownError: if the site has not reached this device.
        """
        if site not in {standing.record.site for standing in self.sites()}:
            names = ", ".join(standing.record.site for standing in self.sites()) or "none yet"
            raise UnknownError(f"no site {site} on this device; it knows {names}")
        self.site = site
        self.observers = tuple(observers) or (self.author,)
        self.visit = code or self._new_id()
        self.clock_ahead, self.time_from = timedelta(0), ""
        return self.visit

    def take_up(self, site: str, *, code: str = "") -> str:
        """Go on with the visit begun here on this device not long ago, or begin one.

        Raises:
            UnknownError: if the site has not reached this device.
        """
        name = f"visit/{site}"
        kept = json.loads(self.logbook.drafts().get(name, "{}"))
        now = self.clock_shows().now
        same = not code or kept.get("visit") == code
        if kept and same and now - datetime.fromisoformat(kept["begun"]) < VISIT_LASTS:
            visit = self.arrive(site, kept["observers"], code=kept["visit"])
            self.clock_ahead = timedelta(seconds=kept.get("clock_ahead_s", 0.0))
            self.time_from = kept.get("time_from", "")
            return visit
        visit = self.arrive(site, (self.author,), code=code)
        begun = {"visit": visit, "observers": self.observers, "begun": now.isoformat()}
        self.logbook.keep_draft(name, json.dumps(begun, ensure_ascii=False))
        return visit

    def to_do(self) -> list[Item]:
        """Return what is due at this site, in the order of the feet."""
        now = self._device().now
        known = self.logbook.known()
        here = self._written_on_this_visit()
        items = []
        for setup, kind in DUE_AT:
            for standing in _latest_by_point(known.every(setup, self.site), now):
                point = standing.record.where
                done = (kind.kind, point) in here
                title = f"{kind.title} {point}"
                items.append(Item(kind=kind, point=point, title=title, done=done))
        reasons = self.reasons()
        return [dataclasses.replace(item, because=reasons.get(item.title, "")) for item in items]

    def _written_on_this_visit(self) -> set[tuple[str, str]]:
        kinds = [kind for _, kind in DUE_AT]
        return {
            (s.record.kind, s.record.point) for s in self.seen_here(kinds) if not s.record.unused
        }

    def seen_here(self, kinds: Sequence[type[Seen]]) -> list[Standing[Seen]]:
        """Return what was written down on this visit, set aside or not, kind by kind."""
        known = self.logbook.known()
        found: dict[str, Standing[Seen]] = {}
        moments = {self.here().now, self.clock_shows().now}  # before and after the clock check
        for kind, moment in itertools.product(kinds, sorted(moments)):
            start, end = moment - VISIT_WITHIN, moment + VISIT_WITHIN
            for standing in known.between(kind, self.site, start, end, also_unused=True):
                if standing.record.visit == self.visit:
                    found[standing.record_id] = standing
        return list(found.values())

    def reasons(self) -> dict[str, str]:
        """Return why things were left out on this visit, by their titles."""
        kept = self.logbook.drafts().get(f"left-out/{self.visit}")
        return dict(json.loads(kept)) if kept else {}

    def leave_out(self, item: Item, because: str) -> None:
        """Say why something is not done; a blank is not a zero."""
        reasons = {**self.reasons(), item.title: because}
        self.logbook.keep_draft(f"left-out/{self.visit}", json.dumps(reasons))

    # drafts ----------------------------------------------------------------------------------

    def draft(self, kind: type[Record], point: str = "", **fixed: Any) -> Draft:  # noqa: ANN401 - fields hold any kind of value
        """Begin a record at a point, or take up the one left half-typed there."""
        visit = fixed.get("visit", self.visit)  # what was begun on an earlier visit belongs to it
        name = f"{kind.kind}/{self.site}/{point}/{visit}"
        values: dict[str, Any] = {"site": self.site, **fixed}
        if issubclass(kind, Seen):
            values |= {"visit": visit, "point": point}
        return Draft(
            kind,
            self.logbook,
            name=name,
            fixed=values,
            circumstances=self._circumstances,
            author=self.author,
        )

    def correct(self, record_id: str) -> Draft:
        """Begin a correction of a record, with its present values in the boxes.

        Raises:
            UnknownError: if the record is not here.
        """
        standing = self.logbook.standing(record_id)
        if standing is None:
            raise UnknownError("that record is not on this device any more")
        kept = {name: getattr(standing.record, name) for name in _head_of(standing.record)}
        draft = Draft(
            type(standing.record),
            self.logbook,
            name=f"correction/{record_id}",
            fixed=kept,
            circumstances=self._circumstances,
            author=self.author,
            correcting=Correcting(record_id=record_id, read=standing.heads),
        )
        for field in draft.fields:
            text = field.write(getattr(standing.record, field.name))
            if text and field.name not in draft.typed:
                draft.type(field.name, text)
        return draft

    def record(self, kind: type[Record], point: str, typed: dict[str, str], **fixed: Any) -> Saved:  # noqa: ANN401 - fields hold any kind of value
        """Type several fields one after another and save: what a form does, in one call."""
        draft = self.draft(kind, point, **fixed)
        for field, text in typed.items():
            draft.type(field, text)
        return draft.save()

    def _circumstances(self) -> Circumstances:
        device = self._device()
        return Circumstances(
            seen_at=device.now.astimezone(UTC),
            offset_min=device.offset_min,
            time_source=device.time_source,
            observers=self.observers,
            position=device.position,
            clock_error_s=device.clock_error_s,
        )

    # own records and what became of them -------------------------------------------------------

    def set_quality(self, record_id: str, quality: str, reason: str) -> Entry:
        """Grade a record; "not used" sets it aside, the value stays.

        Raises:
            UnknownError: if the record is not here, or is no observation, or no such word exists.
        """
        standing = self.logbook.standing(record_id)
        if standing is None or not isinstance(standing.record, Seen):
            raise UnknownError("only an observation that is here can be graded")
        if quality not in QUALITIES:
            raise UnknownError(f"quality is one of {', '.join(QUALITIES)}, not {quality!r}")
        return self.logbook.write(
            standing.record.changed(quality=quality),
            Said(author=self.author, note=reason, offset_min=self._device().offset_min),
            record_id=record_id,
            read=standing.heads,
        )

    def news(self, after: int = 0) -> tuple[list[News], int]:
        """Return corrections by others that arrived after a place, and the place reached."""
        found = []
        place = after
        while True:
            entries, reached = self.logbook.since(place)
            found += [self._news_of(entry) for entry in entries if self._is_news(entry)]
            if reached == place:
                return found, place
            place = reached

    def _is_news(self, entry: Entry) -> bool:
        if not entry.replaces or entry.device == self.logbook.device:
            return False
        history = self.logbook.history(entry.record)
        return any(earlier.device == self.logbook.device for earlier in history)

    def _news_of(self, entry: Entry) -> News:
        kind = self.logbook.kinds.get(entry.kind)
        labels = {field.name: field for field in fields_of(kind)} if kind else {}
        lines = []
        for name, (old, new) in changes(entry, self.logbook.history(entry.record)).items():
            field = labels.get(name)
            label = field.label if field else name
            lines.append((label, _shown(field, old), _shown(field, new)))
        return News(
            record_id=entry.record,
            title=kind.title if kind else entry.kind,
            by=entry.author,
            reason=entry.note,
            changed=tuple(lines),
        )


def _shown(field: Field | None, stored: object) -> str:
    if field is None:
        return str(stored)
    return field.show(None if stored is None else field.decode(stored))


def _head_of(record: Record) -> tuple[str, ...]:
    """Return the fields of a record that a correction keeps as they are."""
    kept = HEAD if isinstance(record, Seen) else {"site"}
    return tuple(field.name for field in fields_of(type(record)) if field.name in kept)


def _latest_by_point(
    standings: Sequence[Standing[Record]], now: datetime
) -> list[Standing[Record]]:
    """Return for each point the fact in force now, in the order of the points."""
    latest = {s.record.where: s for s in standings if s.record.when <= now}
    return [
        latest[point]
        for point in sorted(latest)
        if (getattr(latest[point].record, "removed_at", None) or now) >= now
    ]
