"""The walks of this device: the one being walked goes on while other screens are shown."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

from mobile.device.choice import make_receiver, receivers
from mobile.field_day import FieldDay
from mobile.walking import Parts, Walking


class Walks:
    """Holds one walk for each site; the app asks it often to take in what receivers sent."""

    def __init__(self, folder: Path, clock: Callable[[], datetime], receiver: str = "") -> None:
        """Take the data folder, the clock, and the receiver asked for on the command line."""
        self._parts = Parts(
            folder=folder,
            receivers=lambda: receivers(folder, asked=receiver),
            make=make_receiver,
            clock=clock,
        )
        self._open: dict[str, Walking] = {}
        self.listener: Callable[[Walking], None] = lambda _: None

    def at(self, day: FieldDay) -> Walking:
        """Return the walk at the site where the visit is."""
        if day.site not in self._open:
            self._open[day.site] = Walking(day, self._parts)
        walking = self._open[day.site]
        walking.refresh()
        return walking

    def take_in(self) -> None:
        """Take in what receivers have sent, and tell the listener."""
        for walking in self._open.values():
            if walking.listening:
                walking.take_in()
                self.listener(walking)

    def close(self) -> None:
        """Stop every receiver; each walk is on disk."""
        for walking in self._open.values():
            walking.stop()
        self._open.clear()
