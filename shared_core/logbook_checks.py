"""Is a logbook still what was once written? And: work out anew what is derived from its lines.

Each row carries a seal over its own values, each line a chain value over the device's line before
it, and all else is derived from the lines; so a flipped bit in any stored value shows.
"""

import contextlib
import itertools
from collections.abc import Callable, Generator
from typing import Final

from shared_core.errors import StrandlineError
from shared_core.logbook import Logbook
from shared_core.logbook_tables import FORMAT, SEALED, seal_of
from shared_core.merge import NO_CHAIN, chain_holds, chain_of, read_entry

_MOST_NAMED: Final = 100  # sentences of one check; the rest is counted


def problems(logbook: Logbook) -> list[str]:
    """Return all that is wrong or missing in a logbook, a sentence each; none: all is well.

    Lines that are not here (``gap``) and lines in quarantine are named too: they may be as they
    should, on a tablet that sees some sites only, but somebody should know.
    """
    found: list[str] = []
    for check in _CHECKS:
        said: list[str] = []
        try:
            with contextlib.closing(check(logbook)) as finds:
                said.extend(itertools.islice(finds, _MOST_NAMED))
        except StrandlineError as error:
            said.append(str(error))
        except (TypeError, ValueError, AttributeError) as error:
            said.append(f"a stored value is of another kind than was written: {error}")
        if len(said) == _MOST_NAMED:
            said.append("and more of this kind")
        found.extend(said)
    return found


def rebuild(logbook: Logbook) -> None:
    """Work out anew, in one transaction, current rows, device marks and views."""
    logbook.rederive()


def _integrity(logbook: Logbook) -> Generator[str]:
    for (says,) in logbook.rows("pragma integrity_check"):
        if says != "ok":
            yield f"SQLite finds the file damaged: {says}"


def _shape(logbook: Logbook) -> Generator[str]:
    for (version,) in logbook.rows("pragma user_version"):
        if version != FORMAT:
            yield f"the file says it has format {version}; this version writes {FORMAT}"
    for name in logbook.misshapen():
        yield f"the table, index or view {name} is not as this version makes it"


def _seals(logbook: Logbook) -> Generator[str]:
    for table, columns in SEALED.items():
        sql = f"select rowid, seal, {', '.join(columns)} from {table}"  # noqa: S608 - our own words
        for rowid, seal, *values in logbook.rows(sql):
            if seal != seal_of(*values):
                yield f"row {rowid} of the table {table} is damaged: its seal does not fit it"


def _lines(logbook: Logbook) -> Generator[str]:
    """Read every line in order of device and number; check columns, chain and gaps."""
    device, seq, chain = "", 0, NO_CHAIN
    sql = (
        "select place, entry, record, kind, site, device, seq, line from entry order by device, seq"
    )
    for place, *columns, line in logbook.rows(sql):
        name = f"line {columns[5]} of {columns[4]} (place {place})"
        if columns[4] != device:
            device, seq, chain = columns[4], 0, NO_CHAIN
        if columns[5] != seq + 1:
            yield f"gap: lines {seq + 1} to {columns[5] - 1} of {device} are not here"
        elif not chain_holds(line, chain):
            yield f"{name} is damaged, or the line before it: the chain is broken"
        yield from _one_line(name, columns, line)
        seq, chain = columns[5], chain_of(line)


def _one_line(name: str, columns: list[object], line: str) -> Generator[str]:
    try:
        entry = read_entry(line)
    except StrandlineError as error:
        yield f"{name} cannot be read: {error}"
        return
    read_off = [entry.entry, entry.record, entry.kind, entry.site, entry.device, entry.seq]
    if columns != read_off:
        yield f"{name} is filed under other values than it holds"


def _places(logbook: Logbook) -> Generator[str]:
    """Places count from 1 without a gap, or a peer that reads on from one misses lines."""
    for table in ("entry", "quarantine"):
        sql = (
            f"select count(*), coalesce(max(place), 0), coalesce((select seq from sqlite_sequence"  # noqa: S608 - our own words
            f" where name = '{table}'), 0) from {table}"
        )
        for count, last, counter in logbook.rows(sql):
            if last > counter or (table == "entry" and not count == last == counter):
                yield (
                    f"{count} lines are in the table {table}, with places up to {last}, and"
                    f" {counter} were given out"
                )


def _derived(logbook: Logbook) -> Generator[str]:
    """Compare what is derived with a fresh computation."""
    columns = (
        "record, kind, site, point, at, unused, body, heads, disputed, entries, author, device,"
        " written_at"
    )
    missing = "select distinct record from entry where record not in (select record from current)"
    for (record_id,) in logbook.rows(missing):
        yield f"record {record_id} is missing in the table current; rebuild it"
    for row in logbook.rows(f"select {columns} from current"):  # noqa: S608 - our own words
        if not _as_fresh(logbook, row):
            yield f"record {row[0]} does not stand as its lines say; rebuild the table current"


def _as_fresh(logbook: Logbook, row: tuple[object, ...]) -> bool:
    try:
        return logbook.current_row(str(row[0])) == row
    except (StrandlineError, ValueError):  # a damaged line, or no line at all
        return False


def _marks(logbook: Logbook) -> Generator[str]:
    """Compare the unbroken mark of each device with the lines that were handed in."""
    sql = (
        "select device, seq from entry union select device, seq from quarantine"
        " where device is not null order by device, seq"
    )
    reached: dict[str, int] = {}
    for device, seq in logbook.rows(sql):
        reached.setdefault(device, 0)
        reached[device] += seq == reached[device] + 1
    marks = dict(logbook.rows("select name, unbroken from device"))
    for device in sorted({*reached, *marks}, key=str):
        if reached.get(device) != marks.get(device):
            yield f"the mark of {device} says {marks.get(device)}, its lines {reached.get(device)}"


def _quarantine(logbook: Logbook) -> Generator[str]:
    sql = "select source, why, count(*) from quarantine group by source, why order by source, why"
    for source, why, count in logbook.rows(sql):
        yield f"quarantine: {count} from {source}: {why}"


_CHECKS: Final[tuple[Callable[[Logbook], Generator[str]], ...]] = (
    _integrity, _shape, _seals, _lines, _places, _derived, _marks, _quarantine,
)  # fmt: skip
