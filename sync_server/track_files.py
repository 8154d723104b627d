"""Walks as receivers leave them: GPX 1.1 tracks and NMEA sentences."""

from pathlib import Path
from typing import Final

from shared_core.errors import UnknownError, UnreadableError
from shared_core.gpx import Walked, read_gpx
from shared_core.nmea import read_nmea

LARGEST_FILE: Final = 64_000_000  # bytes; a day's walk at one fix a second has about ten
_BOM: Final = b"\xef\xbb\xbf"


def read_file(path: Path) -> bytes:
    """Return the bytes of a file of sensible size.

    Raises:
        UnknownError: if there is no such file.
        UnreadableError: if it is larger than 64 MB.
    """
    if not path.is_file():
        raise UnknownError(f"there is no file {path}")
    if path.stat().st_size > LARGEST_FILE:
        raise UnreadableError(f"{path.name} is larger than {LARGEST_FILE / 1e6:.0f} MB; split it")
    return path.read_bytes()


def looks_like_gpx(data: bytes) -> bool:
    """Tell whether a file starts as XML does."""
    return data.removeprefix(_BOM).lstrip()[:1] == b"<" or data[:2] in (b"\xff\xfe", b"\xfe\xff")


def looks_like_nmea(data: bytes) -> bool:
    """Tell whether a file starts with a sentence of a receiver."""
    return data.lstrip()[:1] == b"$"


def read_walks(path: Path) -> list[Walked]:
    """Read the tracks of a GPX or NMEA file.

    Raises:
        UnknownError: if there is no such file.
        UnreadableError: if it is neither, or holds no track with times.
    """
    data = read_file(path)
    if looks_like_gpx(data):
        return read_gpx(data)
    if looks_like_nmea(data):
        return [_from_sentences(data, path.stem)]
    raise UnreadableError(f"{path.name} is neither a GPX file nor NMEA sentences")


def _from_sentences(data: bytes, name: str) -> Walked:
    found = read_nmea(data)
    left_out = []
    if found.bad_lines:
        some = ", ".join(map(str, found.bad_lines[:10]))
        more = " and more" if len(found.bad_lines) > 10 else ""
        count = len(found.bad_lines)
        left_out.append(f"{count} lines with a wrong checksum or form: {some}{more}")
    if found.without_fix:
        left_out.append(f"{found.without_fix} sentences without a position")
    return Walked(name=name, fixes=found.fixes, left_out=tuple(left_out))
