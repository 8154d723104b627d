"""A form for any kind of record: one box a field, findings and answers beside them."""

from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp

from mobile.form_entry import FormEntry, FormShown
from mobile.screens.page import Face, Page, load_rules
from mobile.site_page import WHOLE_SITE
from mobile.widgets.boxes import Box, NumberBox, box


class FormWide(Face):
    """Boxes at the left; findings, keypad and the main action at the right."""


class FormTall(Face):
    """Boxes over the keypad, which comes when a number is touched."""


load_rules(__file__)


class FormPage(Page):
    """Shows a record of any kind being filled in."""

    entry: FormEntry
    active: NumberBox | None = None
    boxes: tuple[Box, ...] = ()
    point = ""

    def take_up(self, **what: str) -> None:
        day = self.tablet.day
        self.point = what["point"]
        kind = self.tablet.logbook.kinds[what["kind"]]
        self.entry = FormEntry(day.draft(kind, self.point), self.tablet.device())
        self.active = None
        if self.face is not None:
            self._build()

    def face_for(self, *, wide: bool) -> Face:
        self.face = FormWide(page=self) if wide else FormTall(page=self)
        self.active = None
        self._build()
        return self.face

    def _build(self) -> None:
        column = self.face.ids.boxes
        column.clear_widgets()
        self.boxes = tuple(box(field, self.entry, self.show) for field in self.entry.fields)
        for made in self.boxes:
            if isinstance(made, NumberBox):
                made.figure.bind(on_hit=lambda *_, touched=made: self._activate(touched))
            column.add_widget(made)
        self.face.ids.scroll.scroll_y = 1

    def _activate(self, touched: NumberBox | None) -> None:
        self.active = touched
        for made in self.boxes:
            made.active = made is touched
        self.show()
        if touched is not None:  # the keypad that just came may lie over it
            Clock.schedule_once(lambda _: self._bring_into_view(touched), 0)

    def _bring_into_view(self, touched: NumberBox) -> None:
        if touched.parent is not None:
            self.face.ids.scroll.scroll_to(touched, padding=dp(8), animate=False)

    def show(self) -> None:
        shown = self.entry.shown()
        ids = self.face.ids
        self.head(shown.title, "" if self.point == WHOLE_SITE else self.point)
        ids.answers.fill(shown.seen.results)
        ids.findings.fill(shown.seen)
        button = shown.seen.button
        ids.keep.text, ids.keep.tone = button.words, button.tone
        self._show_panel(ids.panel, shown)

    def _show_panel(self, panel: Any, shown: FormShown) -> None:  # noqa: ANN401 - Kivy's own
        if self.active is not None:
            panel.extra = list(self.active.extra)
        if shown.seen.asking:
            panel.ask_reason(shown.seen.reason, self.choose_reason, self.again)
        else:
            panel.type()
        wanted = self.active is not None or shown.seen.asking
        panel.opacity = 1 if wanted else 0
        panel.disabled = not wanted
        if not self.wide:
            panel.height = dp(286) if wanted else 0

    def press(self, key: str) -> None:
        """Pass a key on to the box the keypad stands for."""
        if self.active is not None:
            self.active.press(key)

    def take(self, field: str, suggestion: str) -> None:
        """Pass on that a suggestion is taken."""
        self.entry.type(field, suggestion)
        self._build()
        self._activate(None)

    def choose_reason(self, reason: str) -> None:
        """Pass on why the record is kept as it is."""
        self.entry.choose_reason(reason)
        self.show()

    def again(self) -> None:
        """Go back to filling in."""
        self.entry.again()
        self.show()

    def keep(self) -> None:
        """Touch the main action."""
        if self.entry.keep() is None:
            self.show()
        else:
            self.router.back()
