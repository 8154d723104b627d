"""Invitations, enrolment and tokens (OWASP ASVS 5.0.0 numbers in brackets)."""

import math
import re
import sqlite3
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from shared_core.errors import DamagedError, RefusedError, UnknownError, UnreadableError
from sync_server.access import LETTERS, Access
from sync_server.access_store import AccessStore, Audited, Person
from tests.sync_server.rooms import SITE, START, Clock, Room, Secrets

ANA = Person(name="Ana", role="officer", sites=(SITE,))


@pytest.fixture
def access(tmp_path: Path) -> Iterator[Access]:
    store = AccessStore(tmp_path / "access.db")
    yield Access(store, secret=Secrets())
    store.close()


def refused(access: Access, code: str, device: str = "ANA-1", clock: Clock | None = None) -> str:
    with pytest.raises(RefusedError) as caught:
        access.enrol(code, device, (clock or Clock())())
    return str(caught.value)


def test_both_forms_of_a_code_let_a_device_in(access: Access) -> None:
    for number, form in enumerate(("code", "typed")):
        invitation = access.invite(ANA, START)
        token, caller = access.enrol(getattr(invitation, form), f"ANA-{number}", START)
        assert (caller.name, caller.role, caller.sites) == ("Ana", "officer", (SITE,))
        assert access.who(token) == caller


def test_a_typed_code_forgives_case_dashes_and_mistaken_letters(access: Access) -> None:
    typed = access.invite(ANA, START).typed
    sloppy = typed.replace("0", "o").replace("1", "l").lower().replace("-", " ")
    access.enrol(sloppy, "ANA-1", START)


def test_codes_and_tokens_have_enough_random_bits(access: Access) -> None:
    """[6.5.4, 7.2.3] at least 128 bits, 40 for the typed form, which is locked after five tries."""
    asked: list[int] = []

    def secret(length: int) -> bytes:
        asked.append(length)
        return bytes(range(length))

    invitation = Access(access.store, secret=secret).invite(ANA, START)
    assert max(asked) * 8 >= 128
    assert len(invitation.code) * math.log2(64) >= 128
    assert len(invitation.typed.replace("-", "")) == 12
    assert 8 * math.log2(len(LETTERS)) >= 40


def test_a_code_that_was_used_and_has_expired_since_is_refused(access: Access) -> None:
    clock = Clock()
    invitation = access.invite(ANA, clock())
    access.enrol(invitation.code, "ANA-1", clock())
    clock.tick(minutes=11)
    refused(access, invitation.code, clock=clock)


def test_a_code_works_once(access: Access) -> None:
    """[6.5.1]"""
    invitation = access.invite(ANA, START)
    access.enrol(invitation.code, "ANA-1", START)
    assert "used" in refused(access, invitation.code)
    assert "used" in refused(access, invitation.typed)


def test_a_code_works_once_even_when_many_try_at_the_same_moment(access: Access) -> None:
    invitation = access.invite(ANA, START)

    def attempt(number: int) -> bool:
        try:
            access.enrol(invitation.code, f"ANA-{number}", START)
        except RefusedError:
            return False
        return True

    with ThreadPoolExecutor(8) as pool:
        assert sum(pool.map(attempt, range(8))) == 1
    assert len(access.store.devices()) == 1


def test_a_code_expires_after_ten_minutes_unless_asked_to_live_longer(access: Access) -> None:
    """[6.5.5]"""
    clock = Clock()
    short, long = access.invite(ANA, clock()), access.invite(ANA, clock(), 120)
    clock.tick(minutes=10)
    assert "expired" in refused(access, short.code, clock=clock)
    access.enrol(long.code, "ANA-1", clock())


def test_a_code_is_locked_after_five_wrong_tries(access: Access) -> None:
    """[6.6.3]"""
    invitation = access.invite(ANA, START)
    wrong = invitation.typed[:-1] + ("0" if invitation.typed[-1] != "0" else "1")
    for left in (4, 3, 2, 1, 0):
        assert f"{left} tries" in refused(access, wrong)
    assert "locked" in refused(access, invitation.typed)
    assert "locked" in refused(access, invitation.code)


def test_many_wrong_tries_at_once_are_all_counted(access: Access) -> None:
    invitation = access.invite(ANA, START)
    wrong = invitation.typed[:-1] + ("0" if invitation.typed[-1] != "0" else "1")
    with ThreadPoolExecutor(8) as pool:
        says = list(pool.map(lambda _: refused(access, wrong), range(12)))
    assert sum("not right" in said for said in says) == 5
    assert "locked" in refused(access, invitation.typed)


def test_an_unknown_code_is_refused(access: Access) -> None:
    for code in ("", "x", "AAAA-AAAA-AAAA", "\ud800", "a" * 43):
        assert "not known" in refused(access, code)


def test_the_file_holds_no_code_and_no_token(access: Access, tmp_path: Path) -> None:
    """[6.5.2] Argon2id for the short form, SHA-256 for what has over 112 bits."""
    invitation = access.invite(ANA, START)
    token, _ = access.enrol(invitation.code, "ANA-1", START)
    held = (tmp_path / "access.db").read_bytes()
    plain = invitation.typed.replace("-", "")
    for secret in (invitation.code, plain, plain[4:], token):
        assert secret.encode() not in held
    assert re.search(rb"\$argon2id\$v=19\$m=\d+", held)


