"""Corrections that others made to what was written on this device."""

from mobile.field_day import News
from mobile.screens.page import Face, Page, load_rules
from mobile.widgets.text import Card, Heading, Words


class NewsWide(Face):
    """One column."""


class NewsTall(Face):
    """The same, over the whole width."""


load_rules(__file__)

NOTHING = (
    "Nobody has corrected a record of this device since you last looked. Corrections come with"
    " an exchange; each says who changed what, and why."
)


class NewsPage(Page):
    """Shows who changed what, and why."""

    news: tuple[News, ...] = ()

    def take_up(self, **what: str) -> None:
        del what
        self.news = tuple(self.tablet.news())

    def face_for(self, *, wide: bool) -> Face:
        return NewsWide(page=self) if wide else NewsTall(page=self)

    def show(self) -> None:
        self.head("Corrections by others")
        column = self.face.ids.cards
        column.clear_widgets()
        if not self.news:
            column.add_widget(Words(text=NOTHING))
        for news in self.news:
            column.add_widget(_card(news))
        seen = self.face.ids.seen
        seen.disabled = not self.news
        seen.tone = "go" if self.news else "off"

    def read(self) -> None:
        """Take all corrections as read."""
        self.tablet.news_read()
        self.router.back()


def _card(news: News) -> Card:
    card = Card(orientation="vertical")
    card.add_widget(Heading(text=news.title))
    for label, before, after in news.changed:
        card.add_widget(Words(text=f"{label}: {before} became {after}", bold=True))
    why = f"{news.by}: {news.reason}" if news.reason else f"{news.by} gave no reason"
    card.add_widget(Words(text=why, shade="ink2", points=18))
    return card
