"""The real app by touch: a walk out of a receiver on a pseudo-terminal, to the logbook."""

import dataclasses
import math
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from mobile.device.receivers import State
from mobile.look import DAY, DUSK
from shared_core.records.shoreline_walk import ShorelineWalk
from tests.mobile import pilot
from tests.mobile.pilot import Pilot
from tests.mobile.walk_scenes import WALK_SCENES
from tests.mobile.walked import PtyReceiver, plugged, radius_m, ring, sentences

BOTH = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
FIXES = ring(120)


@pytest.fixture
def pty(tmp_path: Path) -> Iterator[Any]:
    with plugged(tmp_path / "receiver") as receiver:
        yield receiver


@pytest.fixture
def go(drive: Callable[..., Pilot], pty: PtyReceiver) -> Any:
    """go(size) -> the app on the walk screen, the receiver on the pseudo-terminal offered"""

    def start(size: tuple[int, int] = pilot.WIDE, **options: Any) -> Any:
        driver = drive(size, receiver=f"serial:{pty.link}", **options)
        to_the_walk(driver)
        return driver

    return start


def to_the_walk(driver: Pilot) -> None:
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="shoreline_walk site"))


def begin(driver: Pilot) -> Any:
    driver.tap(driver.find(name="keep"))
    walking = driver.app.root.current_screen.walking
    driver.until(lambda: walking.state() is not State.LOOKING)
    return walking


def hear(driver: Pilot, pty: PtyReceiver, fixes: Any, total: int) -> None:
    """Let the receiver speak until so many fixes are recorded, and the screen show it."""
    pty.say(*sentences(fixes))
    walking = driver.app.root.current_screen.walking
    driver.until(lambda: walking.track.count == total)
    driver.wait(0.6)


def touch(driver: Pilot, *sends: str) -> None:
    for send in sends:
        driver.tap(driver.find(name=f"walk {send}"))


def area(driver: Pilot) -> float:
    cards = {card.label: card for card in driver.all(kind="AnswerCard")}
    return float((cards.get("Area") or cards["Area so far"]).figure)


def kept(driver: Pilot) -> Any:
    every = driver.app.tablet.logbook.known().every(ShorelineWalk)
    return [standing.record for standing in every]


@BOTH
def test_a_walk_grows_is_marked_finished_and_kept(
    go: Any, pty: PtyReceiver, size: tuple[int, int]
) -> None:
    driver = go(size)
    assert driver.find(name="keep").text == "Start the walk"
    walking = begin(driver)
    hear(driver, pty, FIXES[:40], 40)
    first = area(driver)
    hear(driver, pty, FIXES[40:70], 70)
    assert area(driver) > first
    assert any("± 3 m, a fix every 5.0 s" in text for text in driver.texts())
    touch(driver, "off", "how outside", "metres 2")
    hear(driver, pty, FIXES[70:80], 80)
    touch(driver, "back", "pause")
    elsewhere = ring(5, begun=FIXES[80].time)
    pty.say(*sentences(elsewhere))
    driver.until(lambda: walking.newest.time == elsewhere[-1].time)
    touch(driver, "on")
    hear(driver, pty, FIXES[80:], 120)
    assert any("You are back at the start" in text for text in driver.texts())
    driver.tap(driver.find(name="keep"))
    touch(driver, "side left")
    assert driver.find(name="keep").text == f"Keep {area(driver):.2f} ha"
    driver.tap(driver.find(name="keep"))
    (record,) = kept(driver)
    assert driver.app.router.current == "site"
    assert [row[0] for row in record.fixes] == [fix.time for fix in FIXES]
    assert record.off_waterline == ((69.0, 79.0, 2.0, "outside"),)
    assert (record.closed, record.water_side) == (True, "left")
    answers = {a.label: a.value for a in record.tells(driver.app.tablet.logbook.known())}
    # a polygon of 120 corners holds 0.9995 of its circle; places resolve 0.2 mm
    assert answers["Area walked"] == pytest.approx(math.pi * radius_m() ** 2 * 0.9995, rel=1e-4)


def test_the_site_says_that_a_walk_is_begun_and_it_goes_on_meanwhile(
    go: Any, pty: PtyReceiver
) -> None:
    driver = go()
    walking = begin(driver)
    hear(driver, pty, FIXES[:20], 20)
    driver.press(27)
    row = driver.find(name="shoreline_walk site")
    assert row.says == "Begun, not kept yet"
    pty.say(*sentences(FIXES[20:40]))
    driver.until(lambda: walking.track.count == 40)
    driver.tap(row)
    assert any(text.startswith("Start: ") for text in driver.texts())
    assert driver.app.root.current_screen.walking is walking


