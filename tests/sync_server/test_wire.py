"""Entries over the wire, through a test client: what is taken, quarantined and shown."""

import gzip
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from shared_core.exchange import Reply, exchange
from shared_core.logbook import Verdict
from tests.sync_server.rooms import (
    OTHER_SITE,
    SITE,
    Room,
    Tablet,
    gauge,
    hazard,
    meter,
    outcomes,
    site,
)

NDJSON = {"Content-Type": "application/x-ndjson"}


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path)
    yield made
    made.close()


def is_problem(answer: Any, status: int) -> None:
    assert answer.status_code == status, answer.text
    assert answer.headers["content-type"] == "application/problem+json"
    found = answer.json()
    assert found["status"] == status
    assert found["type"].startswith("urn:strandline:problem:")
    assert "Traceback" not in answer.text


class ClientPeer:
    """The server as the other end of a real exchange."""

    name = "server"

    def __init__(self, room: Room, tablet: Tablet) -> None:
        self.room, self.tablet = room, tablet

    def request(self, lines: Any, *, after: int, log: str) -> Reply:
        found = self.room.post(self.tablet, list(lines), after=after, log=log)
        verdicts = tuple(Verdict(**verdict) for verdict in found.pop("verdicts"))
        return Reply(verdicts=verdicts, lines=tuple(found.pop("lines")), **found)


