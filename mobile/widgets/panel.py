"""The place under the thumb: the keypad, or a question with a few answers."""

from collections.abc import Callable, Sequence
from typing import Any

from kivy.properties import ListProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout

from mobile.entering import REASONS
from mobile.widgets.key import Choice
from mobile.widgets.keypad import Keypad
from mobile.widgets.text import Scroll, Words

AGAIN = "Type it again"
ADD_PHOTO = "Add a photo of it"


class PanelKeys(GridLayout):
    """The answers to a question."""


class Panel(BoxLayout):
    """Shows the keypad until something is asked."""

    extra = ListProperty(["."])
    question = StringProperty("")

    __events__ = ("on_key",)

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - any property
        super().__init__(**settings)
        self._keypad = Keypad(extra=self.extra, on_key=lambda _, key: self.dispatch("on_key", key))
        self.bind(extra=self._keypad.setter("extra"))
        self.add_widget(self._keypad)

    def on_key(self, code: str) -> None:
        """A key of the keypad was pressed."""

    def type(self) -> None:
        """Show the keypad."""
        if self.question:
            self.question = ""
            self.clear_widgets()
            self.add_widget(self._keypad)

    def ask(
        self, question: str, answers: Sequence[str], chosen: str, then: Callable[[str], None]
    ) -> None:
        """Show a question; *then* takes the answer that is touched."""
        self.question = question
        self.clear_widgets()
        self.add_widget(Words(text=question, points=18, bold=True))
        keys = PanelKeys()
        for answer in answers:
            key = Choice(text=answer, send=answer, chosen=answer == chosen, points=18, late=True)
            key.bind(on_hit=lambda _, word: then(word))
            keys.add_widget(key)
        scroll = Scroll()
        scroll.add_widget(keys)
        self.add_widget(scroll)

    def ask_reason(
        self,
        chosen: str,
        then: Callable[[str], None],
        again: Callable[[], None],
        photo: Callable[[], None] | None = None,
    ) -> None:
        """Ask why a value is kept; the ways to a photo and back to typing stand among the answers."""
        leads = {AGAIN: again} | ({ADD_PHOTO: photo} if photo else {})
        self.ask(
            "It can hardly be: show it on a photo, and keep it because"
            if photo
            else "Keep it because",
            (*REASONS, *sorted(leads)),
            chosen,
            lambda word: leads[word]() if word in leads else then(word),
        )
