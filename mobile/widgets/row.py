"""Rows of a list: a state's sign, words, and keys."""

from kivy.properties import StringProperty
from kivy.uix.boxlayout import BoxLayout

from mobile.widgets.key import Key


class RowKey(Key):
    """A whole row that leads somewhere: title, and what its state is in words."""

    title = StringProperty("")
    says = StringProperty("")
    mood = StringProperty("")  # sign at its left; none where there is no state


class Row(BoxLayout):
    """A row key with a smaller key at its right."""
