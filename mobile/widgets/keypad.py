"""Our own keypad: no system keyboard slides over the number that is being typed."""

from typing import Any

from kivy.properties import ListProperty
from kivy.uix.gridlayout import GridLayout

from mobile.widgets.key import Key, Rubout

FIGURES = ("1", "2", "3", "4", "5", "6", "7", "8", "9")
FOUR_ACROSS = ("1", "2", "3", "back", "4", "5", "6", "-", "7", "8", "9", ".", "", "0", "", "")
SHOWN = {"-": "\u2212"}


class Keypad(GridLayout):
    """Nine figures, zero, one or two more keys, and the rubout."""

    extra = ListProperty(["."])  # beside the figures: a point, a point and a minus sign, or nothing

    __events__ = ("on_key",)

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - any property
        super().__init__(**settings)
        self.bind(extra=self._fill)
        self._fill()

    def _fill(self, *_: object) -> None:
        self.clear_widgets()
        four = len(self.extra) > 1
        self.cols = 4 if four else 3
        for code in FOUR_ACROSS if four else (*FIGURES, *(self.extra or [""]), "0", "back"):
            self.add_widget(self._rubout() if code == "back" else self._key(code))

    def _rubout(self) -> Rubout:
        return Rubout(send="back", held="clear", test_id="rubout", on_hit=self._hit)

    def _key(self, code: str) -> Key:
        shown = SHOWN.get(code, code)
        return Key(
            text=shown, send=code, points=34, disabled=not code, on_hit=self._hit, bold=True,
            opacity=1 if code else 0, test_id=f"key {code}" if code else "",
        )  # fmt: skip

    def _hit(self, _: Key, code: str) -> None:
        if code:
            self.dispatch("on_key", code)

    def on_key(self, code: str) -> None:
        """A key was pressed."""
