"""The pump meter: figures typed as they stand on the face, left to right, zeros too."""

from typing import Any

from kivy.properties import BooleanProperty, StringProperty
from kivy.uix.label import Label

from mobile.meter_entry import MeterEntry, MeterShown
from mobile.screens.page import Face, load_rules
from mobile.screens.photographing import PhotoPage
from mobile.widgets.panel import Panel


class Wheel(Label):
    """One figure of the counter."""

    figure = StringProperty("")
    after_point = BooleanProperty(defaultvalue=False)
    next_one = BooleanProperty(defaultvalue=False)


class MeterWide(Face):
    """Counter and answers at the left, keypad at the right."""


class MeterTall(Face):
    """Counter on top, keypad under the thumb."""


load_rules(__file__)


class MeterPage(PhotoPage):
    """Shows a meter being read."""

    entry: MeterEntry
    point = ""

    def take_up(self, **what: str) -> None:
        self.point = what["point"]
        self.entry = MeterEntry(
            self.tablet.day, self.point, self.tablet.device().now, self.tablet.pictures
        )

    def face_for(self, *, wide: bool) -> Face:
        return MeterWide(page=self) if wide else MeterTall(page=self)

    def show(self) -> None:
        shown = self.entry.shown()
        ids = self.face.ids
        self.head(f"Pump meter {self.point}", shown.last_line)
        self._show_wheels(ids.wheels, shown)
        ids.unit.text = shown.unit_line
        ids.serial.text = shown.serial_line
        for field, chosen in (("rolled", shown.rolled), ("dial_moving", shown.moving)):
            ids[f"{field}_yes"].chosen = chosen == "yes"
            ids[f"{field}_no"].chosen = chosen == "no"
        ids.answers.fill(shown.seen.results)
        ids.findings.fill(shown.seen)
        button = shown.seen.button
        ids.keep.text, ids.keep.tone = button.words, button.tone
        ids.photos.text = self.photos.shown().words
        self._show_panel(ids.panel, shown)

    def _show_wheels(self, wheels: Any, shown: MeterShown) -> None:  # noqa: ANN401 - Kivy's own
        count = len(shown.places)
        typed = sum(bool(figure) for figure in shown.places)
        wheels.clear_widgets()
        for place, figure in enumerate(shown.places):
            after = place >= count - shown.after_point
            wheels.add_widget(Wheel(figure=figure, after_point=after, next_one=place == typed))

    def _show_panel(self, panel: Panel, shown: MeterShown) -> None:
        if shown.seen.asking:
            panel.ask_reason(
                shown.seen.reason,
                self.choose_reason,
                self.again,
                self.add_photo if shown.seen.wants_photo else None,
            )
        else:
            panel.type()

    def press(self, key: str) -> None:
        """Pass a key on."""
        self.entry.press(key)
        self.show()

    def choose(self, code: str) -> None:
        """Pass on an answer, such as ``rolled yes``."""
        field, _, word = code.partition(" ")
        self.entry.choose(field, word)
        self.show()

    def choose_reason(self, reason: str) -> None:
        """Pass on why the figures are kept."""
        self.entry.choose_reason(reason)
        self.show()

    def take(self, field: str, suggestion: str) -> None:
        """Pass on that a suggestion is taken."""
        self.entry.take(field, suggestion)
        self.show()

    def again(self) -> None:
        """Go back to typing."""
        self.entry.again()
        self.show()

    def more(self) -> None:
        """Show all fields of this reading."""
        self.router.go("form", kind="meter_reading", point=self.point)

    def keep(self) -> None:
        """Touch the main action."""
        if self.entry.keep() is None:
            self.show()
        else:
            self.router.back()
