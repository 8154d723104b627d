"""One program at a time on a data folder: a lock that the system lets go when the program ends."""

import os
import sys
from pathlib import Path
from typing import Final

from shared_core.errors import RefusedError, StrandlineError

FILE: Final = "in-use"


class FolderLock:
    """Holds a data folder until it is let go, or until the program ends in any way."""

    def __init__(self, folder: Path) -> None:
        """Take the folder.

        Raises:
            RefusedError: if another window has it.
            StrandlineError: if the folder cannot be written to.
        """
        try:
            folder.mkdir(parents=True, exist_ok=True)
            self._handle = os.open(folder / FILE, os.O_RDWR | os.O_CREAT, 0o600)
        except OSError as error:
            raise StrandlineError(f"{folder} cannot be used: {error}") from error
        try:
            _hold(self._handle)
        except OSError as error:
            os.close(self._handle)
            raise RefusedError(
                "Strandline is open already on this device, in another window. Go on there, or"
                " close it and start again. Nothing is lost: both would be the same logbook"
                f" ({folder})."
            ) from error

    def let_go(self) -> None:
        """Let the folder go; a second time does nothing."""
        if self._handle >= 0:
            os.close(self._handle)
            self._handle = -1


def _hold(handle: int) -> None:
    if sys.platform == "win32":
        import msvcrt  # noqa: PLC0415 - only Windows has it

        msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
    else:
        import fcntl  # noqa: PLC0415 - Windows has none

        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
