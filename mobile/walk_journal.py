"""A walk on disk while it is walked: one line for each thing that happens, never written twice.

A line is on disk when :meth:`WalkJournal.append` returns. Writing costs the same at the first fix
as at the last. A torn last line, as a dead battery leaves it, is cut off.
"""

import contextlib
import json
import os
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import quote

Event = Sequence[Any]  # a word, then what goes with it


class WalkJournal:
    """The file of one walk that is not kept in the logbook yet; a site has one at most."""

    def __init__(self, folder: Path, site: str) -> None:
        """Take the data folder and the site; no file is made before the first line."""
        self.path = folder / "walks" / f"{quote(site, '')}.jsonl"
        self.unread = 0  # lines that could not be read
        self._size = 0

    def read(self) -> list[Event]:
        """Return what has happened so far; a torn end is cut off, other odd lines are counted."""
        try:
            data = self.path.read_bytes()
        except FileNotFoundError:
            return []
        whole = data[: data.rfind(b"\n") + 1]
        if len(whole) < len(data):
            with self.path.open("r+b") as file:
                file.truncate(len(whole))
        self._size = len(whole)
        return list(self._events(whole))

    def _events(self, data: bytes) -> Iterator[Event]:
        self.unread = 0
        for line in data.splitlines():
            try:
                event = json.loads(line)
            except ValueError:
                event = None
            if isinstance(event, list) and event and isinstance(event[0], str):
                yield event
            else:
                self.unread += 1

    def append(self, events: Iterable[Event]) -> None:
        """Write lines at the end, all or none; they are on disk when this returns.

        Raises:
            OSError: if the disk does not take them.
        """
        data = b"".join(
            json.dumps(event, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"
            for event in events
        )
        new = not self.path.exists()
        if new:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._size = 0
        try:
            with self.path.open("ab", buffering=0) as file:
                _write_all(file.fileno(), data)
                os.fsync(file.fileno())
        except OSError:
            with contextlib.suppress(OSError):
                os.truncate(self.path, self._size)
            raise
        self._size += len(data)
        if new:
            _sync_folder(self.path.parent)

    def drop(self) -> None:
        """Forget the walk."""
        self.path.unlink(missing_ok=True)
        self._size = 0


def _write_all(file: int, data: bytes) -> None:
    while data:
        data = data[os.write(file, data) :]


def _sync_folder(folder: Path) -> None:
    """Put the name of a new file on disk too, where the system can."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
