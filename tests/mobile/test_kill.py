import sqlite3
from collections.abc import Callable
from pathlib import Path

from tests.mobile import pilot
from tests.mobile.pilot import Pilot


def to_the_gauge(driver: Pilot) -> None:
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="gauge_reading G1"))


def test_a_killed_app_shows_what_was_typed_when_it_starts_again(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(pilot.TALL, folder=tmp_path)
    to_the_gauge(driver)
    driver.keys(".4")
    killed = driver.app.tablet.logbook
    driver.kill()
    again = drive(pilot.TALL, folder=tmp_path)
    to_the_gauge(again)
    assert again.find(name="keep").text.endswith("0.40 m")
    again.keys("2")
    again.tap(again.find(name="keep"))
    assert "To do today: 1 of 6" in again.texts()
    killed.close()


def test_each_key_is_in_the_file_before_the_app_is_sent_away(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(folder=tmp_path)
    to_the_gauge(driver)
    driver.keys(".4")
    driver.window._event_filter("app_willenterbackground")
    with sqlite3.connect(tmp_path / "practice" / "logbook.sqlite") as file:
        drafts = dict(file.execute("select name, typed from draft").fetchall())
    file.close()
    (typed,) = [text for name, text in drafts.items() if name.startswith("gauge_reading/")]
    assert '"0.4"' in typed
    driver.window._event_filter("app_didenterforeground")
    assert driver.find(name="keep").text.endswith("0.40 m")
