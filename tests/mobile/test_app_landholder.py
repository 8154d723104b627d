"""A landholder's whole log on the real app, by touch."""

import os
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

from mobile.identity import Identity, keep_identity
from shared_core.logbook import Logbook
from shared_core.records.base import Seen
from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from tests.mobile import farm, pilot
from tests.mobile.conftest import BEGUN
from tests.mobile.pilot import Pilot

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
MOST_TOUCHES = 30


@pytest.fixture
def album(tmp_path: Path, monkeypatch: Any) -> Path:
    """A folder in which a camera left two pictures."""
    folder = tmp_path / "album"
    folder.mkdir()
    for place, name in enumerate(("face.jpg", "plate.jpg")):
        Image.new("RGB", (64, 48), (40 * place, 90, 120)).save(folder / name)
        os.utime(folder / name, (place, place))
    monkeypatch.setenv("XDG_PICTURES_DIR", str(folder))
    return folder


@pytest.fixture
def farmer(
    drive: Callable[..., Pilot],
    make_logbook: Callable[..., Logbook],
    tmp_path: Path,
    clock: Any,
    album: Path,
) -> Any:
    """farmer(size) -> the app of a landholder whose site has come with an exchange"""
    folder = tmp_path / "farm"

    def start(size: Any = pilot.TALL, *, scale: float = 1.0) -> Any:
        if not folder.exists():
            who = Identity(
                device="FARM-1", author="Kit", role="landholder", token="t", text_scale=scale
            )
            keep_identity(folder, who)
            office = make_logbook(device="OFFICE")
            farm.set_up(office, clock())
            tablet = make_logbook(folder / "logbook.sqlite", device="FARM-1")
            tablet.absorb([entry.line for entry in office.since(0)[0]], source="test")
            tablet.close()
        return drive(size, folder=folder, practising=False)

    return start


def counted(driver: Pilot) -> list[str]:
    """Count every touch from now on by what is touched."""
    touched: list[str] = []
    tap = driver.tap

    def tap_and_count(widget: Any, *more: Any) -> None:
        touched.append(widget.test_id or widget.text)
        tap(widget, *more)

    driver.tap = tap_and_count  # type: ignore[assignment,method-assign] # the point of it
    return touched


def written(driver: Pilot) -> list[Seen]:
    """Return what was written on this visit, in order."""
    tablet = driver.app.tablet
    found = []
    for entry in tablet.logbook.since(0)[0]:
        standing = tablet.logbook.standing(entry.record)
        if entry.author == "Kit":
            found.append(standing.record)
    return found


def keys(driver: Pilot, codes: str) -> None:
    for code in codes:
        driver.tap(driver.find(name="key next" if code == ">" else f"key {code}"))


@BOTH
def test_the_app_opens_on_the_one_page(farmer: Callable[..., Any], size: Any) -> None:
    driver = farmer(size)
    assert driver.app.router.current == "landholder"
    assert driver.app.router.built == ("landholder",)
    assert not driver.all(name="back")


@BOTH
def test_the_whole_log_takes_at_most_30_touches_and_two_photos(
    farmer: Callable[..., Any], size: Any
) -> None:
    driver = farmer(size)
    touched = counted(driver)
    keys(driver, "012140>124.5>.47>12.5")
    driver.tap(driver.find(name="keep"))
    assert len(touched) <= MOST_TOUCHES, touched
    records = written(driver)
    assert [record.kind for record in records] == [
        "meter_reading",
        "pump_run",
        "gauge_reading",
        "rain_reading",
    ]
    assert isinstance(records[0], MeterReading)
    assert records[0].display == "012140"
    assert any(text.startswith("Kept: Pump meter 012140") for text in driver.texts())


@BOTH
def test_two_photos_go_with_the_meter_and_the_gauge(farmer: Callable[..., Any], size: Any) -> None:
    driver = farmer(size)
    keys(driver, "012140>>.47")
    for record, picture in (("meter_reading M1", "face.jpg"), ("gauge_reading G1", "plate.jpg")):
        driver.tap(driver.find(name=f"photo {record}"))
        driver.tap(driver.find(text=picture))
    assert len(driver.all(text="1 taken")) == 2
    driver.tap(driver.find(name="keep"))
    photos = [record.photos for record in written(driver)]
    assert [len(each) for each in photos] == [1, 1]
    assert all(driver.app.tablet.pictures.has(each[0]) for each in photos)
    assert photos[0] != photos[1]


def test_the_volume_is_there_with_the_last_figure(farmer: Callable[..., Any]) -> None:
    driver = farmer()
    keys(driver, "012140")
    says = " ".join(driver.texts())
    assert "Pumped since last reading: 3.73 ML" in says
    assert "52% of A7 used" in says


