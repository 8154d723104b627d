"""Who may write and read what: every role with own and other people's records."""

import dataclasses
from typing import Any

import pytest

from shared_core.logbook import Logbook, Said
from shared_core.merge import Entry
from shared_core.records import KINDS
from shared_core.records.base import Record, SetUp
from shared_core.records.meter_setup import MeterFitted
from shared_core.records.plan import WateringPlan
from sync_server.access import Caller
from sync_server.rights import (
    FIELD_SET_UP,
    LANDHOLDER_KINDS,
    SEEN_KINDS,
    SET_UP_KINDS,
    may_see,
    refusal,
)
from tests.sync_server.rooms import OTHER_SITE, SITE, START, Clock, Names, gauge, meter

ROLES = ("officer", "landholder", "coordinator")


def caller(role: str, name: str = "Ana", **more: Any) -> Caller:
    made = Caller(name=name, role=role, sites=(SITE,), device="ANA-1")
    return dataclasses.replace(made, **more)


def entry(kind: str, author: str = "Ana", **more: Any) -> Entry:
    made = Entry(
        entry="e1", record="r1", kind=kind, site=SITE, body={"site": SITE, "point": "M1"},
        replaces=(), author=author, device="ANA-1", seq=1, written_at=START,
    )  # fmt: skip
    return dataclasses.replace(made, **more)


def begun_by(author: str, kind: str = "gauge_reading", site: str = SITE) -> Entry:
    return entry(kind, author, entry="e0", device="OTHER-1", site=site)


def history(*records: Record, author: str = "Kim") -> list[Entry]:
    """Write the first record, correct it to the others, and return all entries."""
    with Logbook(":memory:", device="KIM-1", clock=Clock(), new_id=Names()) as logbook:
        name = None
        for record in records:
            name = logbook.write(record, Said(author=author), record_id=name).record
        assert name is not None
        return logbook.history(name)


def correction(before: Record, after: Record) -> tuple[Entry, list[Entry]]:
    """Return Ana's correction of a record that Kim began, and what was there."""
    first, second = history(before, after)
    return dataclasses.replace(second, author="Ana", device="ANA-1"), [first]


def test_every_kind_is_observation_or_set_up() -> None:
    assert {kind.kind for kind in KINDS} == SEEN_KINDS | SET_UP_KINDS
    assert not SEEN_KINDS & SET_UP_KINDS
    assert FIELD_SET_UP <= SET_UP_KINDS
    assert LANDHOLDER_KINDS <= SEEN_KINDS


@pytest.mark.parametrize("kind", [kind.kind for kind in KINDS])
def test_each_role_writes_its_kinds_and_no_others(kind: str) -> None:
    may = {
        "coordinator": True,
        "officer": kind in SEEN_KINDS or kind in FIELD_SET_UP,
        "landholder": kind in LANDHOLDER_KINDS,
    }
    for role, allowed in may.items():
        assert (refusal(entry(kind), caller(role), []) == "") is allowed, role


def test_a_kind_of_a_newer_version_is_kept_from_officers_on() -> None:
    said = {role: refusal(entry("frog_call"), caller(role), []) for role in ROLES}
    assert [role for role, why in said.items() if not why] == ["officer", "coordinator"]


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize(
    "change",
    [
        {"author": "Ben"},
        {"device": "BEN-1"},
        {"site": OTHER_SITE, "body": {"site": OTHER_SITE}},
        {"site": None, "body": {}},
        {"body": {"site": OTHER_SITE}},
        {"replaces": ("not here",)},
    ],
)
def test_no_role_writes_for_others_or_outside_its_scope(role: str, change: dict[str, Any]) -> None:
    assert refusal(entry("gauge_reading", **change), caller(role), []) != ""


@pytest.mark.parametrize("role", ROLES)
def test_a_revoked_device_writes_nothing(role: str) -> None:
    shut = caller(role, revoked_at=START)
    assert "shut out" in refusal(entry("gauge_reading"), shut, [])


@pytest.mark.parametrize("role", ROLES)
@pytest.mark.parametrize("body", [{"site": SITE}, None])
def test_only_a_coordinator_corrects_or_withdraws_what_others_began(
    role: str, body: dict[str, object] | None
) -> None:
    said = entry("gauge_reading", replaces=("e0",), body=body)
    if body is not None:
        said = dataclasses.replace(said, body={**body, "stage_m": 0.5})
    assert refusal(said, caller(role), [begun_by("Ana")]) == ""
    assert (refusal(said, caller(role), [begun_by("Ben")]) == "") is (role == "coordinator")


