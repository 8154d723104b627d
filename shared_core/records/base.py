"""What all records share: where and when, what is odd about them, and what they tell at once."""

import dataclasses
import enum
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime, timedelta, timezone
from typing import Any, ClassVar, Final, Generic, Protocol, Self, TypeVar

from shared_core.errors import UnreadableError
from shared_core.field_shapes import Position
from shared_core.fields import (
    choice,
    fields_of,
    moment,
    position,
    record,
    text,
    typed,
    whole,
    words,
)

R_co = TypeVar("R_co", bound="Record", covariant=True)
R = TypeVar("R", bound="Record")

QUALITIES: Final = {  # our own words; the worst one travels to what is derived
    "good": "Good",
    "fair": "Fair",
    "doubtful": "Doubtful",
    "estimated": "Estimated",
    "not_used": "Not used",
    "missing": "Missing",
}
TIME_SOURCES: Final = {"gnss": "Satellite", "network": "Network", "device": "This device"}


class Severity(enum.StrEnum):
    """How hard a finding asks to be looked at; none ever blocks saving."""

    STOP = "stop"  # cannot be a reading of this kind
    ASK = "ask"  # unlikely
    NOTE = "note"  # worth knowing


@dataclasses.dataclass(frozen=True, kw_only=True)
class Finding:
    """Something about a record that a person should look at."""

    code: str  # short word of our own, such as "gauge-pair"; stable across versions
    severity: Severity
    field: str
    saw: str
    expected: str = ""
    do: str = ""
    suggests: str | None = None  # what to type in the field instead, if one slip explains it
    effect_megalitres: float | None = None  # size of the mistake if left as is, where known

    @property
    def says(self) -> str:
        """The finding as one to three sentences: seen, expected, one thing to do."""
        return " ".join(part for part in (self.saw, self.expected, self.do) if part)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Answer:
    """Something a record tells at once, such as the stored volume at this stage."""

    label: str
    says: str
    value: float | None = None
    sd: float | None = None
    unit: str = ""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Standing(Generic[R_co]):
    """A record as it stands now: its joined value and who said it."""

    record_id: str
    record: R_co
    heads: tuple[str, ...]  # entries that a correction of this record replaces
    author: str
    device: str
    written_at: datetime
    corrected: bool = False  # more than one entry has been written about it
    disputed: Mapping[str, tuple[Any, ...]] = dataclasses.field(default_factory=dict)


class Known(Protocol):
    """What a device knows already: on the tablet its own logbook, on the server everyone's.

    The record that is being judged is left out. Records of quality "not used" are left out of
    ``before``, ``after`` and ``between`` unless asked for by ``also_unused``.
    """

    @property
    def now(self) -> datetime | None:
        """The time at which the question is asked, if it may be used."""
        ...

    def before(
        self, kind: type[R], site: str, at: datetime, *, point: str | None = None, limit: int = 1
    ) -> Sequence[Standing[R]]:
        """Return records of a kind with ``when`` before a time, newest first."""
        ...

    def after(
        self, kind: type[R], site: str, at: datetime, *, point: str | None = None, limit: int = 1
    ) -> Sequence[Standing[R]]:
        """Return records of a kind with ``when`` at or after a time, oldest first."""
        ...

    def between(
        self,
        kind: type[R],
        site: str,
        start: datetime,
        end: datetime,
        *,
        point: str | None = None,
        also_unused: bool = False,
    ) -> Sequence[Standing[R]]:
        """Return records of a kind with start <= ``when`` <= end, oldest first."""
        ...

    def in_force(
        self, kind: type[R], site: str, at: datetime, *, point: str | None = None
    ) -> Standing[R] | None:
        """Return the newest record of a kind with ``when`` at or before a time."""
        ...

    def every(self, kind: type[R], site: str | None = None) -> Sequence[Standing[R]]:
        """Return all records of a kind, oldest first, those not used included."""
        ...


