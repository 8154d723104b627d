"""Real frames, drawn in a process of their own: the rest of the tests run on a window without any."""

import ctypes.util
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
from PIL import Image

NAMES = ("home", "site", "gauge_good", "gauge_over", "meter_full", "form", "walk_under_way")
HOW = "EGL is not here: apt-get install libegl1 libgl1-mesa-dri libgles2"

pytestmark = [pytest.mark.picture, pytest.mark.slow]


@pytest.fixture(scope="module")
def drawn(tmp_path_factory: Any) -> Any:
    if ctypes.util.find_library("EGL") is None or ctypes.util.find_library("GLESv2") is None:
        pytest.skip(HOW)
    folder = tmp_path_factory.mktemp("pictures")
    around = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("KIVY_", "KCFG_", "SDL_"))
    }
    found = subprocess.run(
        [sys.executable, "-m", "tests.mobile.pictures", str(folder), "--few", *NAMES],
        cwd=Path(__file__).parents[2],
        env=around,
        capture_output=True,
        text=True,
        check=False,
    )
    assert found.returncode == 0, found.stderr[-2000:]
    return folder


def colours(path: Path) -> Any:
    with Image.open(path) as picture:
        return picture.size, picture.convert("RGB").getcolors(maxcolors=1_000_000)


@pytest.mark.parametrize("name", NAMES)
@pytest.mark.parametrize(("shape", "size"), [("tablet", (1280, 800)), ("phone", (412, 915))])
def test_every_screen_is_drawn_over_the_whole_window(
    drawn: Path, name: str, shape: Any, size: Any
) -> None:
    found, count = colours(drawn / f"{name}_{shape}_1_day.png")
    assert found == size
    assert len(count) > 20  # letters have smooth edges
    black = sum(pixels for pixels, colour in count if colour == (0, 0, 0))
    assert black < 0.01 * size[0] * size[1]  # what was not drawn stays black


@pytest.mark.parametrize("name", NAMES)
def test_dusk_is_dark_and_day_is_light(drawn: Path, name: str) -> None:
    def light(look: str) -> Any:
        with Image.open(drawn / f"{name}_phone_1_{look}.png") as picture:
            grey = picture.convert("L").resize((1, 1))
            return grey.getpixel((0, 0))

    assert light("day") > 150
    assert light("dusk") < 100
