"""Sticks and cards that are put into this device, and the carry files on them."""

import os
import string
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

from shared_core.carry import SUFFIX

# Where systems show a stick: desktops under /media or /run/media in a folder of the user's name,
# by hand under /mnt, Android under /storage (from memory).
SHOWN_UNDER: Final = ("/media", "/run/media", "/mnt", "/storage", "/Volumes")
MOST_FILES: Final = 20


def sticks(under: Sequence[str] = SHOWN_UNDER, platform: str = sys.platform) -> list[Path]:
    """Return the folders of the sticks that can be written to, in order of name."""
    if platform == "win32":
        drives = (Path(f"{letter}:\\") for letter in string.ascii_uppercase[3:])
        return [drive for drive in drives if drive.exists()]
    found = []
    for top in map(Path, under):
        for folder in _folders(top):
            if os.path.ismount(folder):
                found.append(folder)
            else:  # a folder of the user's name with the sticks in it
                found += [inner for inner in _folders(folder) if os.path.ismount(inner)]
    return sorted({folder for folder in found if os.access(folder, os.W_OK)})


def carry_files(folder: Path) -> list[Path]:
    """Return the carry files in a folder, the newest first; none if it cannot be read."""
    try:
        found = [path for path in folder.iterdir() if path.suffix == SUFFIX and path.is_file()]
        return sorted(found, key=lambda path: path.stat().st_mtime, reverse=True)[:MOST_FILES]
    except OSError:
        return []


def _folders(top: Path) -> list[Path]:
    try:
        return [path for path in top.iterdir() if path.is_dir()]
    except OSError:
        return []
