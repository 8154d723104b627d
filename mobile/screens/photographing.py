"""What screens of a record share that photos hang on: choose a file, look, take off again."""

from datetime import timedelta, timezone
from pathlib import Path
from typing import Any

from mobile.attached import Attached
from mobile.screens.page import Page
from mobile.widgets.photos import PhotoWall, Picker


class PhotoPage(Page):
    """A page of a record with photos."""

    entry: Any  # the presenter; it has `photos`

    @property
    def photos(self) -> Attached:
        """The photos that the strip and the wall show; pages say which."""
        photos: Attached = self.entry.photos
        return photos

    def add_photo(self, *_: object) -> None:
        """Take a picture, or choose a file where the device has no camera of its own."""
        if not self.tablet.camera.take(self._from_camera):
            picker = Picker(self.tablet.pictures_from, self._from_file, self._on_site)
            picker.bind(on_back=lambda *_: self.lift())
            self.lay_over(picker)

    def take_picture(self, path: Path) -> str:
        """Add a picture file; return why it could not be added, or nothing."""
        return self.photos.add(path)

    def _on_site(self, at: Any) -> str:  # noqa: ANN401 - a time
        here = timezone(timedelta(minutes=self.tablet.device().offset_min))
        return f"{at.astimezone(here):%d %b %Y, %H:%M}"

    def _from_camera(self, path: Path) -> None:
        self.take_picture(path)
        self.lift()

    def _from_file(self, path: Path) -> str:
        trouble = self.take_picture(path)
        if not trouble:
            self.tablet.pictures_from = path.parent
            self.lift()
        return trouble

    def look_at_photos(self, *_: object) -> None:
        """Show all photos of the record, or the way to the first one where there is none."""
        shown = self.photos.shown()
        if not shown.thumbs:
            self.add_photo()
            return
        wall = PhotoWall(title="Photos")
        wall.fill(shown)
        wall.bind(
            on_add=self.add_photo,
            on_off=lambda _, sha256: self._take_off(sha256),
            on_back=lambda *_: self.lift(),
        )
        self.lay_over(wall)

    def _take_off(self, sha256: str) -> None:
        self.photos.take_off(sha256)
        if self.photos.names:
            self.look_at_photos()
        else:
            self.lift()
