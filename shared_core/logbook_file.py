"""The file under a logbook: opening, transactions, and small notes that never travel."""

import contextlib
import dataclasses
import hashlib
import sqlite3
import types
from collections.abc import Callable, Iterator, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, Self

from shared_core.errors import DamagedError, StrandlineError
from shared_core.logbook_tables import APPLICATION, FORMAT, TABLES, seal_of, view_of
from shared_core.records import KINDS
from shared_core.records.base import Record

OLDEST_SOUND_SQLITE: Final = (3, 51, 3)  # WAL-reset fault of earlier versions, SQLite release notes

# sqlite3 fails to decode its own sentence about a name that is no longer text
_UNREADABLE: Final = (sqlite3.DatabaseError, UnicodeDecodeError)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Held:
    """A line in quarantine."""

    place: int
    line: str
    device: str | None
    seq: int | None
    source: str
    why: str
    arrived_at: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class PeerPlace:
    """How far an exchange with another end has got."""

    log: str = ""
    fetched: int = 0


def stamp(moment: datetime) -> str:
    """Return a time as the file holds it: UTC, milliseconds, sorts as text."""
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def sqlite_version() -> str:
    """Return the version of SQLite that this program runs on."""
    return sqlite3.sqlite_version


def sqlite_warning() -> str:
    """Return a sentence if this SQLite can lose writes in WAL mode, else nothing."""
    if sqlite3.sqlite_version_info >= OLDEST_SOUND_SQLITE:
        return ""
    return (
        f"SQLite {sqlite3.sqlite_version} is older than 3.51.3: keep one program at a time on a"
        " logbook, and copy it with a carry file, not while it is open."
    )


def shape_of(file: sqlite3.Connection) -> dict[str, str]:
    """Return the tables, indexes and views of a file with the SQL that made them."""
    return dict(file.execute("select name, coalesce(sql, '') from sqlite_master").fetchall())


