"""Shares with their confidence intervals."""

import dataclasses
import math
from dataclasses import dataclass
from typing import Any

from tests.bench.figure import Figure, not_measured

Z_95 = 1.96
FEW = 200  # trials, below which a miss within the interval is no miss


def wilson(hits: int, of: int) -> tuple[float, float]:
    """Return the 95 % interval of a share (Wilson 1927, J. American Statistical Association 22)."""
    if of == 0:
        return 0.0, 1.0
    share, z2 = hits / of, Z_95**2
    middle = (share + z2 / (2 * of)) / (1 + z2 / of)
    half = Z_95 / (1 + z2 / of) * math.sqrt(share * (1 - share) / of + z2 / (4 * of * of))
    return max(0.0, middle - half), min(1.0, middle + half)


@dataclass
class Share:
    """Hits among trials."""

    hits: int = 0
    of: int = 0

    def add(self, hit: bool) -> None:
        self.of += 1
        self.hits += bool(hit)

    def plus(self, other: "Share") -> "Share":
        return Share(self.hits + other.hits, self.of + other.of)

    @property
    def percent(self) -> float:
        return 100.0 * self.hits / self.of if self.of else math.nan

    @property
    def words(self) -> str:
        low, high = wilson(self.hits, self.of)
        return f"{self.hits} of {self.of}, 95 % interval {100 * low:.1f}-{100 * high:.1f} %"


def merged(one: Any, other: Any) -> Any:
    """Return two tallies as one: shares and counts added, lists joined, field by field."""
    if isinstance(one, Share):
        return one.plus(other)
    if isinstance(one, tuple):
        return tuple(merged(a, b) for a, b in zip(one, other, strict=True))
    if isinstance(one, dict):
        return {
            key: merged(one[key], other[key]) if key in one and key in other else each[key]
            for each in (one, other)
            for key in each
        }
    if dataclasses.is_dataclass(one) and not isinstance(one, type):
        names = [each.name for each in dataclasses.fields(one)]
        parts = {name: merged(getattr(one, name), getattr(other, name)) for name in names}
        return dataclasses.replace(one, **parts)
    return one + other


def share_figure(
    name: str,
    ours: Share,
    plain: Share | None,
    goal: tuple[float, float],
    why: str = "",
) -> Figure:
    """Return a share [%] as a figure; it holds where it lies between the ends of its goal."""
    low, high = goal
    words = (
        f">= {low:g} %"
        if high >= 100
        else (f"<= {high:g} %" if low <= 0 else f"{low:g}-{high:g} %")
    )
    if ours.of == 0:
        return not_measured(name, "%", words, "no case came up")
    more = f"; {why}" if why else ""
    if plain is not None and plain.of:
        more += f"; plain {plain.words}"
    beside = round(plain.percent, 2) if plain is not None and plain.of else None
    holds: bool | None = low <= ours.percent <= high
    reach = wilson(ours.hits, ours.of)
    if not holds and ours.of < FEW and 100 * reach[0] <= high and 100 * reach[1] >= low:
        holds, more = None, f"; too few to tell{more}"
    return Figure(name, round(ours.percent, 2), "%", beside, words, holds, ours.words + more)
