"""Walks out of files: read whole, or played as if a receiver spoke."""

from collections.abc import Sequence
from pathlib import Path
from typing import Final

from mobile.device.receivers import Receiver, Sink, State
from shared_core.errors import UnknownError, UnreadableError
from shared_core.gpx import read_gpx
from shared_core.nmea import read_nmea
from shared_core.track import Fix

LARGEST_FILE: Final = 16_000_000  # bytes; a day's walk at one fix a second has about ten
LONGEST_WAIT_S: Final = 5.0  # between two fixes of a played file


class Replay(Receiver):
    """Plays fixes at a pace."""

    def __init__(self, fixes: Sequence[Fix], sink: Sink, *, pace: float = 0.0) -> None:
        """Take the fixes, where they go, and how many times faster than walked; 0: all at once."""
        super().__init__(sink)
        self._fixes = tuple(fixes)
        self._pace = pace

    def _listen(self) -> None:
        before = None
        for fix in self._fixes:
            if before is not None and self._pace > 0:
                gap_s = (fix.time - before.time).total_seconds() / self._pace
                self._ended.wait(min(max(gap_s, 0.0), LONGEST_WAIT_S))
            if self._ended.is_set():
                return
            self._give(fix)
            before = fix
        self.state = State.ENDED


def fixes_of_file(path: Path) -> tuple[Fix, ...]:
    """Return the fixes of a GPX file's longest track, or of NMEA sentences.

    Raises:
        UnknownError: if there is no such file.
        UnreadableError: if it is neither, is too large, or holds no track with times.
    """
    try:
        if path.stat().st_size > LARGEST_FILE:
            raise UnreadableError(f"{path.name} is larger than {LARGEST_FILE / 1e6:.0f} MB")
        data = path.read_bytes()
    except OSError:
        raise UnknownError(f"there is no file {path.name} that can be read") from None
    if data.lstrip()[:1] == b"$":
        return read_nmea(data).fixes
    return max((walked.fixes for walked in read_gpx(data)), key=len)
