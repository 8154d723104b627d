import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from mobile.identity import Identity, density_of, keep_identity, read_identity
from mobile.settings_page import SettingsEntry
from shared_core.errors import UnreadableError
from tests.mobile import pilot
from tests.mobile.pilot import Pilot


def options(entry: SettingsEntry, code: str) -> dict[str, bool]:
    (setting,) = [each for each in entry.shown() if each.code == code]
    return {option.code: option.chosen for option in setting.options}


@pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
def test_what_is_set_is_shown_at_once_and_kept_for_the_next_start(
    drive: Callable[..., Pilot], tmp_path: Path, size: Any
) -> None:
    from mobile.widgets.theme import theme

    driver = drive(size, practising=False, folder=tmp_path)
    driver.tap(driver.find(name="settings"))
    driver.tap(driver.find(name="set look dusk"))
    driver.tap(driver.find(name="set scale 1.25"))
    driver.tap(driver.find(name="set density 1.5"))
    assert (theme.dusk, theme.scale) == (True, 1.25)
    kept = read_identity(tmp_path)
    assert kept is not None
    assert (kept.dusk, kept.text_scale, kept.density) == (True, 1.25, 1.5)
    assert driver.find(name="set scale 1.25").chosen
    driver.tap(driver.find(name="set look day"))


def test_one_column_is_kept_on_a_wide_screen(drive: Callable[..., Pilot]) -> None:
    driver = drive(pilot.WIDE, practising=False)
    assert driver.app.root.current_screen.wide
    driver.tap(driver.find(name="settings"))
    driver.tap(driver.find(name="set layout tall"))
    assert not driver.app.root.current_screen.wide
    driver.press(27)
    assert not driver.app.root.current_screen.wide
    assert type(driver.app.root.current_screen.face).__name__ == "HomeTall"


def test_a_receivers_file_is_offered_and_kept(drive: Callable[..., Pilot], tmp_path: Path) -> None:
    tracks = tmp_path / "tracks"
    tracks.mkdir()
    (tracks / "walk.nmea").write_text("")
    driver = drive(practising=False, folder=tmp_path)
    entry = SettingsEntry(driver.app.tablet, tmp_path)
    name = f"file:{tracks / 'walk.nmea'}"
    assert options(entry, "receiver")[name] is False
    entry.choose("receiver", name)
    (tracks / "walk.nmea").unlink()
    again = SettingsEntry(driver.app.tablet, tmp_path)
    assert options(again, "receiver") == {"": False, name: True}
    (setting,) = [each for each in again.shown() if each.code == "receiver"]
    assert "not there now" in setting.options[1].words


def test_nothing_but_an_answer_that_is_offered_can_be_set(
    drive: Callable[..., Pilot], tmp_path: Path
) -> None:
    driver = drive(practising=False, folder=tmp_path)
    entry = SettingsEntry(driver.app.tablet, tmp_path)
    for setting, code in (("scale", "7"), ("volume", "loud")):
        with pytest.raises(UnreadableError, match="cannot be"):
            entry.choose(setting, code)


def test_the_density_is_told_as_kivy_reads_it(tmp_path: Path) -> None:
    assert density_of(tmp_path) == ""
    keep_identity(tmp_path, Identity(device="HER-1"))
    assert density_of(tmp_path) == ""
    keep_identity(tmp_path, Identity(device="HER-1", density=1.5))
    assert density_of(tmp_path) == "1.5"


@pytest.mark.parametrize("density", [0.01, 400.0, float("inf")])
def test_a_density_that_no_screen_has_is_left_out(tmp_path: Path, density: float) -> None:
    keep_identity(tmp_path, Identity(device="HER-1", density=density))
    assert density_of(tmp_path) == ""


def test_a_damaged_identity_does_not_stop_the_start_here(tmp_path: Path) -> None:
    (tmp_path / "identity.json").write_text("{")
    assert density_of(tmp_path) == ""


def test_an_identity_without_the_newer_settings_is_read(tmp_path: Path) -> None:
    (tmp_path / "identity.json").write_text(json.dumps({"device": "HER-1", "dusk": True}))
    kept = read_identity(tmp_path)
    assert kept == Identity(device="HER-1", dusk=True)
