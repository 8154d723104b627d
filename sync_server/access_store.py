"""The file of people, invitations, devices and the audit log: all SQL about access.

It keeps a rollback journal, not WAL: the command ``invite`` writes to it while the server runs, and
older SQLite can lose writes in WAL mode when two programs have a file open.
"""

import contextlib
import json
import sqlite3
import threading
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from shared_core.errors import DamagedError

FORMAT: Final = 1
APPLICATION: Final = 0x53545241  # application_id, the letters STRA
FILE_NAME: Final = "access.db"

TABLES: Final = """
create table if not exists person (
    name text primary key,
    role text not null,
    sites text not null,               -- JSON list of site codes; empty: all, for coordinators only
    points text not null,              -- JSON list of gauges and meters a landholder reads; empty: all
    added_at text not null
) strict;

create table if not exists invitation (
    look_up text primary key,          -- first four characters of the typed code; no secret
    person text not null references person (name),
    code_sha256 text not null unique,  -- of the long code in the QR
    typed_argon2 text not null,        -- of the rest of the typed code
    expires_at text not null,
    tries integer not null default 0,  -- typed codes tried with this beginning
    used_at text,
    device text
) strict;

create table if not exists device (
    name text primary key,
    person text not null references person (name),
    token_sha256 text not null unique,
    enrolled_at text not null,
    revoked_at text
) strict;

create table if not exists audit (
    place integer primary key autoincrement,
    at text not null,
    who text not null,
    what text not null,
    source text not null               -- network address, or the command line
) strict;
"""


@dataclass(frozen=True, kw_only=True)
class Person:
    """Somebody who was invited."""

    name: str
    role: str
    sites: tuple[str, ...]
    points: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Invited:
    """An invitation as the file holds it; codes only as hashes."""

    look_up: str
    person: str
    code_sha256: str
    typed_argon2: str
    expires_at: datetime
    tries: int = 0
    used_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Device:
    """A device that was let in."""

    name: str
    person: str
    token_sha256: str
    enrolled_at: datetime
    revoked_at: datetime | None = None


@dataclass(frozen=True, kw_only=True)
class Audited:
    """One line of the audit log."""

    at: datetime
    who: str
    what: str
    source: str


def _text(moment: datetime | None) -> str | None:
    return None if moment is None else moment.astimezone(UTC).isoformat(timespec="milliseconds")


def _moment(stored: str | None) -> datetime | None:
    return None if stored is None else datetime.fromisoformat(stored)


def _sure(stored: str) -> datetime:
    return datetime.fromisoformat(stored)


