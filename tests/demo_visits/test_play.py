"""The season played end to end: the same every time, whatever the line does, and as it should come out."""

import json
import shutil
from pathlib import Path
from typing import Any

import pytest

from demo_visits.__main__ import main
from demo_visits.judge import ANSWERS_TO
from demo_visits.season import PLANTED
from demo_visits.server_process import answer_of, command

pytestmark = pytest.mark.slow


def _played(folder: Path, *words: str) -> dict[str, Any]:
    status = main(["--check", "--no-serve", "--folder", str(folder), *words])
    found: dict[str, Any] = json.loads((folder / "check.json").read_text(encoding="utf-8"))
    return found | {"status": status}


@pytest.fixture(scope="module")
def season(tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    folder = tmp_path_factory.mktemp("season")
    return _played(folder), folder


@pytest.fixture(scope="module")
def season_on_a_bad_line(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    return _played(tmp_path_factory.mktemp("bad_line"), "--cuts", "10", "--seed", "7")


def test_the_demo_ends_well_when_every_figure_and_every_error_is_as_expected(
    season: tuple[dict[str, Any], Path],
) -> None:
    played, _ = season
    missed = [name for name, held in played["planted"].items() if not held]
    missed += [figure["what"] for figure in played["figures"] if not figure["held"]]
    assert missed == []
    assert played["status"] == 0


def test_all_29_planted_errors_are_judged(season: tuple[dict[str, Any], Path]) -> None:
    played, _ = season
    assert sorted(played["planted"]) == sorted(error.id for error in PLANTED)
    assert sorted(ANSWERS_TO) == sorted(played["planted"])


def test_ten_cuts_at_random_bytes_give_the_same_state_digest(
    season: tuple[dict[str, Any], Path], season_on_a_bad_line: dict[str, Any]
) -> None:
    played, _ = season
    assert season_on_a_bad_line["broke"] >= played["broke"] + 10
    assert season_on_a_bad_line["digest"] == played["digest"]
    assert season_on_a_bad_line["status"] == 0


def test_the_report_lies_where_the_demo_says(season: tuple[dict[str, Any], Path]) -> None:
    _, folder = season
    page = (folder / "report" / "report.html").read_text(encoding="utf-8")
    assert "Lantern Reed Swamp" in page
    assert "157.7" in page


def test_the_audit_of_the_carry_file_lists_the_findings(
    season: tuple[dict[str, Any], Path],
) -> None:
    _, folder = season
    lines = command("audit", str(folder / "season.strand")).splitlines()
    codes = {json.loads(line)["code"] for line in lines}
    assert {"unit-slip", "wrong-gauge", "meter-rolled", "bore-mark", "site-distance"} <= codes


def test_verify_reports_one_flipped_byte_in_a_copy_of_the_logbook(
    season: tuple[dict[str, Any], Path], tmp_path: Path
) -> None:
    _, folder = season
    whole = folder / "server" / "central.logbook"
    copy = tmp_path / "server"
    shutil.copytree(folder / "server", copy)
    assert answer_of("verify", "--data", str(copy))["problems"] == []
    data = bytearray(whole.read_bytes())
    place = data.index(b'"stage_m":0.643')
    data[place + len('"stage_m":0.6')] ^= 1
    (copy / "central.logbook").write_bytes(bytes(data))
    said = command("verify", "--data", str(copy), may_fail=True)
    assert "line" in said
    assert "All is as it was written" not in said


def test_a_folder_with_other_files_is_left_alone(tmp_path: Path) -> None:
    precious = tmp_path / "notes.txt"
    precious.write_text("mine", encoding="utf-8")
    assert main(["--no-serve", "--folder", str(tmp_path)]) == 2
    assert precious.read_text(encoding="utf-8") == "mine"


def test_the_judge_can_say_no() -> None:
    """A negative control: a balance that lost the stuck meter's water must be seen as a miss."""
    from demo_visits.judge import compared

    row = {"name": "P1", "estimated_megalitres": 0.0, "terms": _terms(58.1, 9.6, 274.82)}
    season = {"name": "season", "estimated_megalitres": 0.0, "terms": _terms(139.2, 24.0, 326.82)}
    held = {c.what: c.held for c in compared({"periods": [row], "season": season})}
    assert held["P1 residual"]
    assert not held["P2 residual"]
    assert not held["season residual"]
    assert not held["estimated"]
    assert held["metered"]


def _terms(residual: float, sd: float, pumped: float) -> dict[str, dict[str, float]]:
    return {
        "residual": {"megalitres": residual, "sd_megalitres": sd},
        "pumped": {"megalitres": pumped, "sd_megalitres": 1.0},
    }
