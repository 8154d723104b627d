"""What the screens around a visit share: two columns of cards, and one main action."""

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING

from kivy.properties import NumericProperty
from kivy.uix.widget import Widget

from mobile.screens.page import Face, Page, load_rules
from mobile.widgets.key import Choice
from mobile.widgets.panel import PanelKeys
from mobile.widgets.telling import told_on_screen
from mobile.widgets.text import Card, Column, Heading, Words

if TYPE_CHECKING:
    from mobile.widgets.boxes import Writing

Then = Callable[[str], None]


class CardsWide(Face):
    """Two columns, the main action under the right one."""


class CardsTall(Face):
    """One column over the main action."""


class ShareBar(Widget):
    """How much of something is done, as a bar; the words beside it say the same."""

    share = NumericProperty(0)


load_rules(__file__)


class CardsPage(Page):
    """A screen made of cards; it is filled anew after each touch, never while one writes."""

    def face_for(self, *, wide: bool) -> Face:
        return CardsWide(page=self) if wide else CardsTall(page=self)

    def show(self) -> None:
        first, second = self.face.ids.first, self.face.ids.second
        first.clear_widgets()
        second.clear_widgets()
        self.fill(first, second)

    def fill(self, first: Column, second: Column) -> None:
        """Put the cards into the columns and name the main action; pages say how."""
        raise NotImplementedError

    def main(self, words: str, tone: str) -> None:
        """Name the main action."""
        keep = self.face.ids.keep
        keep.text, keep.tone, keep.disabled = words, tone, tone == "off"

    def act(self) -> None:
        """The main action was touched; pages say what it does."""
        raise NotImplementedError


def card(*parts: Widget, mood: str = "", title: str = "") -> Card:
    """Make a card of some parts, one under the other."""
    made = Card(orientation="vertical", mood=mood)
    for part in ((Words(text=title, bold=True, points=18),) if title else ()) + parts:
        made.add_widget(part)
    return made


def heading(text: str) -> Heading:
    """Make words over a group of cards."""
    return Heading(text=text)


def plain(text: str, *, shade: str = "ink2", points: float = 18) -> Words:
    """Make words under a title."""
    return Words(text=text, shade=shade, points=points)


def choices(
    words: Mapping[str, str], chosen: str, then: Then, name: str, *, across: int = 2
) -> PanelKeys:
    """Make a few answers to touch; *then* takes the word of the one that is touched."""
    keys = PanelKeys(cols=across)
    for word, text in words.items():
        key = choice(text, lambda word=word: then(word), f"{name} {word}")  # type: ignore[misc] # bound now
        key.chosen = word == chosen
        keys.add_widget(key)
    return keys


def choice(text: str, then: Callable[[], None], name: str) -> Choice:
    """Make one thing to touch."""
    key = Choice(text=text, late=True, points=18, test_id=name)
    key.size_hint_y = None
    key.bind(size_hint_min_y=key.setter("height"))
    key.height = key.size_hint_min_y or 64
    key.bind(on_hit=lambda *_: then())
    return key


def writing(text: str, then: Then, name: str, *, hint: str = "") -> "Writing":
    """Make a box for free words; *then* takes them at each letter."""
    from mobile.widgets.boxes import Writing  # noqa: PLC0415 - the first screen may need none

    made = Writing(text=text, hint_text=hint, test_id=f"box {name}")

    def taken(_: Writing, now: str) -> None:
        with told_on_screen():
            then(now)

    made.bind(text=taken)
    return made
