"""Two dips side by side, how far apart they are, and an arrow for the water."""

from pathlib import Path

from kivy.properties import NumericProperty, StringProperty
from kivy.uix.widget import Widget

from mobile.bore_entry import BoreShown
from mobile.widgets.text import Card, Column
from mobile.widgets.theme import load_look

load_look(Path(__file__).with_suffix(".kv"))


class WayArrow(Widget):
    """An arrow up for rising water, down for falling; nothing where neither is known."""

    way = NumericProperty(0)


class WaterCard(Card):
    """What the water in the bore did."""

    says = StringProperty("")
    way = NumericProperty(0)


class DipsSaid(Column):
    """What the two dips say at once."""

    def fill(self, shown: BoreShown) -> None:
        """Show what the dips say."""
        self.ids.apart.says, self.ids.apart.mood = shown.apart, shown.apart_mood or "note"
        water = self.ids.water
        water.says, water.way = shown.water, shown.way
        water.opacity = 1 if shown.water else 0
