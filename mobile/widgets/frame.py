"""A new photo with the last one laid over it, as much as a finger on the fader says."""

from pathlib import Path
from typing import Any

from kivy.properties import NumericProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from mobile.photo_entry import FrameShown
from mobile.widgets import photos  # noqa: F401 - named in the rules
from mobile.widgets.theme import load_look

load_look(Path(__file__).with_suffix(".kv"))


class Fader(Widget):
    """A line with a knob: at its left the new photo alone, at its right the last one."""

    share = NumericProperty(0.5)
    test_id = StringProperty("fader")

    def on_touch_down(self, touch: Any) -> bool:  # noqa: ANN401 - Kivy's own
        if not self.collide_point(*touch.pos):
            return False
        touch.grab(self)
        self._follow(touch)
        return True

    def on_touch_move(self, touch: Any) -> bool:  # noqa: ANN401 - Kivy's own
        if touch.grab_current is self:
            self._follow(touch)
        return touch.grab_current is self

    def on_touch_up(self, touch: Any) -> bool:  # noqa: ANN401 - Kivy's own
        if touch.grab_current is self:
            touch.ungrab(self)
            return True
        return False

    def _follow(self, touch: Any) -> None:  # noqa: ANN401 - Kivy's own
        self.share = min(1.0, max(0.0, (touch.x - self.x) / max(1.0, self.width)))


class Frame(BoxLayout):
    """The photo, the ghost of the last one, the fader, and the key that takes the photo."""

    path = StringProperty("")
    ghost = StringProperty("")
    ghost_words = StringProperty("")
    around = StringProperty("")  # the point's bearing and how far its peg is

    __events__ = ("on_take",)

    def fill(self, shown: FrameShown) -> None:
        """Show the photo and the last one."""
        self.path, self.ghost, self.ghost_words = shown.path, shown.ghost, shown.ghost_words
        self.around = f"{shown.peg_words} {shown.distance_words}"

    def on_take(self) -> None:
        """A photo is to be taken."""