def test_two_teams_end_with_the_same_log(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ben = room.tablet("Ben", "officer", SITE)
    for number in range(30):
        ana.write(gauge(number / 100))
        ben.write(meter(f"{number:06d}"))
    for _ in range(2):
        for tablet in (ana, ben):
            exchange(tablet.logbook, ClientPeer(room, tablet))
    with room.store.opened() as central:
        digests = {central.digest(), ana.logbook.digest(), ben.logbook.digest()}
        assert central.size() == 60
    assert len(digests) == 1


def test_when_nothing_is_new_an_exchange_is_one_request(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ana.write(gauge())
    exchange(ana.logbook, ClientPeer(room, ana))
    assert exchange(ana.logbook, ClientPeer(room, ana)).requests == 1


def test_a_second_upload_of_a_line_is_had_already(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ana.write(gauge())
    assert outcomes(room.post(ana, ana.lines())) == ["taken"]
    assert outcomes(room.post(ana, ana.lines())) == ["had it"]


def test_one_bad_line_never_blocks_the_others(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    for stage_m in (0.1, 0.2, 0.3):
        ana.write(gauge(stage_m))
    first, second, third = ana.lines()
    answer = room.post(ana, [first, '{"entry": NaN}', "no json", second, "\u0000", third])
    assert outcomes(answer) == [
        "taken", "quarantined", "quarantined", "taken", "quarantined", "taken",
    ]  # fmt: skip
    assert all(v["why"] for v in answer["verdicts"] if v["outcome"] == "quarantined")
    assert len(room.store.waiting()) == 3


def test_a_line_that_is_no_utf8_is_quarantined_and_not_mended(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ana.write(gauge(remark="caf\ufffd"))  # what a careless reader makes of a wrong byte
    body = ana.lines()[0].encode().replace("\ufffd".encode(), b"\xe9")
    answer = room.client.post("/v1/entries", content=body, headers={**ana.headers, **NDJSON})
    assert outcomes(answer.json()) == ["quarantined"]


def test_an_altered_line_is_quarantined(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ana.write(gauge(0.42))
    altered = ana.lines()[0].replace('"stage_m":0.42', '"stage_m":0.43')
    answer = room.post(ana, [altered])
    assert outcomes(answer) == ["quarantined"]
    assert "chain" in answer["verdicts"][0]["why"]


@pytest.mark.parametrize("method", ["post", "get"])
@pytest.mark.parametrize(
    "header", [None, "Bearer", "Bearer ", "Bearer nobody", "Basic YTpi", "Bearer \u00ff"]
)
def test_without_a_token_nothing_is_told(room: Room, method: str, header: str | None) -> None:
    headers = {**NDJSON, **({} if header is None else {"Authorization": header})}
    raw = {name.encode(): value.encode("latin-1") for name, value in headers.items()}
    answer = room.client.request(method, "/v1/entries", headers=raw)
    is_problem(answer, 401)
    assert answer.headers["www-authenticate"].startswith("Bearer")


def test_nobody_writes_in_anothers_name_or_from_anothers_device(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ben = room.tablet("Ben", "officer", SITE)
    ana.write(gauge())
    assert "device" in room.post(ben, ana.lines())["verdicts"][0]["why"]
    ben.person = "Ana"
    ben.write(gauge())
    answer = room.post(ben, ben.lines())
    assert outcomes(answer) == ["quarantined"]
    assert "Ana" in answer["verdicts"][0]["why"]
    with room.store.opened() as central:
        assert central.size() == 0


def test_a_site_out_of_scope_is_neither_written_nor_read(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    kim = room.tablet("Kim", "coordinator")
    kim.write(gauge(site=OTHER_SITE))
    kim.write(gauge(site=SITE))
    room.post(kim, kim.lines())
    ana.write(gauge(site=OTHER_SITE))
    answer = room.post(ana, ana.lines())
    assert outcomes(answer) == ["quarantined"]
    assert [json.loads(line)["site"] for line in answer["lines"]] == [SITE]


def test_a_record_is_not_pulled_out_of_another_site(room: Room) -> None:
    kim, ana = room.tablet("Kim", "coordinator"), room.tablet("Ana", "officer", SITE)
    record = kim.write(gauge(site=OTHER_SITE))
    room.post(kim, kim.lines())
    ana.write(gauge(site=SITE), record)
    assert outcomes(room.post(ana, ana.lines())) == ["quarantined"]


def test_a_wider_scope_brings_what_was_passed_over_before(room: Room) -> None:
    kim, ana = room.tablet("Kim", "coordinator"), room.tablet("Ana", "officer", SITE)
    kim.write(gauge(site=OTHER_SITE))
    room.post(kim, kim.lines())
    exchange(ana.logbook, ClientPeer(room, ana))
    assert ana.logbook.size() == 0
    room.invite("Ana", "officer", SITE, OTHER_SITE)
    exchange(ana.logbook, ClientPeer(room, ana))
    assert ana.logbook.size() == 1


def test_a_correction_comes_back_to_the_landholder_who_began_the_record(room: Room) -> None:
    ines = room.tablet("Ines", "landholder", SITE)
    kim = room.tablet("Kim", "coordinator")
    ana = room.tablet("Ana", "officer", SITE)
    record = ines.write(meter("004711"))
    ana.write(meter("000001"))
    for tablet in (ines, ana):
        room.post(tablet, tablet.lines())
    exchange(kim.logbook, ClientPeer(room, kim))
    kim.write(meter("004171"), record, note="photo")
    kim.write(site())
    kim.write(hazard())
    exchange(kim.logbook, ClientPeer(room, kim))
    exchange(ines.logbook, ClientPeer(room, ines))
    kinds = [entry.kind for entry in ines.logbook.since(0)[0]]
    assert sorted(kinds) == ["hazard", "meter_reading", "meter_reading", "site"]
    standing = ines.logbook.standing(record)
    assert standing is not None
    assert standing.author == "Kim"


def test_a_revoked_devices_lines_wait_in_quarantine_and_it_reads_nothing(room: Room) -> None:
    ana, kim = room.tablet("Ana", "officer", SITE), room.tablet("Kim", "coordinator")
    ana.write(gauge(0.1))
    room.post(ana, ana.lines())
    kim.write(gauge(0.2))
    room.post(kim, kim.lines())
    room.access.revoke(ana.device, room.clock())
    ana.write(gauge(0.3))
    answer = room.post(ana, ana.lines())
    assert outcomes(answer) == ["had it", "quarantined"]
    assert "shut out" in answer["verdicts"][1]["why"]
    assert answer["lines"] == []
    assert answer["has"] == 2
    is_problem(room.client.get("/v1/entries", headers=ana.headers), 403)
    is_problem(room.client.get("/v1/about", headers=ana.headers), 403)
    is_problem(room.client.get(f"/v1/photos/{'0' * 64}", headers=ana.headers), 403)


def test_a_coordinator_admits_a_line_out_of_quarantine(room: Room) -> None:
    ana = room.tablet("Ana", "officer", SITE)
    ana.write(gauge(site=OTHER_SITE))
    room.post(ana, ana.lines())
    (held,) = room.store.waiting()
    assert room.store.admit(held.place, by="Kim").outcome == "taken"
    assert room.store.waiting() == []
    with room.store.opened() as central:
        assert central.lines_of(ana.device, 0) == ana.lines()


def test_a_page_of_entries_is_read_on_from_its_place(room: Room) -> None:
    kim, ana = room.tablet("Kim", "coordinator"), room.tablet("Ana", "officer", SITE)
    for number in range(7):
        kim.write(gauge(number / 10))
    room.post(kim, kim.lines())
    found, place, log, answer = [], 0, "", {"more": True}
    for _ in range(4):
        answer = room.client.get(
            "/v1/entries",
            params={"after": place, "log": log, "limit": 2},
            headers=ana.headers,
        ).json()
        found += answer["lines"]
        place, log = answer["place"], answer["log"]
    assert found == kim.lines()
    assert not answer["more"]


def test_an_answer_stays_small_when_entries_are_long(tmp_path: Path) -> None:
    room = Room(tmp_path, {"reply_bytes": 20_000})
    kim, ana = room.tablet("Kim", "coordinator"), room.tablet("Ana", "officer", SITE)
    for number in range(12):
        kim.write(gauge(number / 10, remark="r" * 3900))
    room.post(kim, kim.lines())
    first = room.post(ana, [])
    assert 0 < sum(map(len, first["lines"])) <= 20_000
    assert first["more"]
    exchange(ana.logbook, ClientPeer(room, ana))
    assert ana.logbook.size() == 12
    room.close()


def test_an_unpacked_bomb_is_refused(tmp_path: Path) -> None:
    room = Room(tmp_path, {"decompressed_bytes": 1_000_000})
    ana = room.tablet("Ana", "officer", SITE)
    bomb = gzip.compress(b"\n" * 100_000_000, 9)
    assert len(bomb) < 200_000
    packed = {**ana.headers, **NDJSON, "Content-Encoding": "gzip"}
    is_problem(room.client.post("/v1/entries", content=bomb, headers=packed), 413)
    for broken in (bomb[:-40], b"no gzip", bomb[:50]):
        answer = room.client.post("/v1/entries", content=broken, headers=packed)
        assert answer.status_code in (400, 413)
    is_problem(room.client.post("/v1/entries", content=b"no gzip", headers=packed), 400)
    room.close()


def test_requests_out_of_bounds_are_refused(tmp_path: Path) -> None:
    room = Room(tmp_path, {"body_bytes": 1000, "lines_per_request": 3})
    ana = room.tablet("Ana", "officer", SITE)
    headers = {**ana.headers, **NDJSON}
    post = room.client.post
    is_problem(post("/v1/entries", content=b"x" * 1001, headers=headers), 413)
    is_problem(post("/v1/entries", content=iter([b"x" * 600] * 2), headers=headers), 413)
    is_problem(post("/v1/entries", content=b"x\n" * 4, headers=headers), 413)
    is_problem(post("/v1/entries", json={}, headers=ana.headers), 415)
    packed = {**headers, "Content-Encoding": "br"}
    is_problem(post("/v1/entries", content=b"x", headers=packed), 415)
    for asked in ({"after": -1}, {"after": 2**70}, {"limit": 0}, {"limit": 501}, {"after": "x"}):
        is_problem(room.client.get("/v1/entries", params=asked, headers=ana.headers), 422)
    room.close()


def test_every_error_is_a_problem_document(room: Room) -> None:
    is_problem(room.client.get("/nowhere"), 404)
    is_problem(room.client.delete("/v1/entries"), 405)
    is_problem(room.client.post("/v1/enrol", json={"code": 5, "device": "A"}), 422)
    is_problem(room.client.post("/v1/enrol", json={"code": "x", "device": "A", "x": 1}), 422)
    is_problem(room.client.post("/v1/enrol", content=b"{"), 422)
    for page in ("/docs", "/redoc", "/openapi.json"):
        is_problem(room.client.get(page), 404)


def test_a_fault_of_the_server_shows_nothing_of_its_inside(
    room: Room, monkeypatch: pytest.MonkeyPatch
) -> None:
    ana = room.tablet("Ana", "officer", SITE)

    def broken(*_: object) -> None:
        raise ZeroDivisionError("secret words")

    monkeypatch.setattr(room.store, "taken_in", broken)
    answer = room.client.get("/v1/entries", headers=ana.headers)
    is_problem(answer, 500)
    assert "secret words" not in answer.text


def test_about_tells_an_enrolled_device_what_the_server_is(room: Room) -> None:
    is_problem(room.client.get("/v1/about"), 401)
    ana = room.tablet("Ana", "officer", SITE)
    answer = room.client.get("/v1/about", headers=ana.headers)
    found = answer.json()
    assert found["log"] == room.store.log
    assert found["wire"] == "v1"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["cache-control"] == "no-store"
    assert "server" not in answer.headers
