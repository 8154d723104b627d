"""Who may speak to the server: people are invited by name, devices come in with a one-time code.

A code has two forms. The long one, for a QR code, has 256 random bits and is kept as SHA-256. The
typed one has twelve characters: four find the invitation, eight (40 bits) are secret and kept as
Argon2id. Both work once, for a short time, and not after five wrong tries.
(OWASP ASVS 5.0.0, 6.4.1, 6.5.1 to 6.5.5, 7.2.2 and 7.2.3.)
"""

import base64
import hashlib
import hmac
import re
import unicodedata
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from argon2 import PasswordHasher
from argon2.exceptions import VerificationError

from shared_core.errors import RefusedError, UnknownError, UnreadableError
from sync_server.access_store import AccessStore, Audited, Device, Invited, Person

COORDINATOR: Final = "coordinator"
OFFICER: Final = "officer"
LANDHOLDER: Final = "landholder"
ROLES: Final = (OFFICER, LANDHOLDER, COORDINATOR)
USUAL_MINUTES: Final = 10.0  # ASVS 6.5.5; a code for the field may be asked to live longer
MOST_MINUTES: Final = 60.0 * 24 * 14
MOST_TRIES: Final = 5
OWN_DEVICE: Final = "server"  # no tablet may take this name
COMMAND_LINE: Final = "command line"
SECRET_BYTES: Final = 32
LOOK_UP_LENGTH: Final = 4
TYPED_LENGTH: Final = 12
LETTERS: Final = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # 32 signs; no I, L, O, U to mistake
_MISREAD: Final = str.maketrans("OIL", "011")
_DEVICE_NAME: Final = re.compile(r"[A-Za-z0-9][A-Za-z0-9 ._-]{0,62}")


@dataclass(frozen=True, kw_only=True)
class Caller:
    """The person and the device behind a request."""

    name: str
    role: str
    sites: tuple[str, ...]
    device: str
    points: tuple[str, ...] = ()
    revoked_at: datetime | None = None

    def reaches(self, site: str | None) -> bool:
        """Tell whether a site lies in this person's scope."""
        if self.role == COORDINATOR and not self.sites:
            return True
        return site in self.sites


@dataclass(frozen=True, kw_only=True)
class Invitation:
    """What is handed to the invited person, once; the file keeps only hashes."""

    person: Person
    code: str
    typed: str
    expires_at: datetime


def code_hash(code: str) -> str:
    """Return SHA-256 of a long code or token; both have too many random bits to guess."""
    return hashlib.sha256(code.encode("utf-8", "surrogatepass")).hexdigest()


