"""What was said about a record, and a person's own records by visit."""

from collections.abc import Callable

from mobile.history import REASONS, HistoryShown, OwnPage, RecordHistory, Saying, own_records
from mobile.screens.landholder import own_key
from mobile.screens.page import Face, Page, load_rules
from mobile.tablet import SERVER
from mobile.widgets.boxes import Writing
from mobile.widgets.key import Choice
from mobile.widgets.panel import PanelKeys
from mobile.widgets.text import Card, Column, Heading, Words
from shared_core.errors import StrandlineError

NO_RECORDS = "Nothing is written on this device yet."


class ListWide(Face):
    """One column."""


class ListTall(Face):
    """The same, over the whole width."""


load_rules(__file__)


class HistoryPage(Page):
    """Shows who said what about a record, and lets its writer correct or withdraw it."""

    history: RecordHistory
    changing = False  # whether the reason for a change is asked
    reason = ""
    told = ""

    def take_up(self, **what: str) -> None:
        self.history = RecordHistory(self.tablet.day, what["record"])
        self.changing, self.reason, self.told = False, "", ""

    def face_for(self, *, wide: bool) -> Face:
        return ListWide(page=self) if wide else ListTall(page=self)

    def show(self) -> None:
        shown = self.history.shown()
        self.head(shown.title, shown.sub)
        column = self.face.ids.cards
        column.clear_widgets()
        self._add_disputes(column, shown)
        for saying in shown.sayings:
            column.add_widget(_card(saying))
        if self.told:
            column.add_widget(Words(text=self.told, bold=True))
        if not shown.may_change:
            column.add_widget(Words(text=shown.why_not, shade="ink2", points=18))
        elif self.changing:
            self._ask_reason(column)
        else:
            _add(column, "Correct or withdraw it", self.change, "change")

    def _add_disputes(self, column: Column, shown: HistoryShown) -> None:
        for dispute in shown.disputes:
            card = Card(orientation="vertical", mood="look")
            words = f"{dispute.label}: two people wrote different things. The coordinator decides."
            card.add_widget(Words(text=words, bold=True, shade="clay"))
            sides = PanelKeys()  # side by side
            for who, value in dispute.sides:
                sides.add_widget(Words(text=f"{value}\n{who}", points=18))
            card.add_widget(sides)
            column.add_widget(card)

    def _ask_reason(self, column: Column) -> None:
        column.add_widget(Heading(text="Why? It stays beside the record."))
        keys = PanelKeys()
        for reason in REASONS:
            key = Choice(
                text=reason, send=reason, chosen=reason == self.reason, points=17, late=True
            )
            key.bind(on_hit=lambda _, word: self.choose(word))
            keys.add_widget(key)
        column.add_widget(keys)
        own = "" if self.reason in REASONS else self.reason
        self.writing = Writing(text=own, hint_text="Or in your own words", test_id="reason")
        self.writing.bind(text=lambda _, text: self._written(text))
        column.add_widget(self.writing)
        _add(column, "Correct the record", self.correct, "correct")
        _add(column, "Withdraw the record", self.withdraw, "withdraw")

    # touches ---------------------------------------------------------------------------------

    def change(self) -> None:
        """Ask why the record is to be changed."""
        self.changing = True
        self.show()

    def choose(self, reason: str) -> None:
        """Take one of the reasons offered."""
        self.reason, self.told = reason, ""
        self.show()

    def _written(self, text: str) -> None:
        self.reason, self.told = text, ""

    def correct(self) -> None:
        """Go to the record's boxes; what is kept there stands beside what was there before."""
        if self._has_reason():
            record = self.history.record_id
            self.changing = False
            self.router.go("form", record=record, reason=self.reason.strip())

    def withdraw(self) -> None:
        """Withdraw the record; its history stays."""
        if self._has_reason():
            try:
                self.history.withdraw(self.reason)
            except StrandlineError as error:
                self.told = str(error)
                self.show()
            else:
                self.router.again()

    def _has_reason(self) -> bool:
        if self.reason.strip():
            return True
        self.told = "Touch a reason first, or write one."
        self.show()
        return False


class OwnRecordsPage(Page):
    """Shows this device's own records, the newest visit first."""

    trail: tuple[int, ...] = (0,)  # where each page that was turned begins
    shown: OwnPage

    def take_up(self, **what: str) -> None:
        self.trail = tuple(map(int, what.get("trail", "0").split(",")))
        self.shown = own_records(self.tablet.logbook, SERVER, before=self.trail[-1])

    def face_for(self, *, wide: bool) -> Face:
        return ListWide(page=self) if wide else ListTall(page=self)

    def show(self) -> None:
        sub = f"Page {len(self.trail)}" if len(self.trail) > 1 or self.shown.older else ""
        self.head("Your records", sub)
        column = self.face.ids.cards
        column.clear_widgets()
        if not self.shown.visits:
            column.add_widget(Words(text=NO_RECORDS))
        for visit in self.shown.visits:
            column.add_widget(Heading(text=visit.heading))
            for row in visit.rows:
                column.add_widget(own_key(row, self.open_history))
        if self.shown.older:
            _add(column, "Older", self.older, "older")
        if len(self.trail) > 1:
            _add(column, "Newer", self.newer, "newer")
        self.face.ids.scroll.scroll_y = 1

    def open_history(self, record_id: str) -> None:
        """Show what was said about a record."""
        self.router.go("history", record=record_id)

    def older(self) -> None:
        """Turn to the page before."""
        self._turn((*self.trail, self.shown.older))

    def newer(self) -> None:
        """Turn back."""
        self._turn(self.trail[:-1])

    def _turn(self, trail: tuple[int, ...]) -> None:
        self.router.go("own", trail=",".join(map(str, trail)))


def _add(column: Column, words: str, then: Callable[[], object], name: str) -> None:
    key = Choice(text=words, points=18, late=True, test_id=name)
    key.bind(on_hit=lambda *_: then())
    column.add_widget(key)


def _card(saying: Saying) -> Card:
    card = Card(orientation="vertical")
    head = f"{saying.what} by {saying.who}, {saying.when}, on {saying.device}"
    card.add_widget(Heading(text=head))
    for change in saying.changes:
        was = f"{change.before} became {change.after}"
        words = was if saying.what == "Corrected" else change.after
        card.add_widget(Words(text=f"{change.label}: {words}", bold=True))
    if saying.reason:
        card.add_widget(Words(text=f"Why: {saying.reason}", points=18))
    if saying.raw:
        typed = ", ".join(f"{label} “{text}”" for label, text in saying.raw)
        card.add_widget(Words(text=f"As typed: {typed}", points=17, shade="ink2"))
    return card
