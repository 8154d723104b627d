"""The landholder's page: a few figures, a keypad, one touch that keeps them all."""

from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

from kivy.properties import BooleanProperty, StringProperty
from kivy.uix.label import Label

from mobile.device.camera import look_into, pictures_folder
from mobile.history import OwnRow, own_records
from mobile.landholder import NO_NUMBER, LandholderLog, LogLine, LogShown
from mobile.screens.page import Face, Page, load_rules
from mobile.tablet import SERVER
from mobile.widgets.key import Choice, Key
from mobile.widgets.keypad import Keypad
from mobile.widgets.panel import AGAIN, Panel, PanelKeys
from mobile.widgets.row import Row, RowKey
from mobile.widgets.strip import Findings
from mobile.widgets.text import Column, Heading, Words
from mobile.widgets.theme import theme
from shared_core.errors import StrandlineError

KEYS = ("1", "2", "3", "back", "4", "5", "6", ".", "7", "8", "9", "next", "", "0", "", "none")
WORDS = {"next": "Next", "none": "No number"}
SIGN = {"waits": "empty", "sent": "fits", "changed": "note", "asked": "look", "gone": "cannot"}
COVERED = (1, 2, 3, 7)  # days that rain in the gauge may be of
PICTURES = 5  # the newest, offered for a photo
LATEST = 8  # own records on this page; the rest are a touch away


class LogKey(Key):
    """One thing to log: heading and last reading at the left, figures at the right."""

    heading = StringProperty("")
    hint = StringProperty("")
    figures = StringProperty("")
    unit = StringProperty("")
    active = BooleanProperty(defaultvalue=False)


class Figures(Label):
    """Figures as large as their place lets them be."""


class LogKeypad(Keypad):
    """Figures, point, rubout, the next thing to log, and what stands for no number."""

    def _fill(self, *_: object) -> None:
        self.clear_widgets()
        self.cols = 4
        for code in KEYS:
            self.add_widget(self._special(code))

    def _special(self, code: str) -> Key:
        if code == "back":
            made: Key = self._rubout()
        else:
            made = self._key(code)
        if code in WORDS:
            made.text, made.points = WORDS[code], 19
            made.bold = code == "next"
        if code == "none":
            self.none = made
        return made


class LogPanel(Panel):
    """The keypad of this page, or a question."""

    def __init__(self, **settings: Any) -> None:  # noqa: ANN401 - any property
        super().__init__(**settings)
        self.clear_widgets()
        self._keypad = LogKeypad(on_key=lambda _, key: self.dispatch("on_key", key))
        self.add_widget(self._keypad)

    def offer_no_number(self, *, on: bool) -> None:
        """Show or hide the key for a gauge without a number."""
        self._keypad.none.opacity = 1 if on else 0
        self._keypad.none.disabled = not on


class LogWide(Face):
    """What is logged at the left, the keypad at the right."""


class LogTall(Face):
    """What is logged over the keypad."""


load_rules(__file__)


