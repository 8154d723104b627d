"""This tablet without a screen: who it is, what waits on it, and its turns in coverage."""

import dataclasses
from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Final

from mobile.courier import Courier, Delivery
from mobile.field_day import Device, FieldDay, News
from mobile.identity import Identity
from shared_core.logbook import Logbook
from shared_core.records.base import Standing
from shared_core.records.plan import PlannedVisit
from shared_core.records.site_setup import Site

SERVER: Final = "server"  # name of the other end in the logbook
COUNTED: Final = 1000  # beyond it the number of waiting entries is not counted out


@dataclasses.dataclass(frozen=True, kw_only=True)
class SiteRow:
    """One site on the home screen."""

    code: str
    name: str
    planned: tuple[tuple[str, str], ...]  # code and words of each visit planned there


@dataclasses.dataclass(frozen=True, kw_only=True)
class HomeShown:
    """What the home screen shows."""

    sub: str
    sites: tuple[SiteRow, ...]
    empty: str  # what to do when there are no sites
    can_exchange: bool
    exchange_words: str
    exchange_state: str
    news_words: str
    practice: bool


class Tablet:
    """What the home, enrol and news screens ask; it makes nothing itself."""

    def __init__(
        self,
        *,
        logbook: Logbook,
        day: FieldDay,
        courier: Courier,
        identity: Identity,
        keep: Callable[[Identity], None],
        device: Callable[[], Device],
        practice: bool = False,
    ) -> None:
        """Take the parts, and how an identity is put on disk."""
        self.logbook = logbook
        self.day = day
        self.courier = courier
        self.identity = identity
        self.device = device
        self.practice = practice
        self._keep = keep
        self._state = ""

    def become(self, **changes: object) -> None:
        """Change the identity, on disk first."""
        identity = dataclasses.replace(self.identity, **changes)  # type: ignore[arg-type] # names are the identity's own
        self._keep(identity)
        self.identity = identity
        self.day.author = identity.author

    def enrolled(self, server: str, found: Mapping[str, str]) -> None:
        """Take what a server answered to a code."""
        self.become(
            server=server,
            token=found["token"],
            author=found.get("name", ""),
            role=found.get("role", ""),
        )

    # home ------------------------------------------------------------------------------------

    def home(self) -> HomeShown:
        """Return what the home screen shows now."""
        sites = tuple(self._site_row(standing) for standing in self.day.sites())
        news = len(self.news())
        return HomeShown(
            sub=self._who(),
            sites=sites,
            empty="" if sites else self._what_to_do(),
            can_exchange=self.identity.enrolled,
            exchange_words="Exchanging…" if self.courier.busy else "Exchange now",
            exchange_state=self._state or self._waiting_words(),
            news_words=""
            if not news
            else _counted(news, "correction by others", "corrections by others"),
            practice=self.practice,
        )

    def _who(self) -> str:
        if self.practice:
            return "Practice: nothing here is ever sent"
        if self.identity.enrolled:
            return f"{self.identity.author} on {self.identity.device}"
        return f"{self.identity.device}, not enrolled yet"

    def _what_to_do(self) -> str:
        if self.identity.enrolled:
            return (
                "No site has reached this device yet. Touch “Exchange now” where there is coverage:"
                " the sites you were let into come with the first exchange."
            )
        return (
            "No site has reached this device yet. Ask your coordinator for a code and enrol this"
            " device where there is coverage; its sites then come with the first exchange."
        )

    def _site_row(self, standing: Standing[Site]) -> SiteRow:
        site = standing.record
        planned = self.day.planned(site.site)
        now = self.device().now
        return SiteRow(
            code=site.site,
            name=site.name,
            planned=tuple(
                (visit.record.code, _planned_words(visit.record, now))
                for visit in planned
                if visit.record.state == "planned"
            ),
        )

    # coverage --------------------------------------------------------------------------------

    def waiting(self) -> int:
        """Return how many entries of this device the server has not said it has."""
        after = self.logbook.unsent_after(SERVER)
        return len(self.logbook.lines_of(self.logbook.device, after, COUNTED))

    def _waiting_words(self) -> str:
        if self.practice:
            return ""
        waiting = self.waiting()
        if not waiting:
            return "Nothing waits to be sent."
        return f"{_counted(waiting, 'entry', 'entries')} kept here, not sent yet."

    def exchange(self, refresh: Callable[[], None]) -> bool:
        """Start a turn in coverage; *refresh* is called when the state's words change."""

        def done(delivery: Delivery) -> None:
            moved = delivery.entries
            held = len(moved.quarantined) + len(moved.held_here)
            photos = _counted(delivery.photos_sent, "photo", "photos")
            lines = _counted(held, "line", "lines")
            self._state = f"Exchanged: {moved.sent} sent, {moved.received} received, {photos} sent."
            if held:
                self._state += f" {lines} held back; tell your coordinator."
            refresh()

        def failed(says: str) -> None:
            self._state = f"{says} Everything stays here. {self._waiting_words()}"
            refresh()

        if not self.identity.enrolled or not self.courier.go(done, failed):
            return False
        self._state = "On the way…"
        refresh()
        return True

    # news ------------------------------------------------------------------------------------

    def news(self) -> list[News]:
        """Return corrections by others that have not been read yet."""
        return self.day.news(self.identity.news_read)[0]

    def news_read(self) -> None:
        """Take all corrections as read."""
        self.become(news_read=self.day.news(self.identity.news_read)[1])


def _planned_words(visit: PlannedVisit, now: datetime) -> str:
    away = (visit.valid_from.date() - now.date()).days
    day = {0: "today", 1: "tomorrow", -1: "yesterday"}.get(away, f"in {away} days")
    walk = ", with a walk" if visit.walk_due else ""
    return f"Planned {day}: {visit.team}{walk}"


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"
