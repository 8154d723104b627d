"""This tablet without a screen: who it is, what waits on it, and its turns in coverage."""

import contextlib
import dataclasses
import threading
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from mobile.courier import Courier, Delivery
from mobile.device.camera import Camera, NoCamera, pictures_folder
from mobile.exchange_page import Turn, failure_words
from mobile.field_day import Device, FieldDay, News
from mobile.identity import Identity
from mobile.pictures import Pictures
from mobile.trip import OutShown, out_shown, out_site
from mobile.walks import Walks
from mobile.worker import Worker
from shared_core.logbook import Logbook
from shared_core.photo_folder import PhotoFolder
from shared_core.records.base import Standing
from shared_core.records.plan import PlannedVisit
from shared_core.records.site_setup import Site

SERVER: Final = "server"  # name of the other end in the logbook
LANDHOLDER: Final = "landholder"  # role that a server gives
COUNTED: Final = 1000  # beyond it the number of waiting entries is not counted out
SITES_AT_ONCE: Final = 20  # shown on the home screen before more are asked for
SEARCH_FROM: Final = 6  # sites; fewer are seen at a glance
FEW_PLANS: Final = 5  # planned visits of one site shown at once


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
    out: OutShown | None = None
    can_search: bool = False
    more: int = 0  # sites that fit what is searched and are not shown yet
    found_words: str = ""  # how many sites fit, once there is something to search


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
        self.pictures: Pictures | None = None  # handed in by whoever puts the tablet together
        self.walks: Walks | None = None  # the same
        self.worker = Worker(lambda call: call())  # the same; this one suits a test
        self.open_again: Callable[[], Logbook] | None = None  # the logbook a second time, to read
        self.camera: Camera = NoCamera()
        self.pictures_from = pictures_folder()  # where a picture was last chosen
        self.stop = threading.Event()  # set to end the exchange under way
        self.turn: Turn | None = None  # the exchange under way, or the last one
        self.watch: Callable[[], None] = lambda: None  # told of the progress of an exchange
        self._keep = keep
        self._state = ""
        self._news: list[News] = []
        self._news_until = identity.news_read

    @property
    def photos(self) -> PhotoFolder | None:
        """The photos of this device, which go along on a stick."""
        return None if self.pictures is None else self.pictures.folder

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

    @property
    def folder(self) -> Path | None:
        """Where this device's data is."""
        return None if self.pictures is None else Path(self.pictures.folder.path).parent

    # where to --------------------------------------------------------------------------------

    @property
    def is_landholder(self) -> bool:
        """Whether this device belongs to somebody who logs a few figures on one page."""
        return self.identity.role == LANDHOLDER

    @property
    def first_screen(self) -> str:
        """The screen that the app opens on."""
        return "landholder" if self.is_landholder and self.day.sites() else "home"

    @property
    def site_screen(self) -> str:
        """The screen that a touched site leads to."""
        return "landholder" if self.is_landholder else "site"

    # home ------------------------------------------------------------------------------------

    def home(self, search: str = "", rows: int = SITES_AT_ONCE) -> HomeShown:
        """Return what the home screen shows now.

        Args:
            search: part of a site's name or code; all sites if it is empty.
            rows: how many sites to show at once.
        """
        known = sorted(self.day.sites(), key=lambda standing: standing.record.name.casefold())
        wanted = search.strip().casefold()
        fit = [s for s in known if wanted in f"{s.record.site} {s.record.name}".casefold()]
        news = len(self.news())
        return HomeShown(
            sub=self._who(),
            sites=tuple(self._site_row(standing) for standing in fit[:rows]),
            out=out_shown(self.logbook, self.device()),
            can_search=len(known) >= SEARCH_FROM,
            more=max(0, len(fit) - rows),
            found_words=_found_words(len(fit), len(known)) if wanted else "",
            empty="" if known else self._what_to_do(),
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
                for visit in [v for v in planned if v.record.state == "planned"][:FEW_PLANS]
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
        turn = Turn(began_at=self.logbook.reached())

        def done(delivery: Delivery) -> None:
            moved = delivery.entries
            held = len(moved.quarantined) + len(moved.held_here)
            photos = _counted(delivery.photos_sent, "photo", "photos")
            lines = _counted(held, "line", "lines")
            self._state = f"Exchanged: {moved.sent} sent, {moved.received} received, {photos} sent."
            if held:
                self._state += f" {lines} held back; tell your coordinator."
            turn.end(delivery, self._state)
            with contextlib.suppress(OSError):  # a full disk: the exchange itself went through
                at = self.day.clock_shows().now.astimezone(UTC)
                self.become(exchanged_at=at.isoformat(timespec="minutes"))
            refresh()

        def failed(says: str) -> None:
            says = failure_words(self.courier.error, says)
            self._state = f"{says} Everything stays here. {self._waiting_words()}"
            turn.end(None, self._state)
            refresh()

        if not self.identity.enrolled or self.courier.busy:
            return False
        self.stop.clear()
        self.turn = turn
        self.courier.go(done, failed)
        self._state = "On the way…"
        refresh()
        return True

    def out_at(self) -> str:
        """Return the site that the trip card of the people who are out names, or nothing."""
        return out_site(self.logbook)

    def moved(self, delivery: Delivery) -> None:
        """Take what the exchange under way has moved so far."""
        if self.turn is not None and not self.turn.ended:
            self.turn.delivery = delivery
            self.watch()

    def stop_exchange(self) -> None:
        """End the exchange after the request or the piece of a photo that is on its way."""
        if self.courier.busy:
            self.stop.set()
            self._state = "Stopping…"

    # news ------------------------------------------------------------------------------------

    def news(self) -> list[News]:
        """Return corrections by others that have not been read yet; each line is read once."""
        found, place = self.day.news(self._news_until)
        self._news += found
        self._news_until = place
        if not self._news and place - self.identity.news_read > COUNTED:
            self.become(news_read=place)  # the next start need not go over these again
        return list(self._news)

    def news_read(self) -> None:
        """Take all corrections as read."""
        self.news()
        self.become(news_read=self._news_until)
        self._news.clear()


def _planned_words(visit: PlannedVisit, now: datetime) -> str:
    away = (visit.valid_from.date() - now.date()).days
    day = {0: "today", 1: "tomorrow", -1: "yesterday"}.get(away, f"in {away} days")
    walk = ", with a walk" if visit.walk_due else ""
    return f"Planned {day}: {visit.team}{walk}"


def _found_words(found: int, known: int) -> str:
    return f"{found} of {_counted(known, 'site', 'sites')} {'fits' if found == 1 else 'fit'}."


def _counted(count: int, one: str, many: str) -> str:
    return f"{count} {one if count == 1 else many}"
