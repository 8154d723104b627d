"""Surroundings of a process that draws: real frames where EGL is here, else none at all."""

import ctypes.util
import os
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parents[2]


def around() -> tuple[dict[str, str], bool]:
    """Return the variables for a process, and whether it draws real frames."""
    variables = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("KIVY_", "KCFG_", "SDL_", "PILOT_"))
    }
    drawn = all(ctypes.util.find_library(name) for name in ("EGL", "GLESv2"))
    if drawn:
        variables |= {"PILOT_PICTURES": "1", "KCFG_GRAPHICS_MULTISAMPLES": "0"}
    return variables, drawn
