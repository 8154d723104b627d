"""The central store: the one logbook of the server, behind one lock, with everyone's rights."""

import contextlib
import dataclasses
import hashlib
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from shared_core.errors import StrandlineError, UnknownError
from shared_core.exchange import Asking, Reply, answer
from shared_core.logbook import BATCH, Logbook, Verdict
from shared_core.logbook_file import Held
from shared_core.merge import Entry, read_entry
from sync_server.access import OWN_DEVICE, Caller
from sync_server.data_folder import LOGBOOK_NAME, FolderLock
from sync_server.rights import may_see, refusal

REPLY_BYTES: Final = 8_000_000


class Store:
    """The open central logbook. Every call takes the lock; nothing is handed out that outlives it."""

    def __init__(
        self,
        data: Path,
        *,
        clock: Callable[[], datetime],
        new_id: Callable[[], str],
        device: str = OWN_DEVICE,
        reply_bytes: int = REPLY_BYTES,
    ) -> None:
        """Open the logbook in a data folder, or make both.

        Raises:
            RefusedError: if another program has the folder open.
            DamagedError: if the file is no logbook, or a newer version wrote it.
        """
        self._folder_lock = FolderLock(data)
        self._reply_bytes = reply_bytes
        self._lock = threading.RLock()
        self._photo_words: dict[str, list[Entry]] = {}
        self._photo_place = 0
        try:
            self._logbook = Logbook(data / LOGBOOK_NAME, device=device, clock=clock, new_id=new_id)
        except BaseException:
            self._folder_lock.close()
            raise

    def close(self) -> None:
        """Close the file and let others have the folder."""
        with self._lock:
            self._logbook.close()
            self._folder_lock.close()

    @contextlib.contextmanager
    def opened(self) -> Iterator[Logbook]:
        """Yield the logbook while holding the lock; keep it short and keep nothing of it."""
        with self._lock:
            yield self._logbook

    @property
    def log(self) -> str:
        """Name of the central log."""
        with self._lock:
            return self._logbook.log

    # exchange ---------------------------------------------------------------------------------

    def taken_in(self, caller: Caller, asking: Asking) -> Reply:
        """Answer one request of a device within its owner's rights (see ``rights``).

        The name of the log that a device is told ends in a mark of what its owner may see. When
        that scope changes the name changes, and the device reads from the start again, so that
        lines passed over before are not missed.
        """
        with self._lock:
            name = f"{self._logbook.log}.{_view_of(caller)}"
            log = self._logbook.log if asking.log == name else ""
            asked = dataclasses.replace(asking, device=caller.device, log=log)
            if caller.revoked_at is not None:
                return self._shut_out(caller, asked, name)
            reply = self._answered(caller, asked)
            while sum(map(len, reply.lines)) > self._reply_bytes and asked.limit > 1:
                asked = dataclasses.replace(asked, lines=(), limit=asked.limit // 2)
                reply = dataclasses.replace(self._answered(caller, asked), verdicts=reply.verdicts)
            return dataclasses.replace(reply, log=name)

    def _answered(self, caller: Caller, asked: Asking) -> Reply:
        return answer(
            self._logbook,
            asked,
            refuse=lambda entry: self._refusal(entry, caller),
            may_see=lambda entry: may_see(entry, caller, self._logbook.history),
        )

    def _refusal(self, entry: Entry, caller: Caller) -> str:
        return refusal(entry, caller, self._logbook.history(entry.record))

    def _shut_out(self, caller: Caller, asked: Asking, name: str) -> Reply:
        verdicts = self._logbook.absorb(
            asked.lines,
            source=caller.device,
            refuse=lambda entry: self._refusal(entry, caller),
        )
        return Reply(
            log=name,
            verdicts=tuple(verdicts),
            has=self._logbook.unbroken(caller.device),
            lines=(),
            place=asked.after,
            more=False,
        )

    def carried_in(
        self, lines: Sequence[str], *, source: str, owner_of: Callable[[str], Caller | None]
    ) -> list[Verdict]:
        """Take in lines that somebody brought by hand, whichever devices wrote them.

        Lines of an enrolled device are held to its owner's rights. Those of a device that was
        never enrolled are taken on the word of the person at the machine.
        """

        def refuse(entry: Entry) -> str:
            owner = owner_of(entry.device)
            return self._refusal(entry, owner) if owner else ""

        with self._lock:
            verdicts: list[Verdict] = []
            for start in range(0, len(lines), BATCH):
                batch = lines[start : start + BATCH]
                verdicts += self._logbook.absorb(batch, source=source, refuse=refuse)
            return verdicts

    # quarantine -------------------------------------------------------------------------------

    def waiting(self) -> list[Held]:
        """Return the lines in quarantine that have not been taken in since, oldest first."""
        with self._lock:
            return [held for held in self._logbook.quarantined() if not self._taken(held)]

    def _taken(self, held: Held) -> bool:
        try:
            entry = read_entry(held.line)
        except StrandlineError:
            return False
        return any(entry.line == known.line for known in self._logbook.history(entry.record))

    def admit(self, place: int, *, by: str) -> Verdict:
        """Take a line out of quarantine into the log after all, on a coordinator's word.

        Raises:
            UnknownError: if no such line waits.
        """
        with self._lock:
            held = next((line for line in self.waiting() if line.place == place), None)
            if held is None:
                raise UnknownError(f"no line {place} waits in quarantine")
            return self._logbook.absorb([held.line], source=f"admitted by {by}")[0]

    # photos -----------------------------------------------------------------------------------

    def shows_photo(self, caller: Caller, sha256: str) -> bool:
        """Tell whether a photo belongs to a record that this caller may see."""
        with self._lock:
            self._read_photo_words()
            return any(
                may_see(entry, caller, self._logbook.history)
                for entry in self._photo_words.get(sha256, ())
            )

    def photos_named(self) -> list[str]:
        """Return the fingerprints of all photos that some record names."""
        with self._lock:
            self._read_photo_words()
            return sorted(self._photo_words)

    def _read_photo_words(self) -> None:
        while True:
            entries, place = self._logbook.since(self._photo_place)
            if not entries:
                return
            for entry in entries:
                slim = dataclasses.replace(entry, body=None, line="")
                for sha256 in photos_of(entry):
                    self._photo_words.setdefault(sha256, []).append(slim)
            self._photo_place = place


def photos_in(lines: Iterable[str]) -> set[str]:
    """Return the fingerprints of all photos that sound lines of a log name."""
    return {sha256 for line in lines for sha256 in photos_of(read_entry(line))}


def photos_of(entry: Entry) -> set[str]:
    """Return the fingerprints of the photos that an entry names."""
    body = entry.body or {}
    listed = body.get("photos")
    named = [*(listed if isinstance(listed, list) else ()), body.get("sha256")]
    return {word for word in named if isinstance(word, str) and len(word) == 64}


def _view_of(caller: Caller) -> str:
    scope = (caller.name, caller.role, sorted(caller.sites))
    return hashlib.sha256(repr(scope).encode()).hexdigest()[:12]