class Access:
    """Invites people, enrols and revokes devices, and tells who a token belongs to."""

    def __init__(
        self,
        store: AccessStore,
        *,
        secret: Callable[[int], bytes],
        hasher: PasswordHasher | None = None,
    ) -> None:
        self.store = store
        self._secret = secret
        self._hasher = hasher or PasswordHasher()

    def invite(
        self, person: Person, now: datetime, minutes_valid: float = USUAL_MINUTES
    ) -> Invitation:
        """Invite a person; whoever brings the code first becomes one of their devices.

        Inviting somebody again with another role or other sites changes what all their devices
        may do from now on.

        Raises:
            UnreadableError: if name, role, sites or minutes cannot be right.
        """
        person = _checked(person)
        if not 0 < minutes_valid <= MOST_MINUTES:
            raise UnreadableError(
                f"a code lives more than 0 and at most {MOST_MINUTES:.0f} minutes,"
                f" not {minutes_valid:g}"
            )
        code = self._random_text()
        with self.store.changing():
            look_up = self._letters(LOOK_UP_LENGTH)
            while self.store.invitation(look_up=look_up):
                look_up = self._letters(LOOK_UP_LENGTH)
            secret = self._letters(TYPED_LENGTH - LOOK_UP_LENGTH)
            expires_at = now + timedelta(minutes=minutes_valid)
            self.store.keep_person(person, now)
            self.store.keep_invitation(
                Invited(
                    look_up=look_up,
                    person=person.name,
                    code_sha256=code_hash(code),
                    typed_argon2=self._hasher.hash(secret),
                    expires_at=expires_at,
                )
            )
            scope = ", ".join(person.sites) or "all sites"
            what = f"invited {person.name} as {person.role} for {scope}"
            self.store.note(Audited(at=now, who="", what=what, source=COMMAND_LINE))
        typed = "-".join((look_up, secret[:4], secret[4:]))
        return Invitation(person=person, code=code, typed=typed, expires_at=expires_at)

    def enrol(self, code: str, device: str, now: datetime, source: str = "") -> tuple[str, Caller]:
        """Let a device in for a one-time code, in either form; return its token and who it is.

        Raises:
            UnreadableError: if the device's name cannot be one.
            RefusedError: if the code is wrong, used, expired or locked, or the name is taken.
        """
        if not _DEVICE_NAME.fullmatch(device) or device == OWN_DEVICE:
            raise UnreadableError(
                "a device's name has 1 to 63 plain letters, digits, spaces, dots and dashes"
                f" and is not {OWN_DEVICE!r}"
            )
        try:
            invited = self._invitation_for(code, now)
            token, person = self._let_in(invited, device, now)
        except RefusedError as error:
            what = f"enrolment of {device!r} refused: {error}"
            self.store.note(Audited(at=now, who="", what=what, source=source))
            raise
        self.store.note(
            Audited(at=now, who=person.name, what=f"enrolled device {device!r}", source=source)
        )
        return token, _caller(person, device)

    def _invitation_for(self, code: str, now: datetime) -> Invited:
        signs = re.sub(r"[\s-]", "", code).upper().translate(_MISREAD)
        typed = len(signs) == TYPED_LENGTH
        invited = (
            self.store.invitation(look_up=signs[:LOOK_UP_LENGTH])
            if typed
            else self.store.invitation(code_sha256=code_hash(code.strip()))
        )
        if invited is None:
            raise RefusedError("this code is not known here; ask for a new one")
        tries = self.store.count_try(invited.look_up) if typed else invited.tries + 1
        if tries > MOST_TRIES:
            raise RefusedError("this code was tried too often and is locked; ask for a new one")
        if typed:
            self._check_typed(invited, signs[LOOK_UP_LENGTH:], MOST_TRIES - tries)
        elif not hmac.compare_digest(invited.code_sha256, code_hash(code.strip())):
            raise RefusedError("this code is not known here; ask for a new one")
        if now >= invited.expires_at:
            raise RefusedError("this code has expired; ask for a new one")
        return invited

    def _check_typed(self, invited: Invited, secret: str, left: int) -> None:
        try:
            self._hasher.verify(invited.typed_argon2, secret)
        except VerificationError:
            raise RefusedError(f"this code is not right; {left} tries are left") from None

    def _let_in(self, invited: Invited, device: str, now: datetime) -> tuple[str, Person]:
        token = self._random_text()
        with self.store.changing():
            person = self.store.person(invited.person)
            before = self.store.device(name=device)
            if person is None or (before and before.person != person.name):
                raise RefusedError("a device of this name belongs to somebody else; choose another")
            if not self.store.use_invitation(invited.look_up, device, now):
                raise RefusedError("this code has been used; ask for a new one")
            self.store.keep_device(
                Device(
                    name=device,
                    person=person.name,
                    token_sha256=code_hash(token),
                    enrolled_at=now,
                )
            )
        return token, person

    def revoke(self, device: str, now: datetime, by: str = "") -> None:
        """Shut a device out; lines it still sends go to quarantine.

        Raises:
            UnknownError: if no such device was enrolled.
        """
        if self.store.device(name=device) is None:
            raise UnknownError(f"no device {device!r} was enrolled here")
        with self.store.changing():
            self.store.revoke(device, now)
            what = f"revoked device {device!r}"
            self.store.note(Audited(at=now, who=by, what=what, source=COMMAND_LINE))

    def who(self, token: str) -> Caller | None:
        """Return who a token belongs to; a revoked device is still told apart from a stranger."""
        sha256 = code_hash(token)
        device = self.store.device(token_sha256=sha256)
        if device is None or not hmac.compare_digest(device.token_sha256, sha256):
            return None
        return self._caller_of(device)

    def owner_of(self, device: str) -> Caller | None:
        """Return who a device was enrolled for, as when its lines come by hand."""
        found = self.store.device(name=device)
        return self._caller_of(found) if found else None

    def _caller_of(self, device: Device) -> Caller | None:
        person = self.store.person(device.person)
        return None if person is None else _caller(person, device.name, device.revoked_at)

    def _random_text(self) -> str:
        return base64.urlsafe_b64encode(self._secret(SECRET_BYTES)).decode().rstrip("=")

    def _letters(self, count: int) -> str:
        return "".join(LETTERS[byte % len(LETTERS)] for byte in self._secret(count))


def _caller(person: Person, device: str, revoked_at: datetime | None = None) -> Caller:
    return Caller(
        name=person.name,
        role=person.role,
        sites=person.sites,
        points=person.points,
        device=device,
        revoked_at=revoked_at,
    )


def _checked(person: Person) -> Person:
    name = unicodedata.normalize("NFC", person.name).strip()
    if not 0 < len(name) <= 120 or not name.isprintable():
        raise UnreadableError("a person's name has 1 to 120 characters, all of them visible")
    if person.role not in ROLES:
        raise UnreadableError(f"a role is one of {', '.join(ROLES)}, not {person.role!r}")
    sites = _words(person.sites)
    if not sites and person.role != COORDINATOR:
        raise UnreadableError(
            f"name at least one site for a {person.role}; only a coordinator has all of them"
        )
    return Person(name=name, role=person.role, sites=sites, points=_words(person.points))


def _words(given: Sequence[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(word.strip() for word in given if word.strip()))
