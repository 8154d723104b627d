"""A vegetation plot: the presenter, and its screen by touch."""

from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from mobile.field_day import Device, FieldDay
from mobile.plot_entry import PlotEntry
from shared_core.records.vegetation_plot import PlotScore
from tests.mobile import pilot
from tests.mobile.kept import record_of
from tests.mobile.pilot import Pilot

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])


@pytest.fixture
def begin(day: FieldDay, clock: Any) -> Any:
    """begin() -> the entry of plot Q1"""
    return lambda: PlotEntry(
        day.draft(PlotScore, "Q1"), day, "Q1", Device(now=clock(), offset_min=600), None
    )


def keep(entry: PlotEntry) -> Any:
    return entry.keep() or entry.keep()


def score(entry: PlotEntry, cover: str = "25") -> None:
    """Score one plant of the last visit and the ground."""
    entry.choose_found("yes")
    place = entry.add_plant("Common reed")
    entry.type_cell(place, "cover_pct", cover)
    for name, text in (("bare_pct", "40"), ("litter_pct", "20"), ("open_water_pct", "30")):
        entry.type(name, text)


def test_plants_of_the_last_visit_are_offered_with_empty_values(begin: Callable[..., Any]) -> None:
    entry = begin()
    assert entry.shown().last_time == ("Common reed", "Spear thistle")
    place = entry.add_plant("Spear thistle")
    cells = {name: entry.cell(place, name) for name in ("cover_pct", "stage", "count")}
    assert cells == {"cover_pct": "", "stage": "", "count": ""}
    # what belongs to the plant comes along
    assert (entry.cell(place, "group"), entry.cell(place, "native")) == ("T", "no")
    assert entry.shown().last_time == ("Common reed",)


def test_a_plant_without_its_cover_says_what_is_needed(begin: Callable[..., Any]) -> None:
    entry = begin()
    entry.add_plant("Common reed")
    (row,) = entry.shown().plants
    assert (row.title, row.says, row.mood) == ("Common reed", "Still needed: cover", "look")
    entry.type_cell(0, "cover_pct", "25")
    (row,) = entry.shown().plants
    assert (row.says, row.mood) == ("25 %, Amphibious, tolerates", "fits")


def test_a_scored_plot_is_kept_on_its_own_area(begin: Callable[..., Any], day: FieldDay) -> None:
    entry = begin()
    score(entry)
    kept = record_of(day, keep(entry))
    assert (kept.found, kept.area_m2, kept.scale) == (True, 1.0, "Direct percent")
    (plant,) = kept.plants
    assert (plant.taxon, plant.cover_pct, plant.native, plant.certain) == (
        "Common reed", 25.0, True, True,
    )  # fmt: skip


def test_the_sums_are_shown(begin: Callable[..., Any]) -> None:
    entry = begin()
    score(entry)
    words = entry.shown().sum_words
    assert "Bare, litter and water come to 90 %" in words
    assert "Plants come to 25 %" in words


def test_a_peg_not_found_is_kept_without_plants(begin: Callable[..., Any], day: FieldDay) -> None:
    entry = begin()
    entry.choose_found("no")
    assert entry.shown().seen.button.words.endswith("“not found”")
    kept = record_of(day, keep(entry))
    assert (kept.found, kept.species) == (False, ())


def test_names_with_separators_in_them_stay_whole(begin: Callable[..., Any]) -> None:
    entry = begin()
    place = entry.add_plant()
    entry.type_cell(place, "taxon", 'reed; the "tall" one')
    assert entry.cell(place, "taxon") == 'reed; the "tall" one'
    assert len(entry.rows()) == 1


def test_a_plant_can_be_taken_out(begin: Callable[..., Any]) -> None:
    entry = begin()
    entry.add_plant("Common reed")
    entry.add_plant("Spear thistle")
    entry.drop_plant(0)
    assert [row[0] for row in entry.rows()] == ["Spear thistle"]


def test_half_a_row_is_on_disk(begin: Callable[..., Any]) -> None:
    entry = begin()
    entry.add_plant("Common reed")
    entry.type_cell(0, "cover_pct", "2")
    assert begin().cell(0, "cover_pct") == "2"


def test_a_second_scoring_names_the_first_and_its_values_are_not_shown(
    begin: Callable[..., Any], day: FieldDay, clock: Any
) -> None:
    first = begin()
    score(first, "77")
    saved = keep(first)
    clock.now += timedelta(minutes=20)
    second = begin()
    shown = second.shown()
    assert shown.second_of == "Second scoring, after Ada at 08:00"
    assert shown.last_time == ("Common reed", "Spear thistle")  # of the last visit, not the first
    assert "77" not in str(shown)
    second.call_second()
    second.type("observers", "Ben")
    score(second, "60")
    kept = record_of(day, keep(second))
    assert kept.second_observer_of == saved.entry.record
    assert kept.observers == ("Ben",)


@BOTH
def test_a_plot_is_scored_by_touch(drive: Callable[..., Pilot], size: tuple[int, int]) -> None:
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="plot_score Q1"))
    assert driver.all(name="add plant") == []  # the peg first
    driver.tap(driver.find(name="found yes"))
    driver.tap(driver.find(name="add Common reed"))
    driver.tap(driver.find(name="box cover_pct"))
    driver.keys("25")
    driver.tap(driver.find(name="stage adult"))
    assert driver.find(name="plant 1").says == "25 %, Amphibious, tolerates, Adult"
    driver.tap(driver.find(name="box bare_pct"))
    driver.keys("40")
    assert "come to 40 %" in driver.find(name="sums").text
    driver.tap(driver.find(name="keep"))
    day = driver.app.tablet.day

    def scores() -> Any:
        every = day.logbook.known().every(PlotScore, day.site)
        return [s.record for s in every if s.record.visit == day.visit]

    if not scores():
        driver.tap(driver.find(name="keep"))
    (kept,) = scores()
    assert [(p.taxon, p.cover_pct, p.stage) for p in kept.plants] == [
        ("Common reed", 25.0, "adult")
    ]


def test_a_killed_app_still_has_the_half_scored_plant(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(folder=tmp_path)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="plot_score Q1"))
    driver.tap(driver.find(name="found yes"))
    driver.tap(driver.find(name="add Spear thistle"))
    driver.tap(driver.find(name="box cover_pct"))
    driver.keys("4")
    killed = driver.app.tablet.logbook
    driver.kill()
    again = drive(folder=tmp_path)
    again.tap(again.find(name="site PRA"))
    again.tap(again.find(name="plot_score Q1"))
    assert again.find(name="plant 1").says == "4 %, Dry ground"
    killed.close()
