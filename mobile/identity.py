"""Who this device is: one small file in the data folder that only its owner may read."""

import contextlib
import dataclasses
import json
import math
import os
import tempfile
from pathlib import Path
from typing import Final

from shared_core.errors import DamagedError

FILE: Final = "identity.json"
LEAST_DENSITY, MOST_DENSITY = 0.5, 6.0  # pixels a dp that a screen can have


@dataclasses.dataclass(frozen=True, kw_only=True)
class Identity:
    """Name of the device, who carries it, how it reaches its server, and how it is set."""

    device: str
    author: str = ""
    role: str = ""
    server: str = ""
    token: str = dataclasses.field(default="", repr=False)
    dusk: bool = False
    text_scale: float = 1.0
    layout: str = "auto"  # auto: wide or tall by the width of the window; tall: always
    density: float = 0.0  # pixels a dp on a desktop system; 0: as the system says
    exchanged_at: str = ""  # when the last exchange went through, UTC
    receiver: str = ""  # satellite receiver that was chosen, by its short name
    news_read: int = 0  # place in the logbook up to which corrections by others were shown

    @property
    def enrolled(self) -> bool:
        """Whether a server has let this device in."""
        return bool(self.token)


def read_identity(folder: Path) -> Identity | None:
    """Return the identity kept in a data folder, or None in a new one.

    Raises:
        DamagedError: if the file is there but holds something else.
    """
    try:
        text = (folder / FILE).read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    try:
        found = json.loads(text)
        known = {field.name: field for field in dataclasses.fields(Identity)}
        kept = {name: value for name, value in found.items() if name in known}
        identity = Identity(**kept)
        _check(identity)
    except (ValueError, TypeError, AttributeError) as error:
        raise DamagedError(
            f"{FILE} in {folder} cannot be read: {error}. Move it away and enrol again; the"
            " logbook beside it stays as it is."
        ) from error
    return identity


def density_of(folder: Path) -> str:
    """Return the density that was chosen, as Kivy reads it from its surroundings, or nothing.

    Kivy reads it once, when it is first imported. A file that cannot be read is told later, by
    the app.
    """
    try:
        identity = read_identity(folder)
    except DamagedError:
        return ""
    chosen = identity.density if identity else 0.0
    sound = math.isfinite(chosen) and LEAST_DENSITY <= chosen <= MOST_DENSITY
    return f"{chosen:g}" if sound else ""


def _check(identity: Identity) -> None:
    for field in dataclasses.fields(Identity):
        value = getattr(identity, field.name)
        wanted: tuple[type, ...] = (int, float) if field.type is float else (type(field.default),)
        if field.name == "device":
            wanted = (str,)
        if not isinstance(value, wanted):
            raise TypeError(f"{field.name} is {value!r}")
    if not identity.device:
        raise ValueError("the device has no name")


def keep_identity(folder: Path, identity: Identity) -> None:
    """Write the identity: all of it or nothing, readable by its owner only (mode 0600)."""
    folder.mkdir(parents=True, exist_ok=True)
    text = json.dumps(dataclasses.asdict(identity), indent=1, ensure_ascii=False)
    handle, name = tempfile.mkstemp(prefix=".identity-", dir=folder)  # mkstemp gives mode 0600
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(f"{text}\n")
            file.flush()
            os.fsync(file.fileno())
        Path(name).replace(folder / FILE)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    _sync(folder)


def _sync(folder: Path) -> None:
    """Put the new name on disk too; Windows cannot open a folder for that."""
    with contextlib.suppress(PermissionError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
