"""The logbook: an append-only SQLite file of entries, the same class on a tablet and on the server.

Every change is one transaction that is on disk (WAL, synchronous=FULL) before the call returns.
"""

import contextlib
import dataclasses
import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any, Final, Literal

from shared_core.errors import StrandlineError, UnknownError
from shared_core.fields import fields_of
from shared_core.known import KnownHere, standing_from
from shared_core.logbook_file import LogbookFile, stamp
from shared_core.logbook_tables import seal_of, view_of
from shared_core.merge import (
    NO_CHAIN,
    UNSURE_CLOCK,
    Entry,
    Joined,
    as_read,
    chain_holds,
    chain_of,
    joined,
    read_entry,
    written,
)
from shared_core.portable import write_json
from shared_core.records.base import Record, Standing

CORE_VERSION: Final = "0.1"
BATCH: Final = 500  # lines in one transaction of an exchange

Outcome = Literal["taken", "had it", "quarantined"]


@dataclasses.dataclass(frozen=True, kw_only=True)
class Verdict:
    """What became of one line that was handed in."""

    entry: str
    outcome: Outcome
    why: str = ""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Said:
    """Who says something, why, and how sure the clock is."""

    author: str
    note: str = ""
    offset_min: int = 0
    clock: Mapping[str, Any] = dataclasses.field(default_factory=lambda: dict(UNSURE_CLOCK))


