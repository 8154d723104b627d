"""Photos of a record: a strip of small ones, all of them to look at, and the choice of a file."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from kivy.properties import BooleanProperty, NumericProperty, StringProperty
from kivy.uix.boxlayout import BoxLayout
from kivy.uix.floatlayout import FloatLayout
from kivy.uix.stacklayout import StackLayout

from mobile.attached import PhotosShown, Thumb
from mobile.device.camera import FolderSeen, look_into
from mobile.widgets.key import Choice, Key
from mobile.widgets.row import RowKey
from mobile.widgets.text import Card, Heading, Words
from mobile.widgets.theme import load_look

load_look(Path(__file__).with_suffix(".kv"))


class Shot(FloatLayout):
    """One picture on a plate; without a picture its words stand there."""

    source = StringProperty("")
    says = StringProperty("")
    share = NumericProperty(1.0)  # how much of it is seen, 0 to 1
    clear = BooleanProperty(defaultvalue=False)  # without a plate: what lies under it shows through


class ShotKey(Key):
    """A small picture that is looked at with a touch."""

    source = StringProperty("")


class AddKey(Key):
    """Adds a photo."""


class PhotoStrip(StackLayout):
    """Small pictures side by side, with a key that adds one."""

    filled: PhotosShown | None = None

    __events__ = ("on_add", "on_look")

    def fill(self, shown: PhotosShown) -> None:
        """Show the photos of a record."""
        if shown == self.filled:
            return
        self.filled = shown
        self.clear_widgets()
        for number, thumb in enumerate(shown.thumbs, start=1):
            key = ShotKey(
                source=thumb.path, text="" if thumb.path else thumb.says, test_id=f"photo {number}"
            )
            key.bind(on_hit=lambda *_: self.dispatch("on_look"))
            self.add_widget(key)
        add = AddKey(text="Add a photo", late=True, points=18, test_id="add photo")
        add.bind(on_hit=lambda *_: self.dispatch("on_add"))
        self.add_widget(add)
        if shown.trouble:
            self.add_widget(Words(text=shown.trouble, points=17, shade="rust"))

    def on_add(self) -> None:
        """A photo is to be added."""

    def on_look(self) -> None:
        """The photos are to be looked at."""


class PhotoWall(BoxLayout):
    """All photos of a record, large, each with the key that takes it off again."""

    title = StringProperty("")

    __events__ = ("on_add", "on_off", "on_back")

    def fill(self, shown: PhotosShown) -> None:
        """Show the photos of a record."""
        column = self.ids.column
        column.clear_widgets()
        if shown.trouble:
            column.add_widget(Words(text=shown.trouble, points=18, shade="rust"))
        if not shown.thumbs:
            column.add_widget(Words(text="No photo yet.", points=20, shade="ink2"))
        for number, thumb in enumerate(shown.thumbs, start=1):
            column.add_widget(self._card(thumb, number))

    def _card(self, thumb: Thumb, number: int) -> Card:
        card = Card(orientation="vertical")
        shot = Shot(source=thumb.path, says=thumb.says)
        shot.size_hint_y, shot.height = None, 320 if thumb.path else 80
        card.add_widget(shot)
        key = Choice(text=f"Take photo {number} off", late=True, points=18, test_id=f"off {number}")
        key.size_hint_y = None
        key.bind(on_hit=lambda *_: self.dispatch("on_off", thumb.sha256))
        card.add_widget(key)
        return card

    def on_add(self) -> None:
        """A photo is to be added."""

    def on_off(self, sha256: str) -> None:
        """A photo is to be taken off the record."""

    def on_back(self) -> None:
        """The way back was touched."""


class Picker(BoxLayout):
    """Files of a folder, the newest picture first."""

    sub = StringProperty("")

    __events__ = ("on_back",)

    def __init__(
        self,
        folder: Path,
        take: Callable[[Path], str],
        when: Callable[[Any], str],
        **settings: Any,  # noqa: ANN401 - any property
    ) -> None:
        """Take where to look first, what to do with a file, and how a file's time is read.

        Args:
            folder: where to look first.
            take: takes a file, and returns why it could not be taken, or nothing.
            when: writes a time the way a person on site reads it.
            settings: any property.
        """
        super().__init__(**settings)
        self._take = take
        self._when = when
        self.folder = folder
        self._open(folder)

    def _open(self, folder: Path, trouble: str = "") -> None:
        self.folder = folder
        seen = look_into(folder)
        self.sub = str(folder)
        rows = self.ids.rows
        rows.clear_widgets()
        for words in (trouble, seen.trouble):
            if words:
                rows.add_widget(Words(text=words, points=18, shade="rust", test_id="trouble"))
        self._fill_pictures(seen)
        self._fill_folders(seen)
        self.ids.scroll.scroll_y = 1

    def _fill_pictures(self, seen: FolderSeen) -> None:
        rows = self.ids.rows
        rows.add_widget(Heading(text="Pictures, newest first" if seen.pictures else "No picture"))
        for picture in seen.pictures:
            key = RowKey(
                title=picture.path.name,
                says=self._when(picture.at),
                test_id=f"file {picture.path.name}",
            )
            key.bind(on_hit=lambda _, __, path=picture.path: self._chosen(path))
            rows.add_widget(key)
        if seen.left_out:
            rows.add_widget(Words(text=f"and {seen.left_out} older", points=17, shade="ink2"))

    def _fill_folders(self, seen: FolderSeen) -> None:
        rows = self.ids.rows
        ways = [("Up one folder", str(seen.above), "up", seen.above)] if seen.above else []
        ways += [(path.name, "Folder", f"folder {path.name}", path) for path in seen.folders]
        if ways:
            rows.add_widget(Heading(text="Other folders"))
        for title, says, name, path in ways:
            key = RowKey(title=title, says=says, test_id=name)
            key.bind(on_hit=lambda _, __, to=path: self._open(to))
            rows.add_widget(key)

    def _chosen(self, path: Path) -> None:
        trouble = self._take(path)
        if trouble:
            self._open(self.folder, trouble)

    def on_back(self) -> None:
        """The way back was touched."""
