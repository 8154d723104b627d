"""First-order propagation of uncertainty through a whole computation, shared errors counted once.

A number carries, beside its value, what each source of error does to it. A source has a name, and
the name is its identity: the contributions of one source to two numbers are the same error, so
they add straight (or cancel) when the numbers meet; contributions of different sources add in
squares. One meter read all season is one source; the readings of a plate are many. "GUM" is JCGM
100:2008, Guide to the expression of uncertainty in measurement. "sd" is a standard uncertainty.
"""

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Final

from shared_core.errors import OutsideRangeError

COVERAGE_95: Final = 1.96  # GUM Table G.2, 95 % of a normal distribution
_SLACK = 1e-9  # how far a correlation matrix may stray from its rules by rounding


@dataclass(frozen=True)
class Source:
    """A source of error: what it is called, how large it is and what it shares.

    Attributes:
        name: What people call it.
        sd: Standard uncertainty, in the unit of the number it belongs to; relative for `factor`.
        what: What it is, in words.
        shared: Key under which sources are one and the same error; empty for the name itself.
    """

    name: str
    sd: float
    what: str = ""
    shared: str = ""

    def __post_init__(self) -> None:
        _sd(self.sd)
        if not self.name:
            raise ValueError("a source of error needs a name")

    @property
    def key(self) -> str:
        return self.shared or self.name

    def of(self, value: float) -> "Uncertain":
        """Return the value with this error added to it."""
        return Uncertain(value, {self.key: self.sd})

    def factor(self) -> "Uncertain":
        """Return 1 with this relative error: multiply by it whatever the error scales."""
        return Uncertain(1.0, {self.key: self.sd})


@dataclass(frozen=True)
class Contribution:
    """What one source, or one group of sources, does to a number."""

    name: str
    sd: float
    share: float  # of the variance, 0 to 1


@dataclass(frozen=True)
class Uncertain:
    """A value and, by source, the sensitivity to it times its sd (with its sign).

    Raises:
        ValueError: Something that is not a finite number.
    """

    value: float
    parts: Mapping[str, float] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        parts = {name: _finite(part) for name, part in self.parts.items() if part != 0}
        object.__setattr__(self, "value", _finite(self.value))
        object.__setattr__(self, "parts", MappingProxyType(parts))

    @property
    def sd(self) -> float:
        """Standard uncertainty; the sources are independent of each other (GUM eq. 10)."""
        return math.hypot(*self.parts.values())

    def contributions(self, group: Callable[[str], str] = str) -> tuple[Contribution, ...]:
        """Return what each source contributes, the largest first.

        Args:
            group: Turns the name of a source into the name it is listed under.
        """
        groups: dict[str, list[float]] = {}
        for name, part in self.parts.items():
            groups.setdefault(group(name), []).append(part)
        found = [(name, math.hypot(*parts)) for name, parts in groups.items()]
        found.sort(key=lambda pair: (-pair[1], pair[0]))
        return tuple(Contribution(name, sd, (sd / self.sd) ** 2) for name, sd in found)

    def interval(self, k: float = COVERAGE_95) -> tuple[float, float]:
        """Return the coverage interval: k standard uncertainties either side (GUM 6.2)."""
        return self.value - k * self.sd, self.value + k * self.sd

    def differs_from(self, other: "Uncertain | float", k: float = COVERAGE_95) -> bool:
        """Return whether the difference is more than k times its own sd."""
        difference = self - other
        return abs(difference.value) > k * difference.sd

    def __add__(self, other: "Uncertain | float") -> "Uncertain":
        right = _uncertain(other)
        return _met(self.value + right.value, (1.0, self), (1.0, right))

    def __sub__(self, other: "Uncertain | float") -> "Uncertain":
        right = _uncertain(other)
        return _met(self.value - right.value, (1.0, self), (-1.0, right))

    def __mul__(self, other: "Uncertain | float") -> "Uncertain":
        right = _uncertain(other)
        return _met(self.value * right.value, (right.value, self), (self.value, right))

    def __truediv__(self, other: "Uncertain | float") -> "Uncertain":
        right = _uncertain(other)
        ratio = self.value / right.value
        return _met(ratio, (1 / right.value, self), (-ratio / right.value, right))

    def __neg__(self) -> "Uncertain":
        return _met(-self.value, (-1.0, self))

    def __radd__(self, other: float) -> "Uncertain":
        return self + other

    def __rsub__(self, other: float) -> "Uncertain":
        return _uncertain(other) - self

    def __rmul__(self, other: float) -> "Uncertain":
        return self * other

    def __rtruediv__(self, other: float) -> "Uncertain":
        return _uncertain(other) / self


