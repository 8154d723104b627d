"""The first screen: sites on this device, the exchange, and how the screen looks."""

from typing import Any

from kivy.properties import ObjectProperty

from mobile.look import TEXT_SCALES
from mobile.screens.page import Face, Page, load_rules
from mobile.tablet import HomeShown
from mobile.widgets.row import RowKey
from mobile.widgets.text import Column, Heading, Words
from mobile.widgets.theme import theme


class HomeSide(Column):
    """Exchange, corrections and looks."""

    page: Any = ObjectProperty(None, allownone=True, rebind=True)


class HomeWide(Face):
    """Sites at the left, the exchange at the right."""


class HomeTall(Face):
    """The exchange under the sites."""


load_rules(__file__)


class Home(Page):
    """Shows what is on this device."""

    def face_for(self, *, wide: bool) -> Face:
        return HomeWide(page=self) if wide else HomeTall(page=self)

    def show(self) -> None:
        shown = self.tablet.home()
        self.head("Strandline", shown.sub)
        self._fill_sites(shown)
        self._fill_side(shown)

    def _fill_sites(self, shown: HomeShown) -> None:
        rows = self.face.ids.rows
        rows.clear_widgets()
        if shown.empty:
            rows.add_widget(Heading(text="No site here yet"))
            rows.add_widget(Words(text=shown.empty, points=20))
            return
        rows.add_widget(Heading(text="Sites on this device"))
        for site in shown.sites:
            key = RowKey(title=site.name, says=site.code, test_id=f"site {site.code}")
            key.bind(on_hit=lambda _, __, code=site.code: self.router.go("site", site=code))
            rows.add_widget(key)
            for code, words in site.planned:
                planned = RowKey(title=words, says=f"{site.name}, visit {code}", mood="note")
                planned.bind(
                    on_hit=lambda _, __, at=site.code, visit=code: self.router.go(
                        "site", site=at, visit=visit
                    )
                )
                rows.add_widget(planned)

    def _fill_side(self, shown: HomeShown) -> None:
        side = self.face.ids.side.ids
        side.state.text = shown.exchange_state
        side.exchange.text = shown.exchange_words
        side.exchange.tone = "go" if shown.can_exchange else "off"
        side.exchange.disabled = not shown.can_exchange
        side.enrol.text = "Enrol again" if shown.can_exchange else "Enrol this device"
        side.enrol.tone = "plain" if shown.can_exchange else "go"
        if shown.practice:
            side.enrol.tone, side.enrol.disabled = "off", True
        side.news.text = shown.news_words or "No new corrections"
        side.news.tone = "look" if shown.news_words else "plain"
        side.practice.text = "End practice" if shown.practice else "Practise on an invented site"
        wanted = shown.practice or self.practice.on_offer
        side.practice.disabled = not wanted
        side.practice.opacity = 1 if wanted else 0
        side.dusk.text = "Colours for day" if theme.dusk else "Colours for dusk"
        side.size.text = f"Text size {round(theme.scale * 100)} %"

    def exchange(self) -> None:
        """Start a turn in coverage."""
        self.tablet.exchange(self.router.again)

    def turn_dusk(self) -> None:
        """Change between the colours for day and for dusk."""
        theme.dusk = not theme.dusk
        self.tablet.become(dusk=theme.dusk)
        self.show()

    def next_size(self) -> None:
        """Go to the next text size."""
        larger = [scale for scale in TEXT_SCALES if scale > theme.scale + 0.01]
        theme.scale = larger[0] if larger else TEXT_SCALES[0]
        self.tablet.become(text_scale=theme.scale)
        self.show()

    def practise(self) -> None:
        """Go to the practice site, or back from it."""
        self.practice.turn(on=not self.tablet.practice)
