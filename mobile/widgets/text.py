"""Words, plates and pills: what carries text and does nothing."""

from kivy.properties import BooleanProperty, ColorProperty, NumericProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.gridlayout import GridLayout
from kivy.uix.label import Label
from kivy.uix.scrollview import ScrollView


class Words(Label):
    """Text that takes the width it is given and the height it needs."""

    points = NumericProperty(20)  # size of the letters before the person's own scale
    shade = StringProperty("ink")
    tinted = BooleanProperty(defaultvalue=False)  # coloured by what it stands on, not by a token
    tint = ColorProperty("#000000")
    test_id = StringProperty("")


class Heading(Words):
    """Words over a group of rows."""


class Plate(BoxLayout):
    """A ground with round corners; the mood of what stands on it colours it."""

    fill = ColorProperty("#FFFFFF")
    mood = StringProperty("")


class Card(Plate):
    """A plate as high as what stands on it."""


class Column(GridLayout):
    """Things one under the other, as high as they need."""


class Scroll(ScrollView):
    """What may be longer than the screen."""


class TopBar(BoxLayout):
    """Title of a screen with the way back."""

    title = StringProperty()
    sub = StringProperty()
    wide = BooleanProperty(defaultvalue=True)
    can_go_back = BooleanProperty(defaultvalue=True)

    __events__ = ("on_back",)

    def on_back(self) -> None:
        """The way back was touched."""
