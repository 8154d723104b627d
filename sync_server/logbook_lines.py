"""The entries of a logbook or carry file, wherever it comes from; the file is only read."""

from datetime import UTC, datetime
from pathlib import Path

from shared_core.carry import read_carry
from shared_core.errors import DamagedError, UnknownError
from shared_core.logbook import Logbook
from sync_server.data_folder import SQLITE_MARK, reading_copy


def lines_of(path: Path) -> list[str]:
    """Return the exact lines of a carry file or logbook, in order of arrival.

    Raises:
        UnknownError: if there is no such file.
        DamagedError: if it is neither, or is not what was once written.
    """
    if not path.is_file():
        raise UnknownError(f"there is no file {path}")
    with path.open("rb") as file:
        start = file.read(len(SQLITE_MARK))
    if start == SQLITE_MARK:
        return lines_of_logbook(path)
    if start[:2] == b"PK":
        return list(read_carry(path).lines)
    raise DamagedError(f"{path.name} is neither a logbook nor a carry file")


def lines_of_logbook(path: Path) -> list[str]:
    """Return the exact lines of a logbook, in order of arrival.

    Raises:
        DamagedError: if it is no logbook, is damaged, or a newer version wrote it.
    """
    lines: list[str] = []
    with reading_copy(path) as copy, opened_to_read(copy) as logbook:
        place = 0
        while True:
            entries, place = logbook.since(place)
            if not entries:
                return lines
            lines.extend(entry.line for entry in entries)


def opened_to_read(copy: Path | str) -> Logbook:
    """Open a copy of a logbook in which nothing will be written.

    Raises:
        DamagedError: if it is no logbook, is damaged, or a newer version wrote it.
    """
    return Logbook(copy, device="reader", clock=_no_clock, new_id=_no_name)


def _no_clock() -> datetime:
    return datetime(1970, 1, 1, tzinfo=UTC)


def _no_name() -> str:
    return "reader"
