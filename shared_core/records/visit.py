"""A visit: who went where, when, with which clock, and how it ended."""

from collections.abc import Iterator
from datetime import datetime
from typing import ClassVar

from shared_core.fields import choice, flag, moment, number, record, text, words
from shared_core.records.base import Finding, Known, Seen

WEATHER = {
    "clear": "Clear",
    "cloud": "Cloud",
    "showers": "Showers",
    "rain": "Rain",
    "storm": "Storm",
    "fog": "Fog",
}


@record
class Visit(Seen):
    """One stay of a team, or of a landholder, at a site."""

    kind: ClassVar[str] = "visit"
    title: ClassVar[str] = "Visit"

    team: str = text("Team", longest=60)
    route: str | None = text("Vehicle and route", default=None, longest=300)
    due_back: datetime | None = moment("Due back", default=None)
    called_if_late: str | None = text("Called if late", default=None, longest=120)
    arrived: datetime | None = moment("Arrived", default=None)
    left: datetime | None = moment("Left", default=None)
    weather: str | None = choice("Weather", WEATHER, default=None)
    wind_m_s: float | None = number("Wind", "m/s", (0.0, 20.0), default=None, decimals=0)
    clock_shows: datetime | None = moment("This device's clock shows", default=None)
    satellite_time: datetime | None = moment("Satellite time at that moment", default=None)
    clean_on_arrival: bool | None = flag("Clean-down done on arrival", default=None)
    clean_on_leaving: bool | None = flag("Clean-down done on leaving", default=None)
    clean_how: str | None = text("How it was cleaned", default=None, longest=200)
    not_done: tuple[str, ...] = words("Not done", default=(), help="Planned items left out.")
    not_done_because: str | None = text("Not done because", default=None)
    copied_to: str | None = text("Second copy on", default=None, longest=60)

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
