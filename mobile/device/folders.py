"""Where records live on this device."""

import os
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import Final

NAME: Final = "strandline"


def data_folder(environment: Mapping[str, str] | None = None, platform: str = sys.platform) -> Path:
    """Return the folder for the logbook, photos and identity; it need not exist yet.

    On Android it is the app's private folder, which goes when the app is removed: what must
    last is exchanged.
    """
    around = os.environ if environment is None else environment
    if around.get("ANDROID_PRIVATE"):  # set by python-for-android (from memory)
        return Path(around["ANDROID_PRIVATE"]) / NAME
    if platform == "win32" and around.get("LOCALAPPDATA"):
        return Path(around["LOCALAPPDATA"]) / NAME
    if around.get("XDG_DATA_HOME"):  # XDG Base Directory Specification 0.8
        return Path(around["XDG_DATA_HOME"]) / NAME
    return Path(around.get("HOME") or Path.home()) / ".local" / "share" / NAME
