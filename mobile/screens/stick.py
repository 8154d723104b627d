"""A stick, a card or a folder: copy what is here onto it, or take in what another device wrote."""

import threading
from collections.abc import Callable
from pathlib import Path
from typing import TypeVar

from kivy.clock import Clock

from mobile.carrying import LONGEST_COPIED_TO, Copied, copy_to, take_in
from mobile.courier import on_screen_thread
from mobile.device.sticks import carry_files, sticks
from mobile.screens.cards import CardsPage, card, choice, heading, plain, writing
from mobile.visiting import visit_draft
from mobile.widgets.row import RowKey
from mobile.widgets.text import Column
from shared_core.errors import StrandlineError

T = TypeVar("T")

PRACTICE = "Practice: nothing here leaves this device, and nothing comes in."


class StickPage(CardsPage):
    """Shows where to copy to, and what can be taken in."""

    folder = ""
    says = ""
    mood = ""
    busy = False
    for_visit = False
    for_taking = False

    def take_up(self, **what: str) -> None:
        self.for_visit, self.for_taking = "visit" in what, "take" in what
        self.says = self.mood = ""
        found = sticks()
        if not self.folder and found:
            self.folder = str(found[0])

    def fill(self, first: Column, second: Column) -> None:
        self.head("Stick or second device")
        box = card(title="Folder of the stick")
        for path in sticks():
            box.add_widget(choice(str(path), lambda path=path: self._choose(path), f"at {path}"))  # type: ignore[misc] # bound now
        box.add_widget(writing(self.folder, self._type, "folder", hint="or type its folder"))
        box.add_widget(choice("Look what is there", self.show, "look"))
        first.add_widget(box)
        says = PRACTICE if self.tablet.practice else self.says
        if says:
            first.add_widget(card(plain(says, shade="ink", points=20), mood=self.mood))
        self._files(second)
        words = "At work…" if self.busy else "Copy what is here"
        off = self.busy or self.tablet.practice or self.for_taking
        self.main("Touch a file to take it in" if self.for_taking and not self.busy else words,
                  "off" if off else "go")  # fmt: skip

    def _files(self, column: Column) -> None:
        column.add_widget(heading("Take in from there"))
        files = carry_files(Path(self.folder)) if self.folder else []
        if not files:
            column.add_widget(card(plain("No carry file (.strand) is in that folder.")))
        for path in files:
            row = RowKey(title=path.name, says=f"In {path.parent}", test_id=f"take {path.name}")
            row.bind(on_hit=lambda *_, path=path: self._take_in(path))
            column.add_widget(row)

    def _choose(self, path: Path) -> None:
        self.folder = str(path)
        self.show()

    def _type(self, text: str) -> None:
        self.folder = text.strip()

    def act(self) -> None:
        """Copy everything onto the stick."""
        if not self.folder:
            self._ended("Say first where to: put a stick in, or type a folder.", "look")
            return
        folder, at, photos = Path(self.folder), self.tablet.device().now, self.tablet.photos
        logbook = on_screen_thread(self.tablet.logbook, _post)
        self._work(lambda: copy_to(folder, logbook, photos, at), self._copied)

    def _copied(self, copied: Copied) -> None:
        if self.for_visit:
            visit_draft(self.tablet.day).type("copied_to", copied.short[:LONGEST_COPIED_TO])
        self._ended(copied.says, "fits")

    def _take_in(self, path: Path) -> None:
        if self.busy or self.tablet.practice:
            return
        logbook, photos = on_screen_thread(self.tablet.logbook, _post), self.tablet.photos
        self._work(lambda: take_in(path, logbook, photos), lambda says: self._ended(says, "fits"))

    def _work(self, run: Callable[[], T], then: Callable[[T], None]) -> None:
        """Run something long in a thread of its own, so that the screen stays awake."""
        self.busy, self.says = True, "Do not take the stick out."
        self.mood = "look"
        self.show()

        def work() -> None:
            try:
                found = run()
            except StrandlineError as error:
                says = f"{str(error)[:1].upper()}{str(error)[1:]}"
                _post(lambda: self._ended(says, "cannot"))
            else:
                _post(lambda: then(found))

        threading.Thread(target=work, daemon=True, name="stick").start()

    def _ended(self, says: str, mood: str) -> None:
        self.busy, self.says, self.mood = False, says, mood
        self.show()


def _post(call: Callable[[], None]) -> None:
    Clock.schedule_once(lambda _: call(), 0)
