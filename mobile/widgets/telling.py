"""Tells on the screen what a touch could not do."""

import contextlib
from collections.abc import Iterator
from typing import Any

from kivy.app import App

from shared_core.errors import StrandlineError


@contextlib.contextmanager
def told_on_screen() -> Iterator[None]:
    """Lay the sentence of an error over the screen; what was on disk before is still there."""
    try:
        yield
    except StrandlineError as error:
        app: Any = App.get_running_app()
        if app is None:
            raise
        app.tell(str(error)[:1].upper() + str(error)[1:])
