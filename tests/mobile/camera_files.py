"""Picture files as cameras write them, made for the tests."""

import io
import struct
import zlib
from pathlib import Path
from typing import Any

from PIL import Image


def jpeg(size: tuple[int, int] = (64, 48), colour: Any = (90, 120, 70), exif: Any = None) -> bytes:
    file = io.BytesIO()
    Image.new("RGB", size, colour).save(file, "JPEG", exif=exif or Image.Exif())
    return file.getvalue()


def camera_header(**changes: Any) -> Any:
    """Return a header with the camera's clock, place, bearing and lens; None takes one away."""
    header = Image.Exif()
    inner, gps = header.get_ifd(0x8769), header.get_ifd(0x8825)
    values: dict[str, Any] = {
        "time": "2026:03:02 08:05:00", "offset": "+10:00", "focal": 28, "north": "M", "bearing": 47.0,
        "lat": ("S", (36.0, 30.0, 0.36)), "lon": ("E", (155.0, 30.0, 0.0)), "turned": 1,
    } | changes  # fmt: skip
    header[0x0112] = values["turned"]
    for tag, name in ((0x9003, "time"), (0x9011, "offset"), (0xA405, "focal")):
        if values[name] is not None:
            inner[tag] = values[name]
    if values["lat"] is not None:
        (gps[1], gps[2]), (gps[3], gps[4]) = values["lat"], values["lon"]
    if values["bearing"] is not None:
        gps[16], gps[17] = values["north"], values["bearing"]
    return header


def pixel_bomb(side: int = 30_000) -> bytes:
    """Return a small PNG file that would fill the memory: side times side pixels."""

    def chunk(name: bytes, data: bytes) -> bytes:
        whole = name + data
        return struct.pack(">I", len(data)) + whole + struct.pack(">I", zlib.crc32(whole))

    head = struct.pack(">IIBBBBB", side, side, 1, 0, 0, 0, 0)
    rows = zlib.compress(bytes(1 + (side + 7) // 8) * 1000)
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        (chunk(b"IHDR", head), chunk(b"IDAT", rows), chunk(b"IEND", b""))
    )


def put(folder: Path, name: str = "IMG_1.jpg", data: bytes | None = None) -> Path:
    """Write a picture into a folder and return its path."""
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / name
    path.write_bytes(jpeg() if data is None else data)
    return path
