"""The staff gauge: the drawn plate, the number on the waterline, and what it means at once."""

from typing import Any

from kivy.properties import NumericProperty
from kivy.uix.floatlayout import FloatLayout
from kivy.utils import get_hex_from_color

from mobile.gauge_entry import NOT_READ_BECAUSE, STATE_KEYS, SURFACES, GaugeEntry, GaugeShown
from mobile.screens.page import Face, load_rules
from mobile.screens.photographing import PhotoPage
from mobile.widgets.key import Choice, Toggle
from mobile.widgets.panel import Panel
from mobile.widgets.staff import NO_NOTCH
from mobile.widgets.theme import theme


class Waterline(FloatLayout):
    """Where the big number stands."""

    y_line = NumericProperty(0)
    left = NumericProperty(0)  # how far the line reaches out over the plate


class GaugeWide(Face):
    """Plate and answers at the left, keypad at the right."""


class GaugeTall(Face):
    """Plate on top, keypad under the thumb."""


load_rules(__file__)


class GaugePage(PhotoPage):
    """Shows a gauge being read."""

    entry: GaugeEntry
    point = ""

    def take_up(self, **what: str) -> None:
        self.point = what["point"]
        self.entry = GaugeEntry(
            self.tablet.day, self.point, self.tablet.device().now, self.tablet.pictures
        )

    def face_for(self, *, wide: bool) -> Face:
        face = GaugeWide(page=self) if wide else GaugeTall(page=self)
        for word, words in STATE_KEYS.items():
            key = Toggle(
                text=words if wide else words.replace(" ", "\n", 1),
                send=word, points=18 if wide else 15, test_id=f"state {word}",
            )  # fmt: skip
            key.bind(on_hit=lambda _, state: self._do(self.entry.choose_state, state))
            face.ids.states.add_widget(key)
        for word, words in SURFACES.items() if wide else ():
            key = Choice(text=words, send=word, points=18, test_id=f"waves {word}")
            key.bind(on_hit=lambda _, waves: self._do(self.entry.choose_waves, waves))
            face.ids.waves.add_widget(key)
        return face

    def show(self) -> None:
        shown = self.entry.shown()
        ids = self.face.ids
        self.head(f"Staff gauge {self.point}", shown.last_line)
        self._show_plate(ids, shown)
        ids.answers.fill(shown.main)
        others = [f"{other.label}: {other.says}" for other in shown.others]
        if not self.wide and shown.change:
            others.insert(0, shown.change)
        ids.others.text = "\n".join(others)
        ids.findings.fill(shown.seen)
        for key in ids.states.children:
            key.chosen = key.send == shown.state
        for key in ids.waves.children if self.wide else ():
            key.chosen = key.send == shown.waves
        button = shown.seen.button
        ids.keep.text, ids.keep.tone = button.words, button.tone
        ids.photos.text = self.photos.shown().words
        self._show_panel(ids.panel, shown)

    def _show_plate(self, ids: Any, shown: GaugeShown) -> None:  # noqa: ANN401 - Kivy's own
        staff = ids.staff
        staff.low, staff.high = shown.plate_from_m, shown.plate_to_m
        staff.last = NO_NOTCH if shown.last_m is None else shown.last_m
        staff.go(shown.drawn_m, at_once=not shown.typed and not shown.state)
        ids.state.text = shown.state_words
        ids.because.text = shown.because
        if self.wide:
            ids.change.text = shown.change
        ghost = get_hex_from_color(theme.ghost)
        typed, rest = shown.figures[: shown.typed], shown.figures[shown.typed :]
        ids.figures.text = "" if shown.state else f"{typed}[color={ghost}]{rest}[/color]"
        ids.unit.text = "" if shown.state else "m"

    def _show_panel(self, panel: Panel, shown: GaugeShown) -> None:
        if self.entry.choosing_reason:
            panel.ask(
                "Not read, because",
                NOT_READ_BECAUSE,
                shown.because,
                lambda word: self._do(self.entry.choose_because, word),
            )
        elif shown.seen.asking:
            panel.ask_reason(
                shown.seen.reason,
                lambda word: self._do(self.entry.choose_reason, word),
                self.again,
                self.add_photo if shown.seen.wants_photo else None,
            )
        else:
            panel.type()

    def _do(self, intent: Any, word: str) -> None:  # noqa: ANN401 - a method of the entry
        intent(word)
        self.show()

    def press(self, key: str) -> None:
        """Pass a key on."""
        self._do(self.entry.press, key)

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
        self.router.go("form", kind="gauge_reading", point=self.point)

    def keep(self) -> None:
        """Touch the main action."""
        if self.entry.keep() is None:
            self.show()
        else:
            self.router.back()
