"""Trust in the numbers: random seasons with a known truth, ours beside the plain way.

python -m tests.bench trust [--full]

The seeds of the published figures are not those that anything was built with. Intervals are Wilson's
and take readings as independent; those of one season share its weather, so they are a little narrow.
"""

import functools
import itertools
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from typing import Any, Final

import numpy as np

from tests.bench import trust_balance, trust_gauges, trust_knocks, trust_meters, trust_walks
from tests.bench.counting import merged
from tests.bench.figure import Figure, not_measured
from tests.bench.season_maker import BUILDING, REPORTING, season
from tests.bench.walk_maker import walk

CHUNKS: Final = 5  # of each part, for as many processes as there are cores
DEMO_GOAL: Final = "all flagged, raw text kept, balance as the scenario has it"
DEMO: Final = "demo season: planted errors flagged with their raw text kept"


@dataclass(frozen=True)
class Sizes:
    """How many seasons, and walks, each part takes."""

    gauges: int
    meters: int
    knocks: int
    walks: int
    balances: int


FULL: Final = Sizes(gauges=100, meters=24, knocks=90, walks=1000, balances=500)
SMALL: Final = Sizes(gauges=6, meters=2, knocks=8, walks=40, balances=12)


def figures(full: bool) -> list[Figure]:
    """Measure all figures of trust; the full sample takes some ten minutes of two cores."""
    found = measured(FULL if full else SMALL, REPORTING if full else BUILDING)
    return [*found, _demo() if full else not_measured(DEMO, "%", DEMO_GOAL, "only with --full")]


def measured(sizes: Sizes, seed: int) -> list[Figure]:
    """Measure the figures that come from random seasons, from a first seed on."""
    parts: tuple[tuple[Callable[[int, int], Any], Callable[[Any], list[Figure]], int], ...] = (
        (_gauges, trust_gauges.gauge_figures, sizes.gauges),
        (_meters, trust_meters.meter_figures, sizes.meters),
        (_knocks, trust_knocks.knock_figures, sizes.knocks),
        (_walks, trust_walks.walk_figures, sizes.walks),
        (_balances, trust_balance.balance_figures, sizes.balances),
    )
    found: list[Figure] = []
    with ProcessPoolExecutor() as pool:
        waiting = [
            [pool.submit(tally, seed + first, seed + last) for first, last in _chunks(count)]
            for tally, _, count in parts
        ]
        for (_, figures_of, _), chunks in zip(parts, waiting, strict=True):
            found += figures_of(functools.reduce(merged, (each.result() for each in chunks)))
    return found


def _chunks(count: int) -> list[tuple[int, int]]:
    edges = [count * k // CHUNKS for k in range(CHUNKS + 1)]
    return [(first, last) for first, last in itertools.pairwise(edges) if last > first]


def _gauges(first: int, last: int) -> trust_gauges.Tally:
    tally = trust_gauges.Tally()
    for seed in range(first, last):
        trust_gauges.judge(season(seed), tally)
    return tally


def _meters(first: int, last: int) -> trust_meters.MeterTally:
    tally = trust_meters.MeterTally()
    for seed in range(first, last):
        trust_meters.judge(season(seed), tally)
    return tally


def _knocks(first: int, last: int) -> trust_knocks.KnockTally:
    tally = trust_knocks.KnockTally()
    for seed in range(first, last):
        trust_knocks.judge(season(seed, with_knock=True), tally)
    return tally


def _walks(first: int, last: int) -> trust_walks.WalkTally:
    tally = trust_walks.WalkTally()
    for seed in range(first, last):
        trust_walks.judge(walk(np.random.default_rng(seed)), tally)
    return tally


def _balances(first: int, last: int) -> trust_balance.BalanceTally:
    tally = trust_balance.BalanceTally()
    for seed in range(first, last):
        trust_balance.judge(season(seed), tally)
    return tally


def _demo() -> Figure:
    """Play the demo season and read off what its own check says."""
    with tempfile.TemporaryDirectory() as folder:
        command = [sys.executable, "-m", "demo_visits", "--check", "--no-serve"]
        played = subprocess.run(
            [*command, "--folder", f"{folder}/season"], capture_output=True, text=True, check=False
        )
    said = re.search(
        r"check: (\d+) of (\d+) planted errors flagged and decided; (.*)", played.stdout
    )
    if said is None:
        return not_measured(DEMO, "%", DEMO_GOAL, f"it ended with {played.returncode}")
    flagged, planted = int(said[1]), int(said[2])
    return Figure(
        DEMO,
        100.0 * flagged / planted,
        "%",
        None,
        DEMO_GOAL,
        played.returncode == 0 and flagged == planted,
        f"{flagged} of {planted}; {said[3]}; its check ends with {played.returncode}",
    )
