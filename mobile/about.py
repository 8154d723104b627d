"""What this app and this device are, whether the logbook is whole, and what to be careful about.

No Kivy. Whether all is well is worked out in another thread: it reads every line.
"""

import dataclasses
import shutil
from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Final

from mobile.site_page import CAUTION
from mobile.tablet import Tablet
from shared_core.errors import StrandlineError
from shared_core.logbook import CORE_VERSION, Logbook
from shared_core.logbook_checks import problems
from shared_core.logbook_file import sqlite_version, sqlite_warning

MOST_TOLD: Final = 5  # problems named on the page; the rest are counted
LITTLE_ROOM_BYTES: Final = 500_000_000  # about a hundred photos
_GB: Final = 1_000_000_000

# From the cautions of the trade (common practice); the first sentence outranks them all.
CAUTIONS: Final = (
    CAUTION,
    (
        "Alone or far out: somebody knows where you are, by which way, and when you are due back. Check"
        " in before coverage ends, and when you are out. Carry a means of calling that needs none."
    ),
    (
        "At the water: do not wade what is deep, swift or unknown, and never alone. A gauge that you"
        " cannot reach well is “not read, because”; that is a full answer."
    ),
    (
        "Ground: wet banks, cracks under grass and undercut levees give way. Keep vehicles off banks and"
        " probe with a pole. Pin a hazard so that the next team sees it."
    ),
    (
        "Weather, trees and animals: look at the forecast, heat and fire danger before you leave; big"
        " limbs fall on still hot days; snakes and stock are at home here."
    ),
    (
        "Pumps: keep away from intake, drive shaft and hot exhaust. Never clear a screen while the pump"
        " runs. Leave electrical boards to licensed electricians."
    ),
    (
        "Coloured or scummy water: stay out of it, keep dogs and stock away, take a photo, tell the"
        " coordinator. A laboratory says what it is, not this app."
    ),
    "Arrive clean and leave clean: boots, tyres and nets carry weeds and disease between wetlands.",
    (
        "Old places: leave scarred trees, shells, stones and bones as they are, stop digging, and report"
        " them. Ask before you photograph people or places that matter to others."
    ),
    "On somebody's land: call first, use agreed gates and leave them as found.",
    (
        "Licences: this app records and warns. It may say that a figure can exceed a limit; the"
        " coordinator and the licence decide."
    ),
    (
        "Levels for legal use, dams, electrical work, pesticides, fish rescue and laboratory results are"
        " for licensed people; the app only keeps what they found."
    ),
    (
        "Carry a paper sheet in the same order, a spare battery, and a copy of the day on a second"
        " device before you leave."
    ),
)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Fact:
    """One line about this app or this device."""

    label: str
    says: str
    mood: str = ""  # look, where somebody should do something


@dataclasses.dataclass(frozen=True, kw_only=True)
class AboutShown:
    """What the page shows."""

    facts: tuple[Fact, ...]
    check: Fact
    checking: bool
    cautions: tuple[str, ...]


class About:
    """What this device is; the check runs where *in_background* takes it."""

    def __init__(
        self,
        tablet: Tablet,
        folder: Path | None,
        *,
        version: str,
    ) -> None:
        """Take the tablet, its data folder, and the app's version."""
        self._tablet = tablet
        self._folder = folder
        self._version = version
        self._checking = False
        self._check = Fact(label="Logbook", says="Not checked since the app was started.")

    def shown(self) -> AboutShown:
        """Return what to show now."""
        tablet, logbook = self._tablet, self._tablet.logbook
        warning = sqlite_warning()
        return AboutShown(
            facts=(
                Fact(label="Version", says=f"{self._version}, records as of {CORE_VERSION}"),
                Fact(label="Device", says=f"{tablet.identity.device}, used by {self._user()}"),
                Fact(label="Data folder", says=_in_parts(self._folder)),
                Fact(label="Log", says=logbook.log.replace("-", " ")),
                Fact(label="Entries", says=f"{logbook.size()}, {tablet.waiting()} not sent yet"),
                Fact(label="Last exchange", says=self._last_exchange()),
                Fact(
                    label="SQLite",
                    says=f"{sqlite_version()}. {warning}" if warning else sqlite_version(),
                    mood="look" if warning else "",
                ),
                _room(self._folder),
            ),
            check=self._check,
            checking=self._checking,
            cautions=CAUTIONS,
        )

    def _user(self) -> str:
        return self._tablet.identity.author or "nobody yet"

    def _last_exchange(self) -> str:
        at = self._tablet.identity.exchanged_at
        return f"{_day(at)} UTC" if at else "None yet"

    def check(self, refresh: Callable[[], None]) -> None:
        """Read the whole logbook and compare it with what was once written."""
        if self._checking:
            return
        self._checking = True
        self._check = Fact(label="Logbook", says="Reading every line…")
        reopen = self._tablet.open_again

        def work() -> Fact:
            if reopen is None:
                return chain_state(self._tablet.logbook)
            try:
                with reopen() as logbook, logbook.snapshot():
                    return chain_state(logbook)
            except StrandlineError as error:
                return Fact(label="Logbook", says=f"{error}. Tell your coordinator.", mood="look")

        def done(found: Fact) -> None:
            self._check, self._checking = found, False
            refresh()

        self._tablet.worker.run(work, done)


def chain_state(logbook: Logbook) -> Fact:
    """Say whether a logbook is what was once written."""
    try:
        found = problems(logbook)
    except StrandlineError as error:
        found = [str(error)]
    if not found:
        return Fact(
            label="Logbook",
            says=f"Whole: {logbook.size()} entries, each follows from the one before.",
            mood="fits",
        )
    told = ". ".join(sentence[:1].upper() + sentence[1:] for sentence in found[:MOST_TOLD])
    more = f" And {len(found) - MOST_TOLD} more." if len(found) > MOST_TOLD else ""
    return Fact(label="Logbook", says=f"{told}.{more} Tell your coordinator.", mood="look")


def _in_parts(folder: Path | None) -> str:
    """Write a path so that its line may break before each part."""
    return "In memory only" if folder is None else str(folder).replace("/", " /").strip()


def _day(at: str) -> str:
    moment = datetime.fromisoformat(at)
    return f"{moment.day} {moment:%b %Y, %H:%M}"


def _room(folder: Path | None) -> Fact:
    if folder is None:
        return Fact(label="Free space", says="Not known")
    try:
        free = shutil.disk_usage(folder).free
    except OSError as error:
        return Fact(label="Free space", says=f"Not known ({error.strerror})")
    little = free < LITTLE_ROOM_BYTES
    says = f"{free / _GB:.1f} GB"
    if little:
        says += ". That is little: exchange, then make room."
    return Fact(label="Free space", says=says, mood="look" if little else "")