def test_a_receiver_that_vanishes_is_said_and_recording_goes_on_when_it_is_back(
    go: Any, pty: PtyReceiver
) -> None:
    driver = go()
    walking = begin(driver)
    hear(driver, pty, FIXES[:20], 20)
    pty.pull_out()
    driver.until(lambda: walking.state() is State.LOST)
    driver.wait(0.6)
    assert any("The receiver is gone" in text for text in driver.texts())
    assert driver.find(kind="ReceiverCard").mood == "look"
    pty.plug_in()
    driver.until(lambda: walking.state() is State.SILENT)
    hear(driver, pty, FIXES[20:40], 40)
    assert driver.find(kind="ReceiverCard").mood == "fits"


@BOTH
def test_a_killed_app_goes_on_with_the_walk(
    go: Any, pty: PtyReceiver, size: tuple[int, int]
) -> None:
    driver = go(size)
    begin(driver)
    hear(driver, pty, FIXES[:60], 60)
    shown = area(driver)
    killed = driver.app
    driver.kill()
    killed.tablet.walks.close()  # its thread would have ended with its process
    again = go(size, folder=killed.options.folder)
    walking = again.app.root.current_screen.walking
    assert walking.track.count == 60
    assert area(again) == pytest.approx(shown, rel=0.1)
    driver.until(lambda: walking.state() is not State.LOOKING)
    hear(again, pty, FIXES[60:], 120)
    again.tap(again.find(name="keep"))
    again.tap(again.find(name="keep"))
    (record,) = kept(again)
    assert len(record.fixes) == 120
    killed.tablet.logbook.close()


def test_turning_the_tablet_keeps_the_walk(go: Any, pty: PtyReceiver) -> None:
    driver = go(pilot.WIDE)
    begin(driver)
    hear(driver, pty, FIXES[:60], 60)
    shown = area(driver)
    driver.turn(pilot.TALL)
    assert area(driver) == shown
    assert len(driver.all(name="keep")) == 1
    hear(driver, pty, FIXES[60:80], 80)
    driver.turn(pilot.WIDE)
    assert area(driver) > shown


def test_throwing_away_takes_two_touches_and_leaves_nothing(go: Any, pty: PtyReceiver) -> None:
    driver = go(pilot.TALL)
    begin(driver)
    hear(driver, pty, FIXES[:30], 30)
    touch(driver, "pause", "discard")
    assert any("Throw this walk away?" in text for text in driver.texts())
    touch(driver, "discard!")
    assert driver.find(name="keep").text == "Start the walk"
    driver.press(27)
    assert driver.find(name="shoreline_walk site").says == ""
    assert kept(driver) == []


def test_without_a_receiver_the_screen_says_what_to_do(
    drive: Callable[..., Pilot], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mobile.walks.receivers", lambda *_, **__: ())
    driver = drive()
    to_the_walk(driver)
    assert any("No receiver found" in text for text in driver.texts())
    assert driver.find(name="keep").tone == "off"


def test_the_picture_is_drawn_anew_seldom(go: Any) -> None:
    driver = go()
    page, track = driver.app.root.current_screen, driver.find(kind="TrackMap")
    begin(driver)
    before = track.redrawn
    for fix in ring(700, every_s=1.0):
        page.walking.take([fix])
        track.follow(page.walking.track, page.walking.outline)
    assert track.redrawn - before < 30  # fitted anew as it grows, and once every 300 fixes


def test_going_to_the_practice_site_and_back_stops_the_receiver(go: Any) -> None:
    driver = go()
    walking = begin(driver)
    driver.app.turn(on=False)
    assert walking.state() is State.OFF


@BOTH
@pytest.mark.parametrize("scene", WALK_SCENES, ids=lambda scene: scene.__name__)
def test_the_track_has_room_at_the_largest_text(
    drive: Callable[..., Pilot], size: tuple[int, int], scene: Any
) -> None:
    driver = drive(size, scale=1.25)
    scene(driver)
    driver.frames(4)
    track = driver.find(kind="TrackMap")
    assert min(track.size) >= 120


@pytest.mark.parametrize(("dusk", "look"), [(False, DAY), (True, DUSK)])
def test_the_track_takes_the_colours_of_the_theme(
    go: Any, pty: PtyReceiver, dusk: bool, look: Any
) -> None:
    from kivy.graphics import Color
    from kivy.utils import get_color_from_hex

    from mobile.widgets.theme import theme

    driver = go()
    begin(driver)
    hear(driver, pty, FIXES[:60], 60)
    theme.dusk = dusk
    driver.frames(2)
    try:
        track = driver.find(kind="TrackMap")
        used = [c.rgba for c in track.canvas.children if isinstance(c, Color)]
        for token in ("card", "river", "clay"):
            assert get_color_from_hex(look[token]) in used
    finally:
        theme.dusk = False


def test_both_faces_show_every_phase_the_same(go: Any, pty: PtyReceiver) -> None:
    driver = go()
    begin(driver)
    hear(driver, pty, FIXES, 120)
    words = driver.find(name="keep").text
    driver.turn(pilot.TALL)
    assert driver.find(name="keep").text == words
    assert dataclasses.astuple(driver.app.root.current_screen.walking.button())[0] == words
