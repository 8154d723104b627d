"""The server as a process of its own on loopback, with the tablet's own courier at the other end."""

import contextlib
import json
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from mobile.courier import HttpPeer, deliver, enrol
from shared_core.errors import RefusedError
from shared_core.logbook import Logbook, Said
from shared_core.photo_folder import PhotoFolder
from sync_server.data_folder import LOGBOOK_NAME
from sync_server.logbook_lines import lines_of_logbook
from tests.sync_server.rooms import SITE, Clock, Names, gauge, png


def command(*words: object) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "sync_server", *map(str, words)],
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    return done.stdout


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


@contextlib.contextmanager
def serving(data: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    words = [sys.executable, "-m", "sync_server", "serve", "--data", str(data)]
    process = subprocess.Popen([*words, "--port", str(port)], stderr=subprocess.DEVNULL,
                               stdout=subprocess.DEVNULL)  # fmt: skip
    try:
        for _ in range(600):
            with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), 1):
                break
            assert process.poll() is None
            time.sleep(0.05)
        yield process
    finally:
        if process.poll() is None:
            process.terminate()
        process.wait(30)


def test_a_tablet_enrols_delivers_and_finds_all_again_after_the_server_was_killed(
    tmp_path: Path,
) -> None:
    data, port = tmp_path / "data", free_port()
    address = f"http://127.0.0.1:{port}"
    photos = PhotoFolder(tmp_path / "photos")
    with Logbook(":memory:", device="ANA-1", clock=Clock(), new_id=Names(1)) as logbook:
        with serving(data, port) as process:
            words = ("invite", "Ana", "--role", "officer", "--site", SITE, "--data", data)
            typed = json.loads(command(*words, "--json"))["typed"]
            token = enrol(address, typed, "ANA-1")["token"]
            with pytest.raises(RefusedError, match="used"):
                enrol(address, typed, "ANA-2")
            peer = HttpPeer(address, token)
            for number in range(20):
                name = photos.put(png(filler=number * 40_000)) if number % 10 == 0 else ""
                record = gauge(number / 10, photos=(name,) if name else ())
                logbook.write(record, Said(author="Ana"))
            done = deliver(logbook, photos, peer)
            assert (done.entries.sent, done.photos_sent) == (20, 2)
            process.send_signal(signal.SIGKILL)
            process.wait(30)
        with serving(data, port):
            again = deliver(logbook, photos, peer)
            assert (again.entries.sent, again.entries.requests, again.photos_sent) == (0, 1, 0)
            command("verify", "--data", data)
        peer._session.close()
        assert lines_of_logbook(data / LOGBOOK_NAME) == logbook.lines_of("ANA-1", 0)
    assert oct((data / "access.db").stat().st_mode)[-3:] == "600"
