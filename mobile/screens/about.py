"""About this app, this device and its logbook, with the cautions."""

from importlib.metadata import PackageNotFoundError, version

from mobile.about import About, Fact
from mobile.screens.history import ListTall, ListWide
from mobile.screens.page import Face, Page
from mobile.widgets.key import Choice
from mobile.widgets.strip import FindingCard
from mobile.widgets.text import Card, Heading, Words
from shared_core.logbook import CORE_VERSION


def _version() -> str:
    try:
        return version("strandline")
    except PackageNotFoundError:  # run from its sources
        return CORE_VERSION


class AboutPage(Page):
    """Shows what somebody is asked for who asks for help."""

    about: About

    def take_up(self, **what: str) -> None:
        del what
        self.about = About(self.tablet, self.tablet.folder, version=_version())

    def face_for(self, *, wide: bool) -> Face:
        return ListWide(page=self) if wide else ListTall(page=self)

    def show(self) -> None:
        shown = self.about.shown()
        self.head("About this app", "Strandline")
        column = self.face.ids.cards
        column.clear_widgets()
        card = Card(orientation="vertical")
        for fact in shown.facts:
            card.add_widget(Words(text=fact.label, points=16, shade="ink2"))
            shade = "clay" if fact.mood == "look" else "ink"
            card.add_widget(Words(text=fact.says, points=18, shade=shade))
        column.add_widget(card)
        column.add_widget(_check_card(shown.check))
        key = Choice(text="Check now", points=18, late=True, test_id="check")
        key.disabled = shown.checking
        key.tone = "off" if shown.checking else "plain"
        key.bind(on_hit=lambda *_: self.check())
        column.add_widget(key)
        column.add_widget(Heading(text="Be careful"))
        for caution in shown.cautions:
            column.add_widget(Words(text=caution, points=18))

    def check(self) -> None:
        """Read every line of the logbook; the page shows the answer when it is there."""
        self.about.check(self._refresh)
        self.show()

    def _refresh(self) -> None:
        if self.router.current == self.name:
            self.show()


def _check_card(check: Fact) -> FindingCard:
    return FindingCard(mood=check.mood or "note", says=check.says, points=18)
