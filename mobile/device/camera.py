"""Where pictures come from: a camera of the device's own, or files in a folder.

A camera that a device has is a :class:`Camera`; whoever packages the app for such a device hands
one in. Everywhere else a person chooses a file: one that a camera or a telephone put there.
"""

import os
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final, Protocol

ENDINGS: Final = frozenset((".jpg", ".jpeg", ".png"))
MOST_SHOWN: Final = 60  # of each kind; the newest pictures come first


class Camera(Protocol):
    """A camera of the device's own."""

    def take(self, then: Callable[[Path], None]) -> bool:
        """Take one picture and hand its file on, now or later.

        Returns:
            Whether there is a camera; if not, a person is to choose a file.
        """
        ...


class NoCamera:
    """A device without a camera of its own: files are chosen."""

    def take(self, then: Callable[[Path], None]) -> bool:
        """Say that a file is to be chosen."""
        del then
        return False


@dataclass(frozen=True, kw_only=True)
class PictureFile:
    """One file that may be a picture."""

    path: Path
    at: datetime  # when it was last written, UTC


@dataclass(frozen=True, kw_only=True)
class FolderSeen:
    """What lies in a folder: folders by name, pictures with the newest first."""

    path: Path
    above: Path | None
    folders: tuple[Path, ...]
    pictures: tuple[PictureFile, ...]
    left_out: int = 0  # pictures beyond the number shown
    trouble: str = ""


def look_into(folder: Path) -> FolderSeen:
    """Return what lies in a folder; one that cannot be read says so."""
    above = None if folder.parent == folder else folder.parent
    folders, pictures, trouble = [], [], ""
    try:
        for path in folder.iterdir():
            if path.name.startswith("."):
                continue
            if path.is_dir():
                folders.append(path)
            elif path.suffix.lower() in ENDINGS:
                at = datetime.fromtimestamp(path.stat().st_mtime, UTC)
                pictures.append(PictureFile(path=path, at=at))
    except OSError as error:
        trouble = f"This folder cannot be read ({error.strerror}). Choose another."
    newest = sorted(pictures, key=lambda picture: (picture.at, picture.path.name), reverse=True)
    return FolderSeen(
        path=folder,
        above=above,
        folders=tuple(sorted(folders)[:MOST_SHOWN]),
        pictures=tuple(newest[:MOST_SHOWN]),
        left_out=max(0, len(newest) - MOST_SHOWN),
        trouble=trouble,
    )


def pictures_folder(environment: Mapping[str, str] | None = None) -> Path:
    """Return the folder to look into first; one that is there."""
    around = os.environ if environment is None else environment
    home = Path(around.get("HOME") or around.get("USERPROFILE") or Path.home())
    wanted = (
        Path(around["XDG_PICTURES_DIR"]) if around.get("XDG_PICTURES_DIR") else None,
        home / "DCIM" / "Camera",
        home / "Pictures",
    )
    return next((path for path in wanted if path is not None and path.is_dir()), home)
