"""Bodies within limits: of time, of bytes, of unpacked bytes."""

import asyncio
import gzip
from collections.abc import AsyncIterator
from pathlib import Path

import pytest
from fastapi import Request
from hypothesis import given
from hypothesis import strategies as st
from starlette.types import Message

from shared_core.errors import UnreadableError
from sync_server.bodies import pieces, unpacked
from sync_server.problems import ProblemError
from sync_server.settings import Settings


async def _first_then_silence() -> AsyncIterator[Message]:
    yield {"type": "http.request", "body": b"first", "more_body": True}
    await asyncio.sleep(60)


def test_a_sender_that_falls_silent_is_let_go() -> None:
    got: list[bytes] = []

    async def story() -> None:
        words = _first_then_silence()
        request = Request({"type": "http"}, receive=lambda: anext(words))
        async for piece in pieces(request, 0.01):
            got.append(piece)  # noqa: PERF401 - what came before the end is wanted

    with pytest.raises(ProblemError) as caught:
        asyncio.run(story())
    assert caught.value.status == 408
    assert got == [b"first"]


@given(st.lists(st.binary(max_size=2000), max_size=4))
def test_gzip_members_that_follow_each_other_are_one_body(parts: list[bytes]) -> None:
    packed = b"".join(gzip.compress(part) for part in parts)
    assert unpacked(packed, "gzip", 10_000) == b"".join(parts)


@given(st.binary(min_size=1, max_size=300), st.integers(0, 400))
def test_a_body_of_exactly_the_limit_passes_and_one_byte_more_does_not(
    body: bytes, limit: int
) -> None:
    packed = gzip.compress(body)
    if len(body) <= limit:
        assert unpacked(packed, "gzip", limit) == body
    else:
        with pytest.raises(ProblemError) as caught:
            unpacked(packed, "gzip", limit)
        assert caught.value.status == 413


@given(st.binary(max_size=200))
def test_any_bytes_unpack_or_are_a_problem(body: bytes) -> None:
    try:
        unpacked(body, "gzip", 1000)
    except ProblemError as error:
        assert error.status in (400, 413)  # noqa: PT017 - every outcome but a crash is right


def test_settings_are_cautious_and_checked() -> None:
    settings = Settings(data=Path("x"))
    assert settings.on_loopback
    assert not Settings(data=Path("x"), host="0.0.0.0").on_loopback
    with pytest.raises(UnreadableError, match="65535"):
        Settings(data=Path("x"), port=70000)
