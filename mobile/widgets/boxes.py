"""One box for each kind of field, so that a form for any kind of record can be built."""

from collections.abc import Callable
from datetime import timedelta
from typing import Any, Final

from kivy.clock import Clock
from kivy.properties import BooleanProperty, ListProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout
from kivy.uix.textinput import TextInput

from mobile.attached import Attached
from mobile.form_entry import Filled
from mobile.widgets.key import Choice, Key
from mobile.widgets.panel import PanelKeys
from mobile.widgets.photos import PhotoStrip
from mobile.widgets.telling import told_on_screen
from mobile.widgets.text import Words
from shared_core import field_kinds, field_shapes
from shared_core.field_kinds import Field


class Writing(TextInput):
    """Where free words are written."""

    test_id = StringProperty("")


class Figure(Key):
    """Shows a number; a touch brings the keypad to it."""


class Line(BoxLayout):
    """Things side by side, as high as the highest of them."""


class UnitWords(Words):
    """The unit behind a figure."""


class Box(GridLayout):
    """Heading, help, and something to fill the field in with."""

    heading = StringProperty("")
    help = StringProperty("")
    active = BooleanProperty(defaultvalue=False)
    extra = ListProperty([])  # keys of the keypad beside zero; empty where there is no keypad
    on_keypad = False

    def __init__(self, field: Field, entry: Filled, changed: Callable[[], None]) -> None:
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
        with told_on_screen():
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
        line = Line()
        line.add_widget(self.figure)
        if self.field.unit:
            line.add_widget(UnitWords(text=self.field.unit))
        self.add_widget(line)
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

    side_by_side = 3  # so many short answers stand in one row
    short = 9  # letters of an answer that is short

    def answers(self) -> dict[str, str]:
        """Return stored words and what they read."""
        return dict(getattr(self.field, "answers", {}))

    def fill(self) -> None:
        self._keys = []
        shown = PanelKeys()
        answers = self.answers().values()
        if len(answers) == self.side_by_side and max(map(len, answers)) <= self.short:
            shown.cols = self.side_by_side
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
    steps: tuple[tuple[str, timedelta], ...] = (
        ("\u221210 min", timedelta(minutes=-10)),
        ("+10 min", timedelta(minutes=10)),
        ("\u22121 h", timedelta(hours=-1)),
        ("+1 h", timedelta(hours=1)),
    )

    def fill(self) -> None:
        self.help = self.help or f"Wanted: {self.field.wanted()}."
        super().fill()
        key = Choice(text=self.words, late=True, points=18, test_id=f"now {self.field.name}")
        key.bind(on_hit=self._now)
        key.disabled = not self.entry.now(self.field)
        self.add_widget(key)
        if self.steps:
            self.add_widget(self._step_keys())

    def _step_keys(self) -> PanelKeys:
        keys = PanelKeys()
        for words, by in self.steps:
            key = Choice(text=words, late=True, points=18, test_id=f"{words} {self.field.name}")
            key.bind(on_hit=lambda *_, by=by: self._show(self.entry.step(self.field, by)))
            keys.add_widget(key)
        return keys

    def _now(self, *_: object) -> None:
        self._show(self.entry.now(self.field))

    def _show(self, text: str) -> None:
        self.writing.text = text
        Clock.schedule_once(lambda _: setattr(self.writing, "cursor", (0, 0)))
        self._changed()


class TodayBox(NowBox):
    """A date."""

    words = "Today"
    steps = (("A day earlier", timedelta(days=-1)), ("A day later", timedelta(days=1)))


class HereBox(NowBox):
    """A position."""

    words = "Where the device is"
    steps = ()


class PhotosBox(Box):
    """Photos of the record; the page that holds the box says how one is added."""

    photos: Attached

    def fill(self) -> None:
        self.help = ""
        self.strip = PhotoStrip()
        self.add_widget(self.strip)
        self.photos = self.entry.photos  # type: ignore[attr-defined] # a record's own form has them
        self.show()

    def show(self) -> None:
        """Show the photos added so far."""
        self.strip.fill(self.photos.shown())


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


BOX_OF: Final[dict[str, type[Box]]] = {"photos": PhotosBox}  # fields that any record has


def box_for(field: Field) -> type[Box]:
    """Return the box for a field: its own, or that of its class, or of the nearest class above."""
    if field.name in BOX_OF:
        return BOX_OF[field.name]
    return next(BOX_FOR[above] for above in type(field).__mro__ if above in BOX_FOR)


def box(field: Field, entry: Filled, changed: Callable[[], None]) -> Box:
    """Build the box of a field."""
    made: Any = box_for(field)(field, entry, changed)
    return made
