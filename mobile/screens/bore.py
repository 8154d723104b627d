"""A bore: two dips side by side, how far apart they are at once, and which way the water went."""

from kivy.uix.widget import Widget

from mobile.bore_entry import DIPS, BoreEntry, BoreShown
from mobile.drafts import Draft
from mobile.form_entry import FormEntry
from mobile.screens.record_form import FormPage
from mobile.widgets.boxes import Line, box
from mobile.widgets.dips import DipsSaid


class BorePage(FormPage):
    """Shows a bore being dipped."""

    said: DipsSaid

    def begun(self, draft: Draft) -> FormEntry:
        tablet = self.tablet
        return BoreEntry(draft, tablet.day, self.point, tablet.device(), tablet.pictures)

    def parts(self) -> list[Widget]:
        entry = self.entry
        if not isinstance(entry, BoreEntry):
            return super().parts()
        pair = Line()
        for name in DIPS:
            pair.add_widget(box(entry.field(name), entry, self.show))
        self.said = DipsSaid()
        mark = box(entry.field("mark"), entry, self.show)
        return [pair, self.said, mark, *(box(field, entry, self.show) for field in entry.others)]

    def show(self) -> None:
        super().show()
        shown = self.entry.shown()
        if isinstance(shown, BoreShown):
            self.said.fill(shown)
