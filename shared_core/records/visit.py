"""A visit: who went where, when, with which clock, and how it ended."""

from collections.abc import Iterator, Mapping
from datetime import datetime, time, timedelta, timezone
from typing import ClassVar, Final

from shared_core.fields import choice, flag, moment, number, record, text, words
from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.limits import limits_at
from shared_core.records.places import BEYOND_SITE_M, beyond_site
from shared_core.records.site_setup import Site

CLOCK_NOTE_MIN: Final = 2.0  # from memory
CLOCK_ASK_MIN: Final = 30.0  # from memory
# Daylight saving has repeatedly confused weather readings (Bureau of Meteorology, daylight saving
# and observations).
HINT_WITHIN_MIN: Final = 10.0
NEAR_CHANGE: Final = timedelta(hours=12)
AHEAD_OF_NOW: Final = timedelta(minutes=5)
EARLIEST: Final = time(4, 30)  # nobody reads a gauge in the dark: common practice
LATEST: Final = time(21, 30)
SECONDS_PER_MINUTE: Final = 60.0
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
        from shared_core.records.visit_items import missing_items  # noqa: PLC0415 - it needs this class

        yield from super().findings(known)
        yield from missing_items(self, known)
        limits = limits_at(known, self.site, self.when)
        away = beyond_site(known, self, limits.get("site-distance", BEYOND_SITE_M))
        if away is not None:
            yield away
        yield from self._clock(limits)
        yield from self._offset(known)
        yield from self._future(known)
        if self.not_done and not (self.not_done_because or "").strip():
            yield Finding(
                code="not-done-why",
                severity=Severity.ASK,
                field="not_done_because",
                saw=f"Not done: {', '.join(self.not_done)}.",
                do="Say why: a blank is not a zero.",
            )

    @property
    def clock_error(self) -> timedelta | None:
        """How far this device's clock is ahead of satellite time."""
        if self.clock_shows is None or self.satellite_time is None:
            return None
        return self.clock_shows - self.satellite_time

    def _clock(self, limits: Mapping[str, float]) -> Iterator[Finding]:
        error = self.clock_error
        if error is None:
            yield from self._night()
            return
        minutes = error.total_seconds() / SECONDS_PER_MINUTE
        if abs(minutes) <= limits.get("clock-note", CLOCK_NOTE_MIN):
            return
        way = "ahead of" if minutes > 0 else "behind"
        stamped_wrong = self.time_source == "device"
        meant = (self.seen_at - error).astimezone(timezone(timedelta(minutes=self.offset_min)))
        yield Finding(
            code="clock",
            severity=Severity.ASK
            if abs(minutes) > limits.get("clock", CLOCK_ASK_MIN)
            else Severity.NOTE,
            field="seen_at" if stamped_wrong else "clock_shows",
            saw=f"This device's clock is {_minutes(abs(minutes))} {way} satellite time.",
            expected=_hint(abs(minutes)),
            do="Take satellite time for this visit, and set the clock.",
            suggests=meant.isoformat(timespec="minutes") if stamped_wrong else None,
        )

    def _night(self) -> Iterator[Finding]:
        clock = self.wall_clock
        if self.time_source == "device" and not EARLIEST <= clock.time() <= LATEST:
            yield Finding(
                code="clock-night",
                severity=Severity.ASK,
                field="seen_at",
                saw=f"This visit is stamped {clock:%H:%M}, in the dark.",
                expected="Before noon or after it: 12 hours would make it day.",
                do="Compare the clock with a watch.",
            )

    def _offset(self, known: Known) -> Iterator[Finding]:
        standing = known.in_force(Site, self.site, self.when)
        if standing is None or self.offset_min in (right := offsets_at(standing.record, self.when)):
            return
        yield Finding(
            code="clock-offset",
            severity=Severity.ASK,
            field="offset_min",
            saw=f"The clock's offset is UTC{self.offset_min / 60:+g}.",
            expected=f"On this date it is UTC{right[0] / 60:+g} there: daylight saving?",
            do="Look at the time zone of the device.",
            suggests=str(right[0]),
        )

    def _future(self, known: Known) -> Iterator[Finding]:
        if known.now is not None and self.when - known.now > AHEAD_OF_NOW:
            yield Finding(
                code="clock-future",
                severity=Severity.STOP,
                field="seen_at",
                saw=f"This visit is stamped {self.wall_clock:%-d %B %H:%M}, which is yet to come.",
                do="Set the clock, and the time of this visit.",
            )


def offsets_at(site: Site, at: datetime) -> tuple[int, ...]:
    """Return the offset from UTC [min] that clocks at a site keep; both near the hour of change."""
    standard, summer = site.standard_offset_min, site.summer_offset_min
    if summer is None or site.summer_from is None or site.summer_until is None:
        return (standard,) if summer is None else (standard, summer)
    if min(abs(at - site.summer_from), abs(at - site.summer_until)) < NEAR_CHANGE:
        return (standard, summer)
    return (summer,) if site.summer_from <= at < site.summer_until else (standard,)


def _minutes(minutes: float) -> str:
    return f"{minutes:.0f} min" if minutes < 100 else f"{minutes / 60:.1f} h"


def _hint(minutes: float) -> str:
    if abs(minutes - 60) <= HINT_WITHIN_MIN:
        return "An hour: was the clock left as it was at the change for daylight saving?"
    if abs(minutes - 720) <= HINT_WITHIN_MIN:
        return "Twelve hours: morning and afternoon mixed up?"
    return ""