class LogbookFile:
    """An open file with the tables of a logbook; holds its only writing connection."""

    def __init__(
        self,
        path: Path | str,
        *,
        device: str,
        clock: Callable[[], datetime],
        new_id: Callable[[], str],
        kinds: Sequence[type[Record]] = KINDS,
    ) -> None:
        """Open a file, or make a new one.

        Raises:
            DamagedError: if the file is no logbook, or a newer version wrote it.
        """
        self.device = device
        self.kinds = {kind.kind: kind for kind in kinds}
        self._clock = clock
        self._new_id = new_id
        try:
            self._file = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
        except sqlite3.Error as error:
            raise DamagedError(f"{path} cannot be opened as a logbook: {error}") from error
        try:
            self._prepare()
        except _UNREADABLE as error:
            self._file.close()
            raise DamagedError(f"{path} cannot be read as a logbook: {error}") from error
        except StrandlineError:
            self._file.close()
            raise

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: types.TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the file; everything written is already on disk."""
        self._file.close()

    def _prepare(self) -> None:
        version = self._one("pragma user_version")
        tables = self._one("select count(*) from sqlite_master")
        if tables and self._one("pragma application_id") != APPLICATION:
            raise DamagedError("this SQLite file is not a logbook; choose the file that is one")
        if version > FORMAT:
            raise DamagedError(
                f"this logbook has format {version}, written by a newer version; this one reads"
                f" up to {FORMAT}: update the program, nothing in the file was changed"
            )
        self._file.execute("pragma journal_mode=wal")
        self._file.execute("pragma synchronous=full")
        self._file.execute("pragma busy_timeout=5000")
        views = "".join(view_of(kind) for kind in self.kinds.values())
        mark = hashlib.sha256((TABLES + views).encode()).hexdigest()
        if not tables or self._about("tables") != mark:
            with self._transaction():
                self._script(TABLES + views)
                self._file.execute(f"pragma application_id={APPLICATION}")
                self._file.execute(f"pragma user_version={FORMAT}")
                self._keep_about("tables", mark)
                if self._about("log") is None:
                    self._keep_about("log", self._new_id())
                self._rederive()  # this version may know kinds and fields that the last did not

    def _rederive(self) -> None:
        """Work out anew, in the running transaction, what is derived from the lines."""

    def _script(self, sql: str) -> None:
        statement = ""  # executescript would commit the running transaction
        for part in sql.splitlines(keepends=True):
            statement += part
            if sqlite3.complete_statement(statement):
                self._file.execute(statement)
                statement = ""

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        try:
            self._file.execute("begin immediate")
            yield
            self._file.execute("commit")
        except BaseException as error:
            if self._file.in_transaction:
                self._file.execute("rollback")
            if isinstance(error, sqlite3.OperationalError):
                raise StrandlineError(
                    f"nothing was kept, the file could not be written ({error}): make room on the"
                    " device, or try again; what was kept before is still there"
                ) from error
            raise

    @contextlib.contextmanager
    def snapshot(self) -> Iterator[None]:
        """Read one state of the file throughout, whatever another connection writes meanwhile."""
        self._file.execute("begin")
        try:
            yield
        finally:
            self._file.execute("rollback")

    def _one(self, sql: str, *values: object) -> Any:  # noqa: ANN401 - any SQLite value
        row = self._file.execute(sql, values).fetchone()
        return None if row is None else row[0]

    def _about(self, name: str) -> str | None:
        found = self._one("select value from about where name = ?", name)
        return None if found is None else str(found)

    def _keep_about(self, name: str, value: str) -> None:
        self._put("about", name, value)

    def _put(self, table: str, *values: str | int) -> None:
        """Write one small sealed row, in place of the row of that name."""
        marks = "?," * len(values) + "?"
        self._file.execute(
            f"insert or replace into {table} values ({marks})",  # noqa: S608 - our own words
            (*values, seal_of(*values)),
        )

    @property
    def log(self) -> str:
        """Name of this log; a file made anew has another."""
        return str(self._about("log"))

    # how far exchanges have got ---------------------------------------------------------------

    def place_with(self, peer: str) -> PeerPlace:
        """Return how far entries have been fetched from another end."""
        row = self._file.execute("select log, fetched from peer where name = ?", (peer,)).fetchone()
        return PeerPlace(log=row[0], fetched=row[1]) if row else PeerPlace()

    def keep_place(self, peer: str, place: PeerPlace) -> None:
        """Remember how far; call it only after the data is here."""
        with self._transaction():
            self._put("peer", peer, place.log, place.fetched)

    def unsent_after(self, peer: str) -> int:
        """Return the number up to which this device's lines here were handed to another end."""
        sql = "select up_to from sent where peer = ? and device = ?"
        return int(self._one(sql, peer, self.device) or 0)

    def keep_sent(self, peer: str, *, up_to: int, has: int) -> None:
        """Remember what was handed over and what another end said it has of this device.

        The two differ after this file was set back to an old copy: the other end has lines of
        this device that are not here, under numbers that are given out here again.
        """
        with self._transaction():
            self._put("sent", peer, self.device, up_to, has)

    def unbroken(self, device: str) -> int:
        """Return the sequence number up to which every line of a device was handed in."""
        return int(self._one("select unbroken from device where name = ?", device) or 0)

    def _advance(self, device: str) -> None:
        """Move the unbroken mark of a device over the lines now here, in the transaction."""
        reached = self.unbroken(device)
        while self._one(
            "select 1 from entry where device = ?1 and seq = ?2 union all"
            " select 1 from quarantine where device = ?1 and seq = ?2",
            device,
            reached + 1,
        ):
            reached += 1
        self._file.execute("insert or replace into device values (?,?)", (device, reached))

    def rows(self, sql: str, *values: str | int) -> Iterator[tuple[Any, ...]]:
        """Answer a question of the checks; nothing is changed by it.

        Raises:
            DamagedError: if the file cannot answer.
        """
        try:
            for row in self._file.execute(sql, values):  # noqa: UP028 - would close the cursor late
                yield row
        except _UNREADABLE as error:
            raise DamagedError(f"the file cannot be read any further: {error}") from error

    def misshapen(self) -> list[str]:
        """Return the tables, indexes and views that are not as a file made anew has them.

        Raises:
            DamagedError: if the file cannot answer.
        """
        with contextlib.closing(sqlite3.connect(":memory:")) as anew:
            anew.executescript(TABLES + "".join(view_of(kind) for kind in self.kinds.values()))
            wanted = shape_of(anew)
        try:
            here = shape_of(self._file)
        except _UNREADABLE as error:
            raise DamagedError(f"the file cannot be read any further: {error}") from error
        return [name for name, sql in wanted.items() if here.get(name) != sql]

    # quarantine -------------------------------------------------------------------------------

    def quarantined(self) -> list[Held]:
        """Return the lines that could not be taken in, oldest first."""
        names = [field.name for field in dataclasses.fields(Held)]
        return [
            Held(**dict(zip(names, row, strict=True)))
            for row in self._file.execute(
                "select place, line, device, seq, source, why, arrived_at"
                " from quarantine order by place"
            )
        ]

    # drafts -----------------------------------------------------------------------------------

    def keep_draft(self, name: str, typed: str) -> None:
        """Put a half-typed record on disk."""
        with self._transaction():
            self._put("draft", name, typed, stamp(self._clock()))

    def drafts(self) -> dict[str, str]:
        """Return the half-typed records, oldest first."""
        return dict(self._file.execute("select name, typed from draft order by kept_at, name"))

    def drop_draft(self, name: str) -> None:
        """Forget a half-typed record."""
        with self._transaction():
            self._file.execute("delete from draft where name = ?", (name,))
