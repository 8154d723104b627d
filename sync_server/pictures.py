"""What a file's first bytes say about it: JPEG or PNG, and how many pixels; nothing is decoded."""

import struct
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Final

from shared_core.errors import UnreadableError

JPEG: Final = "image/jpeg"
PNG: Final = "image/png"
_PNG_MARK: Final = b"\x89PNG\r\n\x1a\n"  # PNG specification (W3C, third edition), section 5.2
_JPEG_MARK: Final = b"\xff\xd8\xff"  # ITU-T T.81 B.1.1.3: start of image, then another marker
# Start-of-frame markers, ITU-T T.81 table B.1: C0 to CF without DHT (C4), JPG (C8) and DAC (CC).
_FRAMES: Final = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_BARE: Final = frozenset((0x01, *range(0xD0, 0xD9)))  # markers without a length
_END: Final = frozenset((0xD9, 0xDA))  # end of image, start of scan: no frame came before


@dataclass(frozen=True)
class Picture:
    """Media type and size of a picture."""

    media_type: str
    width: int
    height: int

    @property
    def pixels(self) -> int:
        """Number of pixels."""
        return self.width * self.height


def read_picture(file: BinaryIO) -> Picture:
    """Read media type and size off a picture's header.

    Raises:
        UnreadableError: if the file is neither a JPEG nor a PNG, or its header is broken.
    """
    start = file.read(24)
    if start.startswith(_PNG_MARK) and len(start) == 24 and start[12:16] == b"IHDR":
        return _sized(PNG, *struct.unpack(">II", start[16:24]))
    if start.startswith(_JPEG_MARK):
        file.seek(2)
        return _sized(JPEG, *_jpeg_size(file))
    raise UnreadableError("a photo is a JPEG or a PNG file; this one is neither")


def media_type(path: Path) -> str:
    """Return the media type of a photo that was taken in before."""
    with path.open("rb") as file:
        return PNG if file.read(8) == _PNG_MARK else JPEG


def _sized(kind: str, width: int, height: int) -> Picture:
    if not (width and height):
        raise UnreadableError("the picture's header gives it no size")
    return Picture(kind, width, height)


def _jpeg_size(file: BinaryIO) -> tuple[int, int]:
    while (marker := _next_marker(file)) not in _END:
        if marker in _BARE:
            continue
        length = int.from_bytes(file.read(2), "big")
        if length < 2:
            break
        if marker in _FRAMES:
            frame = file.read(5)
            if len(frame) < 5:
                break
            return int.from_bytes(frame[3:5], "big"), int.from_bytes(frame[1:3], "big")
        file.seek(length - 2, 1)
    raise UnreadableError("the JPEG's header breaks off before it says how large the picture is")


def _next_marker(file: BinaryIO) -> int:
    """Return the next marker's second byte; ends of files and wrong bytes count as an end."""
    if file.read(1) != b"\xff":
        return 0xD9
    sign = file.read(1)
    while sign == b"\xff":  # fill bytes, T.81 B.1.1.2
        sign = file.read(1)
    return sign[0] if sign else 0xD9
