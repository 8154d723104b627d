"""A device of the story: its own logbook, clock, photos, and its way to the server."""

import random
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Final

from mobile.courier import Delivery, HttpPeer, NoWayError, deliver, enrol
from mobile.drafts import Saved
from mobile.field_day import Device, FieldDay
from shared_core.errors import StrandlineError
from shared_core.identity import uuid7
from shared_core.logbook import Logbook
from shared_core.photo_folder import PhotoFolder
from shared_core.records import KINDS

KIND_NAMED: Final = {kind.kind: kind for kind in KINDS}
TRIES: Final = 40  # times a person presses the button again on a bad line
EPOCH: Final = datetime(1970, 1, 1, tzinfo=UTC)


class Tablet:
    """One device with one person's hands on it; time stands where the story puts it."""

    def __init__(self, folder: Path, name: str, author: str) -> None:
        folder.mkdir(parents=True, exist_ok=True)
        self.name = name
        self.author = author
        self.photos = PhotoFolder(folder / "photos")
        self._moment = datetime(2023, 6, 30, tzinfo=UTC)
        self._ticks = 0
        self._position: tuple[float, float, float | None] | None = None
        self._draw = random.Random(f"invented device {name}")  # same names on every run
        self.logbook = Logbook(
            folder / "visits.logbook", device=name, clock=self._now, new_id=self._new_id
        )
        self.day = FieldDay(self.logbook, author=author, device=self._device, new_id=self._new_id)
        self._token = ""

    def close(self) -> None:
        """Put the device away."""
        self.logbook.close()

    # its clock and its names -------------------------------------------------------------------

    def at(
        self, moment: datetime, position: tuple[float, float, float | None] | None = None
    ) -> None:
        """Put the device's clock and its receiver to where the story is."""
        self._moment = moment
        self._ticks = 0
        self._position = position

    def _now(self) -> datetime:
        self._ticks += 1  # two lines of one moment keep their order
        return self._moment.astimezone(UTC) + timedelta(milliseconds=self._ticks % 1000)

    def _new_id(self) -> str:
        milliseconds = (self._moment - EPOCH) // timedelta(milliseconds=1)
        return uuid7(milliseconds, self._draw.getrandbits(74))

    def _device(self) -> Device:
        offset = self._moment.utcoffset() or timedelta()
        return Device(
            now=self._moment,
            offset_min=int(offset.total_seconds() // 60),
            position=self._position,
            time_source="device",
        )

    # recording ---------------------------------------------------------------------------------

    def write(self, kind: str, point: str, typed: Mapping[str, str], **fixed: object) -> Saved:
        """Type a record key by key and save it."""
        return self.day.record(KIND_NAMED[kind], point, dict(typed), **fixed)

    # exchange ----------------------------------------------------------------------------------

    def enrol(self, url: str, code: str) -> None:
        """Let this device in with a one-time code."""
        self._token = enrol(url, code, self.name)["token"]

    def exchange(self, url: str) -> tuple[Delivery, int]:
        """Deliver and fetch, again and again where the line breaks; return what moved and the tries.

        Raises:
            StrandlineError: if it never got through.
        """
        for turn in range(1, TRIES + 1):
            try:
                return deliver(self.logbook, self.photos, self.peer(url)), turn
            except NoWayError:
                continue
        raise StrandlineError(f"{self.name} did not get through in {TRIES} tries")

    def peer(self, url: str) -> HttpPeer:
        """Return this device's way to the server."""
        return HttpPeer(url, self._token)
