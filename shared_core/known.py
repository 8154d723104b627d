"""What a logbook knows, asked in the words of the checks; each answer is found by an index."""

import functools
import json
import sqlite3
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Final, TypeVar

from shared_core.errors import StrandlineError
from shared_core.records.base import Record, Standing

R = TypeVar("R", bound=Record)

_COLUMNS: Final = "record, kind, body, heads, disputed, entries, author, device, written_at"
_SHORT: Final = 4096  # characters of a body; a walk or a table of weather is not kept in memory
_REMEMBERED: Final = 4096  # rows


def _stamp(moment: datetime) -> str:
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _standing(kind: type[R], row: tuple[Any, ...]) -> Standing[R] | None:
    """Read a row; the same few are asked for at every key, so the last short ones are remembered."""
    remembered: Any = _read_again if len(row[2]) <= _SHORT else _read
    found: Standing[R] | None = remembered(kind, row)
    return found


def _read(kind: type[R], row: tuple[Any, ...]) -> Standing[R] | None:
    record_id, _, body, heads, disputed, entries, author, device, written_at = row
    try:
        record = kind.decoded(json.loads(body))
    except StrandlineError:  # of a newer version's shape: kept and passed on, not shown
        return None
    return Standing(
        record_id=record_id,
        record=record,
        heads=tuple(json.loads(heads)),
        author=author,
        device=device,
        written_at=datetime.fromisoformat(written_at),
        corrected=entries > 1,
        disputed={
            name: tuple(value for _, value in pairs)
            for name, pairs in json.loads(disputed or "{}").items()
        },
    )


# What a row says follows from its text alone, and records do not change: one memory for all files.
_read_again: Final = functools.lru_cache(maxsize=_REMEMBERED)(_read)


def standing_from(
    file: sqlite3.Connection, kinds: Mapping[str, type[Record]], record_id: str
) -> Standing[Record] | None:
    """Return a record as it stands, or None if unknown, withdrawn or not of a known kind."""
    row = file.execute(
        f"select {_COLUMNS} from current where record = ? and body is not null",  # noqa: S608
        (record_id,),
    ).fetchone()
    kind = kinds.get(row[1]) if row else None
    return _standing(kind, row) if kind else None


class KnownHere:
    """The current records of one logbook, as ``records.base.Known`` asks for them."""

    def __init__(
        self,
        file: sqlite3.Connection,
        kinds: Mapping[str, type[Record]],
        *,
        without: str = "",
        now: datetime | None = None,
    ) -> None:
        self._file = file
        self._kinds = kinds
        self._without = without
        self._now = now

    @property
    def now(self) -> datetime | None:
        """The time at which the question is asked, if it may be used."""
        return self._now

    def before(
        self, kind: type[R], site: str, at: datetime, *, point: str | None = None, limit: int = 1
    ) -> Sequence[Standing[R]]:
        """Return records of a kind with ``when`` before a time, newest first."""
        tail = "and at < ? and unused = 0 order by at desc, record desc limit ?"
        return self._found(kind, site, point, tail, _stamp(at), limit)

    def after(
        self, kind: type[R], site: str, at: datetime, *, point: str | None = None, limit: int = 1
    ) -> Sequence[Standing[R]]:
        """Return records of a kind with ``when`` at or after a time, oldest first."""
        tail = "and at >= ? and unused = 0 order by at, record limit ?"
        return self._found(kind, site, point, tail, _stamp(at), limit)

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
        tail = "and at between ? and ? and unused <= ? order by at, record"
        return self._found(kind, site, point, tail, _stamp(start), _stamp(end), int(also_unused))

    def in_force(
        self, kind: type[R], site: str, at: datetime, *, point: str | None = None
    ) -> Standing[R] | None:
        """Return the newest record of a kind with ``when`` at or before a time."""
        tail = "and at <= ? and unused = 0 order by at desc, record desc limit 1"
        found = self._found(kind, site, point, tail, _stamp(at))
        return found[0] if found else None

    def every(self, kind: type[R], site: str | None = None) -> Sequence[Standing[R]]:
        """Return all records of a kind, oldest first, those not used included."""
        if site is not None:
            return self._found(kind, site, None, "and at is not null order by at, record")
        rows = self._file.execute(
            f"select {_COLUMNS} from current where kind = ? and at is not null and record <> ?"  # noqa: S608
            " order by at, record",
            (kind.kind, self._without),
        )
        return [found for row in rows if (found := _standing(kind, row))]

    def _found(
        self, kind: type[R], site: str, point: str | None, tail: str, *values: object
    ) -> list[Standing[R]]:
        where = "kind = ? and site = ? and body is not null and record <> ?"
        asked: list[object] = [kind.kind, site, self._without]
        if point is not None:
            where += " and point = ?"
            asked.append(point)
        rows = self._file.execute(
            f"select {_COLUMNS} from current where {where} {tail}",  # noqa: S608 - own words only
            (*asked, *values),
        )
        return [found for row in rows if (found := _standing(kind, row))]
