import contextlib
import queue
import random
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, cast

import pytest

from mobile import courier, practice
from mobile.courier import (
    Courier,
    HttpPeer,
    NoWayError,
    OnScreenThread,
    StoppedError,
    deliver,
    enrol,
    on_screen_thread,
)
from mobile.field_day import FieldDay
from shared_core.errors import DamagedError, RefusedError, UnreadableError
from shared_core.logbook import Logbook
from shared_core.photo_folder import PhotoFolder
from shared_core.records.staff_gauge import GaugeReading
from tests.mobile.small_server import CODE, TOKEN, SmallServer


@pytest.fixture
def office(make_logbook: Callable[..., Logbook], clock: Any) -> Any:
    logbook = make_logbook(device="OFFICE")
    practice.prepare(logbook, clock())
    return logbook


@pytest.fixture
def server(office: Logbook) -> Iterator[Any]:
    small = SmallServer(office)
    yield small
    small.close()


@pytest.fixture
def peer(server: SmallServer) -> Iterator[Any]:
    with HttpPeer(server.url, TOKEN) as found:
        yield found


@pytest.fixture
def photos(tmp_path: Path) -> Any:
    return PhotoFolder(tmp_path / "photos")


def a_photo(size: int = 700_000) -> Any:
    return random.Random(1).randbytes(size)


def test_a_code_becomes_a_token(server: SmallServer) -> None:
    found = enrol(f"{server.url}/", CODE, "HER-1")
    assert found == {"token": TOKEN, "name": "Ada", "role": "officer", "server": "name-of-its-log"}


def test_a_wrong_code_is_refused_in_the_servers_words(server: SmallServer) -> None:
    with pytest.raises(RefusedError, match="used up or wrong"):
        enrol(server.url, "nonsense", "HER-1")


def test_no_server_at_an_address_is_said_in_one_sentence(server: SmallServer) -> None:
    server.close()
    with pytest.raises(NoWayError, match="No way to http://127"):
        enrol(server.url, CODE, "HER-1")


def test_entries_go_and_set_up_comes(
    day: FieldDay, office: Logbook, peer: HttpPeer, photos: PhotoFolder
) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    set_up = office.size()  # written there, more than one batch of three
    done = deliver(day.logbook, photos, peer)
    assert done.entries.sent == day.logbook.size() - done.entries.received
    assert done.entries.received == set_up > 3
    assert day.logbook.digest() == office.digest()


def test_an_exchange_with_nothing_new_is_one_request(
    day: FieldDay, peer: HttpPeer, photos: PhotoFolder, server: SmallServer
) -> None:
    deliver(day.logbook, photos, peer)
    server.requests.clear()
    deliver(day.logbook, photos, peer)
    assert server.requests == ["POST /v1/entries"]


def test_lost_answers_lose_and_double_nothing(
    day: FieldDay, office: Logbook, peer: HttpPeer, photos: PhotoFolder, server: SmallServer
) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    server.answers_to_lose = 4
    for _ in range(4):
        with pytest.raises(NoWayError):
            deliver(day.logbook, photos, peer)
    deliver(day.logbook, photos, peer)
    assert day.logbook.digest() == office.digest()
    assert not office.quarantined()


def test_a_busy_server_is_no_refusal(
    day: FieldDay, peer: HttpPeer, photos: PhotoFolder, server: SmallServer
) -> None:
    server.busy = True
    with pytest.raises(NoWayError, match="try again later"):
        deliver(day.logbook, photos, peer)


def test_a_revoked_device_is_told_so(
    day: FieldDay, photos: PhotoFolder, server: SmallServer
) -> None:
    refused = pytest.raises(RefusedError, match="revoked")
    with HttpPeer(server.url, "another token") as stranger, refused:
        deliver(day.logbook, photos, stranger)


