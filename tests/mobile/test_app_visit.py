"""A whole routine visit by touch, from an empty data folder; and what may go wrong in it."""

import sqlite3
import time
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from mobile import practice
from shared_core.carry import read_carry
from shared_core.logbook import Logbook, Said
from shared_core.records.plan import PlannedVisit
from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Gauge, GaugeZero
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.visit import Visit
from tests.mobile import pilot
from tests.mobile.pilot import Pilot
from tests.mobile.small_server import CODE, SmallServer
from tests.mobile.visit_scenes import a_hazard, from_another_team

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])


@pytest.fixture(autouse=True)
def ten_hours_east(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The device's time zone: that of the practice site."""
    monkeypatch.setenv("TZ", "EAST-10")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.fixture
def office(make_logbook: Callable[..., Logbook], clock: Any) -> Any:
    """The server's logbook: the practice site with a second gauge, and a plan for today."""
    logbook = make_logbook(device="OFFICE")
    practice.prepare(logbook, clock())
    start = clock() - timedelta(days=60)
    for record in (
        Gauge(site="PRA", valid_from=start, gauge="G2", plate_from_m=0.0, plate_to_m=1.0),
        GaugeZero(
            site="PRA", valid_from=start, gauge="G2", zero_m=50.0, method="levelled",
            uncertainty_m=0.005,
        ),
        PlannedVisit(site="PRA", valid_from=clock(), code="V07", team="Heron"),
    ):  # fmt: skip
        logbook.write(record, Said(author="Ruth"))
    return logbook


@pytest.fixture
def server(office: Logbook) -> Iterator[Any]:
    small = SmallServer(office)
    yield small
    small.close()


def write(driver: Pilot, box: str, words: str) -> None:
    driver.tap(driver.find(name=box))
    driver.type(words)


def tap(driver: Pilot, *names: str) -> None:
    for name in names:
        driver.tap(driver.find(name=name))


def says(driver: Pilot) -> str:
    return " ".join(driver.texts())


def enrol(driver: Pilot, server: SmallServer) -> None:
    tap(driver, "enrol")
    write(driver, "server", server.url)
    write(driver, "code", CODE)
    driver.tap(driver.find(text="Enrol"))
    driver.until(lambda: driver.app.router.current == "home")


def turn(driver: Pilot) -> None:
    tap(driver, "exchange")
    driver.until(lambda: not driver.app.tablet.courier.busy)
    driver.frames(4)


def to_site(driver: Pilot) -> None:
    driver.tap(next(row for row in driver.all(kind="RowKey") if "Heron" in row.title))


def keep(driver: Pilot) -> None:
    """Touch the main action, and once more if it asks to look again."""
    page = driver.app.router.current
    for _ in range(2):
        if driver.app.router.current == page:
            tap(driver, "keep")


def read_gauge(driver: Pilot, point: str, keys: str) -> None:
    tap(driver, f"gauge_reading {point}")
    driver.keys(keys)
    keep(driver)


def fill_in_trip(driver: Pilot) -> None:
    tap(driver, "visit trip")
    write(driver, "box people", ", Bert")
    write(driver, "box route", "White ute")
    write(driver, "box called_if_late", "Ruth")
    tap(driver, "due 6", "keep")


def arrive(driver: Pilot) -> None:
    tap(driver, "visit arrive", "weather cloud", "wind 4", "clean yes", "how Washed", "keep")


def every(logbook: Logbook, kind: Any, visit: str = "V07") -> Any:
    return [s.record for s in logbook.known().every(kind) if s.record.visit == visit]


def tell_the_same(office: Logbook, file: Path) -> None:
    """Check that the office holds what was touched."""
    (visit,) = every(office, Visit)
    assert (visit.team, visit.observers, visit.route) == ("Heron", ("Ada", "Bert"), "White ute")
    assert visit.left - visit.arrived == timedelta(hours=1)
    assert "Vegetation plot Q1" in visit.not_done
    assert "Vegetation plot Q1: No time" in visit.not_done_because
    assert not {"Staff gauge G1", "Pump meter M1", "Rain gauge R1"} & set(visit.not_done)
    assert visit.copied_to == f"STICK/{file.name}"
    assert [(r.point, r.stage_m) for r in every(office, GaugeReading)] == [
        ("G1", 0.42),
        ("G2", 0.42),
    ]
    assert [r.display for r in every(office, MeterReading)] == ["012140"]
    assert [r.rain_mm for r in every(office, RainReading)] == [12.5]


@BOTH
def test_a_routine_visit_by_touch_from_an_empty_folder(
    drive: Callable[..., Pilot],
    server: SmallServer,
    office: Logbook,
    tmp_path: Path,
    clock: Any,
    size: tuple[int, int],
) -> None:
    driver = drive(size, practising=False, folder=tmp_path / "tablet")
    enrol(driver, server)
    turn(driver)
    to_site(driver)
    fill_in_trip(driver)
    driver.press(27)
    assert "Out since 08:00, due back 14:00" in driver.texts()
    to_site(driver)
    arrive(driver)
    assert "At 08:00" in says(driver)
    read_gauge(driver, "G1", ".42")
    clock.now += timedelta(minutes=20)
    read_gauge(driver, "G2", ".42")
    tap(driver, "meter_reading M1")
    driver.keys("012140")
    keep(driver)
    tap(driver, "rain_reading R1", "box rain_mm")
    driver.keys("12.5")
    driver.tap(driver.find(name="now read_on"))
    keep(driver)
    clock.now += timedelta(minutes=40)
    tap(driver, "visit leave")
    assert driver.app.root.current_screen.face.ids.bar.sub == "PRA: 1 h on site"
    assert any(text.endswith("ML by gauge G2") for text in driver.texts())
    for item in driver.app.tablet.day.to_do():
        if not item.done:
            tap(driver, f"why {item.title} No time")
    tap(driver, "clean yes")
    stick = tmp_path / "STICK"
    stick.mkdir()
    tap(driver, "copy")
    write(driver, "box folder", str(stick))
    tap(driver, "keep")
    driver.until(lambda: "Copied and read back" in says(driver))
    (file,) = stick.iterdir()
    assert f"holds {read_carry(file).manifest.entries} entries and 0 photos" in says(driver)
    driver.press(27)
    assert f"Copied to STICK/{file.name}." in driver.texts()
    assert driver.find(name="keep").text == "I am leaving"
    tap(driver, "keep")
    assert driver.app.router.current == "home"
    turn(driver)
    tap(driver, "back again")
    assert "Out since" not in says(driver)
    assert driver.app.tablet.waiting() == 0
    tell_the_same(office, file)


def arrived_and_killed(drive: Callable[..., Pilot], server: SmallServer, folder: Path) -> Any:
    driver = drive(pilot.TALL, practising=False, folder=folder)
    enrol(driver, server)
    turn(driver)
    to_site(driver)
    fill_in_trip(driver)
    arrive(driver)
    tap(driver, "gauge_reading G1")
    driver.keys(".4")
    logbook = driver.app.tablet.logbook
    driver.kill()
    logbook.close()
    return drive(pilot.TALL, practising=False, folder=folder)


def test_a_visit_goes_on_after_a_kill(
    drive: Callable[..., Pilot], server: SmallServer, tmp_path: Path
) -> None:
    driver = arrived_and_killed(drive, server, tmp_path / "tablet")
    assert "Out since 08:00, due back 14:00" in driver.texts()
    to_site(driver)
    assert "At 08:00" in says(driver)
    tap(driver, "gauge_reading G1")
    assert driver.find(name="keep").text.endswith("0.40 m")
    driver.keys("2")
    keep(driver)
    (reading,) = every(driver.app.tablet.logbook, GaugeReading)
    assert (reading.stage_m, reading.observers) == (0.42, ("Ada", "Bert"))
    tap(driver, "visit leave")
    tap(driver, "why Pump meter M1 Danger there")
    logbook = driver.app.tablet.logbook
    driver.kill()
    logbook.close()
    again = drive(pilot.TALL, practising=False, folder=tmp_path / "tablet")
    to_site(again)
    tap(again, "visit leave")
    assert again.find(name="take back Pump meter M1").says == "Danger there"
    tap(again, "keep", "keep")
    (visit,) = every(again.app.tablet.logbook, Visit)
    assert visit.not_done_because == "Pump meter M1: Danger there"


def test_a_second_window_on_the_same_folder_says_so(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    from mobile.app import Options, StrandlineApp

    first = drive(practising=False, folder=tmp_path)
    second = StrandlineApp(Options(folder=tmp_path))
    shown = second.build()
    assert shown.says.startswith("Strandline is open already on this device, in another window.")
    second.on_stop()
    first.tap(first.find(name="practice"))
    assert first.find(name="site PRA")


class FullDisk:
    """The connection of a logbook whose disk takes nothing more."""

    def __init__(self, file: Any) -> None:
        self.file = file
        self.full = False

    def __getattr__(self, name: str) -> Any:
        return getattr(self.file, name)

    def execute(self, sql: str, *values: Any) -> Any:
        if self.full and sql.lstrip().lower().startswith("insert"):
            raise sqlite3.OperationalError("database or disk is full")
        return self.file.execute(sql, *values)


def test_a_full_disk_is_told_and_nothing_kept_before_is_lost(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    tap(driver, "site PRA", "gauge_reading G1")
    driver.keys(".4")
    logbook = driver.app.tablet.logbook
    disk = FullDisk(logbook._file)
    logbook._file = disk
    disk.full = True
    driver.keys("2")
    assert "Nothing was kept, the file could not be written" in says(driver)
    assert "make room on the device" in says(driver)
    tap(driver, "understood")
    disk.full = False
    driver.keys("<")
    driver.keys("2")
    assert driver.find(name="keep").text.endswith("0.42 m")
    disk.full = True
    tap(driver, "keep")
    assert "Nothing was kept" in says(driver)
    tap(driver, "understood")
    assert driver.app.router.current == "gauge"
    disk.full = False
    keep(driver)
    assert driver.app.router.current == "site"
    assert [r.stage_m for r in every(logbook, GaugeReading, driver.app.tablet.day.visit)] == [0.42]


def test_a_full_disk_while_arriving_keeps_the_answers(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    tap(driver, "site PRA", "visit arrive", "weather rain")
    logbook = driver.app.tablet.logbook
    logbook._file = FullDisk(logbook._file)
    logbook._file.full = True
    tap(driver, "keep")
    assert "Nothing was kept" in says(driver)
    tap(driver, "understood")
    logbook._file.full = False
    assert driver.find(name="weather rain").chosen
    tap(driver, "keep")
    assert driver.app.router.current == "site"


@BOTH
def test_a_clock_that_is_a_year_off_is_set_right_for_the_visit(
    drive: Callable[..., Pilot], clock: Any, size: tuple[int, int], tmp_path: Path
) -> None:
    driver = drive(size)  # the practice site is set up with the right clock
    right = clock.now
    clock.now += timedelta(days=365)
    tap(driver, "site PRA", "visit arrive")
    write(driver, "box watch", "2026-03-02 08:00")
    assert "365 days ahead of the other" in says(driver)
    tap(driver, "take time")
    assert "This visit keeps the other time." in says(driver)
    tap(driver, "keep")
    read_gauge(driver, "G1", ".42")
    day = driver.app.tablet.day
    (reading,) = every(driver.app.tablet.logbook, GaugeReading, day.visit)
    assert reading.seen_at == right
    assert any(text.startswith("To do today: 1 of") for text in driver.texts())
    assert not {"clock-future"} & {
        finding.code for finding in reading.findings(day.logbook.known())
    }


def test_a_hazard_of_another_team_stands_first_on_arriving(drive: Callable[..., Pilot]) -> None:
    driver = drive(pilot.TALL)
    from_another_team(driver, a_hazard(driver))
    tap(driver, "site PRA", "visit arrive")
    assert "Crack in the ground" in driver.texts()
    assert "Keep away by 15 m." in says(driver)


def test_an_odd_reading_is_corrected_from_the_review(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    tap(driver, "site PRA")
    read_gauge(driver, "G1", "4.2")
    tap(driver, "visit leave", "correct Staff gauge G1", "box stage_m")
    driver.tap(driver.find(name="rubout"), hold_s=0.8)
    driver.keys("0.42")
    keep(driver)
    assert driver.app.router.current == "leave"
    assert driver.all(name="correct Staff gauge G1") == []
    (reading,) = every(driver.app.tablet.logbook, GaugeReading, driver.app.tablet.day.visit)
    assert reading.stage_m == 0.42


def test_a_reason_in_words_of_ones_own(drive: Callable[..., Pilot]) -> None:
    driver = drive(pilot.TALL)
    tap(driver, "site PRA", "visit leave", "why Rain gauge R1 Other words")
    write(driver, "box why", "Cattle around it")
    tap(driver, "keep words")
    assert driver.find(name="take back Rain gauge R1").says == "Cattle around it"
    tap(driver, "take back Rain gauge R1")
    assert driver.find(name="why Rain gauge R1 No time")


def test_the_card_can_be_copied_as_text(drive: Callable[..., Pilot]) -> None:
    from kivy.core.clipboard import Clipboard

    driver = drive()
    tap(driver, "site PRA")
    fill_in_trip(driver)
    tap(driver, "visit trip", "copy text")
    assert "Not back by then: call Ruth" in Clipboard.paste()
