"""Long work in a thread of its own; its answer comes back on the screen's thread. No Kivy."""

import threading
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


class Worker:
    """Runs one thing after another was asked for, each in a thread that ends with it."""

    def __init__(self, post: Callable[[Callable[[], None]], None]) -> None:
        """Take what hands a call to the screen's own thread."""
        self._post = post

    def run(self, work: Callable[[], T], done: Callable[[T], None]) -> None:
        """Do *work* elsewhere and hand what it gives to *done* on the screen's thread.

        A fault in the work is raised on the screen's thread, where faults are written down.
        """

        def elsewhere() -> None:
            try:
                found = work()
            except Exception as fault:  # noqa: BLE001 - raised again where somebody sees it
                self._post(lambda fault=fault: _again(fault))  # type: ignore[misc] # mypy types no default of a lambda
            else:
                self._post(lambda: done(found))

        threading.Thread(target=elsewhere, daemon=True).start()


def _again(fault: Exception) -> None:
    raise fault
