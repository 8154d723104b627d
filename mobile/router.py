"""Which screen is shown; each is imported and built on its first visit only. No Kivy here."""

import importlib
from collections.abc import Callable, Mapping
from typing import Final, Protocol

from shared_core.errors import UnknownError


class Shown(Protocol):
    """A screen as the router sees it."""

    def opened(self, **what: str) -> None:
        """Take up what is to be shown, afresh."""
        ...


class Stage(Protocol):
    """What holds the screens and shows one of them."""

    def put(self, name: str, screen: Shown) -> None:
        """Take in a new screen."""
        ...

    def show(self, name: str) -> None:
        """Show a screen that was taken in."""
        ...

    def clear(self) -> None:
        """Forget all screens."""
        ...


ROUTES: Final = {
    "home": "mobile.screens.home:Home",
    "enrol": "mobile.screens.enrol:Enrol",
    "site": "mobile.screens.site:SitePage",
    "gauge": "mobile.screens.gauge:GaugePage",
    "meter": "mobile.screens.meter:MeterPage",
    "walk": "mobile.screens.walk:WalkPage",
    "form": "mobile.screens.record_form:FormPage",
    "photo_point": "mobile.screens.photo_point:PhotoPointPage",
    "meter_change": "mobile.screens.meter_change:MeterChangePage",
    "bore": "mobile.screens.bore:BorePage",
    "tree": "mobile.screens.tree:TreePage",
    "plot": "mobile.screens.plot:PlotPage",
    "trip": "mobile.screens.trip:TripPage",
    "arrive": "mobile.screens.arrive:ArrivePage",
    "leave": "mobile.screens.leave:LeavePage",
    "exchange": "mobile.screens.exchange:ExchangePage",
    "stick": "mobile.screens.stick:StickPage",
    "news": "mobile.screens.news:NewsPage",
    "landholder": "mobile.screens.landholder:LandholderPage",
    "history": "mobile.screens.history:HistoryPage",
    "own": "mobile.screens.history:OwnRecordsPage",
    "settings": "mobile.screens.settings:SettingsPage",
    "about": "mobile.screens.about:AboutPage",
}


class Router:
    """Goes to screens by name, and back along the way it came, never out of the app."""

    def __init__(
        self,
        stage: Stage,
        make: Callable[[Callable[[], Shown]], Shown] = lambda kind: kind(),
        routes: Mapping[str, str] = ROUTES,
    ) -> None:
        """Take the stage, how a screen is made from its class, and where the classes are."""
        self._stage = stage
        self._make = make
        self._routes = dict(routes)
        self._built: dict[str, Shown] = {}
        self._trail: list[tuple[str, dict[str, str]]] = []

    @property
    def current(self) -> str:
        """Name of the screen that is shown, or nothing."""
        return self._trail[-1][0] if self._trail else ""

    @property
    def depth(self) -> int:
        """How many screens lie on the way, the one that is shown included."""
        return len(self._trail)

    @property
    def built(self) -> tuple[str, ...]:
        """Names of the screens made so far."""
        return tuple(self._built)

    def go(self, name: str, **what: str) -> None:
        """Show a screen on top of the way.

        Raises:
            UnknownError: if there is no screen of that name.
        """
        self._show(name, what)
        if self.current == name:
            self._trail.pop()
        self._trail.append((name, what))

    def back(self) -> bool:
        """Show the screen before this one; say whether there was one."""
        if len(self._trail) < 2:
            return False
        self._trail.pop()
        self._show(*self._trail[-1])
        return True

    def start(self, name: str) -> None:
        """Forget the way and every screen, and begin at a screen."""
        self._trail.clear()
        self._built.clear()
        self._stage.clear()
        self.go(name)

    def again(self) -> None:
        """Show the present screen afresh, after something changed under it."""
        if self._trail:
            self._show(*self._trail[-1])

    def _show(self, name: str, what: Mapping[str, str]) -> None:
        if name not in self._built:
            if name not in self._routes:
                raise UnknownError(f"no screen {name!r}; there are {', '.join(self._routes)}")
            module, _, kind = self._routes[name].partition(":")
            screen = self._make(getattr(importlib.import_module(module), kind))
            self._built[name] = screen
            self._stage.put(name, screen)
        self._built[name].opened(**what)
        self._stage.show(name)
