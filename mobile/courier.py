"""The way to the server over HTTP: enrolment, entries, photos. No Kivy here.

``requests`` is loaded when it is first needed: the app starts without it.
"""

import dataclasses
import gzip
import threading
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from typing import TYPE_CHECKING, Any, Final, Self, cast

from shared_core.errors import DamagedError, RefusedError, StrandlineError, UnreadableError
from shared_core.exchange import Exchanged, Reply, exchange
from shared_core.logbook import Logbook, Verdict
from shared_core.photo_folder import PhotoFolder

if TYPE_CHECKING:
    import requests

CONNECT_S: Final = 10.0
READ_S: Final = 60.0
PHOTO_PIECE: Final = 262_144  # bytes; a piece gets through a line that dies every few megabytes
PHOTO_ENDINGS: Final = (
    3  # times an end is asked for before the server's copy is called another file
)
PHOTO_TRIES: Final = 20  # failures in a row without a byte gained before the photo waits


class NoWayError(StrandlineError):
    """The server could not be reached; everything stays here and goes next time."""


class StoppedError(StrandlineError):
    """Somebody stopped the exchange; it goes on from here next time."""


def _session() -> "requests.Session":
    import requests  # noqa: PLC0415 - heavy, and not needed before the first exchange

    return requests.Session()


def enrol(url: str, code: str, device: str) -> dict[str, str]:
    """Turn a one-time code into this device's token.

    Returns:
        ``token``, ``name``, ``role`` and ``server`` as the server answered.

    Raises:
        RefusedError: if the code is used up, too old or wrong.
        NoWayError: if the server cannot be reached.
    """
    with _session() as session:
        answer = _asked(
            session, "POST", f"{url.rstrip('/')}/v1/enrol", json={"code": code, "device": device}
        )
        found = _read(answer)
    return {name: str(value) for name, value in found.items() if isinstance(value, str)}


