"""A line to the server that breaks in mid-request or mid-answer, at bytes chosen beforehand."""

import contextlib
import socket
import threading
from collections.abc import Iterator, Sequence


class BrokenLine:
    """Carries bytes to a port on loopback and cuts the connection each time a mark is passed."""

    def __init__(self, port: int, cuts: Sequence[int]) -> None:
        """Take the server's port, and the counts of bytes (both ways) at which to cut."""
        self._port = port
        self._marks = sorted(cuts)
        self._carried = 0
        self._lock = threading.Lock()
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self.broke = 0
        self._thread = threading.Thread(target=self._accept, daemon=True)

    def _accept(self) -> None:
        while True:
            try:
                near, _ = self._listener.accept()
            except OSError:  # closed
                return
            threading.Thread(target=self._carry, args=(near,), daemon=True).start()

    def _carry(self, near: socket.socket) -> None:
        far_end = ("127.0.0.1", self._port)
        with contextlib.suppress(OSError), near, socket.create_connection(far_end) as far:
            back = threading.Thread(target=self._pump, args=(far, near), daemon=True)
            back.start()
            self._pump(near, far)
            back.join(timeout=60)

    def _pump(self, source: socket.socket, sink: socket.socket) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65_536):
                let_through, cut = self._allowed(len(data))
                sink.sendall(data[:let_through])
                if cut:
                    for end in (source, sink):
                        with contextlib.suppress(OSError):
                            end.shutdown(socket.SHUT_RDWR)
                    return
            sink.shutdown(socket.SHUT_WR)

    def _allowed(self, size: int) -> tuple[int, bool]:
        with self._lock:
            if self._marks and self._carried + size >= self._marks[0]:
                allowed = max(0, self._marks.pop(0) - self._carried)
                self._carried += allowed
                self.broke += 1
                return allowed, True
            self._carried += size
            return size, False

    def start(self) -> None:
        """Begin to carry."""
        self._thread.start()

    def stop(self) -> None:
        """Stop taking connections."""
        self._listener.close()


@contextlib.contextmanager
def line_to(port: int, cuts: Sequence[int]) -> Iterator[BrokenLine]:
    """Run a line for as long as the block lasts."""
    line = BrokenLine(port, cuts)
    line.start()
    try:
        yield line
    finally:
        line.stop()
