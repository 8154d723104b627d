"""What a season tells about a site: all histories together, in the audit and by itself."""

import json
from datetime import timedelta
from pathlib import Path

import pytest

from shared_core.carry import write_carry
from shared_core.records.plan import WateringPlan
from shared_core.records.water_setup import Limits
from sync_server.audit import audit
from sync_server.overview import over_time, sites_of
from tests.shared_core.records.limit_cases import MORNING, days_later
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at
from tests.shared_core.records.test_over_time import pairs_read
from tests.sync_server.commands import fine
from tests.sync_server.grounds import EPSG, ascii_text, lantern

LATER = at(MORNING) + timedelta(days=90)


@pytest.fixture
def swamp() -> Swamp:
    made = Swamp()
    made.set_up()
    return made


def lines(swamp: Swamp) -> list[str]:
    return list(swamp.logbook.lines_of("HER-1", 0))


def test_a_site_without_records_has_nothing_to_tell(swamp: Swamp) -> None:
    assert sites_of(swamp.logbook) == ["LRS", "SBL"]
    assert over_time(swamp.logbook, SITE, LATER) == []
    assert over_time(swamp.logbook, "SBL", LATER, lantern(surveyed=True)) == []


def test_hindsight_ends_with_what_the_season_tells(swamp: Swamp) -> None:
    pairs_read(swamp, lambda week: 0.060 if week >= 4 else 0.0)
    found = [each for each in audit(lines(swamp), hindsight=True) if each.kind == "over time"]
    assert [(each.code, each.entry) for each in found] == [("pair-step", "")]
    assert len(found[0].record.split()) == 4
    assert not [each for each in audit(lines(swamp)) if each.kind == "over time"]


def test_a_site_can_set_the_limit_of_a_history(swamp: Swamp) -> None:
    pairs_read(swamp, lambda week: 0.060 if week >= 4 else 0.0)
    assert [each.finding.code for each in over_time(swamp.logbook, SITE, LATER)] == ["pair-step"]
    swamp.write(Limits(site=SITE, valid_from=JULY, values=(("gauge-pair", 0.070, ""),)))
    assert over_time(swamp.logbook, SITE, LATER) == []


@pytest.mark.parametrize(
    ("end_m", "told"), [(0.70, []), (0.05, ["residual-fast"]), (0.995, ["residual-negative"])]
)
def test_a_periods_residual_must_be_able_to_be_seepage(
    swamp: Swamp, end_m: float, told: list[str]
) -> None:
    plan = swamp.logbook.known().every(WateringPlan, SITE)[0]
    periods = (("hold", at(days_later(0))),)
    swamp.write(plan.record.changed(valid_from=at(days_later(-1)), periods=periods))
    swamp.write(swamp.gauge("SG1", MORNING, 0.800), swamp.gauge("SG1", days_later(20), end_m))
    found = over_time(swamp.logbook, SITE, LATER)
    assert [each.finding.code for each in found] == told
    assert all(each.record_ids for each in found)


def test_the_audit_command_takes_a_ground_model_and_says_so_in_json(
    swamp: Swamp, tmp_path: Path
) -> None:
    pairs_read(swamp, lambda _: 0.040)
    carry = tmp_path / "season.strand"
    dem = tmp_path / "ground.asc"
    dem.write_text(ascii_text(lantern(surveyed=True)), encoding="utf-8")
    write_carry(carry, swamp.logbook, None, made_at=JULY)
    printed = fine("audit", carry, "--hindsight", "--json", "--dem", dem, "--epsg", EPSG)
    found = [json.loads(line) for line in printed.splitlines()]
    assert [each["code"] for each in found if each["kind"] == "over time"] == ["pair-offset"]
