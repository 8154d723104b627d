"""Copying what is here into a carry file, and taking one in; each ends in plain sentences."""

import dataclasses
import errno
import shutil
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from shared_core.carry import SUFFIX, read_carry, take_in_carry, write_carry
from shared_core.errors import DamagedError, StrandlineError, UnknownError
from shared_core.logbook import Logbook, Verdict
from shared_core.photo_folder import PhotoFolder

LONGEST_COPIED_TO: Final = 60  # of the field that names the second copy
MOST_REASONS: Final = 3  # of lines held back that are told one by one


@dataclasses.dataclass(frozen=True, kw_only=True)
class Copied:
    """A copy that was written and read back."""

    path: Path
    entries: int
    photos: int
    size_bytes: int

    @property
    def says(self) -> str:
        """Where the copy is and what it holds, in words."""
        photos = counted(self.photos, "photo", "photos")
        return (
            f"Copied and read back: {self.path.name} in {self.path.parent} holds"
            f" {counted(self.entries, 'entry', 'entries')} and {photos}"
            f" ({size_words(self.size_bytes)})."
        )

    @property
    def short(self) -> str:
        """The same as short as the record of a visit holds it."""
        return f"{self.path.parent.name}/{self.path.name}"[-LONGEST_COPIED_TO:]


def copy_to(folder: Path, logbook: Logbook, photos: PhotoFolder | None, at: datetime) -> Copied:
    """Write everything into a carry file in a folder, and read it back whole.

    Raises:
        UnknownError: if the folder is not there (any more).
        DamagedError: if what was read back is not what was written.
        StrandlineError: if there is no room, or the place cannot be written to.
    """
    if not folder.is_dir():
        raise UnknownError(f"{folder} is not there: put the stick in, or choose another folder")
    name = f"{logbook.device}-{at.astimezone(UTC):%Y%m%d-%H%M%S}{SUFFIX}"
    path = folder / name
    try:
        written = write_carry(path, logbook, photos, made_at=at)
        _read_back(path, written.entries, written.photos)
        size = path.stat().st_size
    except StrandlineError as error:
        raise _plainer(error, folder) from error
    except OSError as error:
        raise StrandlineError(_plain(error, folder)) from error
    return Copied(path=path, entries=written.entries, photos=written.photos, size_bytes=size)


def _read_back(path: Path, entries: int, photos: int) -> None:
    carried = read_carry(path)
    for sha256 in carried.photos:
        carried.photos[sha256]  # raises if its bytes are not those of its name
    if (carried.manifest.entries, len(carried.photos)) != (entries, photos):
        raise DamagedError(f"{path.name} holds less than was written: try another stick")


def _plainer(error: StrandlineError, folder: Path) -> StrandlineError:
    cause = error.__cause__
    if isinstance(error, DamagedError | UnknownError) or not isinstance(cause, OSError):
        return error
    return StrandlineError(_plain(cause, folder))


def _plain(error: OSError, folder: Path) -> str:
    if error.errno in (errno.ENOSPC, errno.EDQUOT):
        return f"{folder} is full{_free(folder)}: nothing was copied. Make room, or take another."
    if error.errno in (errno.EACCES, errno.EPERM, errno.EROFS):
        return f"{folder} cannot be written to: nothing was copied. Is it locked?"
    if error.errno in (errno.ENOENT, errno.ENODEV, errno.EIO, errno.ENXIO):
        return f"{folder} went away while copying: nothing was copied. Put it in again."
    return f"nothing was copied to {folder}: {error}"


def _free(folder: Path) -> str:
    try:
        return f" ({size_words(shutil.disk_usage(folder).free)} left)"
    except OSError:
        return ""


def take_in(path: Path, logbook: Logbook, photos: PhotoFolder | None) -> str:
    """Take a carry file in and say what came of it.

    Raises:
        UnknownError: if there is no such file.
        DamagedError: if it is no carry file, or not whole; nothing was taken then.
    """
    device = read_carry(path).manifest.device
    before = set(photos.hashes()) if photos else set()
    verdicts = take_in_carry(path, logbook, photos)
    new_photos = len(set(photos.hashes()) - before) if photos else 0
    return taken_in_words(device, verdicts, new_photos)


def taken_in_words(device: str, verdicts: Sequence[Verdict], photos: int) -> str:
    """Say what became of the lines and photos of a carry file."""
    count = Counter(verdict.outcome for verdict in verdicts)
    entries = counted(count["taken"], "new entry", "new entries")
    says = [f"From {device}: {entries} and {counted(photos, 'new photo', 'new photos')} taken in."]
    if count["had it"]:
        says.append(f"{counted(count['had it'], 'entry was', 'entries were')} here already.")
    held = [verdict for verdict in verdicts if verdict.outcome == "quarantined"]
    if held:
        says.append(f"{counted(len(held), 'line is', 'lines are')} held back, nothing is lost:")
        reasons = Counter(verdict.why for verdict in held).most_common(MOST_REASONS)
        says.append("; ".join(why if times == 1 else f"{why} ({times})" for why, times in reasons))
        says.append("Tell your coordinator.")
    return " ".join(says)


def counted(count: int, one: str, many: str) -> str:
    """Say how many there are."""
    return f"{count:,} {one if count == 1 else many}"


def size_words(size_bytes: int) -> str:
    """Say how many bytes, as people say it."""
    if size_bytes < 1000:
        return counted(size_bytes, "byte", "bytes")
    for unit, size in (("kB", 1e3), ("MB", 1e6), ("GB", 1e9)):
        if size_bytes < size * 1000:
            return f"{size_bytes / size:.1f} {unit}"
    return f"{size_bytes / 1e12:.1f} TB"
