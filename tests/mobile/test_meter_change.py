"""A change of meter: one form, four lines, told as one."""

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mobile.field_day import Device, FieldDay
from mobile.meter_change import MeterChange, MeterChangeEntry
from shared_core.errors import UnknownError
from shared_core.logbook import Logbook
from shared_core.records import KINDS
from shared_core.records.meter_setup import MeterFitted
from shared_core.records.pump_meter import MeterReading
from tests.mobile import pilot
from tests.mobile.pilot import Pilot

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
FILLED = {
    "meter": "M2", "final_display": "008700", "changed_at": "2026-03-02 07:45+10:00",
    "serial": "A-77", "unit": "ML", "figures": "7", "start_display": "0000003", "decimals": "1",
}  # fmt: skip


@pytest.fixture
def begin(day: FieldDay, clock: Any) -> Any:
    """begin(**changed boxes) -> the form of changing M1, filled in"""

    def make(**changes: str) -> MeterChangeEntry:
        entry = MeterChangeEntry(day, "M1", Device(now=clock(), offset_min=600), None)
        for field, text in (FILLED | changes).items():
            entry.type(field, text)
        return entry

    return make


def keep(entry: MeterChangeEntry) -> Any:
    return entry.keep() or entry.keep()


def fitted(day: FieldDay) -> Any:
    return {s.record.meter: s.record for s in day.logbook.known().every(MeterFitted, day.site)}


def readings(day: FieldDay) -> Any:
    every = day.logbook.known().every(MeterReading, day.site)
    return [(s.record.point, s.record.display) for s in every if s.record.visit == day.visit]


def test_one_save_ends_the_old_meter_and_begins_the_new(
    begin: Callable[..., Any], day: FieldDay
) -> None:
    size = day.logbook.size()
    assert keep(begin()) is not None
    assert day.logbook.size() == size + 4
    old, new = fitted(day)["M1"], fitted(day)["M2"]
    assert old.final_display == "008700"
    assert old.removed_at == new.valid_from
    assert (new.replaces, new.start_display, new.unit) == ("M1", "0000003", "ML")
    assert (new.figures, new.decimals, new.multiplier, new.serial) == (7, 1, 1.0, "A-77")
    assert sorted(readings(day)) == [("M1", "008700"), ("M2", "0000003")]
    assert day.logbook.drafts().keys() & {f"meter_change/PRA/M1/{day.visit}"} == set()


def test_the_new_meter_is_on_the_list_and_done_and_the_old_is_not(
    begin: Callable[..., Any], day: FieldDay, clock: Any
) -> None:
    keep(begin())
    meters = {item.point: item.done for item in day.to_do() if item.kind is MeterReading}
    assert meters == {"M2": True}


@pytest.mark.parametrize("written", [1, 2, 3])
def test_a_save_cut_off_goes_on_where_it_stopped(
    begin: Callable[..., Any],
    day: FieldDay,
    monkeypatch: pytest.MonkeyPatch,
    written: int,
) -> None:
    size, write = day.logbook.size(), Logbook.write

    def write_a_few(self: Any, *what: Any, **more: Any) -> Any:
        if self.size() == size + written:
            raise KeyboardInterrupt
        return write(self, *what, **more)

    monkeypatch.setattr(Logbook, "write", write_a_few)
    with pytest.raises(KeyboardInterrupt):
        keep(begin())
    monkeypatch.setattr(Logbook, "write", write)
    assert day.logbook.size() == size + written
    again = begin()  # what was typed is in the draft still
    assert keep(again) is not None
    assert day.logbook.size() == size + 4
    assert sorted(readings(day)) == [("M1", "008700"), ("M2", "0000003")]
    assert fitted(day)["M1"].final_display == "008700"


def test_a_new_meter_under_an_old_name_is_asked_about(begin: Callable[..., Any]) -> None:
    lines = begin(meter="M1").shown().seen.lines
    assert any("is the name of a meter that was here before" in line.says for line in lines)


def test_last_figures_lower_than_before_are_asked_about(begin: Callable[..., Any]) -> None:
    lines = begin(final_display="000001").shown().seen.lines
    assert any(line.field == "final_display" for line in lines)


def test_nothing_is_written_before_all_that_is_needed_is_there(
    begin: Callable[..., Any], day: FieldDay
) -> None:
    size = day.logbook.size()
    entry = begin(serial="")
    assert entry.keep() is None
    assert day.logbook.size() == size
    assert entry.shown().seen.button.words == "Still needed: New meter's serial number"


def test_a_meter_that_is_not_set_up_cannot_be_changed(day: FieldDay, clock: Any) -> None:
    with pytest.raises(UnknownError, match="no meter M9"):
        MeterChangeEntry(day, "M9", Device(now=clock(), offset_min=600), None)


def test_the_form_is_no_kind_of_record() -> None:
    assert MeterChange not in KINDS


@BOTH
def test_a_meter_is_changed_by_touch(drive: Callable[..., Pilot], size: tuple[int, int]) -> None:
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="meter_change M1"))
    for name, text in (("meter", "M2"), ("serial", "A77")):
        driver.tap(driver.find(name=f"box {name}"))
        driver.type(text)
    for name, keys in (("final_display", "008700"), ("figures", "6"), ("start_display", "000000")):
        driver.tap(driver.find(name=f"box {name}"))
        driver.keys(keys)
    driver.tap(driver.find(name="now changed_at"))
    driver.tap(driver.find(name="unit kL"))
    driver.tap(driver.find(name="keep"))
    day = driver.app.tablet.day
    if "M2" not in fitted(day):
        driver.tap(driver.find(name="keep"))
    assert "Kept as one: M1 out at 008700, M2 in at 000000." in driver.texts()
    assert len(readings(day)) == 2
    driver.tap(driver.find(text="Back to the site"))
    assert driver.app.router.current == "site"
    assert driver.all(name="meter_change M1") == []


def test_a_killed_app_still_has_the_half_typed_change(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(folder=tmp_path)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="meter_change M1"))
    driver.tap(driver.find(name="box final_display"))
    driver.keys("0087")
    killed = driver.app.tablet.logbook
    driver.kill()
    again = drive(folder=tmp_path)
    again.tap(again.find(name="site PRA"))
    again.tap(again.find(name="meter_change M1"))
    assert again.find(name="box final_display").text == "0087"
    killed.close()
