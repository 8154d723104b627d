"""What all screens share: two faces, wide and tall, and the way back."""

from pathlib import Path
from typing import Any, Protocol

from kivy.metrics import dp
from kivy.properties import BooleanProperty, ObjectProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.screenmanager import Screen
from kivy.uix.widget import Widget

from mobile.look import WIDE_FROM_DP
from mobile.router import Router
from mobile.tablet import Tablet
from mobile.widgets.text import TopBar
from mobile.widgets.theme import load_look


def load_rules(module_file: str) -> None:
    """Load the rules that stand beside a screen's module."""
    load_look(Path(module_file).with_suffix(".kv"))


class Practice(Protocol):
    """The practice site, as the screens see it."""

    on_offer: bool
    server: str  # offered on the enrol screen

    def turn(self, *, on: bool) -> None:
        """Go to the practice site, or back from it."""
        ...


class Face(BoxLayout):
    """One layout of a screen; it keeps nothing, so that turning the tablet loses nothing."""

    page: Any = ObjectProperty(None)


class Page(Screen):
    """A screen: shows what a presenter says and passes touches on."""

    wide = BooleanProperty(defaultvalue=True)

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - any property
        self.tablet: Tablet
        self.router: Router
        self.practice: Practice
        self.face: Any = None
        self.over: Any = None  # what lies over the face until it is answered
        self._opened = False
        super().__init__(**settings)
        self.bind(size=self._arrange)

    def opened(self, **what: str) -> None:
        """Take up what is to be shown, afresh."""
        self.take_up(**what)
        self._opened = True
        self._arrange()
        if self.over is not None:
            self.lift()
        else:
            self.show()

    def take_up(self, **what: str) -> None:
        """Ask the presenter for what is to be shown; pages say how."""
        del what

    def face_for(self, *, wide: bool) -> Face:
        """Return a new face; pages say which."""
        raise NotImplementedError

    def show(self) -> None:
        """Fill the face with what is to be shown; pages say how."""

    def _arrange(self, *_: object) -> None:
        by_width = self.tablet.identity.layout != "tall" if self._opened else True
        wide = by_width and self.width >= dp(WIDE_FROM_DP)
        if not self._opened or (self.face is not None and wide == self.wide):
            return
        first = self.face is None
        self.wide = wide
        self.clear_widgets()
        self.face = self.face_for(wide=wide)
        self.add_widget(self.face if self.over is None else self.over)
        if not first:
            self.show()

    def lay_over(self, widget: Widget) -> None:
        """Lay something over the face, such as a question, until it is answered."""
        self.over = widget
        self.clear_widgets()
        self.add_widget(widget)

    def lift(self) -> None:
        """Take away what lies over the face."""
        self.over = None
        self.clear_widgets()
        self.add_widget(self.face)
        self.show()

    def head(self, title: str, sub: str = "") -> None:
        """Write the title of the screen."""
        bar: TopBar = self.face.ids.bar
        bar.title, bar.sub = title, sub
        bar.wide = self.wide
        bar.can_go_back = self.name != "home"

    def back(self) -> None:
        """Take away what lies over the face, or go back along the way."""
        if self.over is not None:
            self.lift()
        else:
            self.router.back()
