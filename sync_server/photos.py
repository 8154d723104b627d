"""Photos that arrive piece by piece and are kept under the SHA-256 of their bytes.

A photo's name says when it is whole: as soon as the bytes here have that fingerprint, it is. A new
request for the same photo puts an end to the old one, whose connection may be long dead.
"""

import asyncio
import hashlib
import os
from collections.abc import AsyncIterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from shared_core.errors import UnreadableError
from shared_core.photo_folder import PhotoFolder
from sync_server.pictures import read_picture
from sync_server.settings import Settings

PHOTOS: Final = "photos"
PARTS: Final = "photos-coming"

Outcome = Literal[
    "whole", "more", "wrong offset", "too large", "too many pixels", "no picture", "other bytes",
    "overtaken",
]  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Taken:
    """What became of a piece, and how many bytes of the photo are here now."""

    outcome: Outcome
    offset: int
    why: str = ""


class PhotoIntake:
    """Takes photos in; for use in one event loop of one process."""

    def __init__(self, settings: Settings) -> None:
        self.folder = PhotoFolder(settings.data / PHOTOS)
        self._settings = settings
        self._parts = settings.data / PARTS
        self._parts.mkdir(parents=True, exist_ok=True)
        self._writers: dict[str, object] = {}
        self._locks: dict[str, asyncio.Lock] = {}
        self._unripe: dict[str, int] = {}  # bytes of a part that are known not to be the whole

    def state(self, sha256: str) -> Taken:
        """Tell how many bytes of a photo are here, and whether it is whole."""
        if self.folder.has(sha256):
            return Taken(outcome="whole", offset=self.folder.path_of(sha256).stat().st_size)
        part = self._part(sha256)
        return Taken(outcome="more", offset=part.stat().st_size if part.exists() else 0)

    async def look(self, sha256: str) -> Taken:
        """Tell the same, and finish a photo whose last bytes came on a connection that died."""
        here = self.state(sha256)
        if here.outcome == "whole" or here.offset in (0, self._unripe.get(sha256)):
            return here
        async with self._locks.setdefault(sha256, asyncio.Lock()):
            if sha256 in self._writers:
                return self.state(sha256)
            return await asyncio.to_thread(self._finish, sha256, last=False)

    async def take(
        self, sha256: str, offset: int, pieces: AsyncIterator[bytes], *, last: bool | None
    ) -> Taken:
        """Append pieces at an offset and look whether the photo is whole then.

        Args:
            sha256: name of the photo, 64 hexadecimal digits.
            offset: number of bytes the sender thinks are here.
            pieces: the bytes; if they break off, what came is kept.
            last: whether the sender says that the photo ends with these; None: it does not say.
        """
        me = object()
        lock = self._locks.setdefault(sha256, asyncio.Lock())
        async with lock:
            here = self.state(sha256)
            if here.outcome == "whole":
                return here
            if here.offset != offset:
                return Taken(outcome="wrong offset", offset=here.offset)
            self._make_room(sha256)
            self._writers[sha256] = me
        try:
            taken = await self._append(sha256, pieces, me)
            if taken.outcome != "more":
                return taken
            async with lock:
                if self._writers.get(sha256) is not me:
                    return Taken(outcome="overtaken", offset=self.state(sha256).offset)
                if last is False:
                    self._unripe[sha256] = taken.offset
                    return taken
                return await asyncio.to_thread(self._finish, sha256, last=bool(last))
        finally:
            if self._writers.get(sha256) is me:
                del self._writers[sha256]

    async def _append(self, sha256: str, pieces: AsyncIterator[bytes], me: object) -> Taken:
        part = self._part(sha256)
        with part.open("ab") as file:
            size = file.tell()
            async for piece in pieces:
                if self._writers.get(sha256) is not me:
                    return Taken(outcome="overtaken", offset=size)
                size += len(piece)
                if size > self._settings.photo_bytes:
                    part.unlink()
                    limit = self._settings.photo_bytes
                    return Taken(outcome="too large", offset=0, why=f"at most {limit:,} bytes")
                file.write(piece)
                file.flush()
        return Taken(outcome="more", offset=size)

    def _finish(self, sha256: str, *, last: bool) -> Taken:
        part = self._part(sha256)
        if not part.exists():
            return Taken(outcome="more", offset=0)
        with part.open("rb+") as file:
            found = hashlib.file_digest(file, "sha256").hexdigest()
            os.fsync(file.fileno())
        size = part.stat().st_size
        if found != sha256:
            if not last:
                self._unripe[sha256] = size
                return Taken(outcome="more", offset=size)
            part.unlink()
            return Taken(outcome="other bytes", offset=0, why=f"they have SHA-256 {found}")
        try:
            with part.open("rb") as file:
                picture = read_picture(file)
        except UnreadableError as error:
            part.unlink()
            return Taken(outcome="no picture", offset=0, why=str(error))
        if picture.pixels > self._settings.photo_pixels:
            part.unlink()
            limit = self._settings.photo_pixels
            return Taken(outcome="too many pixels", offset=0, why=f"at most {limit:,} pixels")
        self.folder.put(part.read_bytes())
        part.unlink()
        self._unripe.pop(sha256, None)
        return Taken(outcome="whole", offset=size)

    def _part(self, sha256: str) -> Path:
        return self._parts / f"{sha256}.part"

    def _make_room(self, sha256: str) -> None:
        parts = [p for p in self._parts.glob("*.part") if p.stem != sha256]
        if len(parts) >= self._settings.parts:
            idle = [part for part in parts if part.stem not in self._writers]
            for part in sorted(idle, key=lambda part: part.stat().st_mtime)[:1]:
                part.unlink()
