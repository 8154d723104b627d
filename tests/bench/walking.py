"""A shoreline walk of 5,000 fixes on the real screen: from a new fix to the frame that shows it."""

import json
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, Final

from tests.bench.drawing import ROOT, around
from tests.bench.figure import Figure, not_measured
from tests.bench.saving import share, timed

FIXES: Final = 5000
GOAL_MS: Final = 10.0


@contextmanager
def _walk(size: tuple[int, int]) -> Iterator[tuple[Any, Any]]:
    """Begin a walk at the practice site with a receiver that says nothing."""
    from tests.bench.touching import app_of
    from tests.mobile.walk_scenes import ready

    with app_of(size) as driver:
        driver.tap(driver.find(name="practice"))
        ready(driver)
        driver.tap(driver.find(name="keep"))
        yield driver, driver.app.root.current_screen.walking


def walk_times(size: tuple[int, int], before: int, turns: int) -> tuple[list[float], int]:
    """Return the time of each step [ms] after so many fixes, and how often one was not on disk."""
    from tests.mobile.walked import ring

    fixes = ring(before + turns, every_s=1.0)
    late = 0
    with _walk(size) as (driver, walking):
        page = driver.app.root.current_screen
        for start in range(0, before, 500):
            walking.take(fixes[start : min(before, start + 500)])
        page.show()
        driver.frames(4)
        follow = page.face.ids.track.follow

        def looked(track: Any, outline: Any) -> None:
            nonlocal late
            late += sum(event[0] == "fix" for event in _lines(walking)) < track.count
            follow(track, outline)

        def step(fix: Any) -> None:
            walking.take([fix])
            page.show()
            driver.frames(1)

        times = [timed(lambda fix=fix: step(fix)) for fix in fixes[before:]]  # type: ignore[misc] # mypy types no default of a lambda
        page.face.ids.track.follow = looked
        for fix in ring(20, every_s=1.0, begun=fixes[-1].time):
            step(fix)
    return times, late


def _lines(walking: Any) -> list[Any]:
    """Return what the walk's file holds."""
    return list(walking._journal._events(walking._journal.path.read_bytes()))


def live_walk(turns: int) -> list[Figure]:
    """Measure the walk in a process of its own, with real frames where they can be drawn."""
    goal = f"<= {GOAL_MS:g} ms"
    variables, drawn = around()
    try:
        found = subprocess.run(
            [sys.executable, "-m", "tests.bench.walking", str(FIXES), str(turns)],
            cwd=ROOT,
            env=variables,
            capture_output=True,
            text=True,
            check=True,
        )
    except (OSError, subprocess.CalledProcessError) as error:
        said = getattr(error, "stderr", "") or str(error)
        return [not_measured("live walk, new fix to frame", "ms", goal, said[-300:])]
    p50, p99, late = json.loads(found.stdout.splitlines()[-1])
    how = "drawn by software" if drawn else "a window that draws nothing: pixels left out"
    name = f"live walk, new fix to frame after {FIXES} fixes"
    return [
        Figure(f"{name}, p50", p50, "ms", None, goal, p50 <= GOAL_MS, how),
        Figure(f"{name}, p99", p99, "ms", None, goal, p99 <= GOAL_MS, how),
        Figure("fixes drawn before they were on disk", late, "", None, "none", late == 0),
    ]


def main() -> None:
    """Print p50, p99 [ms] and the number of fixes that were drawn too early."""
    from tests.mobile import pilot

    times, late = walk_times(pilot.WIDE, int(sys.argv[1]), int(sys.argv[2]))
    print(json.dumps([share(times, 0.5), share(times, 0.99), late]))


if __name__ == "__main__":
    main()
