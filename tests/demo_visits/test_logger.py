"""The logger's file against the differences found at the visits."""

import csv
from datetime import datetime, timedelta
from itertools import pairwise
from pathlib import Path

import pytest

from demo_visits.logger import (
    REZEROED,
    SENSOR_LEVEL_M,
    depth_shown_m,
    drift_m,
    series,
    write_logger_csv,
)
from demo_visits.season import act_named
from demo_visits.truth import level_at
from demo_visits.visits import visit_named

# Logger less manual level at the visits [mm], as given with the scenario.
DIFFERENCES_MM = {
    "V03": 1,
    "V04": 3,
    "V08": 12,
    "V13": 18,
    "V15": 24,
    "V18": 29,
    "V22": 37,
    "V24": 44,
}


@pytest.mark.parametrize("visit", DIFFERENCES_MM)
def test_the_logger_drifts_away_from_the_gauge_as_told(visit: str) -> None:
    start = visit_named(visit).start
    logged_m = SENSOR_LEVEL_M + depth_shown_m(start, rezeroed=False)
    manual_m = visit_named(visit).level_m
    assert manual_m is not None
    assert 1000 * (logged_m - manual_m) == pytest.approx(DIFFERENCES_MM[visit], abs=2.0)


@pytest.mark.parametrize("visit", [name for name in DIFFERENCES_MM if name != "V24"])
def test_the_check_on_the_form_shows_the_same_difference(visit: str) -> None:
    typed = act_named(f"{visit} logger_check PT1").typed
    apart_mm = 1000 * (float(typed["logged_level_m"]) - float(typed["staff_level_m"]))
    assert apart_mm == pytest.approx(DIFFERENCES_MM[visit], abs=4.5)  # staff read to 5 mm


def test_the_series_steps_down_44_mm_where_the_sensor_was_set_anew() -> None:
    steps = [
        (row.time, 1000 * (row.depth_m - earlier.depth_m)) for earlier, row in pairwise(series())
    ]
    falls = [(time, step) for time, step in steps if step < -20]
    assert [time for time, _ in falls] == [datetime.fromisoformat("2024-02-16T10:00+10:00")]
    assert falls[0][1] == pytest.approx(-44.3, abs=1.1)  # with an hour's fall of the pool
    assert falls[0][0] - REZEROED < timedelta(hours=1)


def test_no_other_hour_jumps() -> None:
    usual = [
        abs(row.depth_m - earlier.depth_m)
        for earlier, row in pairwise(series())
        if row.time.date().isoformat() != "2024-02-16"
    ]
    assert max(usual) < 0.006  # 113 mm a day while filling is under 5 mm an hour


def test_the_drift_is_a_straight_line() -> None:
    start = series()[0].time
    assert drift_m(start) == 0.0
    assert drift_m(start + timedelta(weeks=10)) == pytest.approx(0.016)


def test_a_bare_sensor_shows_its_drift_alone() -> None:
    last = series()[-1]
    assert level_at(last.time) is None
    assert last.depth_m == pytest.approx(drift_m(last.time), abs=0.0006)


def test_the_file_keeps_standard_time_all_year(tmp_path: Path) -> None:
    path = tmp_path / "PT1.csv"
    write_logger_csv(path)
    with path.open(newline="") as file:
        rows = list(csv.reader(file))
    assert rows[0] == ["time_utc_plus_10", "depth_m"]
    times = [datetime.fromisoformat(row[0]) for row in rows[1:]]
    gaps = {later - earlier for earlier, later in pairwise(times)}
    assert gaps == {timedelta(hours=1)}
    assert rows[1] == ["2023-08-06 09:00", "0.123"]  # 71.273 less 71.150
