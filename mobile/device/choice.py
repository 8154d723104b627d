"""Which receivers there are on this device, each by a short name that can be written down.

``serial:PORT`` or ``serial:PORT@BAUD``, ``gpsd:PORT``, ``file:PATH`` (all at once) or
``file:PATH@PACE`` (that many times faster than it was walked).
"""

import dataclasses
import socket
from collections.abc import Iterable
from pathlib import Path
from typing import Final

from mobile.device import gpsd, replay
from mobile.device.receivers import BAUD, NmeaReceiver, Sink, Source
from shared_core.errors import UnreadableError

PORTS: Final = ("ttyUSB*", "ttyACM*", "rfcomm*")  # USB and Bluetooth serial lines on Linux
TRACKS: Final = "tracks"  # folder beside the logbook for files from other receivers
FILES: Final = (".gpx", ".nmea", ".log", ".txt")
MOST_FILES: Final = 4  # the newest; the list is touched with wet gloves


@dataclasses.dataclass(frozen=True, kw_only=True)
class Receivers:
    """One receiver that may be chosen."""

    name: str
    says: str


def receivers(
    folder: Path, *, asked: str = "", devices: Path = Path("/dev"), gpsd_port: int = gpsd.PORT
) -> tuple[Receivers, ...]:
    """Return what may be chosen; what was asked for on the command line stands alone."""
    if asked:
        return (Receivers(name=asked, says=_says(asked)),)
    found = [f"serial:{path}" for pattern in PORTS for path in sorted(devices.glob(pattern))]
    if _answers(gpsd_port):
        found.append(f"gpsd:{gpsd_port}")
    found += [f"file:{path}" for path in _newest(folder / TRACKS)]
    return tuple(Receivers(name=name, says=_says(name)) for name in found)


def make_receiver(name: str, sink: Sink) -> Source:
    """Return the receiver of a name, not started yet.

    Raises:
        UnreadableError: if the name has another form, or its file cannot be read.
        UnknownError: if there is no such file.
    """
    kind, _, rest = name.partition(":")
    where, at, figure = rest.rpartition("@")
    try:
        number = float(figure) if at else 0.0
    except ValueError:
        number, at = 0.0, ""
    where = where if at else rest
    if kind == "serial" and where:
        return NmeaReceiver(where, sink, baud=int(number) or BAUD)
    if kind == "gpsd" and where.isdecimal() and int(where) < 65536:
        return gpsd.GpsdReceiver(sink, port=int(where))
    if kind == "file" and where:
        return replay.Replay(replay.fixes_of_file(Path(where)), sink, pace=number)
    raise UnreadableError(f"a receiver is serial:PORT, gpsd:PORT or file:PATH, not {name!r}")


def _says(name: str) -> str:
    kind, _, rest = name.partition(":")
    where = Path(rest.partition("@")[0]).name
    return {"serial": f"Receiver on {where}", "gpsd": "Receiver of this device (gpsd)"}.get(
        kind, f"File {where}"
    )


def _answers(port: int) -> bool:
    try:
        with socket.create_connection((gpsd.HOST, port), timeout=0.2):
            return True
    except OSError:
        return False


def _newest(folder: Path) -> list[Path]:
    found: Iterable[Path] = folder.iterdir() if folder.is_dir() else ()
    files = [path for path in found if path.suffix.lower() in FILES and path.is_file()]
    return sorted(files, key=lambda path: path.stat().st_mtime, reverse=True)[:MOST_FILES]