def independent(name: str, value: float, sd: float) -> Uncertain:
    """Return a value whose error is its own; the name must be its own too.

    Raises:
        ValueError: A number that is not finite, an sd below 0, or no name.
    """
    return Source(name, sd).of(value)


def scaled(name: str, value: float | Uncertain, relative_sd: float) -> Uncertain:
    """Return a value with a relative error, the same one wherever the name is used.

    Raises:
        ValueError: A number that is not finite, an sd below 0, or no name.
    """
    return Source(name, relative_sd).factor() * value


def total(items: Iterable[Uncertain]) -> Uncertain:
    """Return the sum, as of periods to a season: shared errors straight, the others in squares."""
    return sum(items, Uncertain(0.0))


def weighted_mean(items: Sequence[Uncertain]) -> Uncertain:
    """Return the mean weighted by 1/sd2; what the items share stays shared.

    Raises:
        ValueError: No items, or one without uncertainty.
    """
    if not items or any(item.sd == 0 for item in items):
        raise ValueError("a weighted mean needs items, each with an sd above 0")
    least = min(item.sd for item in items)  # weights relative to it cannot overflow
    weights = [(least / item.sd) ** 2 for item in items]
    whole = math.fsum(weights)
    return total(item * (weight / whole) for item, weight in zip(items, weights, strict=True))


def covariance(one: Uncertain, other: Uncertain) -> float:
    """Return the covariance of two numbers: the products of the parts they share."""
    return math.fsum(part * other.parts.get(name, 0.0) for name, part in one.parts.items())


def correlation(one: Uncertain, other: Uncertain) -> float:
    """Return the correlation coefficient of two numbers (GUM eq. 14).

    Raises:
        ValueError: One of them has no uncertainty.
    """
    if one.sd == 0 or other.sd == 0:
        raise ValueError("a number without uncertainty has no correlation")
    return covariance(one, other) / one.sd / other.sd


def correlated(
    names: Sequence[str],
    values: Sequence[float],
    sds: Sequence[float],
    matrix: Sequence[Sequence[float]],
) -> tuple[Uncertain, ...]:
    """Return numbers with given correlations, split over sources that are independent.

    The split is the Cholesky factor of the matrix, so the part of a number that goes with an
    earlier one is listed under the name of the earlier one.

    Raises:
        ValueError: Not a correlation matrix, lengths that differ, names twice, bad numbers.
    """
    if len(set(names)) != len(matrix) or len(names) != len(matrix):
        raise ValueError("each number needs a name of its own and a row of the matrix")
    return tuple(
        Uncertain(value, {name: _sd(sd) * share for name, share in zip(names, row, strict=True)})
        for value, sd, row in zip(values, sds, _cholesky(matrix), strict=True)
    )


def through(
    compute: Callable[..., float], *inputs: Uncertain | float, step_sds: float = 1.0
) -> Uncertain:
    """Carry numbers through a computation by finite differences.

    The step is one sd of each input, as GUM 5.1.3 note 2 has it: over a bend in a rating table
    that is fairer than the slope at the point. At an edge the side that can be computed is used.

    Args:
        compute: Takes plain numbers in the order of the inputs.
        inputs: Numbers, with or without uncertainty.
        step_sds: Step in sds; small for the slope at the point.

    Raises:
        ValueError: The step is not above 0 or an answer is not finite.
        OutsideRangeError: The point, or both sides of it, cannot be computed.
    """
    if not _finite(step_sds) > 0:
        raise ValueError(f"a step of {step_sds} sd: it must be above 0")
    known = [_uncertain(item) for item in inputs]
    point = [item.value for item in known]
    middle = _finite(compute(*point))
    terms = [
        (_slope(compute, point, place, item.sd * step_sds), item)
        for place, item in enumerate(known)
        if item.sd > 0
    ]
    return _met(middle, *terms)


