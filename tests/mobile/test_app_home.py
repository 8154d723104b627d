import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import mobile
from mobile import practice
from mobile.app import Options, StrandlineApp, identify
from mobile.field_day import FieldDay
from mobile.identity import Identity, read_identity
from shared_core.errors import UnknownError
from shared_core.logbook import Logbook, Said
from shared_core.records.plan import PlannedVisit
from shared_core.records.rain import RainReading
from shared_core.records.staff_gauge import GaugeReading
from tests.mobile import pilot
from tests.mobile.pilot import Pilot
from tests.mobile.small_server import CODE, SmallServer

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])


@pytest.fixture
def office(make_logbook: Callable[..., Logbook], clock: Any) -> Any:
    logbook = make_logbook(device="OFFICE")
    practice.prepare(logbook, clock())
    visit = PlannedVisit(site="PRA", valid_from=clock(), code="V07", team="Heron", walk_due=True)
    logbook.write(visit, Said(author="Ruth"))
    return logbook


@pytest.fixture
def server(office: Logbook) -> Iterator[Any]:
    small = SmallServer(office)
    yield small
    small.close()


@BOTH
def test_an_empty_device_says_how_sites_reach_it(
    drive: Callable[..., Pilot], size: tuple[int, int]
) -> None:
    driver = drive(size, practising=False)
    says = " ".join(driver.texts())
    assert "No site has reached this device yet" in says
    assert "enrol this device" in says
    assert driver.find(name="exchange").disabled


def test_a_device_enrols_exchanges_and_shows_its_sites(
    drive: Callable[..., Pilot], server: SmallServer, tmp_path: Path
) -> None:
    driver = drive(practising=False, folder=tmp_path)
    driver.tap(driver.find(name="enrol"))
    for box, words in (("server", server.url), ("code", CODE)):
        driver.tap(driver.find(name=box))
        driver.type(words)
    driver.tap(driver.find(text="Enrol"))
    driver.until(lambda: driver.app.router.current == "home")
    assert kept(tmp_path).enrolled
    driver.tap(driver.find(name="exchange"))
    driver.until(lambda: not driver.app.tablet.courier.busy)
    driver.frames(4)
    assert driver.find(name="site PRA")
    assert "Planned today: Heron, with a walk" in [row.title for row in driver.all(kind="RowKey")]
    came = f"Exchanged: 0 sent, {server.logbook.size()} received"
    assert any(text.startswith(came) for text in driver.texts())


def test_a_wrong_code_is_told_and_can_be_typed_again(
    drive: Callable[..., Pilot], server: SmallServer
) -> None:
    driver = drive(practising=False, server=server.url)
    driver.tap(driver.find(name="enrol"))
    assert driver.find(name="server").text == server.url
    driver.tap(driver.find(name="code"))
    driver.type("nonsense")
    driver.tap(driver.find(text="Enrol"))
    driver.until(lambda: any("used up or wrong" in text for text in driver.texts()))
    assert driver.find(name="code").text == "nonsense"


def kept(folder: Path) -> Identity:
    """Return the identity on disk."""
    found = read_identity(folder)
    assert found is not None
    return found


def enrolled(drive: Callable[..., Pilot], server: SmallServer, **more: Any) -> Any:
    driver = drive(practising=False, **more)
    driver.app.tablet.enrolled(server.url, {"token": "a-token", "name": "Ada"})
    driver.app.tablet.exchange(driver.app.router.again)
    driver.until(lambda: not driver.app.tablet.courier.busy)
    driver.frames(4)
    return driver


def test_without_a_way_everything_stays_and_the_screen_says_so(
    drive: Callable[..., Pilot], server: SmallServer
) -> None:
    driver = enrolled(drive, server)
    driver.tap(driver.find(name="site PRA"))
    driver.app.tablet.day.record(RainReading, "R1", {"rain_mm": "3", "read_on": "2026-03-02"})
    driver.press(27)
    server.busy = True
    driver.tap(driver.find(name="exchange"))
    driver.until(lambda: not driver.app.tablet.courier.busy)
    driver.frames(4)
    says = " ".join(driver.texts())
    assert "Everything stays here. 1 entry kept here, not sent yet." in says


