"""What a season report is made from: one site's records, read once, and its balance."""

import dataclasses
from collections.abc import Sequence
from datetime import datetime
from functools import cached_property
from typing import Any, Final

from shared_core.balance import Inputs, SeasonBalance
from shared_core.errors import StrandlineError
from shared_core.field_kinds import Field, Moment, Number
from shared_core.field_shapes import Rows
from shared_core.fields import fields_of
from shared_core.known import KnownHere
from shared_core.logbook import Logbook
from shared_core.merge import Entry
from shared_core.records.base import Record, Seen, SetUp, Standing
from shared_core.records.plan import WateringPlan
from shared_core.records.site_setup import Site
from shared_core.site_balance import balance_of, gather
from sync_server.report.numerals import MINUS, SiteClock

LONGEST_SHOWN: Final = 240  # characters of one value in a table
_HEAD: Final = {field.name for field in (*fields_of(Seen), *fields_of(SetUp))} - {"remark"}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Material:
    """One site's season, gathered."""

    logbook: Logbook
    known: KnownHere
    site: Standing[Site]
    plan: Standing[WateringPlan] | None
    balance: SeasonBalance
    inputs: Inputs
    written_at: datetime

    @property
    def code(self) -> str:
        """Code of the site."""
        return self.site.record.site

    @property
    def start(self) -> datetime:
        """First moment of the season."""
        return self.balance.season.start

    @property
    def end(self) -> datetime:
        """Last moment of the season."""
        return self.balance.season.end

    @property
    def clock(self) -> SiteClock:
        """Site standard time."""
        return SiteClock(self.site.record.standard_offset_min)

    @cached_property
    def histories(self) -> dict[str, list[Entry]]:
        """All entries of each record that was ever filed under this site, in order of writing."""
        found: dict[str, list[Entry]] = {}
        here: set[str] = set()
        place = 0
        while True:
            entries, reached = self.logbook.since(place)
            for entry in entries:
                found.setdefault(entry.record, []).append(entry)
                if entry.site == self.code:
                    here.add(entry.record)
            if reached == place:
                break
            place = reached
        return {
            record_id: sorted(history, key=lambda entry: (entry.written_at, entry.entry))
            for record_id, history in found.items()
            if record_id in here
        }

    def named(self, kind: str, record: Record | None) -> str:
        """Name a record the way a person would: what, where and when."""
        known = self.logbook.kinds.get(kind)
        title = known.title if known else kind
        if record is None:
            return title
        since = "" if isinstance(record, Seen) else "from "
        where = "" if record.where == record.site else record.where
        return f"{title} {where}".rstrip() + f", {since}{self.clock.moment(record.when)}"

    def last_said(self, history: Sequence[Entry]) -> Record | None:
        """Return a record as it stands, or as it was last said before it was withdrawn."""
        standing = self.logbook.standing(history[-1].record)
        if standing is not None:
            return standing.record
        kind = self.logbook.kinds.get(history[-1].kind)
        for entry in reversed(history):
            if kind and entry.body is not None:
                try:
                    return kind.decoded(entry.body)
                except StrandlineError:
                    continue
        return None


def gathered(
    logbook: Logbook,
    site: str,
    *,
    written_at: datetime,
    start: datetime | None,
    end: datetime | None,
    period: str,
) -> Material:
    """Read a site's season off a logbook.

    Raises:
        UnknownError: if the site, its plan or its rating table is not known.
        OutsideRangeError: if levels, weather or rating do not cover the season.
    """
    known = logbook.known(now=written_at)
    balance = balance_of(known, site, start=start, end=end, period=period)
    plans = known.every(WateringPlan, site)
    return Material(
        logbook=logbook,
        known=known,
        site=known.every(Site, site)[0],
        plan=plans[-1] if plans else None,
        balance=balance,
        inputs=gather(known, site, balance.season.start, balance.season.end),
        written_at=written_at,
    )


def value_of(record: Record, clock: SiteClock) -> str:
    """Write what a record says: its own fields, what it is about left out, the remark last."""
    own = [field for field in fields_of(type(record)) if field.name not in _HEAD]
    said = [
        f"{field.label} {shown(field, value, clock)}"
        for field in sorted(own, key=lambda field: field.name == "remark")
        if (value := getattr(record, field.name)) not in (None, (), record.where)
    ]
    return clipped("; ".join(said))


def shown(field: Field, value: Any, clock: SiteClock) -> str:  # noqa: ANN401 - a field holds any kind of value
    """Write a value for reading: whole, in site time, and a table in full where it fits a line."""
    if value is None:
        return field.show(None)
    if isinstance(field, Moment):
        return clock.moment(value)
    if isinstance(field, Number) and round(value, field.decimals) != value:
        return f"{field.write(value)} {field.unit}".rstrip().replace("-", MINUS)
    if isinstance(field, Rows) and value:
        text = field.write(value).replace("\n", " / ")
        return text if len(text) <= LONGEST_SHOWN else field.show(value)
    return field.show(value)


def clipped(text: str) -> str:
    """Cut a long text, saying so."""
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]} … (cut here)"
