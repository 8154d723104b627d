"""Shapes of a drawn track, in pixels; no Kivy."""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from typing import Final

Pixel = tuple[float, float]

STEPS: Final = (1, 2, 5, 10)


def thinned(points: Sequence[Pixel], apart: float) -> list[Pixel]:
    """Return points no closer to the one before than a distance, the last one always among them."""
    kept: list[Pixel] = []
    for point in points:
        if not kept or math.dist(kept[-1], point) >= apart:
            kept.append(point)
    if kept and kept[-1] != points[-1]:
        kept.append(points[-1])
    return kept


def dashes(points: Sequence[Pixel], mark: float, gap: float) -> list[list[Pixel]]:
    """Cut a line into dashes of a length with gaps between, round its corners too."""
    found: list[list[Pixel]] = []
    inked, left = True, mark
    dash = list(points[:1])
    for start, end in pairwise(points):
        length = math.dist(start, end)
        done = 0.0
        while length - done > left:
            done += left
            share = done / length
            cut = (start[0] + share * (end[0] - start[0]), start[1] + share * (end[1] - start[1]))
            if inked:
                found.append([*dash, cut])
            dash = [cut]
            inked, left = not inked, gap if inked else mark
        left -= length - done
        dash.append(end)
    if inked and len(dash) > 1:
        found.append(dash)
    return found


def nice(at_most: float) -> float:
    """Return the largest of 1, 2, 5, 10, 20 ... that is no longer than a length."""
    power: float = 10.0 ** math.floor(math.log10(max(at_most, 1e-3)))
    return max((step * power for step in STEPS if step * power <= at_most), default=power)


def bounds(points: Iterable[Pixel]) -> tuple[float, float, float, float] | None:
    """Return west, south, east and north of points, None if there are none."""
    every = list(points)
    if not every:
        return None
    xs, ys = [x for x, _ in every], [y for _, y in every]
    return min(xs), min(ys), max(xs), max(ys)


def flat(points: Iterable[Pixel]) -> list[float]:
    """Return points as one list of figures, the way lines are drawn from."""
    return [figure for point in points for figure in point]
