"""Gauges, the people who read them, and their slips: all random, all invented.

Nothing here was chosen by what a check makes of it: the uncertainties are those of the trade, the
frequencies of slips are set down in one table with where each comes from.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final, NamedTuple

import numpy as np

from tests.bench.season_shape import Bowl

READING_SD_M: Final = {"calm": 0.005, "ripples": 0.007, "waves": 0.010}  # rounding included; trade
SURFACES: Final = (("calm", 0.6), ("ripples", 0.3), ("waves", 0.1))  # from memory
ZERO_SD_M: Final = {"levelled": 0.005, "rtk": 0.025}  # from memory
BY_RECEIVER: Final = 0.2  # share of zeros set with a survey receiver (from memory)
PRACTICE: Final = 0.15  # how observers differ in care: spread of the logarithm (from memory)


class SlipRate(NamedTuple):
    """How often a slip is made, and where the figure comes from."""

    slip: str
    per_thousand: float
    origin: str


# No published frequencies were found; the order of size is that of copying errors by hand (about
# one in a hundred readings in all).
SLIPS: Final = (
    SlipRate("one-tenth", 4.0, "common practice: the usual misreading; frequency from memory"),
    SlipRate("digit-swap", 3.0, "common practice; frequency from memory"),
    SlipRate("one-metre", 2.0, "common practice: hidden metre figure; frequency from memory"),
    SlipRate("unit-slip", 2.0, "common practice: cm or mm typed for m; frequency from memory"),
    SlipRate("wrong-gauge", 2.0, "common practice: neighbouring posts; frequency from memory"),
)


@dataclass(frozen=True)
class Post:
    """A gauge as it stands and as the records have it."""

    name: str
    zero_m: float  # where it truly stands
    stated_zero_m: float
    method: str
    ground_m: float
    plate_m: float
    knocked_on: float | None = None  # day
    knocked_m: float = 0.0

    def true_zero_m(self, day: float) -> float:
        moved = self.knocked_on is not None and day >= self.knocked_on
        return self.zero_m + (self.knocked_m if moved else 0.0)


@dataclass(frozen=True)
class Observer:
    """Somebody who reads plates: how carefully, and to which figure."""

    name: str
    care: float  # times the usual error
    figure_m: float  # reads to this


class Read(NamedTuple):
    """What somebody read: a stage as typed, or a state."""

    text: str | None
    state: str | None
    surface: str


def posts(rng: np.random.Generator, bowl: Bowl) -> tuple[Post, ...]:
    """Return two or three gauges up the slope, their ranges overlapping."""
    zero_m = bowl.lowest_m + rng.uniform(0.04, 0.2)
    found: list[Post] = []
    for number in range(3):
        plate_m = float(rng.choice([0.8, 1.0, 1.2]))
        method = "rtk" if rng.random() < BY_RECEIVER else "levelled"
        above_m = rng.uniform(0.02, 0.12)
        found.append(
            Post(
                name=f"SG{number + 1}",
                zero_m=zero_m,
                stated_zero_m=round(zero_m + rng.normal(0.0, ZERO_SD_M[method]), 3),
                method=method,
                ground_m=round(max(bowl.lowest_m, zero_m - above_m), 3),
                plate_m=plate_m,
            )
        )
        zero_m += plate_m * rng.uniform(0.4, 0.7)
        if number and (zero_m > bowl.rim_m - 0.3 or rng.random() < 0.5):
            break
    return tuple(found)


def knocked(rng: np.random.Generator, post: Post, day: float) -> Post:
    """Return a gauge that something moves by 30 to 120 mm on a day, more often down."""
    moved_m = rng.uniform(0.030, 0.120) * (-1 if rng.random() < 0.7 else 1)
    return replace(post, knocked_on=day, knocked_m=float(moved_m))


def observers(rng: np.random.Generator, names: Sequence[str]) -> tuple[Observer, ...]:
    return tuple(
        Observer(name, math.exp(rng.normal(0.0, PRACTICE)), float(rng.choice([0.005, 0.010])))
        for name in names
    )


def read(
    rng: np.random.Generator, who: Observer, post: Post, level_m: float | None, day: float
) -> Read:
    """Return what somebody reads off a gauge."""
    surface = str(rng.choice([name for name, _ in SURFACES], p=[odds for _, odds in SURFACES]))
    if level_m is None or level_m <= post.ground_m:
        return Read(None, "dry", surface)
    figure_m = max(who.figure_m, 0.010 if surface == "waves" else 0.0)
    sd_m = math.sqrt(READING_SD_M[surface] ** 2 - figure_m**2 / 12) * who.care
    stage_m = level_m - post.true_zero_m(day) + rng.normal(0.0, sd_m)
    stage_m = round(stage_m / figure_m) * figure_m
    if stage_m <= 1e-9:
        return Read(None, "below_zero", surface)
    if stage_m > post.plate_m + 1e-9:
        return Read(None, "over_plate", surface)
    return Read(f"{stage_m:.{2 if figure_m >= 0.01 else 3}f}", None, surface)


def slipped(
    rng: np.random.Generator, slip: str, text: str, post: Post, others: Sequence[tuple[Post, str]]
) -> tuple[str, str, str] | None:
    """Return what is typed in a slip, on which gauge, and what was meant; None if it cannot be.

    Args:
        rng: Source of chance.
        slip: Which slip.
        text: What was read.
        post: The gauge it was read off.
        others: The other gauges with water on them, and what would be read there.
    """
    stage_m, decimals = float(text), len(text.partition(".")[2])
    if slip == "wrong-gauge":
        if not others:
            return None
        other, other_text = others[int(rng.integers(len(others)))]
        return other_text, post.name, other.name
    if slip == "unit-slip":
        typed = f"{stage_m * float(rng.choice([100.0, 1000.0])):g}"
    elif slip == "one-metre":
        typed = f"{stage_m + (1.0 if stage_m < 1.0 else -1.0):.{decimals}f}"
    elif slip == "one-tenth":
        up = rng.random() < 0.5 or stage_m <= 0.1
        typed = f"{stage_m + (0.1 if up else -0.1):.{decimals}f}"
    else:
        swaps = _swaps(text)
        if not swaps:
            return None
        typed = swaps[int(rng.integers(len(swaps)))]
    return typed, post.name, text


def _swaps(text: str) -> list[str]:
    """Return the text with two neighbouring figures behind the point the other way round."""
    whole, _, figures = text.partition(".")
    found = []
    for place in range(len(figures) - 1):
        one, other = figures[place], figures[place + 1]
        if one != other:
            found.append(f"{whole}.{figures[:place]}{other}{one}{figures[place + 2 :]}")
    return found
