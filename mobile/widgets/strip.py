"""Findings and answers under the number."""

from typing import Any

from kivy.properties import ColorProperty, NumericProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from mobile.entering import Line, Result, Seen
from mobile.widgets.key import Key
from mobile.widgets.text import Card, Column, Plate, Words


class Sign(Widget):
    """Tick, exclamation mark, cross or dot in a ring: each mood has its own."""

    mood = StringProperty("empty")
    tone = ColorProperty("#000000")


class FindingCard(Card):
    """One finding in words; a figure it suggests stands beside it as a key."""

    says = StringProperty("")
    points = NumericProperty(20)


class AnswerCard(Plate):
    """One answer: label, figure, unit and spread."""

    label = StringProperty("")
    figure = StringProperty("")
    unit = StringProperty("")
    spread = StringProperty("")
    says = StringProperty("")
    points = NumericProperty(44)


class Findings(Column):
    """All findings, the gravest first."""

    points = NumericProperty(20)

    __events__ = ("on_take",)

    def fill(self, seen: Seen) -> None:
        """Show the findings of an entry."""
        self.clear_widgets()
        for line in seen.lines:
            self.add_widget(self._card(line))
        if seen.more_lines:
            words = "and 1 more" if seen.more_lines == 1 else f"and {seen.more_lines} more"
            self.add_widget(Words(text=words, points=self.points, shade="ink2"))

    def _card(self, line: Line) -> FindingCard:
        card = FindingCard(mood=str(line.mood), says=line.says, points=self.points)
        if line.suggests:
            key = SuggestKey(text=line.suggests_words, send=line.suggests)
            key.bind(on_hit=lambda _, taken: self.dispatch("on_take", line.field, taken))
            card.add_widget(key)
        return card

    def on_take(self, field: str, suggestion: str) -> None:
        """A suggestion for a field was touched."""


class Answers(BoxLayout):
    """The first answers of an entry side by side."""

    points = NumericProperty(44)
    most = NumericProperty(2)

    def fill(self, results: tuple[Result, ...]) -> None:
        """Show the first answers."""
        self.clear_widgets()
        shown: list[dict[str, Any]] = [
            {"label": r.label, "figure": r.figure, "unit": r.unit, "spread": r.spread,
             "says": "" if r.figure else r.says}
            for r in results[: int(self.most)]
        ]  # fmt: skip
        for values in shown:
            self.add_widget(AnswerCard(points=self.points, **values))


class SuggestKey(Key):
    """A figure that would fit, ready to be taken."""