def test_a_page_that_is_no_server_is_recognised(
    day: FieldDay, peer: HttpPeer, photos: PhotoFolder, server: SmallServer
) -> None:
    server.is_another_page = True
    with pytest.raises(UnreadableError, match="does not answer like a Strandline server"):
        deliver(day.logbook, photos, peer)


def test_photos_go_after_the_records_and_only_once(
    day: FieldDay, peer: HttpPeer, photos: PhotoFolder, server: SmallServer
) -> None:
    name = photos.put(a_photo())
    done = deliver(day.logbook, photos, peer)
    assert (done.photos_sent, done.photo_bytes) == (1, 700_000)
    assert server.photos[name] == a_photo()
    assert server.requests.index(f"HEAD /v1/photos/{name}") > server.requests.index(
        "POST /v1/entries"
    )
    assert deliver(day.logbook, photos, peer).photos_sent == 0


def test_a_photo_arrives_whole_over_a_line_that_dies_at_every_piece(
    peer: HttpPeer, photos: PhotoFolder, server: SmallServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(courier, "PHOTO_PIECE", 20_000)
    name = photos.put(a_photo())
    server.every_piece_dies = True
    sent = peer.send_photo(name, a_photo())
    assert server.photos[name] == a_photo()
    assert sent > 700_000  # what died on the way was sent again


def test_a_line_that_brings_nothing_through_is_given_up(
    peer: HttpPeer, photos: PhotoFolder, server: SmallServer, monkeypatch: pytest.MonkeyPatch
) -> None:
    name = photos.put(a_photo(1000))
    monkeypatch.setattr(courier, "PHOTO_TRIES", 3)
    server.busy = True
    with pytest.raises(NoWayError):
        peer.send_photo(name, a_photo(1000))
    assert len(server.requests) == 3


def test_a_photo_whose_last_answer_was_lost_is_ended_without_being_sent_again(
    peer: HttpPeer, photos: PhotoFolder, server: SmallServer
) -> None:
    name = photos.put(a_photo(1000))
    server.photos[name] = a_photo(1000)  # every byte is there, the end was not heard of
    assert peer.send_photo(name, a_photo(1000)) == 0
    assert name in server.complete


def test_another_file_under_the_photos_name_is_noticed(
    peer: HttpPeer, photos: PhotoFolder, server: SmallServer
) -> None:
    name = photos.put(a_photo(1000))
    server.photos[name] = b"x" * 1000
    with pytest.raises(DamagedError, match="another file"):
        peer.send_photo(name, a_photo(1000))


class Screen:
    """The screen's thread: takes calls and makes them when its turn comes."""

    def __init__(self) -> None:
        self.calls: queue.SimpleQueue[Callable[[], None]] = queue.SimpleQueue()

    def post(self, call: Any) -> None:
        self.calls.put(call)

    def run_until(self, holds: Any, meanwhile: Any = lambda: None) -> None:
        while not holds():
            meanwhile()
            try:
                self.calls.get(timeout=0.01)()
            except queue.Empty:
                continue


def test_keys_typed_during_an_exchange_are_kept(
    day: FieldDay, office: Logbook, peer: HttpPeer, photos: PhotoFolder
) -> None:
    screen, typed = Screen(), 0
    results: list[Any] = []
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    here = on_screen_thread(day.logbook, screen.post)
    draft = day.draft(GaugeReading, "G2")

    def type_on() -> None:
        nonlocal typed
        typed += 1
        draft.type("stage_m", f"0.{typed}")

    set_up = office.size()
    going = Courier(lambda: deliver(here, photos, peer), screen.post)
    assert going.go(results.append, results.append)
    assert not going.go(results.append, results.append)
    screen.run_until(lambda: results, type_on)
    assert results[0].entries.received == set_up
    assert day.draft(GaugeReading, "G2").typed == {"stage_m": f"0.{typed}"}
    assert day.logbook.digest() == office.digest()


def test_what_fails_reaches_the_screen_as_a_sentence(
    day: FieldDay, photos: PhotoFolder, peer: HttpPeer, server: SmallServer
) -> None:
    screen = Screen()
    failures: list[Any] = []
    server.busy = True
    here = on_screen_thread(day.logbook, screen.post)
    going = Courier(lambda: deliver(here, photos, peer), screen.post)
    going.go(failures.append, failures.append)
    screen.run_until(lambda: failures)
    assert "try again later" in failures[0]


def test_every_call_on_the_logbook_is_made_on_the_screens_thread() -> None:
    class Thread:
        """Stands for a logbook; says where it was asked."""

        def ident(self) -> int:
            return threading.get_ident()

    screen = Screen()
    here: Any = OnScreenThread(cast("Logbook", Thread()), screen.post)
    found: list[int] = []
    asking = threading.Thread(target=lambda: found.append(here.ident()))
    asking.start()
    screen.run_until(lambda: bool(found))
    asking.join()
    assert found == [threading.get_ident()]


def test_an_error_on_the_screens_thread_is_raised_where_it_was_asked(day: FieldDay) -> None:
    def at_once(call: Any) -> None:
        call()

    here = OnScreenThread(day.logbook, at_once)
    with pytest.raises(AttributeError):
        _ = here.nonsense


class Line:
    """Says stop after so many requests have reached the server."""

    def __init__(self, server: SmallServer, after: int) -> None:
        self.server, self.after = server, after

    def is_set(self) -> bool:
        return len(self.server.requests) >= self.after


def test_an_exchange_that_is_stopped_goes_on_from_there(
    day: FieldDay, office: Logbook, server: SmallServer, photos: PhotoFolder
) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    sha256 = photos.put(a_photo())  # three pieces: five requests after the entries
    size = day.logbook.size()
    for after in range(1, 9):
        server.requests.clear()
        stop = cast("Any", Line(server, after))
        with HttpPeer(server.url, TOKEN, stop=stop) as peer, contextlib.suppress(StoppedError):
            deliver(day.logbook, photos, peer)
        assert day.logbook.size() >= size
    assert day.logbook.digest() == office.digest()
    assert sha256 in server.complete


def test_a_stop_is_heard_between_two_pieces_of_a_photo(
    day: FieldDay, peer: HttpPeer, server: SmallServer, photos: PhotoFolder
) -> None:
    deliver(day.logbook, photos, peer)
    sha256 = photos.put(a_photo())
    server.requests.clear()
    stop = threading.Event()

    def reached(delivery: Any) -> None:
        if delivery.bytes_there:
            stop.set()

    with HttpPeer(server.url, TOKEN, stop=stop) as stopped, pytest.raises(StoppedError):
        deliver(day.logbook, photos, stopped, progress=reached)
    assert len(server.photos[sha256]) == courier.PHOTO_PIECE
    assert sha256 not in server.complete


def test_progress_tells_entries_first_and_then_bytes_up_to_the_last(
    day: FieldDay, peer: HttpPeer, photos: PhotoFolder
) -> None:
    photos.put(a_photo())
    told: list[Any] = []
    done = deliver(day.logbook, photos, peer, progress=told.append)
    assert told[-1] == done
    assert (done.photos, done.photos_there, done.bytes, done.bytes_there) == (
        1,
        1,
        700_000,
        700_000,
    )
    reached = [delivery.bytes_there for delivery in told]
    assert reached == sorted(reached)
    assert {0, 262_144, 524_288, 700_000} == set(reached)
    first_with_bytes = next(d for d in told if d.bytes_there)
    assert first_with_bytes.entries == done.entries


def test_a_fault_of_the_program_ends_an_exchange_in_words() -> None:
    def run() -> Any:
        raise KeyError("has")

    posted: queue.Queue[Callable[[], None]] = queue.Queue()
    said: list[str] = []
    found = Courier(run, posted.put)
    assert found.go(lambda _: None, said.append)
    posted.get(timeout=5)()
    assert said == ["The exchange met a fault (KeyError: 'has')."]
    assert found.error is not None