def test_somebody_elses_record_cannot_be_written_over_without_naming_what_it_replaces() -> None:
    assert refusal(entry("gauge_reading"), caller("officer"), [begun_by("Ben")]) != ""


def test_an_officer_answers_a_correction_of_an_own_record() -> None:
    first = begun_by("Ana")
    second = entry("gauge_reading", "Kim", entry="e2", device="KIM-1", replaces=("e0",))
    answer = entry("gauge_reading", entry="e3", replaces=("e2",))
    assert refusal(answer, caller("officer"), [first, second]) == ""


def test_a_record_keeps_its_kind_and_cannot_leave_a_foreign_site() -> None:
    changed = entry("meter_reading", replaces=("e0",))
    assert refusal(changed, caller("coordinator"), [begun_by("Ana")]) != ""
    moved = entry("gauge_reading", replaces=("e0",))
    assert refusal(moved, caller("officer"), [begun_by("Ana", site=OTHER_SITE)]) != ""


def plan(**changes: Any) -> WateringPlan:
    made = WateringPlan(site=SITE, valid_from=START, season="2023", until=START)
    return made.changed(**changes)


def test_an_officer_closes_the_plan_with_its_dry_date_and_changes_nothing_else_of_it() -> None:
    closing = correction(plan(), plan(dry_on=START.date()))
    assert refusal(closing[0], caller("officer"), closing[1]) == ""
    assert refusal(closing[0], caller("landholder"), closing[1]) != ""
    more = correction(plan(), plan(dry_on=START.date(), target_level_m=72.0))
    assert refusal(more[0], caller("officer"), more[1]) != ""


def test_an_officer_writes_down_that_a_meter_was_taken_off() -> None:
    fitted = MeterFitted(site=SITE, valid_from=START, meter="M1", serial="1", unit="kL", figures=6)
    off = correction(fitted, fitted.changed(removed_at=START, final_display="004711"))
    assert refusal(off[0], caller("officer"), off[1]) == ""
    other = correction(fitted, fitted.changed(multiplier=10.0))
    assert refusal(other[0], caller("officer"), other[1]) != ""


def test_a_landholder_with_listed_points_reads_only_these() -> None:
    ines = caller("landholder", points=("M1", "SG1"))
    assert refusal(entry("meter_reading"), ines, []) == ""
    other = entry("meter_reading", body={"site": SITE, "point": "M2"})
    assert "M2" in refusal(other, ines, [])
    photo = entry("photo_taken", body={"site": SITE, "point": "P9"})
    assert refusal(photo, ines, []) == ""


def nothing(_: str) -> list[Entry]:
    return []


@pytest.mark.parametrize("kind", [kind.kind for kind in KINDS])
def test_a_landholder_reads_set_up_hazards_and_own_records(kind: str) -> None:
    others = entry(kind, "Ben", device="BEN-1")
    set_up = issubclass({k.kind: k for k in KINDS}[kind], SetUp)
    assert may_see(others, caller("landholder"), nothing) is (set_up or kind == "hazard")
    assert may_see(entry(kind), caller("landholder"), nothing)
    assert may_see(others, caller("officer"), nothing)
    assert not may_see(others, caller("officer", sites=(OTHER_SITE,)), nothing)
    assert not may_see(others, caller("landholder", sites=(OTHER_SITE,)), nothing)


def test_a_landholder_reads_corrections_of_own_records_only() -> None:
    mine, others = history(meter(), meter("1"), author="Ana"), history(gauge(), gauge(0.5))
    ines = caller("landholder")
    corrected = dataclasses.replace(mine[1], author="Kim")
    assert may_see(corrected, ines, lambda _: [mine[0], corrected])
    assert not may_see(others[1], ines, lambda _: others)


def test_a_coordinator_without_listed_sites_reaches_all() -> None:
    assert caller("coordinator", sites=()).reaches(OTHER_SITE)
    assert caller("coordinator", sites=()).reaches(None)
    assert not caller("coordinator").reaches(OTHER_SITE)
    assert not caller("officer", sites=()).reaches(SITE)
