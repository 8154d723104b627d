"""The situations of the walk screen."""

import math
import random
from datetime import timedelta
from typing import Any

from shared_core.track import Fix
from tests.mobile.pilot import Pilot
from tests.mobile.walked import PLANE, quiet_receiver, radius_m, ring


def shore(driver: Pilot, count: int = 260) -> list[Fix]:
    """Walk an invented shore with arms, every few metres, some of it under trees."""
    chance = random.Random(7)
    begun = driver.app.tablet.device().now
    fixes = []
    for step in range(count):
        turn = 2 * math.pi * step / count
        out = radius_m() * (1 + 0.16 * math.sin(3 * turn) + 0.07 * math.sin(7 * turn + 1))
        trees = 0.55 < step / count < 0.62
        lat, lon = PLANE.inverse(
            1.2 * out * math.cos(turn) + chance.gauss(0, 0.5),
            0.85 * out * math.sin(turn) + chance.gauss(0, 0.5),
        )
        accuracy_m = chance.uniform(11, 14) if trees else chance.uniform(2, 4)
        fixes.append(Fix(begun + timedelta(seconds=3 * step), lat, lon, accuracy_m, 1.1))
    return fixes


def ready(driver: Pilot) -> Any:
    walks = quiet_receiver(driver)
    for path in walks._parts.folder.glob("walks/*"):
        path.unlink()  # the walk of the scene before
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="shoreline_walk site"))
    return driver.app.root.current_screen.walking


def walk_ready(driver: Pilot) -> None:
    ready(driver)


def walk_waiting(driver: Pilot) -> None:
    ready(driver)
    driver.tap(driver.find(name="keep"))


def _walk(driver: Pilot, fixes: list[Fix]) -> None:
    page = driver.app.root.current_screen
    for fix in fixes:
        page.walking.take([fix])
    page.show()
    driver.frames(2)


def _touch(driver: Pilot, *sends: str) -> None:
    for send in sends:
        driver.tap(driver.find(name=f"walk {send}"))


def walk_under_way(driver: Pilot) -> None:
    walk_waiting(driver)
    fixes = shore(driver)
    _walk(driver, fixes[:50])
    _touch(driver, "off", "how outside", "metres 3")
    _walk(driver, fixes[50:75])
    _touch(driver, "back")
    _walk(driver, fixes[75:165])


def walk_off_waterline(driver: Pilot) -> None:
    walk_waiting(driver)
    _walk(driver, shore(driver)[:50])
    _touch(driver, "off", "how outside")


def walk_island(driver: Pilot) -> None:
    walk_under_way(driver)
    begun = shore(driver)[165].time
    _touch(driver, "island")
    _walk(driver, ring(24, radius=14.0, begun=begun, every_s=2.0, middle=(-10.0, -12.0))[:18])


def walk_throw_away(driver: Pilot) -> None:
    walk_under_way(driver)
    _touch(driver, "pause", "discard")


def walk_finished(driver: Pilot) -> None:
    walk_island(driver)
    begun = shore(driver)[165].time
    _walk(driver, ring(24, radius=14.0, begun=begun, every_s=2.0, middle=(-10.0, -12.0))[18:])
    _touch(driver, "shore")
    _walk(driver, shore(driver)[190:])
    _touch(driver, "seen 1")
    driver.tap(driver.find(name="keep"))


def walk_open(driver: Pilot) -> None:
    walk_under_way(driver)
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(name="keep"))


WALK_SCENES = (
    walk_ready, walk_waiting, walk_under_way, walk_off_waterline, walk_island, walk_throw_away,
    walk_finished, walk_open,
)  # fmt: skip
