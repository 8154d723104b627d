"""The checks, run over a season after the fact: what would have been found, and when.

Each entry is judged as its author would have been shown it: by all that had been written before.
With hindsight it is judged by everything, whenever it was written; and what only the records of a
season tell together follows, as findings of kind "over time".
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from shared_core.errors import StrandlineError
from shared_core.logbook import BATCH, Logbook
from shared_core.merge import Entry, read_entry
from shared_core.records.base import Finding, Severity
from sync_server.grids import Terrain
from sync_server.logbook_lines import opened_to_read
from sync_server.overview import over_time, sites_of

OVER_TIME: Final = "over time"


@dataclass(frozen=True, kw_only=True)
class Found:
    """One finding about one entry, ready to be written as a line of JSON."""

    entry: str
    record: str
    kind: str
    field: str
    code: str
    severity: str
    says: str
    suggests: str | None


def audit(
    lines: Iterable[str], *, hindsight: bool = False, terrain: Terrain | None = None
) -> Iterator[Found]:
    """Yield the findings about each entry, in order of writing.

    A line that cannot be taken in, because it is unreadable or its device's chain is broken, is
    itself a finding of code ``not-taken``.

    Args:
        lines: exact lines, in any order.
        hindsight: judge with everything known instead of what was known at the time.
        terrain: the ground model, for what the walks tell over time.
    """
    entries: list[Entry] = []
    for line in lines:
        try:
            entries.append(read_entry(line))
        except StrandlineError as error:
            yield _not_taken(None, str(error))
    entries.sort(key=lambda entry: (entry.written_at, entry.device, entry.seq))
    with opened_to_read(":memory:") as logbook:
        if hindsight:
            untaken = {found.entry: found for found in _taken_in(logbook, entries)}
            latest = max((entry.written_at for entry in entries), default=None)
            for entry in entries:
                if entry.entry in untaken:
                    yield untaken.pop(entry.entry)
                else:
                    yield from _judged(logbook, entry, latest)
            if latest is not None:
                yield from _over_time(logbook, latest, terrain)
            return
        for entry in entries:
            untold = list(_taken_in(logbook, [entry]))
            yield from untold or _judged(logbook, entry, entry.written_at)


def _taken_in(logbook: Logbook, entries: Sequence[Entry]) -> Iterator[Found]:
    for start in range(0, len(entries), BATCH):
        batch = entries[start : start + BATCH]
        verdicts = logbook.absorb([entry.line for entry in batch], source="audit")
        for entry, verdict in zip(batch, verdicts, strict=True):
            if verdict.outcome == "quarantined":
                yield _not_taken(entry, verdict.why)


def _judged(logbook: Logbook, entry: Entry, now: datetime | None) -> Iterator[Found]:
    kind = logbook.kinds.get(entry.kind)
    if kind is None or entry.body is None:
        return
    try:
        record = kind.decoded(entry.body)
    except StrandlineError as error:
        yield _found(
            entry,
            Finding(code="unreadable", severity=Severity.STOP, field="", saw=f"{error}."),
        )
        return
    for finding in record.findings(logbook.known(without=entry.record, now=now)):
        yield _found(entry, finding)


def _over_time(logbook: Logbook, now: datetime, terrain: Terrain | None) -> Iterator[Found]:
    """Yield what a season's records tell together; ``record`` holds their ids, blanks between."""
    for site in sites_of(logbook):
        for told in over_time(logbook, site, now, terrain):
            yield Found(
                entry="",
                record=" ".join(told.record_ids),
                kind=OVER_TIME,
                field=told.finding.field,
                code=told.finding.code,
                severity=str(told.finding.severity),
                says=told.finding.says,
                suggests=told.finding.suggests,
            )


def _found(entry: Entry, finding: Finding) -> Found:
    return Found(
        entry=entry.entry,
        record=entry.record,
        kind=entry.kind,
        field=finding.field,
        code=finding.code,
        severity=str(finding.severity),
        says=finding.says,
        suggests=finding.suggests,
    )


def _not_taken(entry: Entry | None, why: str) -> Found:
    return Found(
        entry=entry.entry if entry else "",
        record=entry.record if entry else "",
        kind=entry.kind if entry else "",
        field="",
        code="not-taken",
        severity=str(Severity.STOP),
        says=f"{why[:1].upper()}{why[1:]}.",
        suggests=None,
    )