class AccessStore:
    """The open file; one connection, one caller at a time."""

    def __init__(self, path: Path | str) -> None:
        """Open the file, or make a new one.

        Raises:
            DamagedError: if it is not a file of this kind, or a newer version wrote it.
        """
        self._lock = threading.RLock()
        self._file = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        try:
            self._prepare(path)
        except (sqlite3.DatabaseError, DamagedError) as error:
            self._file.close()
            raise DamagedError(f"{path} cannot be read as a file of people: {error}") from error

    def _prepare(self, path: Path | str) -> None:
        self._file.execute("pragma busy_timeout=5000")
        version = self._file.execute("pragma user_version").fetchone()[0]
        tables = self._file.execute("select count(*) from sqlite_master").fetchone()[0]
        mark = self._file.execute("pragma application_id").fetchone()[0]
        if (tables and mark != APPLICATION) or version > FORMAT:
            raise DamagedError("another program or a newer version wrote it; nothing was changed")
        self._file.execute("pragma journal_mode=delete")
        self._file.execute("pragma synchronous=extra")
        self._file.execute("pragma foreign_keys=on")
        if not tables:
            self._file.executescript(f"begin immediate;{TABLES}commit;")
            self._file.execute(f"pragma application_id={APPLICATION}")
            self._file.execute(f"pragma user_version={FORMAT}")
            if path != ":memory:":
                Path(path).chmod(0o600)

    def close(self) -> None:
        """Close the file."""
        with self._lock:
            self._file.close()

    @contextlib.contextmanager
    def changing(self) -> Iterator[None]:
        """Hold the file for one change that happens whole or not at all."""
        with self._lock:
            self._file.execute("begin immediate")
            try:
                yield
            except BaseException:
                self._file.execute("rollback")
                raise
            self._file.execute("commit")

    def _rows(self, sql: str, *values: object) -> list[Sequence[str]]:
        with self._lock:
            return self._file.execute(sql, values).fetchall()

    # people -----------------------------------------------------------------------------------

    def keep_person(self, person: Person, at: datetime) -> None:
        """Write down a person, or what they may do from now on."""
        self._rows(
            "insert into person values (?,?,?,?,?) on conflict (name) do update set"
            " role=excluded.role, sites=excluded.sites, points=excluded.points",
            person.name, person.role, json.dumps(person.sites), json.dumps(person.points), _text(at),
        )  # fmt: skip

    def person(self, name: str) -> Person | None:
        """Return a person by name."""
        return next((p for p in self.people() if p.name == name), None)

    def people(self) -> list[Person]:
        """Return everybody, by name."""
        rows = self._rows("select name, role, sites, points from person order by name")
        return [
            Person(name=n, role=r, sites=tuple(json.loads(s)), points=tuple(json.loads(p)))
            for n, r, s, p in rows
        ]

    # invitations ------------------------------------------------------------------------------

    def keep_invitation(self, invited: Invited) -> None:
        """Write down a new invitation."""
        self._rows(
            "insert into invitation (look_up, person, code_sha256, typed_argon2, expires_at)"
            " values (?,?,?,?,?)",
            invited.look_up, invited.person, invited.code_sha256, invited.typed_argon2,
            _text(invited.expires_at),
        )  # fmt: skip

    def invitation(self, *, look_up: str = "", code_sha256: str = "") -> Invited | None:
        """Return an invitation by the beginning of its typed code or the hash of its long one."""
        rows = self._rows(
            "select look_up, person, code_sha256, typed_argon2, expires_at, tries, used_at"
            " from invitation where look_up = ? or code_sha256 = ?",
            look_up, code_sha256,
        )  # fmt: skip
        if not rows:
            return None
        look_up, person, code, typed, expires, tries, used = rows[0]
        return Invited(
            look_up=look_up, person=person, code_sha256=code, typed_argon2=typed,
            expires_at=_sure(expires), tries=int(tries), used_at=_moment(used),
        )  # fmt: skip

    def count_try(self, look_up: str) -> int:
        """Count a typed code before it is looked at, so that many at once gain nothing."""
        sql = "update invitation set tries = tries + 1 where look_up = ? returning tries"
        return int(self._rows(sql, look_up)[0][0])

    def use_invitation(self, look_up: str, device: str, at: datetime) -> bool:
        """Mark an invitation as used; tells whether it was still unused."""
        rows = self._rows(
            "update invitation set used_at = ?, device = ?"
            " where look_up = ? and used_at is null returning look_up",
            _text(at), device, look_up,
        )  # fmt: skip
        return bool(rows)

    # devices ----------------------------------------------------------------------------------

    def keep_device(self, device: Device) -> None:
        """Let a device in, or let it in again with a new token."""
        self._rows(
            "insert into device values (?,?,?,?,null) on conflict (name) do update set"
            " person=excluded.person, token_sha256=excluded.token_sha256,"
            " enrolled_at=excluded.enrolled_at, revoked_at=null",
            device.name, device.person, device.token_sha256, _text(device.enrolled_at),
        )  # fmt: skip

    def device(self, *, name: str = "", token_sha256: str = "") -> Device | None:
        """Return a device by its name or by the hash of its token."""
        rows = self._rows(
            "select name, person, token_sha256, enrolled_at, revoked_at from device"
            " where name = ? or token_sha256 = ?",
            name, token_sha256,
        )  # fmt: skip
        return _device(rows[0]) if rows else None

    def devices(self) -> list[Device]:
        """Return all devices, by name."""
        return [
            _device(row)
            for row in self._rows(
                "select name, person, token_sha256, enrolled_at, revoked_at from device"
                " order by name"
            )
        ]

    def revoke(self, name: str, at: datetime) -> None:
        """Shut a device out, from now on; the first time stands."""
        self._rows(
            "update device set revoked_at = coalesce(revoked_at, ?) where name = ?", _text(at), name
        )

    # audit log --------------------------------------------------------------------------------

    def note(self, audited: Audited) -> None:
        """Add a line to the audit log; control characters are shown, not kept."""
        who, what, source = (
            "".join(sign if sign.isprintable() else f"<{ord(sign):x}>" for sign in part[:500])
            for part in (audited.who, audited.what, audited.source)
        )
        self._rows(
            "insert into audit (at, who, what, source) values (?,?,?,?)",
            _text(audited.at), who, what, source,
        )  # fmt: skip

    def audit_log(self) -> list[Audited]:
        """Return the audit log, oldest first."""
        rows = self._rows("select at, who, what, source from audit order by place")
        return [Audited(at=_sure(at), who=who, what=what, source=s) for at, who, what, s in rows]


def _device(row: Sequence[str]) -> Device:
    name, person, token, enrolled, revoked = row
    return Device(
        name=name, person=person, token_sha256=token,
        enrolled_at=_sure(enrolled), revoked_at=_moment(revoked),
    )  # fmt: skip
