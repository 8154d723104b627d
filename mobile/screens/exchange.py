"""The exchange: how far it is, how it ended, and what came back."""

from mobile.exchange_page import ExchangeShown, exchange_shown
from mobile.screens.cards import CardsPage, ShareBar, card, choice, heading, plain
from mobile.widgets.text import Column


class ExchangePage(CardsPage):
    """Shows one exchange after another."""

    def take_up(self, **what: str) -> None:
        del what
        self.tablet.watch = self._refresh

    def _shown(self) -> ExchangeShown:
        home = self.tablet.home(rows=0)
        return exchange_shown(
            self.tablet.turn,
            self.tablet.logbook,
            enrolled=home.can_exchange,
            busy=self.tablet.courier.busy and not self._ended(),
            state=home.exchange_state,
            news=len(self.tablet.news()),
        )

    def _ended(self) -> bool:
        return self.tablet.turn is not None and self.tablet.turn.ended

    def fill(self, first: Column, second: Column) -> None:
        shown = self._shown()
        self.head("Exchange", self.tablet.identity.server or "Not enrolled yet")
        if shown.entries:
            bar = ShareBar(share=shown.share)
            title = "On the way" if shown.busy else "Moved"
            first.add_widget(card(plain(shown.entries), plain(shown.photos), bar, title=title))
        state = "Stopping…" if shown.busy and self.tablet.stop.is_set() else shown.last
        first.add_widget(card(plain(state or "Nothing was exchanged yet.", shade="ink", points=20)))
        _came_back(second, shown)
        if shown.news:
            second.add_widget(choice(shown.news, lambda: self.router.go("news"), "news"))
        second.add_widget(
            choice("No coverage: use a stick", lambda: self.router.go("stick"), "stick")
        )
        self.main(shown.main, "go" if shown.can_start else "off")

    def _refresh(self) -> None:
        if self.router.current == self.name:
            self.show()

    def act(self) -> None:
        """Start, or stop after the piece that is on its way."""
        if self._shown().busy:
            self.tablet.stop_exchange()
        else:
            self.tablet.exchange(self._refresh)
        self.show()


def _came_back(column: Column, shown: ExchangeShown) -> None:
    column.add_widget(heading("Came back"))
    groups = (("New hazards", shown.hazards, "look"), ("New plans", shown.plans, ""))
    for title, lines, mood in groups:
        if lines:
            column.add_widget(card(plain("\n".join(lines), shade="ink"), title=title, mood=mood))
    if not (shown.hazards or shown.plans or shown.news):
        column.add_widget(card(plain("No new hazard, plan or correction.")))