class Logbook(LogbookFile):
    """An open logbook."""

    def write(
        self,
        record: Record,
        said: Said,
        *,
        record_id: str | None = None,
        read: Sequence[str] | None = None,
    ) -> Entry:
        """Write down a new record, or a correction that replaces the heads its author had read.

        What a newer version added to the record and this one does not know is carried over.

        Args:
            record: all of it, the fields left alone included.
            said: who says so, and why.
            record_id: the record that is corrected; a new one if left out.
            read: the heads on screen when the correction was begun (``Standing.heads``); all that
                are here now if left out. What came in meanwhile is joined or disputed, not undone.

        Raises:
            UnreadableError: if a value is not portable.
        """
        earlier = self._read(record_id, read)
        before = joined(earlier) if earlier else None
        entry = Entry(
            entry=self._new_id(),
            record=record_id or self._new_id(),
            kind=record.kind,
            site=record.site,
            body={**_beyond(record, before), **record.encoded()},
            replaces=tuple(head.entry for head in before.heads) if before else (),
            **self._signature(said),
        )
        return self._append(entry)

    def withdraw(self, record_id: str, said: Said, *, read: Sequence[str] | None = None) -> Entry:
        """Withdraw a record; its history stays.

        Raises:
            UnknownError: if nothing is known of it.
        """
        earlier = self._read(record_id, read)
        if not earlier:
            raise UnknownError(f"no record {record_id} in this logbook")
        entry = Entry(
            entry=self._new_id(),
            record=record_id,
            kind=earlier[0].kind,
            site=earlier[0].site,
            body=None,
            replaces=tuple(head.entry for head in joined(earlier).heads),
            **self._signature(said),
        )
        return self._append(entry)

    def _read(self, record_id: str | None, heads: Sequence[str] | None) -> list[Entry]:
        """Return what somebody had read of a record who had those heads before them."""
        history = self.history(record_id) if record_id else []
        return history if heads is None else as_read(history, heads)

    def _signature(self, said: Said) -> dict[str, Any]:
        return {
            "author": said.author,
            "device": self.device,
            "seq": max(self.last_seq(), self._handed_in()) + 1,
            "written_at": self._clock(),
            "offset_min": said.offset_min,
            "clock": said.clock,
            "note": said.note,
            "core": CORE_VERSION,
        }

    def _handed_in(self) -> int:
        """Return the last number of this device that any other end has.

        It is larger than the last one here if the file was set back to an old copy: counting on
        from there, later lines still reach the other end.
        """
        return int(self._one("select max(has) from sent where device = ?", self.device) or 0)

    def last_seq(self) -> int:
        """Return the number of this device's last line here."""
        return self._end_of(self.device)[0]

    def _append(self, entry: Entry) -> Entry:
        chained = written(entry, self._end_of(self.device)[1])
        with self._transaction():
            self._insert(chained)
            self._advance(chained.device)
            self._refresh({chained.record})
        return chained

    def absorb(
        self,
        lines: Iterable[str],
        *,
        source: str,
        refuse: Callable[[Entry], str] = lambda _: "",
    ) -> list[Verdict]:
        """Take in lines, ours or another's, in one transaction; those already here change nothing.

        Args:
            lines: exact lines as somebody wrote them.
            source: who brings them, kept with a line in quarantine.
            refuse: says why an entry may not be taken from this source, or nothing.
        """
        verdicts = []
        taken: list[Entry] = []
        devices: set[str] = set()
        with self._transaction():
            for line in lines:
                try:
                    entry = read_entry(line)
                except StrandlineError as error:
                    verdicts.append(self._hold(line, None, source, str(error)))
                    continue
                devices.add(entry.device)
                verdict = self._take(entry, source, refuse)
                verdicts.append(verdict)
                if verdict.outcome == "taken":
                    taken.append(entry)
            self._refresh({entry.record for entry in taken})
            for device in sorted(devices):
                self._advance(device)
        return verdicts

    def _take(self, entry: Entry, source: str, refuse: Callable[[Entry], str]) -> Verdict:
        if self._one("select line from entry where entry = ?", entry.entry) == entry.line:
            return Verdict(entry=entry.entry, outcome="had it")
        why = refuse(entry) or self._clash(entry)
        if why:
            return self._hold(entry.line, entry, source, why)
        self._insert(entry)
        return Verdict(entry=entry.entry, outcome="taken")

    def _clash(self, entry: Entry) -> str:
        if self._one("select 1 from entry where entry = ?", entry.entry):
            return "an entry of this name is here with another text"
        if self._one("select 1 from entry where device = ? and seq = ?", entry.device, entry.seq):
            return (
                f"line {entry.seq} of {entry.device} is here with another text: the device's"
                " history has forked, as after restoring an old copy"
            )
        before = NO_CHAIN if entry.seq == 1 else self._chain_of(entry.device, entry.seq - 1)
        if before and not chain_holds(entry.line, before):
            return f"the chain value of line {entry.seq} of {entry.device} does not follow from the line before"
        after = self._one(
            "select line from entry where device = ? and seq = ?", entry.device, entry.seq + 1
        )
        if after and not chain_holds(after, entry.chain):
            return f"line {entry.seq + 1} of {entry.device}, already here, does not follow from this line"
        return ""

    def _hold(self, line: str, entry: Entry | None, source: str, why: str) -> Verdict:
        kept = line.encode("utf-8", "replace")
        values = (
            hashlib.sha256(kept).hexdigest(), kept.decode(), entry.device if entry else None,
            entry.seq if entry else None, source, why, stamp(self._clock()),
        )  # fmt: skip
        self._file.execute(
            "insert into quarantine (line_sha256, line, device, seq, source, why, arrived_at, seal)"
            " values (?,?,?,?,?,?,?,?) on conflict (line_sha256) do nothing",
            (*values, seal_of(*values)),
        )
        return Verdict(entry=entry.entry if entry else "", outcome="quarantined", why=why)

    def _insert(self, entry: Entry) -> None:
        arrived_at = stamp(self._clock())
        self._file.execute(
            "insert into entry (entry, record, kind, site, device, seq, line, arrived_at, seal)"
            " values (?,?,?,?,?,?,?,?,?)",
            (
                entry.entry, entry.record, entry.kind, entry.site, entry.device, entry.seq,
                entry.line, arrived_at, seal_of(entry.line, arrived_at),
            ),
        )  # fmt: skip

    def _refresh(self, record_ids: Iterable[str]) -> None:
        """Work out anew, in the running transaction, what stands for some records."""
        for record_id in record_ids:
            self._file.execute(
                "insert or replace into current (record, kind, site, point, at, unused, body,"
                " heads, disputed, entries, author, device, written_at)"
                " values (?,?,?,?,?,?,?,?,?,?,?,?,?)",
                self.current_row(record_id),
            )

    def current_row(self, record_id: str) -> tuple[object, ...]:
        """Return the row of ``current`` for a record, worked out from its lines.

        Raises:
            StrandlineError: if a line of it is damaged.
        """
        entries = self.history(record_id)
        said, count = joined(entries), len(entries)
        newest = max(said.heads, key=lambda head: (head.written_at, head.entry))
        point, at, unused = None, None, 0
        kind = self.kinds.get(newest.kind)
        if kind and said.body is not None:
            try:
                record = kind.decoded(said.body)
            except StrandlineError:  # of a newer version's shape: kept and passed on, not shown
                pass
            else:
                point, at, unused = record.where, stamp(record.when), int(record.unused)
        return (
            record_id, newest.kind, newest.site, point, at, unused,
            None if said.body is None else write_json(dict(said.body)),
            json.dumps([head.entry for head in said.heads]),
            write_json({name: list(map(list, pairs)) for name, pairs in said.disputed.items()})
            if said.disputed else None,
            count, newest.author, newest.device, stamp(newest.written_at),
        )  # fmt: skip

    def rederive(self) -> None:
        """Work out anew, in one transaction, the views and all that is derived from the lines."""
        with self._transaction():
            self._script("".join(view_of(kind) for kind in self.kinds.values()))
            self._rederive()

    def _rederive(self) -> None:
        self._file.execute("delete from current")
        self._file.execute("delete from device")
        for (record_id,) in self._file.execute("select distinct record from entry").fetchall():
            with contextlib.suppress(StrandlineError):  # a damaged line; the checks name it
                self._refresh([record_id])
        devices = "select device from entry union select device from quarantine"
        for (device,) in self._file.execute(devices).fetchall():
            if device is not None:
                self._advance(device)

    # reading ---------------------------------------------------------------------------------

    def history(self, record_id: str) -> list[Entry]:
        """Return all entries about one record, in order of writing.

        Raises:
            StrandlineError: if a line of it is damaged.
        """
        rows = self.rows("select line from entry where record = ?", record_id)
        entries = [read_entry(row[0]) for row in rows]
        return sorted(entries, key=lambda entry: (entry.written_at, entry.entry))

    def standing(self, record_id: str) -> Standing[Record] | None:
        """Return a record as it stands, or None if unknown, withdrawn or not of a known kind."""
        return standing_from(self._file, self.kinds, record_id)

    def known(self, *, without: str = "", now: datetime | None = None) -> KnownHere:
        """Return what this logbook knows, leaving out the record that is being judged."""
        return KnownHere(self._file, self.kinds, without=without, now=now)

    def disputed(self, site: str | None = None) -> list[str]:
        """Return the records about which two people wrote without reading each other."""
        return [
            row[0]
            for row in self._file.execute(
                "select record from current where disputed is not null"
                " and (? is null or site = ?) order by at, record",
                (site, site),
            )
        ]

    def kind_of(self, record_id: str) -> str | None:
        """Return the kind of a record, known to this version or not."""
        found = self._one("select kind from current where record = ?", record_id)
        return None if found is None else str(found)

    def since(self, place: int, limit: int = BATCH) -> tuple[list[Entry], int]:
        """Return what arrived in this file after a place, and the place reached."""
        sql = "select place, line from entry where place > ? order by place limit ?"
        rows = list(self.rows(sql, place, limit))
        return [read_entry(row[1]) for row in rows], rows[-1][0] if rows else place

    def lines_of(self, device: str, after_seq: int, limit: int = BATCH) -> list[str]:
        """Return a device's lines after a sequence number, in order."""
        return [
            row[0]
            for row in self.rows(
                "select line from entry where device = ? and seq > ? order by seq limit ?",
                device,
                after_seq,
                limit,
            )
        ]

    def reached(self) -> int:
        """Return the place of the last entry; what arrives from now on arrives after it."""
        return int(self._one("select coalesce(max(place), 0) from entry"))

    def size(self) -> int:
        """Return the number of entries."""
        return int(self._one("select count(*) from entry"))

    def digest(self) -> str:
        """Return SHA-256 over all lines in order of entry name: equal logs have equal digests."""
        found = hashlib.sha256()
        for (line,) in self.rows("select line from entry order by entry"):
            found.update(line.encode() + b"\n")
        return found.hexdigest()

    def _end_of(self, device: str) -> tuple[int, str]:
        row = self._file.execute(
            "select seq, line from entry where device = ? order by seq desc limit 1", (device,)
        ).fetchone()
        return (row[0], chain_of(row[1])) if row else (0, NO_CHAIN)

    def _chain_of(self, device: str, seq: int) -> str:
        line = self._one("select line from entry where device = ? and seq = ?", device, seq)
        return chain_of(line) if line else ""


def _beyond(record: Record, before: Joined | None) -> dict[str, Any]:
    """Return what a record's body holds beyond the fields that this version knows."""
    if before is None or before.body is None:
        return {}
    known = {field.name for field in fields_of(type(record))}
    return {name: value for name, value in before.body.items() if name not in known}
