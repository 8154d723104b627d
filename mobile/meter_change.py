"""A meter taken out and another put in, as one form: two readings and two facts of set-up.

Without it the figures of the old meter and those of the new one would be differenced across the
change. What is kept is ordinary: the old meter's last reading, the old meter with its end, the
new meter with its beginning, and its first reading. Each has a name made from the visit and the
old meter, so that a save that was cut off goes on where it stopped and writes nothing twice.
"""

import dataclasses
import uuid
from collections.abc import Iterator
from datetime import datetime
from typing import Any, ClassVar, Final

from mobile.attached import Attached
from mobile.drafts import Saved
from mobile.entering import Entering
from mobile.field_day import Device, FieldDay
from mobile.form_entry import EMPTY, FormEntry
from mobile.pictures import Pictures
from shared_core.errors import UnknownError
from shared_core.fields import choice, digits, moment, number, record, text, whole, words
from shared_core.logbook import Said
from shared_core.merge import Entry
from shared_core.records.base import Finding, Known, Record, Severity
from shared_core.records.meter_setup import METER_UNITS, MeterFitted
from shared_core.records.pump_meter import MeterReading

NOTE: Final = "Meter changed"
_ANSWERED_HERE: Final = "meter-final-missing"  # the old meter's end is written in the same save


@record
class MeterChange(Record):
    """What the form holds; it is never stored as a record of its own."""

    kind: ClassVar[str] = "meter_change"
    title: ClassVar[str] = "Meter change"

    old: str = text("Meter taken out", longest=40)
    visit: str = text("Visit", longest=64)
    offset_min: int = whole("Offset from UTC", "min")
    time_source: str = text("Time from", longest=20)
    team: tuple[str, ...] = words("Team")
    meter: str = text("New meter's name", longest=40)
    final_display: str = digits("Last figures of the old meter")
    changed_at: datetime = moment("Time of the change")
    serial: str = text("New meter's serial number", longest=60)
    unit: str = choice("Unit on the new face", METER_UNITS)
    figures: int = whole("Figures on the new face", "", (3, 12))
    start_display: str = digits("First figures of the new meter")
    multiplier: float = number(
        "Multiplier on the new face", "", (0.001, 1000.0), default=1.0, decimals=3
    )
    decimals: int = whole("Of the figures, after the point", "", (0, 6), default=0)
    by: tuple[str, ...] = words("Changed by", default=(), help="Names; this visit's team if empty.")
    certificate: str | None = text("Certificate", default=None, longest=80)
    remark: str | None = text("Remark", default=None)
    photos: tuple[str, ...] = words("Photos", default=(), help="Both faces.")

    @property
    def when(self) -> datetime:
        return self.changed_at

    @property
    def where(self) -> str:
        return self.old

    def reading(self, meter: str, display: str) -> MeterReading:
        """Return what one of the two faces showed at the change."""
        return MeterReading(
            site=self.site,
            visit=self.visit,
            point=meter,
            seen_at=self.changed_at,
            offset_min=self.offset_min,
            time_source=self.time_source,
            observers=self.by or self.team,
            display=display,
            as_typed={"display": display},
            remark=self.remark,
            photos=self.photos,
        )

    def fitted(self, pump: str | None) -> MeterFitted:
        """Return the new meter, at the pump of the old one."""
        return MeterFitted(
            site=self.site,
            valid_from=self.changed_at,
            set_by=", ".join(self.by or self.team),
            remark=self.remark,
            photos=self.photos,
            meter=self.meter,
            serial=self.serial,
            unit=self.unit,
            multiplier=self.multiplier,
            figures=self.figures,
            decimals=self.decimals,
            start_display=self.start_display,
            replaces=self.old,
            certificate=self.certificate,
            pump=pump,
        )

    def _is_another(self, meter: MeterFitted) -> bool:
        """Tell whether a meter that is set up has the new one's name and is not the new one."""
        is_this = meter.replaces == self.old and meter.valid_from == self.changed_at
        return meter.meter == self.meter and not is_this

    def findings(self, known: Known) -> Iterator[Finding]:
        if any(self._is_another(s.record) for s in known.every(MeterFitted, self.site)):
            yield Finding(
                code="meter-name",
                severity=Severity.STOP,
                field="meter",
                saw=f"{self.meter} is the name of a meter that was here before.",
                expected="Figures of two meters under one name would be taken for one count.",
                do="Give the new meter a name of its own.",
            )
        for finding in self.reading(self.old, self.final_display).findings(known):
            field = {"display": "final_display"}.get(finding.field, "")
            yield dataclasses.replace(finding, field=field)
        for finding in self.fitted(None).findings(known):
            if finding.code != _ANSWERED_HERE:
                yield finding


class Changing(Entering):
    """Keeps the four lines of a change as one."""

    def __init__(self, day: FieldDay, point: str) -> None:
        """Begin the change of a meter, or take it up.

        Raises:
            UnknownError: if no such meter is set up here.
        """
        here = day.here()
        standing = day.logbook.known().in_force(MeterFitted, day.site, here.now, point=point)
        if standing is None:
            raise UnknownError(f"no meter {point} is set up at {day.site}")
        self._day = day
        self._old = standing
        draft = day.draft(
            MeterChange, point, old=point, visit=day.visit, offset_min=here.offset_min,
            time_source=here.time_source, team=day.observers,
        )  # fmt: skip
        super().__init__(draft, empty=EMPTY)

    def save(self, *, reason: str, keep_unread: bool) -> Saved:
        """Write what is not written yet of the four lines; then the draft goes."""
        change = self.draft.record(keep_unread=keep_unread)
        if not isinstance(change, MeterChange):
            raise TypeError(type(change).__name__)
        found = tuple(self.draft.findings())
        note = f"{NOTE}: {reason}" if reason else NOTE
        self._write("last", change.reading(change.old, change.final_display), note)
        self._end_the_old(change, note)
        entry = self._write("fitted", change.fitted(self._old.record.pump), note)
        self._write("first", change.reading(change.meter, change.start_display), note)
        self.draft.discard()
        return Saved(entry=entry, findings=found, answers=())

    def _write(self, part: str, what: Record, note: str) -> Entry:
        name = str(uuid.uuid5(uuid.NAMESPACE_URL, f"{self.draft.name}/{part}"))
        logbook = self._day.logbook
        written = logbook.history(name)
        if written:
            return written[-1]
        return logbook.write(what, self._said(note), record_id=name)

    def _end_the_old(self, change: MeterChange, note: str) -> None:
        ended = self._old.record.changed(
            removed_at=change.changed_at, final_display=change.final_display
        )
        if ended != self._old.record:
            self._day.logbook.write(
                ended, self._said(note), record_id=self._old.record_id, read=self._old.heads
            )

    def _said(self, note: str) -> Said:
        here = self._day.here()
        clock: dict[str, Any] = {"source": here.time_source, "error_s": here.clock_error_s}
        return Said(author=self._day.author, note=note, offset_min=here.offset_min, clock=clock)


class MeterChangeEntry(FormEntry):
    """The form of one change."""

    def __init__(
        self, day: FieldDay, point: str, device: Device, pictures: Pictures | None
    ) -> None:
        """Begin the change of a meter, or take it up.

        Raises:
            UnknownError: if no such meter is set up here.
        """
        changing = Changing(day, point)
        super().__init__(changing.draft, device, pictures)
        self._entering = changing
        self.photos = Attached(changing, pictures)
        self._point = point

    def _in_short(self) -> str:
        return f"the change of {self._point}"
