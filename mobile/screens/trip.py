"""The trip card: filled in before leaving, copied into a message, shown on the first screen."""

from kivy.core.clipboard import Clipboard

from mobile.screens.cards import CardsPage, card, choice, choices, plain, writing
from mobile.site_page import CAUTION
from mobile.trip import HOURS, WRITTEN, Trip, back_again
from mobile.widgets.text import Column, Words


class TripPage(CardsPage):
    """Shows who goes where, until when, and who is called."""

    trip: Trip
    copied = False
    _due: Words
    _message: Words
    _missing: Words

    def take_up(self, **what: str) -> None:
        day = self.tablet.day
        if "site" in what:
            day.take_up(what["site"])
        self.trip = Trip(day)
        self.copied = False

    def fill(self, first: Column, second: Column) -> None:
        self.head("Trip card", f"To {self.tablet.day.site}")
        for box, label in WRITTEN.items():
            first.add_widget(
                card(
                    writing(self.trip.text(box), lambda text, box=box: self._type(box, text), box),  # type: ignore[misc] # bound now
                    title=label,
                )
            )
        self._due = plain("", shade="ink")
        first.add_widget(
            card(
                self._due,
                choices(
                    {str(hours): f"In {hours} hours" for hours in HOURS}, "", self._due_in, "due"
                ),
                writing(self.trip.due_typed, self._type_due, "due", hint="or a time, as 17:30"),
                title="Due back",
            )
        )
        self._message, self._missing = plain("", shade="ink"), plain("", shade="clay")
        copied = "Copied: paste it into a message" if self.copied else "Copy the text"
        second.add_widget(
            card(
                self._message, choice(copied, self._copy, "copy text"),
                title="As text, to send before coverage ends",
            )
        )  # fmt: skip
        second.add_widget(card(self._missing, plain(CAUTION, points=17)))
        if self.trip.shown().is_out:
            second.add_widget(choice("I am back", self._back_again, "back again"))
        self._refresh()

    def _refresh(self) -> None:
        shown = self.trip.shown()
        self._due.text = shown.due_words
        self._message.text = shown.message
        self._missing.text = shown.missing
        self.main(shown.button, "look" if shown.missing else "go")

    def _type(self, box: str, text: str) -> None:
        self.trip.type(box, text)
        self._refresh()

    def _due_in(self, hours: str) -> None:
        self.trip.due_in(int(hours))
        self.show()

    def _type_due(self, text: str) -> None:
        self.trip.type_due(text)
        self._refresh()

    def _copy(self) -> None:
        Clipboard.copy(self.trip.message)
        self.copied = True
        self.show()

    def _back_again(self) -> None:
        back_again(self.tablet.logbook)
        self.router.start("home")

    def act(self) -> None:
        """Be out."""
        self.trip.go()
        self.router.back()
