"""The exchange screen, the stick and the search, by touch."""

import random
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from mobile import practice
from shared_core.carry import write_carry
from shared_core.logbook import Logbook, Said
from shared_core.photo_folder import PhotoFolder
from shared_core.records.plan import PlannedVisit
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Site
from tests.mobile import pilot
from tests.mobile.pilot import Pilot
from tests.mobile.small_server import TOKEN, SmallServer


@pytest.fixture
def office(make_logbook: Callable[..., Logbook], clock: Any) -> Any:
    logbook = make_logbook(device="OFFICE")
    practice.prepare(logbook, clock())
    plan = PlannedVisit(site="PRA", valid_from=clock(), code="V07", team="Heron")
    logbook.write(plan, Said(author="Ruth"))
    return logbook


@pytest.fixture
def server(office: Logbook) -> Iterator[Any]:
    small = SmallServer(office)
    yield small
    small.close()


def says(driver: Pilot) -> str:
    return " ".join(driver.texts())


def tap(driver: Pilot, *names: str) -> None:
    for name in names:
        driver.tap(driver.find(name=name))


def on_the_exchange_screen(
    drive: Callable[..., Pilot], server: SmallServer, token: str = TOKEN
) -> Any:
    driver = drive(pilot.TALL, practising=False)
    driver.app.tablet.enrolled(server.url, {"token": token, "name": "Ada"})
    driver.app.router.start("home")
    tap(driver, "about exchange")
    return driver


def end(driver: Pilot) -> None:
    driver.until(lambda: not driver.app.tablet.courier.busy)
    driver.frames(6)


def test_what_came_back_is_named(drive: Callable[..., Pilot], server: SmallServer) -> None:
    driver = on_the_exchange_screen(drive, server)
    tap(driver, "keep")
    end(driver)
    assert f"Entries: 0 sent, {server.logbook.size()} received in " in says(driver)
    assert "PRA: V07, Heron, Sun 1 Mar" in says(driver)
    assert f"Exchanged: 0 sent, {server.logbook.size()} received" in says(driver)
    assert driver.find(name="keep").text == "Exchange now"


def test_photos_can_be_stopped_and_go_on_later(
    drive: Callable[..., Pilot], server: SmallServer
) -> None:
    driver = on_the_exchange_screen(drive, server)
    data = random.Random(1).randbytes(2_000_000)
    sha256 = driver.app.tablet.photos.put(data)
    wait = server.hold_photos = threading.Event()
    tap(driver, "keep")
    driver.until(lambda: len(server.photos.get(sha256, b"")) > 0)
    tap(driver, "keep")
    wait.set()
    end(driver)
    assert "Stopped, as you asked; it goes on from here next time." in says(driver)
    assert sha256 not in server.complete
    assert driver.find(name="keep").text == "Go on"
    tap(driver, "keep")
    end(driver)
    assert server.photos[sha256] == data
    assert "Photos, after the entries: 1 of 1 there, 2.0 MB of 2.0 MB." in says(driver)


@pytest.mark.parametrize(
    ("fault", "words"),
    [
        ("revoked", "The server does not let this device in (Not let in: this device was revoked)"),
        ("busy", "The server could not answer now (Busy); try again later."),
        ("is_another_page", "What the server answered cannot be right"),
        ("gone", "No way to http://127"),
    ],
)
def test_each_way_of_failing_is_a_sentence_and_loses_nothing(
    drive: Callable[..., Pilot], server: SmallServer, office: Logbook, fault: str, words: str
) -> None:
    driver = on_the_exchange_screen(drive, server, "stale" if fault == "revoked" else TOKEN)
    day = driver.app.tablet.day
    practice_site = office.known().every(Site)[0].record
    day.logbook.write(practice_site, Said(author="Ada"))
    day.take_up("PRA")
    day.record(RainReading, "R1", {"rain_mm": "3", "read_on": "2026-03-02"})
    size = day.logbook.size()
    if fault == "gone":
        server.close()
    elif fault != "revoked":
        setattr(server, fault, True)
    tap(driver, "keep")
    end(driver)
    assert words in says(driver)
    assert "Everything stays here. 2 entries kept here, not sent yet." in says(driver)
    assert day.logbook.size() == size
    assert driver.app.tablet.waiting() == 2


