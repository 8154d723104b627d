"""A form for any kind of record: one box a field, findings and answers beside them."""

from collections.abc import Callable
from typing import Any

from kivy.clock import Clock
from kivy.metrics import dp
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.widget import Widget

from mobile.drafts import Draft
from mobile.form_entry import FormEntry, FormShown
from mobile.screens.page import Face, load_rules
from mobile.screens.photographing import PhotoPage
from mobile.site_page import WHOLE_SITE
from mobile.widgets.boxes import Box, NumberBox, PhotosBox, box
from mobile.widgets.told import Told


class FormWide(Face):
    """Boxes at the left; findings, keypad and the main action at the right."""


class FormTall(Face):
    """Boxes over the keypad, which comes when a number is touched."""


load_rules(__file__)


class FormPage(PhotoPage):
    """Shows a record of any kind being filled in."""

    entry: FormEntry
    active: NumberBox | None = None
    boxes: tuple[Box, ...] = ()
    point = ""

    def take_up(self, **what: str) -> None:
        self.point = what.get("point", WHOLE_SITE)
        self.begin(self.begun(self._draft(what)))

    def begin(self, entry: FormEntry) -> None:
        """Show an entry's boxes."""
        self.entry = entry
        self.active = None
        if self.face is not None:
            self._build()

    def _draft(self, what: dict[str, str]) -> Draft:
        """Return a new record's draft, or the correction of one whose reason was given."""
        day = self.tablet.day
        if "record" not in what:
            return day.draft(self.tablet.logbook.kinds[what["kind"]], self.point)
        draft = day.correct(what["record"])
        draft.why = what["reason"]
        return draft

    def begun(self, draft: Draft) -> FormEntry:
        """Return the presenter of a draft; pages of one kind have their own."""
        return FormEntry(draft, self.tablet.device(), self.tablet.pictures)

    def parts(self) -> list[Widget]:
        """Return what stands in the column; pages of one kind arrange their own."""
        return [box(field, self.entry, self.show) for field in self.entry.fields]

    def header(self) -> Widget | None:
        """Return what stands over the column and does not scroll, if anything."""
        return None

    def face_for(self, *, wide: bool) -> Face:
        self.face = FormWide(page=self) if wide else FormTall(page=self)
        self.active = None
        top = self.header()
        if top is not None:
            scroll = self.face.ids.scroll
            holder, place = scroll.parent, scroll.parent.children.index(scroll)
            holder.remove_widget(scroll)
            column = BoxLayout(orientation="vertical", spacing=dp(8))
            column.add_widget(top)
            column.add_widget(scroll)
            holder.add_widget(column, index=place)
        self._build()
        return self.face

    def _build(self) -> None:
        column = self.face.ids.boxes
        column.clear_widgets()
        parts = self.parts()
        self.boxes = tuple(made for part in parts for made in part.walk() if isinstance(made, Box))
        for made in self.boxes:
            self.connect(made)
        for part in parts:
            column.add_widget(part)
        self.face.ids.scroll.scroll_y = 1

    def connect(self, made: Box) -> None:
        """Let the keypad and the photos find a box."""
        if isinstance(made, NumberBox):
            made.figure.bind(on_hit=lambda *_: self._activate(made))
        elif isinstance(made, PhotosBox):
            made.strip.bind(on_add=self.add_photo, on_look=self.look_at_photos)

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
        for made in self.boxes:
            if isinstance(made, PhotosBox):
                made.show()
        self._show_panel(ids.panel, shown)

    def _show_panel(self, panel: Any, shown: FormShown) -> None:  # noqa: ANN401 - Kivy's own
        if self.active is not None:
            panel.extra = list(self.active.extra)
        if shown.seen.asking:
            panel.ask_reason(
                shown.seen.reason,
                self.choose_reason,
                self.again,
                self.add_photo if shown.seen.wants_photo else None,
            )
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
            self.kept()

    def kept(self) -> None:
        """Go on after the record was kept; pages of one kind may offer the next one."""
        self.router.back()

    def tell(self, says: str, *ways: tuple[str, Callable[[], None]]) -> None:
        """Say what was kept, and offer ways on beside the way back."""
        back = ("Back to the site", self.router.back)
        self.lay_over(Told(says, (*ways, back)))
