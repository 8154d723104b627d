"""Pictures of every screen to look at: ``python -m tests.mobile.pictures OUT [--few] [NAME ...]``.

Draws real frames with EGL (``apt-get install libegl1 libgl1-mesa-dri``), in a process of its own.
"""

import itertools
import os
import sys
import tempfile
from pathlib import Path
from typing import Any

os.environ["PILOT_PICTURES"] = "1"

from tests.mobile import pilot
from tests.mobile.scenes import SCENES, start_afresh


def draw(out: Any, name: str, size: Any, *, scale: float = 1.0, dusk: Any = False) -> Any:
    """Draw one scene and return the path of the picture."""
    from mobile.app import Options, StrandlineApp
    from mobile.identity import Identity, keep_identity

    with tempfile.TemporaryDirectory() as folder:
        who = Identity(device="picture", dusk=dusk, text_scale=scale)
        keep_identity(Path(folder), who)
        driver = pilot.Pilot(lambda: StrandlineApp(Options(folder=Path(folder))), size=size)
        driver.start()
        try:
            start_afresh(driver)
            SCENES[name](driver)
            driver.wait(0.4)
            shape = "tablet" if size == pilot.WIDE else "phone"
            path = out / f"{name}_{shape}_{scale:g}_{'dusk' if dusk else 'day'}.png"
            driver.shot(path)
        finally:
            driver.stop()
    return path


def main(arguments: Any) -> None:
    few = "--few" in arguments  # text size 1 only
    out, *names = [argument for argument in arguments if argument != "--few"]
    folder = Path(out)
    folder.mkdir(parents=True, exist_ok=True)
    scales = (1.0,) if few else (1.0, 1.25)
    for name, size, scale, dusk in itertools.product(
        names or SCENES, (pilot.WIDE, pilot.TALL), scales, (False, True)
    ):
        sys.stdout.write(f"{draw(folder, name, size, scale=scale, dusk=dusk)}\n")


if __name__ == "__main__":
    main(sys.argv[1:])