def test_a_device_name_belongs_to_the_person_who_enrolled_it(access: Access) -> None:
    access.enrol(access.invite(ANA, START).code, "ANA-1", START)
    ben = access.invite(Person(name="Ben", role="officer", sites=(SITE,)), START)
    assert "somebody else" in refused(access, ben.code)
    access.enrol(ben.code, "BEN-1", START)


@pytest.mark.parametrize("device", ["server", "", " ", "a" * 64, "x\n", "../x", "d\u00e9j\u00e0"])
def test_a_device_name_is_plain_and_not_the_servers(access: Access, device: str) -> None:
    code = access.invite(ANA, START).code
    with pytest.raises(UnreadableError):
        access.enrol(code, device, START)
    access.enrol(code, "ANA-1", START)


def test_a_revoked_token_is_still_told_apart_and_a_new_code_lets_the_device_back(
    access: Access,
) -> None:
    """[7.4.1]"""
    token, _ = access.enrol(access.invite(ANA, START).code, "ANA-1", START)
    access.revoke("ANA-1", START)
    caller = access.who(token)
    assert caller is not None
    assert caller.revoked_at == START
    again, _ = access.enrol(access.invite(ANA, START).code, "ANA-1", START)
    assert access.who(token) is None
    caller = access.who(again)
    assert caller is not None
    assert caller.revoked_at is None


def test_revoking_an_unknown_device_says_so(access: Access) -> None:
    with pytest.raises(UnknownError, match="NOBODY"):
        access.revoke("NOBODY", START)


@pytest.mark.parametrize("token", ["", "x", "a" * 43, "\ud800"])
def test_a_strange_token_is_nobodys(access: Access, token: str) -> None:
    access.enrol(access.invite(ANA, START).code, "ANA-1", START)
    assert access.who(token) is None


@pytest.mark.parametrize(
    ("person", "minutes"),
    [
        (Person(name="", role="officer", sites=(SITE,)), 10),
        (Person(name="A\nB", role="officer", sites=(SITE,)), 10),
        (Person(name="Ana", role="king", sites=(SITE,)), 10),
        (Person(name="Ana", role="officer", sites=()), 10),
        (Person(name="Ana", role="landholder", sites=(" ",)), 10),
        (ANA, 0),
        (ANA, math.nan),
        (ANA, 1e9),
    ],
)
def test_an_invitation_that_cannot_be_right_is_refused(
    access: Access, person: Person, minutes: float
) -> None:
    with pytest.raises(UnreadableError):
        access.invite(person, START, minutes)
    assert access.store.people() == []


def test_an_invitation_again_changes_what_all_devices_of_a_person_may_do(access: Access) -> None:
    token, _ = access.enrol(access.invite(ANA, START).code, "ANA-1", START)
    access.invite(Person(name="Ana", role="coordinator", sites=()), START)
    caller = access.who(token)
    assert caller is not None
    assert (caller.role, caller.sites) == ("coordinator", ())


def test_the_audit_log_says_who_came_in_and_who_was_turned_away(access: Access) -> None:
    """[16.3.1, 16.4.1]"""
    access.enrol(access.invite(ANA, START).code, "ANA-1", START, "192.0.2.7")
    refused(access, "AAAA-AAAA-AAAA", "B")
    access.revoke("ANA-1", START, "Kim")
    access.store.note(Audited(at=START, who="x\n2023 Kim", what="\x1b[2J", source=""))
    log = access.store.audit_log()
    assert [line.what.split(" ")[0] for line in log[:4]] == [
        "invited", "enrolled", "enrolment", "revoked",
    ]  # fmt: skip
    assert log[1].source == "192.0.2.7"
    assert "\n" not in log[4].who
    assert "\x1b" not in log[4].what


def test_a_file_of_something_else_is_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "access.db"
    with sqlite3.connect(path) as file:
        file.execute("create table other (x)")
    file.close()
    before = path.read_bytes()
    with pytest.raises(DamagedError, match="another program"):
        AccessStore(path)
    assert path.read_bytes() == before
    path.write_bytes(b"no database at all, but long enough to be looked at" * 20)
    with pytest.raises(DamagedError):
        AccessStore(path)


def test_people_survive_a_restart_and_a_second_program_may_invite(tmp_path: Path) -> None:
    first, second = (AccessStore(tmp_path / "access.db") for _ in range(2))
    invitation = Access(second, secret=Secrets()).invite(ANA, START)
    token, _ = Access(first, secret=Secrets(100)).enrol(invitation.code, "ANA-1", START)
    first.close()
    second.close()
    third = AccessStore(tmp_path / "access.db")
    caller = Access(third, secret=Secrets()).who(token)
    assert caller is not None
    assert caller.name == "Ana"
    third.close()


def test_too_many_codes_from_one_address_have_to_wait(tmp_path: Path) -> None:
    room = Room(tmp_path, {"enrol_tries": 3})
    asked = {"code": "AAAA-AAAA-AAAA", "device": "A"}
    statuses = [room.client.post("/v1/enrol", json=asked).status_code for _ in range(4)]
    assert statuses == [403, 403, 403, 429]
    answer = room.client.post("/v1/enrol", json=asked)
    assert int(answer.headers["retry-after"]) > 0
    room.clock.tick(minutes=11)
    assert room.client.post("/v1/enrol", json=asked).status_code == 403
    room.close()
