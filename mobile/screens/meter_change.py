"""A meter taken out and another put in: one form, one save."""

from mobile.meter_change import MeterChangeEntry
from mobile.screens.record_form import FormPage


class MeterChangePage(FormPage):
    """Shows a change of meter being written down."""

    def take_up(self, **what: str) -> None:
        self.point = what["point"]
        tablet = self.tablet
        self.begin(MeterChangeEntry(tablet.day, self.point, tablet.device(), tablet.pictures))

    def kept(self) -> None:
        texts = self.kept_texts
        self.tell(
            f"Kept as one: {self.point} out at {texts['final_display']},"
            f" {texts['meter']} in at {texts['start_display']}."
        )

    def keep(self) -> None:
        """Touch the main action; what it says afterwards is read off the boxes first."""
        names = ("final_display", "meter", "start_display")
        self.kept_texts = {name: self.entry.text(name) for name in names}
        super().keep()
