"""Satellite receivers: where fixes come from, each in a thread of its own, none ever a crash.

A receiver that goes away is said and waited for; what cannot be read is counted. Fixes are handed
to a sink in the receiver's own thread: give it the ``put`` of a queue.
"""

import contextlib
import enum
import importlib
import os
import select
import threading
import time
from collections.abc import Callable, Iterator
from typing import Any, Final, Protocol

from shared_core.errors import StrandlineError
from shared_core.nmea import Assembler
from shared_core.track import Fix

BAUD: Final = 4800  # NMEA 0183, standard speed
LOOK_AGAIN_S: Final = 1.0  # between two tries to open what is not there
READ_WAITS_S: Final = 0.25
QUIET_S: Final = 5.0  # without a sentence a receiver is called silent
LONGEST_LINE: Final = 1024  # bytes without a line end are garbage

Sink = Callable[[Fix], None]


class State(enum.StrEnum):
    """How a receiver is."""

    OFF = "off"
    LOOKING = "looking"  # not opened yet
    SILENT = "silent"  # open, nothing comes
    WAITING = "waiting"  # speaks, without a position
    FIX = "fix"
    LOST = "lost"  # was there and is gone
    ENDED = "ended"  # a file was played to its end


SAYS: Final = {
    State.OFF: "Receiver off",
    State.LOOKING: "Looking for the receiver",
    State.SILENT: "Nothing comes from the receiver",
    State.WAITING: "The receiver has no position yet",
    State.FIX: "Receiving",
    State.LOST: "The receiver is gone; recording goes on when it is back",
    State.ENDED: "The file is played to its end",
}


class Source(Protocol):
    """What a walk asks of a source of fixes."""

    state: State
    bad: int  # lines that could not be read

    def start(self) -> None:
        """Begin to hand fixes to the sink."""
        ...

    def stop(self) -> None:
        """End; no fix comes after this returns."""
        ...


class Receiver:
    """A thread that opens, reads, and opens again what went away; kinds say how."""

    def __init__(self, sink: Sink, *, look_again_s: float = LOOK_AGAIN_S) -> None:
        """Take where fixes go, and the wait [s] before a lost receiver is looked for again."""
        self.state = State.OFF
        self.bad = 0
        self._sink = sink
        self._look_again_s = look_again_s
        self._ended = threading.Event()
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin to hand fixes to the sink."""
        if self._thread is None:
            self._ended.clear()
            self.state = State.LOOKING
            self._thread = threading.Thread(target=self._run, daemon=True)
            self._thread.start()

    def stop(self) -> None:
        """End; no fix comes after this returns."""
        self._ended.set()
        if self._thread is not None:
            self._thread.join()
            self._thread = None
        self.state = State.OFF

    def _run(self) -> None:
        while not self._ended.is_set():
            with contextlib.suppress(OSError, EOFError):
                self._listen()
            if self.state is State.ENDED:
                return
            if self.state is not State.LOOKING:
                self.state = State.LOST
            self._ended.wait(self._look_again_s)

    def _listen(self) -> None:
        """Open and read until the end; kinds say how. OSError and EOFError: it is gone."""
        raise NotImplementedError

    def _give(self, fix: Fix) -> None:
        if not self._ended.is_set():
            self.state = State.FIX
            self._sink(fix)

    def _lines(self, read: Callable[[], bytes]) -> Iterator[str]:
        """Yield whole lines; *read* returns what has come, or nothing after a short wait."""
        rest, heard = b"", time.monotonic()
        self.state = State.SILENT
        while not self._ended.is_set():
            came = read()
            if not came:
                if time.monotonic() - heard > QUIET_S and self.state is not State.LOST:
                    self.state = State.SILENT
                continue
            heard = time.monotonic()
            *whole, rest = (rest + came).split(b"\n")
            for line in whole:
                if line.strip():
                    yield line.decode("ascii", "replace").strip()
            if len(rest) > LONGEST_LINE:
                rest = b""
                self.bad += 1


class NmeaReceiver(Receiver):
    """A receiver on a serial line, such as a USB or Bluetooth serial port, speaking NMEA 0183."""

    def __init__(
        self, port: str, sink: Sink, *, baud: int = BAUD, look_again_s: float = LOOK_AGAIN_S
    ) -> None:
        """Take the port, where fixes go, and the speed of the line [baud]."""
        super().__init__(sink, look_again_s=look_again_s)
        self.port = port
        self._baud = baud

    def _listen(self) -> None:
        with open_line(self.port, self._baud) as read:
            assembler = Assembler()
            for line in self._lines(read):
                self._take(assembler, line)

    def _take(self, assembler: Assembler, line: str) -> None:
        without = assembler.without_fix
        try:
            fixes = assembler.feed(line)
        except StrandlineError:
            self.bad += 1
            return
        if assembler.without_fix > without or self.state is State.SILENT:
            self.state = State.WAITING
        for fix in fixes:
            self._give(fix)


@contextlib.contextmanager
def open_line(port: str, baud: int) -> Iterator[Callable[[], bytes]]:
    """Open a serial line and yield how it is read.

    With pyserial where it is installed (needed on Windows), else with the system's own terminal
    calls, which is all that Linux and Android need.

    Raises:
        OSError: if it cannot be opened.
    """
    try:
        serial: Any = importlib.import_module("serial")
    except ImportError:
        with _open_terminal(port, baud) as read:
            yield read
        return
    with serial.Serial(port, baud, timeout=READ_WAITS_S) as line:  # its errors are OSErrors
        yield lambda: bytes(line.read(max(1, line.in_waiting)))


@contextlib.contextmanager
def _open_terminal(port: str, baud: int) -> Iterator[Callable[[], bytes]]:
    try:
        termios: Any = importlib.import_module("termios")  # not on every system
    except ImportError:
        raise OSError("a serial receiver needs the package pyserial on this system") from None
    file = os.open(port, os.O_RDONLY | os.O_NOCTTY | os.O_NONBLOCK)
    try:
        _make_raw(termios, file, baud)

        def read() -> bytes:
            ready, _, _ = select.select([file], [], [], READ_WAITS_S)
            if not ready:
                return b""
            came = os.read(file, 4096)
            if not came:
                raise EOFError("the line was closed at its other end")
            return came

        yield read
    finally:
        os.close(file)


def _make_raw(termios: Any, file: int, baud: int) -> None:  # noqa: ANN401 - a module not on every system
    """Set the line to bytes as they come, eight bits, no echo (POSIX.1, general terminal)."""
    speed = getattr(termios, f"B{baud}", termios.B4800)
    try:
        _, _, control, _, _, _, characters = termios.tcgetattr(file)
        control = (control & ~(termios.PARENB | termios.CSTOPB | termios.CSIZE)) | termios.CS8
        control |= termios.CLOCAL | termios.CREAD
        termios.tcsetattr(file, termios.TCSANOW, [0, 0, control, 0, speed, speed, characters])
    except termios.error as error:
        raise OSError(f"this is no serial line: {error}") from None
