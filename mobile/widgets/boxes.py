"""One box for each kind of field, so that a form for any kind of record can be built."""

from collections.abc import Callable
from typing import Any, Final

from kivy.clock import Clock
from kivy.properties import BooleanProperty, ListProperty, StringProperty
from kivy.uix.gridlayout import GridLayout
from kivy.uix.textinput import TextInput

from mobile.form_entry import FormEntry
from mobile.widgets.key import Choice, Key
from mobile.widgets.panel import PanelKeys
from shared_core import field_kinds, field_shapes
from shared_core.field_kinds import Field


class Writing(TextInput):
    """Where free words are written."""

    test_id = StringProperty("")


class Figure(Key):
    """Shows a number; a touch brings the keypad to it."""


class Box(GridLayout):
    """Heading, help, and something to fill the field in with."""

    heading = StringProperty("")
    help = StringProperty("")
    active = BooleanProperty(defaultvalue=False)
    extra = ListProperty([])  # keys of the keypad beside zero; empty where there is no keypad
    on_keypad = False

    def __init__(self, field: Field, entry: FormEntry, changed: Callable[[], None]) -> None:
        """Take the field, the form it belongs to, and whom to tell of a change."""
        needed = ", needed" if field.required else ""
        super().__init__(heading=f"{field.heading}{needed}", help=field.help)
        self.field = field
        self.entry = entry
        self._changed = changed
        self.fill()

    def fill(self) -> None:
        """Build what the field is filled in with; boxes of each kind say how."""
        raise NotImplementedError

    def take(self, text: str) -> None:
        """Hand on what the box now holds."""
        self.entry.type(self.field.name, text)
        self._changed()

    @property
    def text(self) -> str:
        """What the box holds."""
        return self.entry.text(self.field.name)


class NumberBox(Box):
    """A number, typed on our own keypad."""

    on_keypad = True

    def fill(self) -> None:
        likely = getattr(self.field, "likely", None)
        self.extra = ["."] if likely and likely[0] >= 0 else [".", "-"]
        self.figure = Figure(test_id=f"box {self.field.name}")
        self.add_widget(self.figure)
        self.show()

    def show(self) -> None:
        """Show what is typed so far."""
        self.figure.text = self.text.replace("-", "\u2212") or "–"

    def press(self, key: str) -> None:
        """Take a key of the keypad."""
        self.entry.press(self.field.name, key)
        self.show()
        self._changed()


class CountBox(NumberBox):
    """Whole figures only."""

    def fill(self) -> None:
        super().fill()
        self.extra = []


class AnswersBox(Box):
    """A few answers, each a key; the chosen one again takes it back."""

    def answers(self) -> dict[str, str]:
        """Return stored words and what they read."""
        return dict(getattr(self.field, "answers", {}))

    def fill(self) -> None:
        self._keys = []
        shown = PanelKeys()
        for word, words in self.answers().items():
            key = Choice(
                text=words, send=word, late=True, points=18, test_id=f"{self.field.name} {word}"
            )
            key.bind(on_hit=self._hit)
            shown.add_widget(key)
            self._keys.append(key)
        self.add_widget(shown)
        self._mark()

    def _hit(self, _: Key, word: str) -> None:
        self.take("" if word == self.text else word)
        self._mark()

    def _mark(self) -> None:
        for key in self._keys:
            key.chosen = key.send == self.text


class YesNoBox(AnswersBox):
    """Yes or no."""

    def answers(self) -> dict[str, str]:
        return {"yes": "Yes", "no": "No"}


class WordsBox(Box):
    """Free words on one line."""

    several_lines = False

    def fill(self) -> None:
        self.writing = Writing(
            text=self.text, multiline=self.several_lines, test_id=f"box {self.field.name}"
        )
        self.writing.bind(text=lambda _, text: self.take(text))
        self.add_widget(self.writing)


class LinesBox(WordsBox):
    """Several lines: a table with a row a line, or raw texts."""

    several_lines = True

    def fill(self) -> None:
        self.help = " ".join(part for part in (self.field.help, self.field.wanted()) if part)
        super().fill()


class NowBox(WordsBox):
    """Something the device knows itself: the time, the date, the place."""

    words = "Now"

    def fill(self) -> None:
        self.help = self.help or f"Wanted: {self.field.wanted()}."
        super().fill()
        key = Choice(text=self.words, late=True, points=18, test_id=f"now {self.field.name}")
        key.bind(on_hit=self._now)
        key.disabled = not self.entry.now(self.field)
        self.add_widget(key)

    def _now(self, *_: object) -> None:
        self.writing.text = self.entry.now(self.field)
        Clock.schedule_once(lambda _: setattr(self.writing, "cursor", (0, 0)))


class TodayBox(NowBox):
    """A date."""

    words = "Today"


class HereBox(NowBox):
    """A position."""

    words = "Where the device is"


BOX_FOR: Final[dict[type[Field], type[Box]]] = {
    field_kinds.Field: WordsBox,
    field_kinds.Number: NumberBox,
    field_kinds.Whole: CountBox,
    field_kinds.Choice: AnswersBox,
    field_kinds.Flag: YesNoBox,
    field_kinds.Text: WordsBox,
    field_kinds.Digits: CountBox,
    field_kinds.Moment: NowBox,
    field_kinds.Day: TodayBox,
    field_shapes.Place: HereBox,
    field_shapes.Words: WordsBox,
    field_shapes.Typed: LinesBox,
    field_shapes.Rows: LinesBox,
}


def box_for(field: Field) -> type[Box]:
    """Return the box for a field: that of its own class, or of the nearest class above it."""
    return next(BOX_FOR[above] for above in type(field).__mro__ if above in BOX_FOR)


def box(field: Field, entry: FormEntry, changed: Callable[[], None]) -> Box:
    """Build the box of a field."""
    made: Any = box_for(field)(field, entry, changed)
    return made