def test_a_figure_that_asks_is_looked_at_once_and_kept_with_a_reason(
    farmer: Callable[..., Any],
) -> None:
    driver = farmer()
    keys(driver, "025000")
    assert "may exceed the daily limit of 2 ML on licence L7" in " ".join(driver.texts())
    keep = driver.find(name="keep")
    driver.tap(keep)
    driver.tap(driver.find(text="Photo taken"))
    driver.tap(keep)
    (record,) = written(driver)
    entry = driver.app.tablet.logbook.lines_of("FARM-1", 0)[0]
    assert isinstance(record, MeterReading)
    assert '"note":"Photo taken"' in entry


def test_a_killed_app_shows_what_was_typed_when_it_starts_again(
    farmer: Callable[..., Any],
) -> None:
    driver = farmer()
    keys(driver, "0121>12")
    killed = driver.app
    driver.kill()
    killed.tablet.logbook.close()
    killed.lock.let_go()
    again = farmer()
    assert again.find(name="log meter_reading M1").figures == "0121––"
    assert again.find(name="log pump_run P1").figures == "12"


@BOTH
def test_turning_the_device_loses_nothing(farmer: Callable[..., Any], size: Any) -> None:
    driver = farmer(size)
    keys(driver, "0121>12")
    driver.turn(pilot.TALL if size == pilot.WIDE else pilot.WIDE)
    assert driver.find(name="log meter_reading M1").figures == "0121––"
    keys(driver, "4.5")
    assert driver.find(name="log pump_run P1").figures == "124.5"


def test_no_number_and_the_day_of_the_rain_are_a_touch_each(farmer: Callable[..., Any]) -> None:
    driver = farmer()
    driver.tap(driver.find(name="log gauge_reading G1"))
    driver.tap(driver.find(name="key none"))
    driver.tap(driver.find(text="Could not reach it"))
    driver.tap(driver.find(name="log rain_reading R1"))
    keys(driver, "4")
    driver.tap(driver.find(name="read 1"))
    keep = driver.find(name="keep")
    driver.tap(keep)
    if not written(driver):
        driver.tap(keep)
    gauge, rain = written(driver)
    assert gauge.encoded()["not_read_because"] == "Could not reach it"
    assert isinstance(rain, RainReading)
    yesterday = BEGUN + timedelta(minutes=rain.offset_min) - timedelta(days=1)
    assert rain.read_on == yesterday.date()


def test_an_own_record_leads_to_its_history_and_is_withdrawn_with_a_reason(
    farmer: Callable[..., Any],
) -> None:
    driver = farmer()
    keys(driver, ">124.5")
    driver.tap(driver.find(name="keep"))
    (row,) = [row for row in driver.all(kind="RowKey") if row.title.startswith("Pump hours")]
    assert row.says == "Kept here, not sent yet"
    driver.tap(row)
    assert driver.app.router.current == "history"
    driver.tap(driver.find(name="change"))
    driver.tap(driver.find(name="withdraw"))
    assert "Touch a reason first, or write one." in driver.texts()
    driver.tap(driver.find(text="I typed it wrong"))
    driver.tap(driver.find(name="withdraw"))
    assert any("Withdrawn by Kit" in text for text in driver.texts())
    driver.press(27)
    (row,) = [row for row in driver.all(kind="RowKey") if row.title.startswith("Pump hours")]
    assert row.says == "Withdrawn by you: I typed it wrong"


def test_no_word_on_the_page_is_jargon(farmer: Callable[..., Any]) -> None:
    driver = farmer()
    says = " ".join(driver.texts()).lower()
    for word in ("stage", "totaliser", "entry", "entries", "sync", "datum", "logbook", "kind"):
        assert word not in says.split(), says


def test_an_own_record_is_corrected_beside_what_was_there_with_its_reason(
    farmer: Callable[..., Any],
) -> None:
    driver = farmer()
    keys(driver, ">>>12")
    driver.tap(driver.find(name="keep"))
    driver.tap(next(row for row in driver.all(kind="RowKey") if row.title.startswith("Rain")))
    driver.tap(driver.find(name="change"))
    driver.tap(driver.find(text="I typed it wrong"))
    driver.tap(driver.find(name="correct"))
    driver.tap(driver.find(name="box rain_mm"))
    driver.tap(driver.find(name="rubout"))
    keep = driver.find(name="keep")
    driver.tap(keep)
    if driver.app.router.current == "form":
        driver.tap(keep)
    assert driver.app.router.current == "history"
    assert "Rain: 12.0 mm became 1.0 mm" in driver.texts()
    assert any(text.startswith("Why: I typed it wrong") for text in driver.texts())