class HttpPeer:
    """The server as the other end of an exchange."""

    def __init__(
        self, url: str, token: str, *, name: str = "server", stop: threading.Event | None = None
    ) -> None:
        """Take the address and this device's token; *stop*, once set, ends it between requests."""
        self.name = name
        self._stop = stop
        self._url = url.rstrip("/")
        self._session = _session()
        self._session.headers["Authorization"] = f"Bearer {token}"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Let the line go."""
        self._session.close()

    def _go_on(self) -> None:
        """Raise StoppedError if somebody stopped the exchange."""
        if self._stop is not None and self._stop.is_set():
            raise StoppedError("Stopped, as you asked.")

    def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
        """Hand lines over and ask for what arrived after a place of a log."""
        self._go_on()
        body = "".join(f"{line}\n" for line in lines).encode()
        answer = _asked(
            self._session,
            "POST",
            f"{self._url}/v1/entries",
            params={"after": str(after), "log": log},
            data=gzip.compress(body, compresslevel=6),
            headers={"Content-Type": "application/x-ndjson", "Content-Encoding": "gzip"},
        )
        found = _read(answer)
        try:
            return Reply(
                log=found["log"],
                verdicts=tuple(Verdict(**verdict) for verdict in found["verdicts"]),
                has=int(found["has"]),
                lines=tuple(found["lines"]),
                place=int(found["place"]),
                more=bool(found["more"]),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise UnreadableError(f"the server's answer lacks {error}; is it this app's?") from None

    def send_photo(
        self, sha256: str, data: bytes, *, reached: Callable[[int], None] = lambda _: None
    ) -> int:
        """Send a photo, going on where an earlier try was cut off; return the bytes sent.

        Args:
            sha256: name of the photo.
            data: its bytes.
            reached: told after each piece how many bytes the server has.

        Raises:
            StoppedError: if somebody stopped the exchange; the pieces sent so far stay there.
            NoWayError: if no piece gets through any more.
            RefusedError: if the server does not want it.
            DamagedError: if the server ended with another file than this one.
        """
        url = f"{self._url}/v1/photos/{sha256}"
        sent = failed = there = finished = 0
        while True:
            self._go_on()
            try:
                offset, complete = self._photo_state(url)
                reached(len(data) if complete else offset)
                if complete:
                    return sent
                if offset > there:  # part of a piece that died is there all the same
                    there, failed = offset, 0
                # All bytes there and not yet whole: the answer was lost, and the server may still be
                # looking; an empty last piece waits for it, or makes it look.
                finished += offset == len(data)
                if offset > len(data) or finished > PHOTO_ENDINGS:
                    raise DamagedError(f"the server's copy of photo {sha256[:8]} is another file")
                piece = data[offset : offset + PHOTO_PIECE]
                headers = {
                    "Upload-Offset": str(offset),
                    "Upload-Complete": "?1" if offset + len(piece) == len(data) else "?0",
                    "Content-Type": "application/octet-stream",
                }
                self._go_on()
                sent += len(piece)
                _asked(self._session, "PATCH", url, data=piece, headers=headers, but=(409,))
                failed = 0
            except NoWayError:
                failed += 1
                if failed >= PHOTO_TRIES:
                    raise

    def _photo_state(self, url: str) -> tuple[int, bool]:
        answer = _asked(self._session, "HEAD", url, but=(404,))
        if answer.status_code == 404:
            return 0, False
        complete = answer.headers.get("Upload-Complete", "?0") == "?1"
        return int(answer.headers.get("Upload-Offset", "0")), complete


def _asked(  # noqa: PLR0913 - one place through which every request goes
    session: "requests.Session",
    method: str,
    url: str,
    *,
    but: tuple[int, ...] = (),
    params: dict[str, str] | None = None,
    data: bytes | None = None,
    json: dict[str, str] | None = None,
    headers: dict[str, str] | None = None,
) -> "requests.Response":
    import requests  # noqa: PLC0415 - see above

    try:
        answer = session.request(
            method, url, params=params, data=data, json=json, headers=headers,
            timeout=(CONNECT_S, READ_S), allow_redirects=False,
        )  # fmt: skip
    except requests.RequestException as error:
        raise NoWayError(
            f"No way to {url.split('/v1', maxsplit=1)[0]} now: {type(error).__name__}."
        ) from error
    if answer.status_code < 400 or answer.status_code in but:
        return answer
    raise _refusal(answer)


def _refusal(answer: "requests.Response") -> StrandlineError:
    try:
        problem = answer.json()
        says = f"{problem.get('title', '')}: {problem.get('detail', '')}".strip(": ")
    except ValueError:
        says = f"the server answered {answer.status_code}"
    if answer.status_code >= 500 or answer.status_code == 429:
        return NoWayError(f"The server could not answer now ({says}); try again later.")
    return RefusedError(says)


def _read(answer: "requests.Response") -> dict[str, Any]:
    try:
        found = answer.json()
    except ValueError:
        raise UnreadableError("that address does not answer like a Strandline server") from None
    if not isinstance(found, dict):
        raise UnreadableError("that address does not answer like a Strandline server")
    return found


@dataclasses.dataclass(frozen=True, kw_only=True)
class Delivery:
    """What one turn in coverage moved."""

    entries: Exchanged = dataclasses.field(default_factory=Exchanged)
    photos_sent: int = 0
    photo_bytes: int = 0
    photos: int = 0  # there are on this device
    photos_there: int = 0  # of these the server is known to have
    bytes: int = 0  # of all photos on this device
    bytes_there: int = 0


def deliver(
    logbook: Logbook,
    photos: PhotoFolder,
    peer: HttpPeer,
    *,
    progress: Callable[[Delivery], None] = lambda _: None,
) -> Delivery:
    """Exchange entries, then send the photos that the server lacks: records first, photos last.

    Args:
        logbook: of this device.
        photos: of this device.
        peer: the server.
        progress: told after each request and each piece of a photo what was moved so far.

    Raises:
        StoppedError: if somebody stopped it.
        StrandlineError: what stopped it; whatever was moved until then stays moved.
    """
    sizes = {sha256: photos.path_of(sha256).stat().st_size for sha256 in photos.hashes()}
    start = Delivery(photos=len(sizes), bytes=sum(sizes.values()))
    progress(start)
    entries = exchange(
        logbook, peer, progress=lambda moved: progress(dataclasses.replace(start, entries=moved))
    )
    done = dataclasses.replace(start, entries=entries)
    for sha256 in sorted(sizes):
        before = done

        def reached(there: int, before: Delivery = before) -> None:
            progress(dataclasses.replace(before, bytes_there=before.bytes_there + there))

        size = peer.send_photo(sha256, photos.path_of(sha256).read_bytes(), reached=reached)
        done = dataclasses.replace(
            done,
            photos_sent=done.photos_sent + (size > 0),
            photo_bytes=done.photo_bytes + size,
            photos_there=done.photos_there + 1,
            bytes_there=done.bytes_there + sizes[sha256],
        )
        progress(done)
    return done


class OnScreenThread:
    """A logbook as another thread may use it: each call is made on the screen's own thread.

    A logbook has one connection, and a transaction begun on it belongs to whoever writes next.
    With every call on one thread a key typed during an exchange cannot fall into the exchange's
    transaction, and be lost when that is rolled back.
    """

    def __init__(self, logbook: Logbook, post: Callable[[Callable[[], None]], None]) -> None:
        """Take a logbook, and how to hand a call to the screen's thread."""
        self._logbook = logbook
        self._post = post

    def __getattr__(self, name: str) -> object:
        member = self._there(lambda: getattr(self._logbook, name))
        if not callable(member):
            return member

        def call(*given: object, **named: object) -> object:
            return self._there(lambda: member(*given, **named))

        return call

    def _there(self, ask: Callable[[], object]) -> object:
        found: Future[object] = Future()

        def answer() -> None:
            try:
                found.set_result(ask())
            except Exception as error:  # noqa: BLE001 - raised again in the thread that asked
                found.set_exception(error)

        self._post(answer)
        return found.result()


