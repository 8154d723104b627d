"""Leaving: what is done and what is not, what looks odd, the second copy, and the check-out."""

from collections.abc import Callable

from mobile.arrival import CLEANED, YES_NO
from mobile.leaving import REASONS, Flagged, Leaving, LeavingShown
from mobile.screens.cards import CardsPage, card, choice, choices, heading, plain, writing
from mobile.widgets.row import RowKey
from mobile.widgets.text import Card, Column

OTHER = "Other words"
AGAIN = "Looked at again before leaving"


class LeavePage(CardsPage):
    """Shows the review of one visit."""

    leaving: Leaving
    writes = ""  # title of the item whose reason is written in words of one's own
    words = ""

    def take_up(self, **what: str) -> None:
        del what
        self.leaving = Leaving(self.tablet.day)
        self.writes = self.words = ""

    def fill(self, first: Column, second: Column) -> None:
        shown = self.leaving.shown()
        self.head("Leaving", f"{self.tablet.day.site}: {shown.on_site}")
        self._items(first, shown)
        for flagged in shown.flagged:
            first.add_widget(self._flagged(flagged))
        self._end(second, shown)
        self.main(shown.button, "look" if shown.missing else "go")

    def _items(self, column: Column, shown: LeavingShown) -> None:
        if shown.missing:
            column.add_widget(heading("Not yet: do it now, or touch why not"))
        for title in shown.missing:
            column.add_widget(self._missing(title))
        if shown.not_done:
            column.add_widget(heading("Not done; touch to take the reason back"))
        for title, reason in shown.not_done:
            row = RowKey(title=title, says=reason, mood="cannot", test_id=f"take back {title}")
            row.bind(on_hit=lambda *_, title=title: self._because(title, ""))
            column.add_widget(row)
        column.add_widget(heading("Done"))
        done = "\n".join(f"• {title}" for title in shown.done) or "Nothing yet."
        column.add_widget(card(plain(done, shade="ink")))
        if shown.flagged:
            column.add_widget(heading("Looks odd"))

    def _missing(self, title: str) -> Card:
        reasons = {reason: reason for reason in (*REASONS, OTHER)}
        made = card(
            choices(
                reasons,
                "",
                lambda word: self._choose(title, word),
                f"why {title}",
                across=3 if self.wide else 2,
            ),
            title=title,
        )
        if self.writes == title:
            made.add_widget(writing(self.words, self._write, "why", hint="Why not?"))
            made.add_widget(choice("Keep these words", self._keep_words, "keep words"))
        return made

    def _flagged(self, flagged: Flagged) -> Card:
        made = card(title=flagged.title, mood="cannot" if flagged.cannot else "look")
        for says in flagged.says:
            made.add_widget(plain(says, shade="ink"))
        made.add_widget(
            choice("Correct it", self._go("form", record=flagged.record_id, reason=AGAIN),
                   f"correct {flagged.title}")
        )  # fmt: skip
        return made

    def _end(self, column: Column, shown: LeavingShown) -> None:
        if shown.volume:
            column.add_widget(card(plain(shown.volume, shade="ink"), title="Water there now"))
        if shown.gauge_again:
            column.add_widget(
                card(
                    plain("A walk was made: the level may have moved meanwhile.", shade="ink"),
                    choice(f"Read gauge {shown.gauge_again} again",
                           self._go("gauge", kind="gauge_reading", point=shown.gauge_again),
                           "gauge again"),
                    title="Once more after the walk", mood="look",
                )
            )  # fmt: skip
        how = {word: word for word in CLEANED}
        column.add_widget(
            card(
                choices(YES_NO, shown.clean, self._set("clean_on_leaving"), "clean"),
                plain("How"),
                choices(how, shown.clean_how, self._set("clean_how"), "how"),
                title="Clean-down done on leaving",
            )
        )
        copied = f"Copied to {shown.copied_to}." if shown.copied_to else "No second copy yet."
        column.add_widget(
            card(plain(copied), choice("Copy to a stick", self._go("stick", visit="yes"), "copy"),
                 title="Second copy")
        )  # fmt: skip

    def _go(self, screen: str, **what: str) -> Callable[[], None]:
        return lambda: self.router.go(screen, **what)

    def _set(self, field: str) -> Callable[[str], None]:
        def take(word: str) -> None:
            self.leaving.choose(field, word)
            self.show()

        return take

    def _choose(self, title: str, word: str) -> None:
        if word == OTHER:
            self.writes, self.words = title, ""
            self.show()
        else:
            self._because(title, word)

    def _write(self, text: str) -> None:
        self.words = text

    def _keep_words(self) -> None:
        if self.words.strip():
            self._because(self.writes, self.words)

    def _because(self, title: str, reason: str) -> None:
        self.leaving.because(title, reason)
        self.writes = self.words = ""
        self.show()

    def act(self) -> None:
        """Check out."""
        if self.leaving.leave() is None:
            self.show()
        else:
            self.router.start("home")
