"""A photo point: the last photo as a ghost over the new one, the bearing, and the peg."""

from pathlib import Path

from kivy.uix.widget import Widget

from mobile.drafts import Draft
from mobile.form_entry import FormEntry
from mobile.photo_entry import PhotoEntry, PhotoShown
from mobile.screens.record_form import FormPage
from mobile.widgets.frame import Frame


class PhotoPointPage(FormPage):
    """Shows one frame being taken."""

    frame: Frame

    def begun(self, draft: Draft) -> FormEntry:
        day, tablet = self.tablet.day, self.tablet
        return PhotoEntry(draft, day, self.point, tablet.device(), tablet.pictures)

    def header(self) -> Widget:
        self.frame = Frame()
        self.frame.bind(on_take=self.add_photo)
        return self.frame

    def take_picture(self, path: Path) -> str:
        if not isinstance(self.entry, PhotoEntry):
            return ""
        trouble = self.entry.take(path)
        if not trouble:
            self._build()
        return trouble

    def keep(self) -> None:
        """Take the photo, or keep the one that is there."""
        shown = self.entry.shown()
        if isinstance(shown, PhotoShown) and not shown.frame.path:
            self.add_photo()
        else:
            super().keep()

    def show(self) -> None:
        super().show()
        shown = self.entry.shown()
        if isinstance(shown, PhotoShown):
            self.frame.fill(shown.frame)