class LandholderPage(Page):
    """Shows what a landholder logs."""

    log: LandholderLog
    choosing = False  # what a gauge shows instead of a number
    photo_of = ""  # whose picture is being chosen
    told = ""  # why a picture could not be taken
    album = Path()  # where the device's camera leaves pictures

    def take_up(self, **what: str) -> None:
        day = self.tablet.day
        sites = [standing.record.site for standing in day.sites()]
        day.take_up(what.get("site") or day.site or sites[0])
        self.log = LandholderLog(day)
        self.choosing, self.photo_of, self.told = False, "", ""
        self.album = pictures_folder()

    def face_for(self, *, wide: bool) -> Face:
        return LogWide(page=self) if wide else LogTall(page=self)

    def show(self) -> None:
        day, shown = self.tablet.day, self.log.shown()
        name = next(s.record.name for s in day.sites() if s.record.site == day.site)
        self.head(name, day.author)
        self.face.ids.bar.can_go_back = self.router.depth > 1
        self._show_lines(shown)
        self._show_answers(shown)
        ids = self.face.ids
        ids.keep.text, ids.keep.tone = shown.button.words, shown.button.tone
        self._show_panel(ids.panel, shown)
        self._show_rest()

    def _show_lines(self, shown: LogShown) -> None:
        column = self.face.ids.lines
        column.clear_widgets()
        if shown.empty:
            column.add_widget(Words(text=shown.empty))
        for line in shown.lines:
            column.add_widget(self._row(line))
            if line.day is not None and (line.active or line.text):
                column.add_widget(self._days(line))
            if line.seen.lines:
                findings = Findings(points=17)
                findings.fill(line.seen)
                findings.bind(on_take=lambda _, field, to, key=line.key: self.take(key, field, to))
                column.add_widget(findings)

    def _row(self, line: LogLine) -> Row:
        row = Row()
        key = LogKey(
            heading=line.heading,
            hint=f"{line.hint}. Kept today" if line.kept else line.hint,
            figures=_figures(line),
            unit=line.unit,
            active=line.active,
            test_id=f"log {line.key}",
        )
        key.bind(on_hit=lambda *_: self.go(line.key))
        row.add_widget(key)
        if line.photos is not None:
            words = "Photo" if not line.photos else f"{line.photos} taken"
            photo = Key(text=words, size_hint_x=None, points=16, late=True, lip=4)
            photo.width = 84 * max(1.0, theme.scale)
            photo.test_id = f"photo {line.key}"
            photo.bind(on_hit=lambda *_: self.photograph(line.key))
            row.add_widget(photo)
        return row

    def _days(self, line: LogLine) -> PanelKeys:
        keys = PanelKeys()
        for days_ago, words in enumerate(("Read today", "Read yesterday")):
            day = self.log.day_before(days_ago)
            key = Choice(
                text=f"{words}, {day.day} {day:%b}",
                chosen=line.day == day,
                points=17,
                late=True,
                test_id=f"read {days_ago}",
            )
            key.bind(on_hit=lambda _, __, ago=days_ago: self.read_on(line.key, ago))
            keys.add_widget(key)
        for days in COVERED:
            words = "For 1 day" if days == 1 else f"For {days} days"
            key = Choice(
                text=words, chosen=line.covers == days, points=17, late=True, test_id=f"for {days}"
            )
            key.bind(on_hit=lambda _, __, count=days: self.cover(line.key, count))
            keys.add_widget(key)
        return keys

    def _show_answers(self, shown: LogShown) -> None:
        said = [f"{r.label}: {r.figure} {r.unit}" if r.figure else r.says for r in shown.since]
        self.face.ids.answer.text = "\n".join(
            filter(None, (self.told, shown.done, *said, *shown.used))
        )

    def _show_panel(self, panel: LogPanel, shown: LogShown) -> None:
        active = next((line for line in shown.lines if line.active), None)
        if shown.asking:
            panel.ask_reason(shown.reason, self.choose_reason, self.again)
        elif self.photo_of:
            self._ask_photo(panel)
        elif self.choosing:
            panel.ask("Instead of a number", (*NO_NUMBER, AGAIN), "", self.no_number)
        else:
            panel.type()
        panel.offer_no_number(on=active is not None and active.takes_no_number)

    def _ask_photo(self, panel: LogPanel) -> None:
        names = [picture.path.name for picture in look_into(self.album).pictures[:PICTURES]]
        question = "Which picture?" if names else f"No picture in {self.album} yet"
        panel.ask(question, (*names, AGAIN), "", self.choose_photo)

    def _show_rest(self) -> None:
        column = self.face.ids.rest
        column.clear_widgets()
        self._add_exchange(column)
        page = own_records(self.tablet.logbook, SERVER, most=LATEST)
        if page.visits:
            column.add_widget(Heading(text="Your records, and what became of them"))
        for visit in page.visits:
            for row in visit.rows:
                column.add_widget(own_key(row, self.open_history))
        self._add(column, "All your records", lambda: self.router.go("own"), "own")
        self._add(column, "More: sites, practice, settings", lambda: self.router.go("home"), "more")

    def _add_exchange(self, column: Column) -> None:
        home = self.tablet.home()
        column.add_widget(Words(text=home.exchange_state, points=17, shade="ink2"))
        if home.can_exchange:
            self._add(column, home.exchange_words, self.exchange, "exchange")

    @staticmethod
    def _add(column: Column, words: str, then: Callable[[], object], name: str) -> None:
        key = Choice(text=words, points=18, late=True, test_id=name)
        key.bind(on_hit=lambda *_: then())
        column.add_widget(key)

    # touches ---------------------------------------------------------------------------------

    def _passed_on(self, call: Callable[[], object]) -> None:
        self.choosing, self.photo_of, self.told = False, "", ""
        call()
        self.show()

    def press(self, key: str) -> None:
        """Pass a key on."""
        if key == "none":
            self.choosing = True
            self.show()
        else:
            self._passed_on(partial(self.log.press, key))

    def go(self, key: str) -> None:
        """Pass on what is to be typed next."""
        self._passed_on(partial(self.log.go, key))

    def no_number(self, words: str) -> None:
        """Pass on what a gauge shows instead of a number."""
        self._passed_on(partial(self.log.no_number, words) if words != AGAIN else self.log.again)

    def read_on(self, key: str, days_ago: int) -> None:
        """Pass on the day rain was read."""
        self._passed_on(partial(self.log.read_on, key, days_ago))

    def cover(self, key: str, days: int) -> None:
        """Pass on how many days rain had fallen for."""
        self._passed_on(partial(self.log.cover, key, days))

    def take(self, key: str, field: str, suggestion: str) -> None:
        """Pass on that a suggestion is taken."""
        self._passed_on(partial(self.log.take, key, field, suggestion))

    def choose_reason(self, reason: str) -> None:
        """Pass on why something is kept."""
        self._passed_on(partial(self.log.choose_reason, reason))

    def again(self) -> None:
        """Go back to typing."""
        self._passed_on(self.log.again)

    def keep(self) -> None:
        """Touch the main action."""
        self._passed_on(self.log.keep)

    def photograph(self, key: str) -> None:
        """Offer the newest pictures that the device's camera or a telephone left here."""
        self.photo_of = "" if self.photo_of == key else key
        if self.photo_of and self.tablet.camera.take(self._taken):
            return
        self.show()

    def choose_photo(self, name: str) -> None:
        """Take a picture into the record that it shows."""
        found = {picture.path.name: picture.path for picture in look_into(self.album).pictures}
        if name in found:
            self._taken(found[name])
        else:
            self.again()

    def _taken(self, path: Path) -> None:
        key, self.photo_of, pictures = self.photo_of, "", self.tablet.pictures
        if pictures is not None:
            try:
                self.log.attach(key, pictures.take_in(path).sha256)
            except StrandlineError as error:
                self.told = str(error)
        self.show()

    def exchange(self) -> None:
        """Start a turn in coverage."""
        self.tablet.exchange(self.router.again)

    def open_history(self, record_id: str) -> None:
        """Show what was said about a record."""
        self.router.go("history", record=record_id)


def own_key(row: OwnRow, then: Callable[[str], None]) -> RowKey:
    """Return a row for an own record that leads to its history."""
    key = RowKey(
        title=f"{row.title}: {row.says}",
        says=row.state_words,
        mood=SIGN[row.state],
        test_id=f"own {row.record_id}",
    )
    key.bind(on_hit=lambda *_: then(row.record_id))
    return key


def _figures(line: LogLine) -> str:
    """Return what is typed, a counter's missing figures as dashes."""
    if not line.places:
        return line.text or "–"
    figures = [figure or "–" for figure in line.places]
    if line.after_point:
        figures.insert(len(figures) - line.after_point, ".")
    return "".join(figures)