def test_a_planned_visit_is_begun_by_touching_it(
    drive: Callable[..., Pilot], server: SmallServer
) -> None:
    driver = enrolled(drive, server)
    driver.tap(next(row for row in driver.all(kind="RowKey") if "Heron" in row.title))
    assert driver.app.tablet.day.visit == "V07"


def test_a_correction_by_the_office_is_shown_and_taken_as_read(
    drive: Callable[..., Pilot],
    server: SmallServer,
    office: Logbook,
    make_day: Callable[..., FieldDay],
) -> None:
    driver = enrolled(drive, server)
    driver.tap(driver.find(name="site PRA"))
    saved = driver.app.tablet.day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    driver.press(27)
    tablet = driver.app.tablet

    def turn() -> None:
        tablet.exchange(driver.app.router.again)
        driver.until(lambda: not tablet.courier.busy)
        driver.frames(4)

    turn()
    draft = make_day(office, author="Ruth").correct(saved.entry.record)
    draft.type("stage_m", "0.24")
    draft.save(reason="the photo shows 0.24")
    turn()
    news = driver.find(name="news")
    assert news.text == "1 correction by others"
    driver.tap(news)
    assert "Stage: 0.420 m became 0.240 m" in driver.texts()
    assert "Ruth: the photo shows 0.24" in driver.texts()
    driver.tap(driver.find(text="All read"))
    assert driver.find(name="news").text == "No new corrections"


def test_looks_are_kept_for_the_next_start(drive: Callable[..., Pilot], tmp_path: Path) -> None:
    driver = drive(practising=False, folder=tmp_path)
    driver.tap(driver.find(name="dusk"))
    driver.tap(driver.find(name="size"))
    driver.stop()
    assert (kept(tmp_path).dusk, kept(tmp_path).text_scale) == (True, 1.1)
    again = drive(practising=False, folder=tmp_path)
    assert again.find(name="dusk").text == "Colours for day"
    again.tap(again.find(name="dusk"))


def test_practice_never_touches_the_devices_own_logbook(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(folder=tmp_path)
    driver.tap(driver.find(name="site PRA"))
    driver.app.tablet.day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    assert not driver.app.tablet.home().can_exchange
    driver.press(27)
    driver.tap(driver.find(name="practice"))
    assert driver.app.tablet.logbook.size() == 0
    assert "No site here yet" in driver.texts()


def test_the_practice_site_can_be_left_out(drive: Callable[..., Pilot]) -> None:
    driver = drive(practising=False, offer_practice=False)
    assert driver.all(name="practice") == []


def test_back_on_the_first_screen_does_not_leave_the_app(drive: Callable[..., Pilot]) -> None:
    driver = drive(practising=False)
    driver.press(27)
    assert not driver.loop.quit
    assert driver.app.router.current == "home"


def test_only_the_first_screen_is_built_at_the_start(drive: Callable[..., Pilot]) -> None:
    driver = drive(practising=False)
    assert driver.app.router.built == ("home",)


def test_leaving_an_item_out_takes_a_reason(drive: Callable[..., Pilot]) -> None:
    driver = drive(pilot.TALL)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="leave out rain_reading R1"))
    driver.tap(driver.find(text="Locked gate"))
    assert "Not done: locked gate" in driver.texts()


def test_a_device_keeps_its_name(tmp_path: Path) -> None:
    first = identify(Options(folder=tmp_path, device="HER-1"))
    assert identify(Options(folder=tmp_path)) == first
    with pytest.raises(UnknownError, match="called HER-1, not BIT-1"):
        identify(Options(folder=tmp_path, device="BIT-1"))


def test_a_device_without_a_name_gets_one_of_its_own(tmp_path: Path) -> None:
    names = {identify(Options(folder=tmp_path / str(n))).device for n in range(5)}
    assert len(names) == 5


def test_the_app_is_called_by_its_name() -> None:
    assert StrandlineApp.title == "Strandline"


def test_no_word_of_the_app_calls_anything_safe_or_compliant() -> None:
    allowed = "This app does not judge whether it is safe."
    for path in Path(mobile.__file__).parent.rglob("*"):
        if path.suffix in (".py", ".kv"):
            text = " ".join(path.read_text(encoding="utf-8").split()).replace(allowed, "")
            assert not re.search(r"\b(safe|safely|compliant)\b", text, re.IGNORECASE), path
