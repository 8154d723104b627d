"""A key that a wet glove can press."""

from typing import Any, Final

from kivy.clock import Clock
from kivy.properties import (
    BooleanProperty,
    ColorProperty,
    NumericProperty,
    OptionProperty,
    StringProperty,
)
from kivy.uix.behaviors import ButtonBehavior
from kivy.uix.label import Label

from mobile.widgets.telling import told_on_screen

HOLD_S: Final = 0.6
REPEAT_S: Final = 0.12


class Key(ButtonBehavior, Label):
    """Inverts at once under the finger, acts on touch down, repeats or sends another code if held.

    In a list that scrolls it is *late*: it acts when the finger leaves it.
    """

    lip = NumericProperty(5)
    points = NumericProperty(20)
    tone = OptionProperty("plain", options=("plain", "go", "look", "off", "on", "bar"))
    grows = BooleanProperty(defaultvalue=False)  # as high as its text needs
    fill = ColorProperty("#FFFFFF")
    edge = ColorProperty("#888888")
    ink = ColorProperty("#000000")
    down = BooleanProperty(defaultvalue=False)
    late = BooleanProperty(defaultvalue=False)
    send = StringProperty("")
    held = StringProperty("")  # sent after HOLD_S as well
    repeat = BooleanProperty(defaultvalue=False)
    test_id = StringProperty("")

    __events__ = ("on_hit",)

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - any property
        self._timer: Any = None
        super().__init__(**settings)
        self.always_release = True

    def on_press(self) -> None:
        self.down = True
        if not self.late:
            self.hit(self.send)
        if self.held or self.repeat:
            self._timer = Clock.schedule_once(self._long, HOLD_S)

    def _long(self, _: float) -> None:
        if self.repeat:
            self.hit(self.send)
            self._timer = Clock.schedule_once(self._long, REPEAT_S)
        else:
            self.hit(self.held)

    def on_release(self) -> None:
        self.down = False
        if self._timer:
            self._timer.cancel()
            self._timer = None
        if self.late and self.last_touch and self.collide_point(*self.last_touch.pos):
            self.hit(self.send)

    def hit(self, code: str) -> None:
        """Act; what could not be done, such as writing to a full disk, is told on the screen."""
        with told_on_screen():
            self.dispatch("on_hit", code)

    def on_hit(self, _: str) -> None:
        """The key was pressed; its code comes along."""


class Toggle(Key):
    """One of a few answers; colour and weight show that it is chosen."""

    chosen = BooleanProperty(defaultvalue=False)


class Choice(Toggle):
    """An answer as high as its words need."""


class Keep(Key):
    """The main action of a screen."""


class BackKey(Key):
    """The way back, drawn."""


class Rubout(Key):
    """Takes the last figure away, held it takes all; drawn."""