@record
class Record:
    """What one person saw at one place and time, or a set-up fact; immutable."""

    kind: ClassVar[str]
    title: ClassVar[str]

    site: str = text("Site", longest=40, help="Code of the wetland.")

    @property
    def when(self) -> datetime:
        """The time this record is about, UTC."""
        raise NotImplementedError  # every family of records below says which of its fields it is

    @property
    def where(self) -> str:
        """The point at the site this record is about, such as a gauge; empty for the whole site."""
        return ""

    @property
    def unused(self) -> bool:
        """Whether a person has set this record aside."""
        return False

    def findings(self, known: Known) -> Iterator[Finding]:
        """Yield what is odd about this record given what is known already."""
        del known
        for field in fields_of(type(self)):
            says = field.oddity(getattr(self, field.name))
            if says:
                yield Finding(
                    code="unusual-value",
                    severity=Severity.ASK,
                    field=field.name,
                    saw=f"{says}.",
                    do="Read it again; if it is right, keep it.",
                )

    def tells(self, known: Known) -> Iterator[Answer]:
        """Yield what this record tells at once, given what is known already."""
        del known
        yield from ()

    def changed(self, **changes: Any) -> Self:
        """Return this record with some fields changed."""
        return dataclasses.replace(self, **changes)

    def encoded(self) -> dict[str, Any]:
        """Return the record as JSON holds it; fields without a value are left out."""
        values = ((field, getattr(self, field.name)) for field in fields_of(type(self)))
        return {field.name: field.encode(value) for field, value in values if value is not None}

    @classmethod
    def decoded(cls, body: Mapping[str, Any]) -> Self:
        """Build the record back from :meth:`encoded`; what this version does not know is left out.

        Raises:
            UnreadableError: if a needed field is missing or a value is of the wrong kind.
        """
        values = {}
        for field in fields_of(cls):
            if body.get(field.name) is not None:
                values[field.name] = field.decode(body[field.name])
            elif field.required:
                raise UnreadableError(f"{cls.title}: {field.label} is missing")
        return cls(**values)


@record
class Seen(Record):
    """What was seen on a visit: the head that all observations share."""

    visit: str = text("Visit", longest=64, help="Code of the visit this belongs to.")
    point: str = text("Point", longest=40, help="Code of the gauge, meter, peg, plot or bore.")
    seen_at: datetime = moment("Time seen")
    offset_min: int = whole("Offset from UTC", "min", (-720, 840))
    time_source: str = choice("Time from", TIME_SOURCES)
    observers: tuple[str, ...] = words("Seen by", help="Names of the people who saw it.")
    position: Position | None = position("Position", default=None)
    as_typed: Mapping[str, str] = typed("As typed", default_factory=dict)
    typed_from_paper_by: str | None = text(
        "Typed from paper by", default=None, longest=80, help="Only if copied from a sheet later."
    )
    quality: str | None = choice("Quality", QUALITIES, default=None)
    remark: str | None = text("Remark", default=None)
    evidence: str | None = text(
        "Evidence", default=None, help="What a correction rests on: photo of the plate, log sheet."
    )
    photos: tuple[str, ...] = words("Photos", default=(), help="Fingerprints of the files.")

    def findings(self, known: Known) -> Iterator[Finding]:
        from shared_core.records import seen_times  # noqa: PLC0415 - it needs this class

        yield from super().findings(known)
        yield from seen_times.time_findings(self, known)

    @property
    def when(self) -> datetime:
        return self.seen_at

    @property
    def where(self) -> str:
        return self.point

    @property
    def unused(self) -> bool:
        return self.quality == "not_used"

    @property
    def wall_clock(self) -> datetime:
        """The time seen as the clock on site showed it."""
        return self.seen_at.astimezone(timezone(timedelta(minutes=self.offset_min)))


@record
class SetUp(Record):
    """A fact about a site that observations are read with; it travels as a correction does."""

    valid_from: datetime = moment("Valid from")
    set_by: str | None = text("Established by", default=None, longest=120)
    remark: str | None = text("Remark", default=None)
    photos: tuple[str, ...] = words("Photos", default=(), help="Fingerprints of the files.")

    @property
    def when(self) -> datetime:
        return self.valid_from
