"""The data folder: one program at a time writes to it, and others read from a copy.

Two programs that write to one SQLite file in WAL mode can lose writes in versions before 3.51.3
(SQLite release notes), so whoever opens the central logbook holds a lock beside it.
"""

import contextlib
import os
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Final

from shared_core.errors import DamagedError, RefusedError, UnknownError

LOGBOOK_NAME: Final = "central.logbook"
LOCK_NAME: Final = "in-use.lock"
SQLITE_MARK: Final = b"SQLite format 3\0"


class FolderLock:
    """Held by the one program that writes to a data folder; let go when its process ends."""

    def __init__(self, folder: Path) -> None:
        """Take the lock.

        Raises:
            RefusedError: if another program holds it.
        """
        folder.mkdir(parents=True, exist_ok=True)
        self._file = os.open(folder / LOCK_NAME, os.O_RDWR | os.O_CREAT, 0o600)
        try:
            _take(self._file)
        except OSError:
            os.close(self._file)
            raise RefusedError(
                f"another program has {folder} open, such as the server; stop it first and try"
                " again"
            ) from None

    def close(self) -> None:
        """Let another program have the folder."""
        os.close(self._file)


def _take(file: int) -> None:
    if sys.platform == "win32":
        import msvcrt  # noqa: PLC0415 - exists there only

        msvcrt.locking(file, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl  # noqa: PLC0415 - exists there only

        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)


@contextlib.contextmanager
def reading_copy(logbook: Path) -> Iterator[Path]:
    """Yield the path of a copy of a logbook file, whole as of now; the file is only read.

    Raises:
        UnknownError: if there is no such file.
        DamagedError: if it is no SQLite file or cannot be read.
    """
    if not logbook.is_file():
        raise UnknownError(f"there is no logbook at {logbook}")
    with logbook.open("rb") as file:
        if file.read(len(SQLITE_MARK)) != SQLITE_MARK:
            raise DamagedError(f"{logbook} is not a logbook; choose the file that is one")
    with tempfile.TemporaryDirectory(prefix="strandline-") as folder:
        copy = Path(folder) / logbook.name
        _copy(logbook, copy)
        yield copy


def _copy(logbook: Path, copy: Path) -> None:
    address = f"{logbook.absolute().as_uri()}?mode=ro"
    try:
        try:
            _backup(address, copy)
        except sqlite3.OperationalError:
            if logbook.with_name(f"{logbook.name}-wal").exists():
                raise
            _backup(f"{address}&immutable=1", copy)  # in a folder nobody may write to, as on a disc
    except sqlite3.DatabaseError as error:
        raise DamagedError(f"{logbook} cannot be read as a logbook: {error}") from error


def _backup(address: str, copy: Path) -> None:
    with (
        contextlib.closing(sqlite3.connect(address, uri=True)) as source,
        contextlib.closing(sqlite3.connect(copy)) as target,
    ):
        source.backup(target)
