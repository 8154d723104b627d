"""Request bodies: read within limits, unpacked within limits."""

import asyncio
import zlib
from collections.abc import AsyncIterator

from fastapi import Request
from starlette.requests import ClientDisconnect

from sync_server.problems import ProblemError
from sync_server.settings import Settings

_GZIP_WINDOW = 16 + zlib.MAX_WBITS  # zlib manual: 16 more reads the gzip form
_PIECE = 1 << 20


async def pieces(request: Request, idle_s: float) -> AsyncIterator[bytes]:
    """Yield a body piece by piece as it comes.

    Raises:
        ProblemError: 408 if the sender falls silent, 400 if it hangs up.
    """
    stream = request.stream().__aiter__()
    while True:
        try:
            async with asyncio.timeout(idle_s):
                piece = await anext(stream)
        except StopAsyncIteration:
            return
        except TimeoutError:
            detail = f"nothing came for {idle_s:g} s"
            raise ProblemError(408, "too-slow", detail, headers={"Connection": "close"}) from None
        except ClientDisconnect:
            raise ProblemError(400, "broken-off", "the request broke off") from None
        yield piece


async def read_body(request: Request, settings: Settings) -> bytes:
    """Return a whole body.

    Raises:
        ProblemError: 413 if it is longer than the limit, and as :func:`pieces`.
    """
    body = bytearray()
    too_large = ProblemError(413, "too-large", f"at most {settings.body_bytes:,} bytes at once")
    promised = request.headers.get("content-length", "0")
    if promised.isascii() and promised.isdigit() and int(promised[:20]) > settings.body_bytes:
        raise too_large
    async for piece in pieces(request, settings.idle_s):
        body += piece
        if len(body) > settings.body_bytes:
            raise too_large
    return bytes(body)


def unpacked(body: bytes, encoding: str, limit: int) -> bytes:
    """Return a body without its content encoding.

    Raises:
        ProblemError: 415 for an encoding other than gzip, 400 for broken gzip, 413 if it unpacks to
            more than the limit [bytes].
    """
    if encoding in ("", "identity"):
        return body
    if encoding != "gzip":
        raise ProblemError(415, "wrong-encoding", "a body comes as it is or packed with gzip")
    found = bytearray()
    rest = body
    reader = None
    while rest:
        if reader is None:  # RFC 1952 section 2.2: members may follow each other
            reader = zlib.decompressobj(_GZIP_WINDOW)
        try:
            found += reader.decompress(rest, min(_PIECE, limit + 1 - len(found)))
        except zlib.error:
            raise ProblemError(400, "broken-gzip", "the body is not sound gzip") from None
        if len(found) > limit:
            raise ProblemError(413, "too-large", f"at most {limit:,} bytes when unpacked")
        ended = reader.eof
        rest = reader.unused_data if ended else reader.unconsumed_tail
        reader = None if ended else reader
    if reader is not None:
        raise ProblemError(400, "broken-gzip", "the gzip body breaks off before its end")
    return bytes(found)