def propagate(
    compute: Callable[..., float],
    values: Sequence[float],
    sds: Sequence[float],
    matrix: Sequence[Sequence[float]] | None = None,
    *,
    step_sds: float = 1.0,
) -> Uncertain:
    """Return the result of a computation on plain numbers (GUM eq. 10; with a matrix eq. 13).

    Args:
        compute: Takes the values in their order.
        values: Best values.
        sds: Their standard uncertainties.
        matrix: Their correlations; None when independent.
        step_sds: As in `through`.

    Raises:
        ValueError: As `correlated` and `through`.
        OutsideRangeError: As `through`.
    """
    size = len(values)
    names = [f"input {place + 1}" for place in range(size)]
    same = [[float(row == column) for column in range(size)] for row in range(size)]
    inputs = correlated(names, values, sds, same if matrix is None else matrix)
    return through(compute, *inputs, step_sds=step_sds)


def effective_freedom(result: Uncertain, freedom: Mapping[str, float]) -> float:
    """Return the effective degrees of freedom, Welch-Satterthwaite (GUM eq. G.2b).

    Args:
        result: The number asked about.
        freedom: Degrees of freedom by source; a source that is not named has infinitely many.

    Raises:
        ValueError: Degrees of freedom not above 0.
    """
    if not all(known > 0 for known in freedom.values()):
        raise ValueError("degrees of freedom must be above 0")
    whole = math.fsum(
        (part / result.sd) ** 4 / freedom.get(name, math.inf) for name, part in result.parts.items()
    )
    return 1 / whole if whole > 0 else math.inf


def _finite(number: float) -> float:
    if not math.isfinite(number):
        raise ValueError(f"{number} is not a finite number")
    return float(number)


def _sd(number: float) -> float:
    if not _finite(number) >= 0:
        raise ValueError(f"a standard uncertainty of {number}: it must be 0 or more")
    return float(number)


def _uncertain(number: Uncertain | float) -> Uncertain:
    return number if isinstance(number, Uncertain) else Uncertain(number)


def _met(value: float, *terms: tuple[float, Uncertain]) -> Uncertain:
    """Return a value whose parts are those of the terms, each times its slope, met by name."""
    parts: dict[str, float] = {}
    for slope, item in terms:
        for name, part in item.parts.items():
            parts[name] = parts.get(name, 0.0) + slope * part
    return Uncertain(value, parts)


def _moved(point: Sequence[float], place: int, step: float) -> list[float]:
    return [number + step * (at == place) for at, number in enumerate(point)]


def _slope(compute: Callable[..., float], point: Sequence[float], place: int, step: float) -> float:
    ends: list[tuple[float, float]] = []
    for side in (step, -step):
        try:
            ends.append((side, compute(*_moved(point, place, side))))
        except OutsideRangeError:
            if side < 0 and not ends:
                raise
    if len(ends) == 1:
        ends.append((0.0, compute(*point)))
    (right, above), (left, below) = ends
    return (_finite(above) - _finite(below)) / (right - left)


def _cholesky(matrix: Sequence[Sequence[float]]) -> list[list[float]]:
    size = len(matrix)
    factor = [[0.0] * size for _ in range(size)]
    for i, row in enumerate(matrix):
        if len(row) != size or abs(row[i] - 1) > _SLACK:
            raise ValueError("a correlation matrix is square with ones on its diagonal")
        for j in range(i + 1):
            if not abs(row[j] - matrix[j][i]) <= _SLACK:
                raise ValueError("a correlation matrix is symmetric")
            rest = row[j] - math.fsum(factor[i][k] * factor[j][k] for k in range(j))
            pivot = math.sqrt(max(rest, 0.0)) if i == j else factor[j][j]
            pivot = pivot if pivot**2 > _SLACK else 0.0
            factor[i][j] = rest / pivot if pivot > 0 else 0.0
            if abs(rest - factor[i][j] * pivot) > math.sqrt(_SLACK):
                raise ValueError("no errors can have these correlations together")
    return factor
