"""A server as small as the wire allows, on loopback, that can be told to fail."""

import gzip
import hashlib
import json
import threading
from dataclasses import asdict
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any
from urllib.parse import parse_qs, urlsplit

from shared_core.exchange import Asking, answer

TOKEN, CODE = "a-token", "K7QP-31"


class SmallServer:
    """Takes entries and photos; its faults are counted down."""

    def __init__(self, logbook: Any) -> None:
        self.logbook = logbook
        self.photos: dict[str, bytes] = {}  # fingerprint to the bytes so far
        self.complete: set[str] = set()
        self.answers_to_lose = 0  # what was sent is taken, but the answer never arrives
        self.every_piece_dies = False  # half of a piece arrives, then the line is dead
        self.busy = False
        self.hold_photos: threading.Event | None = None  # after the first piece, wait for it
        self.is_another_page = False
        self.requests: list[str] = []
        self.lock = threading.Lock()
        server = self

        class Answering(_Answering):
            here = server

        self.http = ThreadingHTTPServer(("127.0.0.1", 0), Answering)
        self.url = f"http://127.0.0.1:{self.http.server_port}"
        self._thread = threading.Thread(target=self.http.serve_forever, daemon=True)
        self._thread.start()

    def close(self) -> None:
        self.http.shutdown()
        self.http.server_close()
        self._thread.join()


class _Answering(BaseHTTPRequestHandler):
    here: SmallServer
    protocol_version = "HTTP/1.1"

    def log_message(self, *_: object) -> None:
        """Say nothing on the terminal."""

    def _say(self, status: Any, body: Any = b"", **headers: Any) -> None:
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name.replace("_", "-"), value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        if self.command != "HEAD":
            self.wfile.write(body)

    def _json(self, status: Any, value: Any) -> None:
        self._say(status, json.dumps(value).encode(), Content_Type="application/json")

    def _may(self) -> Any:
        self.here.requests.append(f"{self.command} {urlsplit(self.path).path}")
        if self.here.is_another_page:
            self._say(200, b"<html>Welcome</html>", Content_Type="text/html")
            return False
        if self.here.busy:
            self._json(503, {"title": "Busy"})
            return False
        if self.headers.get("Authorization") != f"Bearer {TOKEN}":
            self._json(401, {"title": "Not let in", "detail": "this device was revoked"})
            return False
        return True

    def _hang_up(self) -> None:
        self.close_connection = True

    def do_POST(self) -> None:
        body = self.rfile.read(int(self.headers["Content-Length"]))
        if self.path == "/v1/enrol":
            self._enrol(json.loads(body))
        elif self._may():
            self._entries(gzip.decompress(body).decode())

    def _enrol(self, asked: Any) -> None:
        if asked["code"] != CODE:
            self._json(403, {"title": "Refused", "detail": "the code is used up or wrong"})
            return
        self._json(
            200,
            {"token": TOKEN, "name": "Ada", "role": "officer", "server": "name-of-its-log", "n": 1},
        )

    def _entries(self, text: str) -> None:
        asked = {name: values[0] for name, values in parse_qs(urlsplit(self.path).query).items()}
        asking = Asking(
            device="HER-1",
            lines=text.splitlines(),
            after=int(asked["after"]),
            log=asked.get("log", ""),
            limit=3,
        )
        with self.here.lock:
            reply = asdict(answer(self.here.logbook, asking))
            if self.here.answers_to_lose:
                self.here.answers_to_lose -= 1
                self._hang_up()
                return
        self._json(200, reply)

    def _name(self) -> Any:
        return self.path.rsplit("/", 1)[1]

    def do_HEAD(self) -> None:
        if not self._may():
            return
        name = self._name()
        if name not in self.here.photos:
            self._say(404)
            return
        complete = "?1" if name in self.here.complete else "?0"
        self._say(200, Upload_Offset=str(len(self.here.photos[name])), Upload_Complete=complete)

    def do_PATCH(self) -> None:
        name, size = self._name(), int(self.headers["Content-Length"])
        if self.here.every_piece_dies and size > 1:
            piece = self.rfile.read(size // 2)
            self.here.photos[name] = self.here.photos.get(name, b"") + piece
            self._hang_up()
            return
        piece = self.rfile.read(size)
        if not self._may():
            return
        here = self.here.photos.get(name, b"")
        if int(self.headers["Upload-Offset"]) != len(here):
            self._json(409, {"title": "Other offset"})
            return
        self.here.photos[name] = here + piece
        if self.here.hold_photos is not None:
            self.here.hold_photos.wait(timeout=10)
        whole = hashlib.sha256(self.here.photos[name]).hexdigest() == name
        if self.headers["Upload-Complete"] == "?1" and whole:
            self.here.complete.add(name)
        self._json(201, {})