def on_screen_thread(logbook: Logbook, post: Callable[[Callable[[], None]], None]) -> Logbook:
    """Return a logbook for another thread's use; see :class:`OnScreenThread`."""
    return cast("Logbook", OnScreenThread(logbook, post))


class Courier:
    """Runs a delivery in its own thread and reports through a poster that reaches the screen."""

    def __init__(
        self, run: Callable[[], Delivery], post: Callable[[Callable[[], None]], None]
    ) -> None:
        """Take what to run, and how to hand a call back to the screen's own thread."""
        self._run = run
        self._post = post
        self._thread: threading.Thread | None = None
        self.error: StrandlineError | None = None  # what ended the last delivery, if it failed

    @property
    def busy(self) -> bool:
        """Whether a delivery is under way."""
        return self._thread is not None and self._thread.is_alive()

    def go(self, done: Callable[[Delivery], None], failed: Callable[[str], None]) -> bool:
        """Start a delivery unless one is under way; say whether it was started."""
        if self.busy:
            return False

        def work() -> None:
            try:
                found = self._run()
            except StrandlineError as error:
                what = error  # the name in the except clause goes with it
                self._post(lambda: self._end(what, failed))
            except Exception as error:  # noqa: BLE001 - a fault of the program must not end in silence
                fault = StrandlineError(
                    f"The exchange met a fault ({type(error).__name__}: {error})."
                )
                self._post(lambda: self._end(fault, failed))
            else:
                self._post(lambda: done(found))

        self.error = None
        self._thread = threading.Thread(target=work, daemon=True, name="courier")
        self._thread.start()
        return True

    def _end(self, error: StrandlineError, failed: Callable[[str], None]) -> None:
        self.error = error
        failed(str(error))
