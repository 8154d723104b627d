"""The photos of a record that is being filled in, without a screen."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from mobile.entering import Entering
from mobile.pictures import Picture, Pictures
from shared_core.errors import StrandlineError
from shared_core.logbook import Logbook

TAKEN_OFF: Final = "taken-off/"  # begins the name of the list of photos taken off a draft


@dataclass(frozen=True, kw_only=True)
class Thumb:
    """One photo of a record, small."""

    sha256: str
    path: str  # of the small copy; empty where there is none
    says: str


@dataclass(frozen=True, kw_only=True)
class PhotosShown:
    """The photos of a record."""

    thumbs: tuple[Thumb, ...]
    words: str  # how many, for a key
    trouble: str = ""  # why the last one could not be added


class Attached:
    """Adds photos to a draft and takes them off again; a file stays until the record is kept."""

    def __init__(
        self, entering: Entering, pictures: Pictures | None, field: str = "photos"
    ) -> None:
        """Take the entry, the pictures on this device, and the field that names them."""
        self._entering = entering
        self._logbook = entering.draft.logbook
        self._pictures = pictures
        self._field = field
        self._list = f"{TAKEN_OFF}{entering.draft.name}"
        self.trouble = ""

    @property
    def names(self) -> tuple[str, ...]:
        """Fingerprints of the photos, in the order they were added."""
        parts = self._entering.text(self._field).split(",")
        return tuple(part.strip() for part in parts if part.strip())

    def shown(self) -> PhotosShown:
        """Return what to show."""
        count = len(self.names)
        return PhotosShown(
            thumbs=tuple(self._thumb(*pair) for pair in enumerate(self.names, start=1)),
            words="Photo" if not count else "1 photo" if count == 1 else f"{count} photos",
            trouble=self.trouble,
        )

    def _thumb(self, number: int, sha256: str) -> Thumb:
        path = self._pictures.thumbnail(sha256) if self._pictures else None
        says = f"Photo {number}" if path else f"Photo {number} is not on this device"
        return Thumb(sha256=sha256, path=str(path or ""), says=says)

    def add(self, path: Path) -> str:
        """Add a picture file; return why it could not be added, or nothing."""
        self.take_in(path)
        return self.trouble

    def take_in(self, path: Path) -> Picture | None:
        """Add a picture file and return what its camera wrote; None where :attr:`trouble` says why."""
        self.trouble = ""
        if self._pictures is None:
            self.trouble = "Photos cannot be kept here."
            return None
        try:
            picture = self._pictures.take_in(path)
        except StrandlineError as error:
            self.trouble = f"{error}."
            return None
        if picture.sha256 not in self.names:
            self._write((*self.names, picture.sha256))
        return picture

    def take_off(self, sha256: str) -> None:
        """Take a photo off the record; its file stays until the record is kept."""
        self.trouble = ""
        kept = json.loads(self._logbook.drafts().get(self._list, "[]"))
        self._logbook.keep_draft(self._list, json.dumps([*kept, sha256]))
        self._write(tuple(name for name in self.names if name != sha256))

    def _write(self, names: tuple[str, ...]) -> None:
        self._entering.attach(self._field, ", ".join(names))

    def record_kept(self) -> None:
        """Delete the files that were taken off and that nothing names, now that the record is kept."""
        off = json.loads(self._logbook.drafts().get(self._list, "[]"))
        if not off:
            return
        self._logbook.drop_draft(self._list)
        for sha256 in set(off) - _named(self._logbook, set(off)):
            if self._pictures is not None:
                self._pictures.drop(sha256)


def _named(logbook: Logbook, wanted: set[str]) -> set[str]:
    """Return which fingerprints an entry or a half-typed record names."""
    texts = [text for name, text in logbook.drafts().items() if not name.startswith(TAKEN_OFF)]
    found = {sha256 for sha256 in wanted for text in texts if sha256 in text}
    place = 0
    while True:
        entries, reached = logbook.since(place)
        for entry in entries:
            body = json.dumps(entry.body)
            found |= {sha256 for sha256 in wanted - found if sha256 in body}
        if reached == place:
            return found
        place = reached
