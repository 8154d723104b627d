"""Enrolling: a server's address and a one-time code become this device's own key."""

import threading

from kivy.clock import Clock
from kivy.properties import StringProperty

from mobile.courier import enrol
from mobile.screens.page import Face, Page, load_rules
from mobile.widgets.boxes import Writing  # noqa: F401 - named in enrol.kv
from shared_core.errors import StrandlineError


class EnrolWide(Face):
    """One column in the middle."""


class EnrolTall(Face):
    """One column over the whole width."""


load_rules(__file__)

ASKED = "Type the code your coordinator gave you. It works once."


class Enrol(Page):
    """Asks for the address and the code."""

    says = StringProperty(ASKED)
    server = ""
    code = ""

    def take_up(self, **what: str) -> None:
        del what
        self.server = self.server or self.tablet.identity.server or self.practice.server
        self.says = ASKED

    def face_for(self, *, wide: bool) -> Face:
        return EnrolWide(page=self) if wide else EnrolTall(page=self)

    def show(self) -> None:
        self.head("Enrol this device", f"Its name is {self.tablet.identity.device}")
        form = self.face.ids.form.ids
        form.server.text, form.code.text, form.says.text = self.server, self.code, self.says

    def go(self) -> None:
        """Ask the server, in a thread of its own."""
        form = self.face.ids.form.ids
        self.server, self.code = form.server.text.strip(), form.code.text.strip()
        if not self.server or not self.code:
            self._say("Both are needed: the server's address and the code.")
            return
        self._say("Asking the server…")
        device = self.tablet.identity.device
        threading.Thread(
            target=self._ask, args=(self.server, self.code, device), daemon=True, name="enrol"
        ).start()

    def _ask(self, server: str, code: str, device: str) -> None:
        try:
            found = enrol(server, code, device)
        except StrandlineError as error:
            says = str(error)
            Clock.schedule_once(lambda _: self._say(says))
        else:
            Clock.schedule_once(lambda _: self._enrolled(server, found))

    def _say(self, words: str) -> None:
        self.says = words
        self.show()

    def _enrolled(self, server: str, found: dict[str, str]) -> None:
        self.tablet.enrolled(server, found)
        self.code = ""
        self.router.start("home")
