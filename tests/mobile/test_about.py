import re
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from mobile.about import CAUTIONS, chain_state
from mobile.worker import Worker
from shared_core.logbook import Logbook
from shared_core.records.staff_gauge import GaugeReading
from tests.mobile import pilot
from tests.mobile.pilot import Pilot


def flip(path: Path) -> None:
    """Change one letter of a stored line behind the logbook's back."""
    with sqlite3.connect(path) as file:
        file.execute("update entry set line = replace(line, '0.42', '0.43') where place = 1")
    file.close()


def test_a_whole_logbook_is_told_with_its_size(day: Any) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    fact = chain_state(day.logbook)
    assert fact.mood == "fits"
    assert fact.says.startswith(f"Whole: {day.logbook.size()} entries")


def test_a_changed_line_is_found_and_told(
    make_logbook: Callable[..., Logbook], make_day: Callable[..., Any], tmp_path: Path
) -> None:
    path = tmp_path / "logbook.sqlite"
    day = make_day(make_logbook(path))
    flip(path)
    with sqlite3.connect(path) as file:
        file.execute(
            "update entry set line = replace(line, 'invented', 'inventeD') where place = 2"
        )
    file.close()
    fact = chain_state(day.logbook)
    assert fact.mood == "look"
    assert "damaged" in fact.says
    assert fact.says.endswith("Tell your coordinator.")


@pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
def test_the_page_tells_what_is_asked_for_and_checks_in_the_background(
    drive: Callable[..., Pilot], tmp_path: Path, size: Any
) -> None:
    driver = drive(size, practising=False, folder=tmp_path)
    driver.tap(driver.find(name="about"))
    says = driver.texts()
    tablet = driver.app.tablet
    assert "HER-1, used by Ada" in says
    assert str(tmp_path).replace("/", " /").strip() in says
    assert tablet.logbook.log.replace("-", " ") in says
    assert "None yet" in says
    assert any("GB" in text for text in says)
    assert any(sqlite3.sqlite_version in text for text in says)
    driver.tap(driver.find(name="check"))
    driver.until(lambda: "Whole: 0 entries, each follows from the one before." in driver.texts())


def test_a_save_during_the_check_is_not_taken_for_damage(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(folder=tmp_path)
    driver.tap(driver.find(name="site PRA"))
    tablet = driver.app.tablet
    assert tablet.open_again is not None
    with tablet.open_again() as second, second.snapshot():
        before = second.size()
        tablet.day.record(GaugeReading, "G1", {"stage_m": "0.42"})
        fact = chain_state(second)
        assert second.size() == before
    assert (fact.mood, tablet.logbook.size()) == ("fits", before + 1)


def test_the_last_exchange_is_told_with_its_time(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(practising=False, folder=tmp_path)
    at = datetime(2026, 2, 3, 4, 5, tzinfo=UTC).isoformat(timespec="minutes")
    driver.app.tablet.become(exchanged_at=at)
    driver.tap(driver.find(name="about"))
    assert "3 Feb 2026, 04:05 UTC" in driver.texts()


def test_the_cautions_judge_nothing_and_stand_under_the_general_rule() -> None:
    assert CAUTIONS[0].endswith("This app does not judge whether it is safe.")
    rest = " ".join(CAUTIONS[1:])
    assert not re.search(r"\b(safe|safely|compliant|compliance)\b", rest, re.IGNORECASE)


def test_a_fault_in_the_background_is_raised_where_faults_are_written_down() -> None:
    posted: list[Callable[[], None]] = []
    worker = Worker(posted.append)

    def work() -> int:
        raise RuntimeError("broken")

    worker.run(work, lambda _: None)
    while not posted:
        pass
    with pytest.raises(RuntimeError, match="broken"):
        posted[0]()