def test_an_empty_tablet_takes_its_sites_from_a_stick(
    drive: Callable[..., Pilot], office: Logbook, tmp_path: Path, clock: Any
) -> None:
    stick = tmp_path / "STICK"
    stick.mkdir()
    photos = PhotoFolder(tmp_path / "office")
    photos.put(b"not a real picture")
    write_carry(stick / "set-up.strand", office, photos, made_at=clock())
    driver = drive(pilot.TALL, practising=False)
    tap(driver, "take in", "box folder")
    driver.type(str(stick))
    tap(driver, "look", "take set-up.strand")
    driver.until(lambda: "taken in" in says(driver))
    assert f"From OFFICE: {office.size()} new entries and 1 new photo taken in." in says(driver)
    driver.press(27)
    assert driver.find(name="site PRA")


def test_a_spoiled_file_is_a_clear_sentence(drive: Callable[..., Pilot], tmp_path: Path) -> None:
    (tmp_path / "a.strand").write_text("hello")
    driver = drive(practising=False, folder=tmp_path / "tablet")
    tap(driver, "take in", "box folder")
    driver.type(str(tmp_path))
    tap(driver, "look", "take a.strand")
    driver.until(lambda: "is no carry file" in says(driver))
    assert driver.app.tablet.logbook.size() == 0


def test_a_stick_that_is_gone_is_a_clear_sentence(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(practising=False, folder=tmp_path / "tablet")
    tap(driver, "stick", "keep")
    assert "Say first where to" in says(driver)
    tap(driver, "box folder")
    driver.type(str(tmp_path / "gone"))
    tap(driver, "keep")
    driver.until(lambda: "is not there: put the stick in" in says(driver))


def test_nothing_of_the_practice_site_leaves_the_device(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    tap(driver, "stick")
    assert "Practice: nothing here leaves this device, and nothing comes in." in driver.texts()
    assert driver.find(name="keep").disabled


@pytest.fixture
def many(drive: Callable[..., Pilot]) -> Any:
    """A tablet that knows sixty sites with 600 planned visits."""
    driver = drive(pilot.TALL)
    tablet = driver.app.tablet
    first = tablet.day.sites()[0].record
    said = Said(author="Ruth", note="invented")
    for number in range(60):
        code = f"P{number:02}"
        tablet.logbook.write(first.changed(site=code, name=f"Pool {number} (invented)"), said)
        for visit in range(10):
            plan = PlannedVisit(
                site=code, valid_from=tablet.device().now, code=f"{code}-{visit}", team="Heron"
            )
            tablet.logbook.write(plan, said)
    driver.app.router.start("home")
    driver.frames(4)
    return driver


def test_a_long_list_is_shown_page_by_page_and_searched(many: Pilot) -> None:
    assert len([row for row in many.all(kind="RowKey") if row.test_id]) == 20
    assert many.find(name="more").text == "Show more: 41 left"
    tap(many, "more")
    assert many.find(name="more").text == "Show more: 21 left"
    tap(many, "box search")
    many.type("pool 4")
    many.frames(2)
    assert "11 of 61 sites fit." in many.texts()  # 4 and 40 to 49
    many.type("7")
    many.frames(2)
    (row,) = [row for row in many.all(kind="RowKey") if row.test_id]
    assert row.test_id == "site P47"
    many.tap(row)
    assert many.app.tablet.day.site == "P47"


def test_only_as_many_plans_are_read_as_are_shown(
    many: Pilot, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[str] = []
    day = many.app.tablet.day
    planned = day.planned

    def counted(site: str) -> Any:
        asked.append(site)
        return planned(site)

    monkeypatch.setattr(day, "planned", counted)
    shown = many.app.tablet.home()
    assert len(asked) == len(shown.sites) == 20
    assert all(len(site.planned) <= 5 for site in shown.sites)
