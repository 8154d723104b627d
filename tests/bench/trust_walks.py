"""Areas of random walks: does the stated interval cover the truth, and how far off is the area."""

import math
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from shared_core import geodesy
from shared_core.track import Fix, measure_walk
from tests.bench.counting import Z_95, Share, share_figure
from tests.bench.figure import Figure
from tests.bench.plain_way import WALK_SD_M
from tests.bench.walk_maker import Walk

TIMES_BEST: Final = 1.2


@dataclass
class WalkTally:
    """What came out, ours and the plain way's; misses as times the best standard error."""

    covered: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    missed: list[float] = field(default_factory=list)
    best: list[float] = field(default_factory=list)


def judge(one: Walk, tally: WalkTally) -> None:
    """Measure a walk and add to the tally."""
    measured = measure_walk(one.fixes)
    miss_m2, raw_miss_m2 = (area - one.area_m2 for area in (measured.area_m2, _raw_area_m2(one)))
    ours, plain = tally.covered
    ours.add(abs(miss_m2) <= Z_95 * measured.area_sd_m2)
    plain.add(abs(raw_miss_m2) <= Z_95 * independent_sd_m2(one.fixes))
    known_sd_m2 = _known_sd_m2(one)
    tally.missed.append(miss_m2 / known_sd_m2)
    tally.best.append(raw_miss_m2 / known_sd_m2)


def walk_figures(tally: WalkTally) -> list[Figure]:
    """Return the figures about walks."""
    count, ratio = len(tally.missed), _rms(tally.missed)
    best = _rms(tally.best)
    spread = ratio / math.sqrt(2 * count)
    why = (
        f"{count} walks; the errors of the best are 1.00 by the known model and {best:.3f} as"
        f" drawn; 95 % interval {ratio - Z_95 * spread:.2f}-{ratio + Z_95 * spread:.2f}"
    )
    return [
        share_figure(
            "walks: stated 95 % interval of area covers the truth", *tally.covered, (93.0, 97.0)
        ),
        Figure(
            "walks: error against the best possible with a known error model",
            round(ratio, 3),
            "times its rms",
            round(best, 3),
            f"<= {TIMES_BEST}",
            ratio <= TIMES_BEST,
            why,
        ),
    ]


def _rms(values: list[float]) -> float:
    return math.sqrt(sum(value**2 for value in values) / len(values))


def _raw_area_m2(one: Walk) -> float:
    return abs(geodesy.plane_area_m2([(float(x), float(y)) for x, y in one.noisy_m]))


def _known_sd_m2(one: Walk) -> float:
    """Return the standard error of the area with the true error model, every fix used.

    Nothing does better without knowing the shore: the shoelace area of unbiased fixes is unbiased.
    """
    points = [(float(x), float(y)) for x, y in one.noisy_m]
    seconds = [(fix.time - one.fixes[0].time).total_seconds() for fix in one.fixes]
    steps = np.diff(seconds, prepend=-math.inf)
    fades = [math.exp(-float(step) / one.time_constant_s) for step in steps]
    return geodesy.plane_area_sd_m2(points, [one.sd_m] * len(points), fades)


def independent_sd_m2(fixes: tuple[Fix, ...]) -> float:
    """Return the plain way's uncertainty: every fix 3 m off, each independent of the next."""
    projection = geodesy.local_projection(fixes[0].lat, fixes[0].lon)
    points = [projection.forward(fix.lat, fix.lon) for fix in fixes]
    zeros = [0.0] * len(points)
    return geodesy.plane_area_sd_m2(points, [WALK_SD_M] * len(points), zeros)
