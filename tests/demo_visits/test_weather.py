"""The season's weather against its check sums and against the daily truth."""

import csv
from datetime import date
from pathlib import Path

import pytest

from demo_visits.truth import truth_days
from demo_visits.weather import weather, write_weather_csv


def test_the_season_has_a_row_for_each_of_its_275_days() -> None:
    days = [row.day for row in weather()]
    assert (days[0], days[-1], len(days)) == (date(2023, 7, 1), date(2024, 3, 31), 275)
    assert date(2024, 2, 29) in days
    assert len(set(days)) == len(days)


def test_rain_and_evaporation_add_up_to_the_seasons_sums() -> None:
    # Sums given with the scenario: 192.2 mm of rain, 1268.6 mm of reference evaporation.
    assert sum(row.rain_mm for row in weather()) == pytest.approx(192.2, abs=1e-6)
    assert sum(row.eto_mm for row in weather()) == pytest.approx(1268.6, abs=1e-6)


def test_every_day_agrees_with_the_daily_truth() -> None:
    by_day = {row.day: row for row in weather()}
    for true in truth_days():
        assert by_day[true.day].rain_mm == true.rain_mm
        assert by_day[true.day].eto_mm == true.eto_mm


def test_a_wet_day_evaporates_less_than_the_days_beside_it() -> None:
    by_day = {row.day: row.eto_mm for row in weather()}
    storm = date(2024, 1, 5)
    assert by_day[storm] < 0.7 * min(by_day[date(2024, 1, 4)], by_day[date(2024, 1, 6)])


def test_the_weather_file_reads_back_as_it_was(tmp_path: Path) -> None:
    path = tmp_path / "weather.csv"
    write_weather_csv(path)
    with path.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert list(rows[0]) == ["date", "rain_mm", "eto_mm"]
    read = [(row["date"], float(row["rain_mm"]), float(row["eto_mm"])) for row in rows]
    assert read == [(row.day.isoformat(), row.rain_mm, row.eto_mm) for row in weather()]
