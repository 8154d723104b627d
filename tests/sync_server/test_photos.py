"""Photos over the wire: resumed, checked, and shown to those who may see their record."""

import asyncio
import hashlib
import io
from collections.abc import AsyncIterator, Iterator
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from shared_core.errors import UnreadableError
from sync_server.photos import PhotoIntake
from sync_server.pictures import JPEG, PNG, read_picture
from sync_server.settings import Settings
from tests.sync_server.rooms import OTHER_SITE, SITE, Room, Tablet, gauge, png


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path, {"photo_bytes": 200_000, "photo_pixels": 10_000, "parts": 3})
    yield made
    made.close()


def sha(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


def patch(room: Room, tablet: Tablet, name: str, data: Any, offset: int, last: str = "") -> Any:
    headers = {**tablet.headers, "Upload-Offset": str(offset)}
    headers |= {"Upload-Complete": last} if last else {}
    return room.client.patch(f"/v1/photos/{name}", content=data, headers=headers)


def head(room: Room, tablet: Tablet, name: str) -> tuple[int, str]:
    answer = room.client.head(f"/v1/photos/{name}", headers=tablet.headers)
    assert answer.status_code == 200
    return int(answer.headers["upload-offset"]), answer.headers["upload-complete"]


def test_a_photo_arrives_in_pieces_and_goes_on_where_it_was_cut_off(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    data = png(filler=100_000)
    name = sha(data)
    assert head(room, ana, name) == (0, "?0")
    for start in range(0, len(data), 30_000):
        assert head(room, ana, name) == (start, "?0")
        answer = patch(room, ana, name, data[start : start + 30_000], start)
        assert answer.status_code == 204
    assert head(room, ana, name) == (len(data), "?1")
    assert room.parts.photos.folder.path_of(name).read_bytes() == data
    assert list((room.data / "photos-coming").iterdir()) == []


@pytest.mark.parametrize("sayings", [("", ""), ("?0", "?1"), ("?0", "")])
def test_a_photo_is_whole_whether_or_not_the_sender_says_where_it_ends(
    room: Room, sayings: tuple[str, str]
) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    data = png(filler=1000)
    assert patch(room, ana, sha(data), data[:500], 0, sayings[0]).status_code == 204
    assert patch(room, ana, sha(data), data[500:], 500, sayings[1]).status_code == 204
    assert head(room, ana, sha(data)) == (len(data), "?1")


def test_a_photo_whose_last_bytes_came_on_a_dying_connection_is_found_whole(
    tmp_path: Path,
) -> None:
    data = png(filler=5000)
    intake = PhotoIntake(Settings(data=tmp_path))

    async def dying() -> AsyncIterator[bytes]:
        yield data
        raise ConnectionResetError

    async def story() -> str:
        with pytest.raises(ConnectionResetError):
            await intake.take(sha(data), 0, dying(), last=True)
        assert intake.state(sha(data)).outcome == "more"
        return (await intake.look(sha(data))).outcome

    assert asyncio.run(story()) == "whole"
    assert intake.folder.path_of(sha(data)).read_bytes() == data


def test_a_photo_already_there_is_skipped(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    data = png()
    patch(room, ana, sha(data), data, 0)
    answer = patch(room, ana, sha(data), b"other bytes", 0)
    assert answer.status_code == 204
    assert answer.headers["upload-complete"] == "?1"
    assert room.parts.photos.folder.path_of(sha(data)).read_bytes() == data


def test_a_wrong_offset_changes_nothing_and_tells_the_right_one(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    data = png(filler=1000)
    patch(room, ana, sha(data), data[:400], 0)
    for offset in (0, 399, 401):
        answer = patch(room, ana, sha(data), data[400:], offset)
        assert answer.status_code == 409
        assert answer.headers["upload-offset"] == "400"
        assert answer.json()["expected-offset"] == 400
    assert head(room, ana, sha(data)) == (400, "?0")


def test_bytes_of_another_photo_are_thrown_away_at_the_end(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    data = png(filler=1000)
    wrong = data[:-1] + b"\0"
    answer = patch(room, ana, sha(data), wrong, 0, last="?1")
    assert answer.status_code == 422
    assert head(room, ana, sha(data)) == (0, "?0")
    assert patch(room, ana, sha(data), data, 0, last="?1").status_code == 204


def test_what_is_no_photo_is_not_kept(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    for data in (b"#!/bin/sh\n", b"<svg onload='x'/>", b"", b"\xff\xd8\xff\xe0\0\x10JFIF"):
        assert patch(room, ana, sha(data), data, 0, last="?1").status_code == 415
        assert not room.parts.photos.folder.has(sha(data))


def test_photos_too_large_in_bytes_or_pixels_are_refused(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    large, wide = png(filler=200_000), png(101, 100)
    assert patch(room, ana, sha(large), large, 0).status_code == 413
    assert head(room, ana, sha(large)) == (0, "?0")
    assert patch(room, ana, sha(wide), wide, 0).status_code == 413
    assert patch(room, ana, sha(png(100, 100)), png(100, 100), 0).status_code == 204


def test_beyond_the_limit_the_oldest_unfinished_photo_starts_again(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    names = [sha(bytes([number])) for number in range(5)]
    for name in names:
        patch(room, ana, name, b"x", 0)
    assert len(list((room.data / "photos-coming").iterdir())) == 3


@pytest.mark.parametrize("name", ["x", "0" * 63, "A" * 64, "..%2F..%2Faccess.db", "0" * 65])
@pytest.mark.parametrize("method", ["get", "head", "patch"])
def test_a_name_that_is_no_fingerprint_is_refused(room: Room, method: str, name: str) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    headers = {**ana.headers, "Upload-Offset": "0"}
    answer = room.client.request(method, f"/v1/photos/{name}", headers=headers)
    assert answer.status_code in (404, 405, 422)


@pytest.mark.parametrize("method", ["get", "head", "patch"])
def test_photos_need_a_token(room: Room, method: str) -> None:
    answer = room.client.request(method, f"/v1/photos/{'0' * 64}", headers={"Upload-Offset": "0"})
    assert answer.status_code == 401


def test_a_photo_is_shown_to_those_who_may_see_its_record(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ben = room.tablet("Ben", "officer", OTHER_SITE)
    ines = room.tablet("Ines", "landholder", SITE)
    kim = room.tablet("Kim", "coordinator")
    data = png(filler=500)
    address = f"/v1/photos/{sha(data)}"
    patch(room, ana, sha(data), data, 0)
    for tablet in (ana, ben, ines, kim):
        assert room.client.get(address, headers=tablet.headers).status_code == 403
    ana.write(gauge(photos=(sha(data),)))
    room.post(ana, ana.lines())
    got = {t.person: room.client.get(address, headers=t.headers) for t in (ana, ben, ines, kim)}
    statuses = {name: answer.status_code for name, answer in got.items()}
    assert statuses == {"Ana": 200, "Ben": 403, "Ines": 403, "Kim": 200}
    assert got["Ana"].content == data
    assert got["Ana"].headers["content-type"] == "image/png"
    assert got["Ana"].headers["x-content-type-options"] == "nosniff"
    part = room.client.get(address, headers={**ana.headers, "Range": "bytes=0-7"})
    assert part.status_code == 206
    assert part.content == data[:8]


def test_a_photo_named_and_not_yet_arrived_is_not_found(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ana.write(gauge(photos=("f" * 64,)))
    room.post(ana, ana.lines())
    answer = room.client.get(f"/v1/photos/{'f' * 64}", headers=ana.headers)
    assert answer.status_code == 404


def test_a_later_request_puts_an_end_to_one_that_hangs(tmp_path: Path) -> None:
    data = png(filler=5000)
    intake = PhotoIntake(Settings(data=tmp_path))

    async def story() -> None:
        hang = asyncio.Event()

        async def hanging() -> AsyncIterator[bytes]:
            yield data[:1000]
            await hang.wait()
            yield b"late bytes that must not count"

        async def rest() -> AsyncIterator[bytes]:
            yield data[1000:2000]
            hang.set()
            await asyncio.sleep(0.05)  # the old request goes on in the meantime
            yield data[2000:]

        old = asyncio.create_task(intake.take(sha(data), 0, hanging(), last=False))
        while intake.state(sha(data)).offset < 1000:
            await asyncio.sleep(0)
        taken = await intake.take(sha(data), 1000, rest(), last=True)
        assert (taken.outcome, (await old).outcome) == ("whole", "overtaken")

    asyncio.run(story())
    assert intake.folder.path_of(sha(data)).read_bytes() == data


def test_a_connection_that_dies_leaves_what_came(tmp_path: Path) -> None:
    data = png(filler=5000)
    intake = PhotoIntake(Settings(data=tmp_path))

    async def dying() -> AsyncIterator[bytes]:
        yield data[:777]
        raise ConnectionResetError

    with pytest.raises(ConnectionResetError):
        asyncio.run(intake.take(sha(data), 0, dying(), last=True))
    assert intake.state(sha(data)).offset == 777


@pytest.mark.parametrize(("form", "kind"), [("JPEG", JPEG), ("PNG", PNG)])
@pytest.mark.parametrize("options", [{}, {"progressive": True}, {"exif": b"Exif\0\0" + b"x" * 900}])
def test_the_size_of_a_picture_is_read_as_an_image_library_reads_it(
    form: str, kind: str, options: dict[str, Any]
) -> None:
    if form == "PNG":
        options = {}
    made = io.BytesIO()
    Image.new("RGB", (123, 45), "green").save(made, form, **options)
    made.seek(0)
    found = read_picture(made)
    assert (found.media_type, found.width, found.height) == (kind, 123, 45)


def test_a_jpeg_header_cut_anywhere_is_an_answer_not_a_crash() -> None:
    made = io.BytesIO()
    Image.new("RGB", (64, 64)).save(made, "JPEG")
    whole = made.getvalue()
    frame = whole.index(b"\xff\xc0")
    for end in range(frame + 9):
        with pytest.raises(UnreadableError):
            read_picture(io.BytesIO(whole[:end]))
