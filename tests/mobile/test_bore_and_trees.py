"""A bore's two dips, and one tree after another."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mobile.bore_entry import BoreEntry
from mobile.field_day import Device, FieldDay
from mobile.next_point import next_point
from shared_core.records.bore import BoreDip
from shared_core.records.points_setup import TreeTagged
from shared_core.records.tree import TreeScore
from tests.mobile import pilot
from tests.mobile.kept import record_of
from tests.mobile.pilot import Pilot

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])


@pytest.fixture
def bore(day: FieldDay, clock: Any) -> Any:
    device = Device(now=clock(), offset_min=600)
    return BoreEntry(day.draft(BoreDip, "B1"), day, "B1", device, None)


def dip(bore: BoreEntry, first: str, second: str, mark: str = "casing") -> Any:
    for field, text in (("dip_1_m", first), ("dip_2_m", second), ("mark", mark)):
        bore.type(field, text)
    return bore.shown()


@pytest.mark.parametrize(
    ("second", "says", "mood"),
    [("3.155", "The two dips are 5 mm apart.", "fits"), ("3.162", "The two dips are 12 mm apart.", "look"),
     ("3.160", "The two dips are 10 mm apart.", "fits")],
)  # fmt: skip
def test_how_far_two_dips_are_apart_is_said_at_once(
    bore: BoreEntry, second: str, says: str, mood: str
) -> None:
    bore.type("dip_1_m", "3.150")
    bore.type("dip_2_m", second)
    shown = bore.shown()
    assert (shown.apart, shown.apart_mood) == (says, mood)


def test_a_shorter_dip_is_rising_water(bore: BoreEntry) -> None:
    # practice: 3.215 m below the casing at the last visit, the mean of 3.214 and 3.216
    shown = dip(bore, "3.100", "3.104")
    assert (shown.way, shown.water.split(" since")[0]) == (1, "The water has risen 113 mm")


def test_a_longer_dip_is_falling_water(bore: BoreEntry) -> None:
    shown = dip(bore, "3.300", "3.300")
    assert (shown.way, shown.water.split(" since")[0]) == (-1, "The water has fallen 85 mm")


def test_a_dip_from_the_ground_is_compared_from_the_casing(bore: BoreEntry) -> None:
    # practice: the casing stands 0.400 m above the ground, so 2.715 m below ground is 3.115 m
    assert dip(bore, "2.715", "2.715", "ground").water.startswith("The water has risen 100 mm")


def test_dips_from_different_marks_are_not_compared(bore: BoreEntry) -> None:
    shown = dip(bore, "3.3", "3.3", "other")
    assert (shown.way, shown.water) == (0, "The marks differ, so the change is not known.")


def test_a_dip_is_kept_with_its_mark(bore: BoreEntry, day: FieldDay) -> None:
    dip(bore, "3.210", "3.212")
    kept = record_of(day, bore.keep())
    assert (kept.dip_1_m, kept.dip_2_m, kept.mark) == (3.21, 3.212, "casing")


@BOTH
def test_a_bore_is_dipped_by_touch(drive: Callable[..., Pilot], size: tuple[int, int]) -> None:
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="bore_dip B1"))
    for name, keys in (("dip_1_m", "3.210"), ("dip_2_m", "3.214")):
        driver.tap(driver.find(name=f"box {name}"))
        driver.keys(keys)
    assert driver.find(kind="DipsSaid").ids.apart.says == "The two dips are 4 mm apart."
    driver.tap(driver.find(name="mark casing"))
    assert driver.find(kind="WaterCard").way == 1
    driver.tap(driver.find(name="keep"))
    day = driver.app.tablet.day
    dips = [s.record for s in day.logbook.known().every(BoreDip, day.site)]
    assert [d.dip_2_m for d in dips if d.visit == day.visit] == [3.214]


def test_a_killed_app_still_has_the_first_dip(drive: Callable[..., Pilot], tmp_path: Path) -> None:
    driver = drive(folder=tmp_path)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="bore_dip B1"))
    driver.tap(driver.find(name="box dip_1_m"))
    driver.keys("3.2")
    killed = driver.app.tablet.logbook
    driver.kill()
    again = drive(folder=tmp_path)
    again.tap(again.find(name="site PRA"))
    again.tap(again.find(name="bore_dip B1"))
    assert again.find(name="box dip_1_m").text == "3.2"
    killed.close()


def test_the_next_tree_is_the_next_without_a_score(day: FieldDay) -> None:
    assert next_point(day, TreeTagged, TreeScore, "T1") == "T2"
    day.record(TreeScore, "T2", {"extent_pct": "70"})
    assert next_point(day, TreeTagged, TreeScore, "T1") == ""
    assert next_point(day, TreeTagged, TreeScore, "T2") == "T1"


@BOTH
def test_one_tree_after_another_is_scored_by_touch(
    drive: Callable[..., Pilot], size: tuple[int, int]
) -> None:
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="tree_score T1"))
    driver.tap(driver.find(name="new_tips common"))
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(text="Next tree: T2"))
    driver.tap(driver.find(name="die_off scarce"))
    driver.tap(driver.find(name="keep"))
    day = driver.app.tablet.day
    trees = {s.record.point: s.record for s in day.logbook.known().every(TreeScore, day.site)}
    assert (trees["T1"].new_tips, trees["T2"].die_off) == ("common", "scarce")
    assert driver.app.router.current == "site"
