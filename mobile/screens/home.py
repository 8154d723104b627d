"""The first screen: sites on this device, the exchange, and how the screen looks."""

from typing import Any, Final

from kivy.clock import Clock
from kivy.properties import ObjectProperty

from mobile.look import TEXT_SCALES
from mobile.screens.cards import card, choice, plain, writing
from mobile.screens.page import Face, Page, load_rules
from mobile.tablet import SITES_AT_ONCE, HomeShown
from mobile.trip import OutShown, back_again, out_shown
from mobile.widgets.panel import PanelKeys
from mobile.widgets.row import RowKey
from mobile.widgets.text import Column, Heading, Words
from mobile.widgets.theme import theme

MINUTE_S: Final = 30.0  # how often the hours of the trip card are looked at


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

    search = ""  # what is looked for among the sites
    rows = SITES_AT_ONCE
    _timer: Any = None
    _out: Column
    _list: Column

    def face_for(self, *, wide: bool) -> Face:
        return HomeWide(page=self) if wide else HomeTall(page=self)

    def take_up(self, **what: str) -> None:
        del what
        if self._timer is None:
            self._timer = Clock.schedule_interval(self._minute, MINUTE_S)

    def _minute(self, _: float) -> bool:
        """Show how late it is: nobody else says so to a person who is overdue."""
        if self.get_root_window() is None:  # another screen is shown, or the app has ended
            self._timer = None
            return False
        self._fill_out(out_shown(self.tablet.logbook, self.tablet.device()))
        return True

    def show(self) -> None:
        shown = self.tablet.home(self.search, self.rows)
        self.head("Strandline", shown.sub)
        self._fill_sites(shown)
        self._fill_side(shown)

    def _fill_sites(self, shown: HomeShown) -> None:
        rows = self.face.ids.rows
        rows.clear_widgets()
        self._out = Column()
        rows.add_widget(self._out)
        self._fill_out(shown.out)
        if shown.empty:
            rows.add_widget(Heading(text="No site here yet"))
            rows.add_widget(Words(text=shown.empty, points=20))
            rows.add_widget(choice("Take in a file from a stick", self._take_in, "take in"))
            return
        rows.add_widget(Heading(text="Sites on this device"))
        if shown.can_search:
            rows.add_widget(writing(self.search, self._search, "search", hint="Name or code"))
        self._list = Column()
        rows.add_widget(self._list)
        self._fill_list(shown)

    def _fill_out(self, out: OutShown | None) -> None:
        self._out.clear_widgets()
        if out is None:
            return
        title = Words(text=out.title, bold=True, points=26)
        says = plain(out.says, shade="rust" if out.overdue else "ink", points=20)
        keys = PanelKeys()
        keys.add_widget(choice("I am back", self._back_again, "back again"))
        keys.add_widget(choice("Trip card", self._trip, "trip"))
        self._out.add_widget(card(title, says, keys, mood="cannot" if out.overdue else "fits"))

    def _back_again(self) -> None:
        back_again(self.tablet.logbook)
        self.show()

    def _trip(self) -> None:
        self.router.go("trip", site=self.tablet.out_at() or self.tablet.day.site)

    def _take_in(self) -> None:
        self.router.go("stick", take="yes")

    def _search(self, text: str) -> None:
        self.search, self.rows = text, SITES_AT_ONCE
        self._fill_list(self.tablet.home(self.search, self.rows))

    def _more(self) -> None:
        self.rows += SITES_AT_ONCE
        self._fill_list(self.tablet.home(self.search, self.rows))

    def _fill_list(self, shown: HomeShown) -> None:
        rows = self._list
        rows.clear_widgets()
        if shown.found_words:
            rows.add_widget(plain(shown.found_words))
        for site in shown.sites:
            key = RowKey(title=site.name, says=site.code, test_id=f"site {site.code}")
            key.bind(on_hit=lambda _, __, code=site.code: self.open_site(code))
            rows.add_widget(key)
            for code, words in site.planned:
                planned = RowKey(title=words, says=f"{site.name}, visit {code}", mood="note")
                planned.bind(
                    on_hit=lambda _, __, at=site.code, visit=code: self.open_site(at, visit=visit)
                )
                rows.add_widget(planned)
        if shown.more:
            rows.add_widget(choice(f"Show more: {shown.more} left", self._more, "more"))

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

    def open_site(self, code: str, **more: str) -> None:
        """Go to a site: a landholder's few figures, or everything there is to do."""
        self.router.go(self.tablet.site_screen, site=code, **more)

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
