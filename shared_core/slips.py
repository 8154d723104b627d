"""Which simple slip of eye or hand would explain a value that does not fit.

Each slip is tried backwards: undo it, and see how close the value comes to what was expected. The
list of slips is common practice among people who read gauges and meters.
"""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

ONE_TENTH_M: Final = 0.1
ONE_METRE_M: Final = 1.0
UNITS_M: Final = {"cm": 0.01, "mm": 0.001}
CLOSE_M: Final = 0.015  # an undone slip fits within this even where the window is narrower
# Where the window is wider than this a slip of a tenth, or of two figures, cannot be told; and
# undone, such a slip must come out nearer than the widest window would allow.
WIDEST_FOR_SMALL_SLIPS_M: Final = 0.080
NEAREST_FOR_SMALL_SLIPS_M: Final = 0.035
TIMES_THE_PLATE: Final = 2.0  # with nothing expected, a unit slip lies at least so far off it
POWERS_OF_TEN: Final = (10.0, 0.1, 100.0, 0.01, 1000.0, 0.001)
NEAR_POWER: Final = 0.25  # share by which a ratio may miss a power of ten

# How common a slip is beside the others, where several fit (from memory).
_WEIGHTS: Final = {
    "unit-slip": 1.0,
    "one-metre": 1.0,
    "wrong-gauge": 0.95,
    "one-tenth": 0.9,
    "digit-swap": 0.8,
    "figure-doubled": 0.5,
    "figure-dropped": 0.4,
    "meter-rolled": 1.0,
    "meter-flat": 1.0,
    "unit-times-ten": 0.9,
    "meter-changed": 0.3,
}


@dataclass(frozen=True, kw_only=True)
class Slip:
    """One slip that would explain a value: what it is, what was meant, and how well it fits."""

    code: str
    says: str
    suggests: str  # the value, the gauge or the answer that was meant
    fit: float  # 1 undoes it exactly, 0 not at all


@dataclass(frozen=True, kw_only=True)
class Plate:
    """The stages that a plate can show [m]."""

    from_m: float = 0.0
    to_m: float = 1.0

    def shows(self, stage_m: float, margin_m: float = 0.0) -> bool:
        """Tell whether a stage [m] can be read off the plate."""
        return self.from_m - margin_m <= stage_m <= self.to_m + margin_m


def explain(
    typed_stage_m: float,
    expected_stage_m: float | None,
    tolerance_m: float,
    *,
    plate: Plate = Plate(),
    other_zeros_m: Mapping[str, float] | None = None,
    as_typed: str = "",
) -> tuple[Slip, ...]:
    """Rank the slips that would explain a stage; the likeliest first, none if none fits.

    Args:
        typed_stage_m: What was typed.
        expected_stage_m: What the plate should show, None if nothing is known.
        tolerance_m: How far from it a true reading may lie.
        plate: What this plate can show.
        other_zeros_m: For each other gauge of the site, how far its zero lies above this one's.
        as_typed: The text itself, where it is at hand.
    """
    target = _Target(expected_stage_m, max(tolerance_m, CLOSE_M), plate, typed_stage_m)
    found = list(_units(typed_stage_m, target))
    if expected_stage_m is not None:
        text = as_typed.strip().replace(",", ".") or f"{typed_stage_m:.3f}"
        found += _metres(typed_stage_m, target)
        found += _other_gauges(typed_stage_m, target, other_zeros_m or {})
        if tolerance_m <= WIDEST_FOR_SMALL_SLIPS_M:
            near = replace(target, tolerance_m=min(target.tolerance_m, NEAREST_FOR_SMALL_SLIPS_M))
            found += _tenths(typed_stage_m, near)
            found += _figures(text, near)
    return tuple(sorted(found, key=_rank))


def _rank(slip: Slip) -> tuple[float, str]:
    return -slip.fit * _WEIGHTS[slip.code], slip.suggests


@dataclass(frozen=True)
class _Target:
    expected_m: float | None
    tolerance_m: float
    plate: Plate
    typed_m: float

    def fit(self, stage_m: float, *, on_plate: bool = True) -> float:
        """Return 1 for what was expected, 0 for a stage that does not fit."""
        if on_plate and not self.plate.shows(stage_m):
            return 0.0
        if self.expected_m is None:
            return 0.5
        miss = abs(stage_m - self.expected_m) / self.tolerance_m
        if miss > 0.5 * abs(self.typed_m - self.expected_m) / self.tolerance_m:
            return 0.0  # it must come out much better than what was typed
        return math.exp(-0.5 * miss * miss) if miss <= 1.0 + 1e-9 else 0.0


def _stage(stage_m: float) -> str:
    return f"{stage_m:.3f}"


def _units(typed_m: float, target: _Target) -> Iterator[Slip]:
    for unit, size_m in UNITS_M.items():
        meant_m = typed_m * size_m
        fit = target.fit(meant_m)
        far_off = target.expected_m is not None or typed_m > TIMES_THE_PLATE * target.plate.to_m
        if fit and far_off and not target.plate.shows(typed_m, CLOSE_M):
            # With nothing to go by, a plate is read in centimetres up to its length in them.
            odds = 1.0 if unit == "cm" or target.expected_m is not None else 0.9
            yield Slip(
                code="unit-slip",
                says=f"{typed_m:g} {unit} would be {_stage(meant_m)} m",
                suggests=_stage(meant_m),
                fit=fit * odds,
            )


def _metres(typed_m: float, target: _Target) -> Iterator[Slip]:
    for sign in (-1, 1):
        meant_m = typed_m + sign * ONE_METRE_M
        if fit := target.fit(meant_m):
            says = f"{_stage(meant_m)} m would fit: look at the metre figure"
            yield Slip(code="one-metre", says=says, suggests=_stage(meant_m), fit=fit)


def _tenths(typed_m: float, target: _Target) -> Iterator[Slip]:
    for sign in (-1, 1):
        meant_m = typed_m + sign * ONE_TENTH_M
        if fit := target.fit(meant_m):
            says = f"{_stage(meant_m)} m would fit: look at the number above the water"
            yield Slip(code="one-tenth", says=says, suggests=_stage(meant_m), fit=fit)


def _other_gauges(typed_m: float, target: _Target, zeros_m: Mapping[str, float]) -> Iterator[Slip]:
    for gauge, above_m in zeros_m.items():
        if target.tolerance_m > abs(above_m) / 3:  # the two plates could not be told apart
            continue
        if fit := target.fit(typed_m + above_m, on_plate=False):
            says = f"{_stage(typed_m)} m would fit {gauge}: look at the post in the photo"
            yield Slip(code="wrong-gauge", says=says, suggests=gauge, fit=fit)


def _figures(text: str, target: _Target) -> Iterator[Slip]:
    for code, says, candidates in (
        ("digit-swap", "two figures the other way round", swapped(text)),
        ("figure-doubled", "one figure typed twice", _undoubled(text)),
        ("figure-dropped", "one figure left out", _completed(text)),
    ):
        for candidate in candidates:
            meant_m = float(candidate)
            if fit := target.fit(meant_m):
                suggests = _stage(meant_m)
                says_all = f"{suggests} m would fit: {says}"
                yield Slip(code=code, says=says_all, suggests=suggests, fit=fit)


def swapped(text: str) -> list[str]:
    """Return a number's text with two neighbouring figures the other way round, each way once."""
    places = [place for place, figure in enumerate(text) if figure.isdigit()]
    found = []
    for one, other in pairwise(places):
        if text[one] != text[other]:
            figures = list(text)
            figures[one], figures[other] = figures[other], figures[one]
            found.append("".join(figures))
    return found


def _undoubled(text: str) -> list[str]:
    places = range(1, len(text))
    return [
        text[:place] + text[place + 1 :]
        for place in places
        if text[place].isdigit() and text[place] == text[place - 1]
    ]


def _completed(text: str) -> list[str]:
    whole, point, decimals = text.partition(".")
    if not point or not 1 <= len(decimals) <= 2:
        return []
    return [
        f"{whole}.{decimals[:place]}{figure}{decimals[place:]}"
        for place in range(len(decimals))
        for figure in "0123456789"
    ]


@dataclass(frozen=True, kw_only=True)
class Counter:
    """A counter's face, where it stood, and the counts it should have made since [low, high]."""

    figures: int
    before: int
    low: float
    high: float

    @property
    def rolls_at(self) -> int:
        return int(10**self.figures)

    def fits(self, counts: float) -> bool:
        """Tell whether so many counts can have been made since."""
        return counts >= 0 and self.low <= counts <= self.high

    def shown(self, value: int) -> str:
        return f"{value:0{self.figures}d}"


def explain_counter(display: str, counter: Counter) -> tuple[Slip, ...]:
    """Rank what would explain a counter's figures that do not fit; none if they fit."""
    counts = int(display) - counter.before
    if counter.fits(counts):
        return ()
    found = list(_rolled(counts, counter)) if counts < 0 else list(_steps(counts, counter))
    for candidate in swapped(display):
        if counter.fits(int(candidate) - counter.before):
            says = f"{candidate} would fit: two figures the other way round"
            found.append(Slip(code="digit-swap", says=says, suggests=candidate, fit=1.0))
    found += _too_many_or_few(display, counter)
    return tuple(sorted(found, key=_rank))


def _rolled(counts: int, counter: Counter) -> Iterator[Slip]:
    past_zero = counts + counter.rolls_at
    if counter.fits(past_zero):
        says = f"the meter passed {counter.shown(counter.rolls_at - 1)} and began again"
        yield Slip(code="meter-rolled", says=says, suggests="yes", fit=1.0)
    else:
        yield Slip(code="meter-changed", says="another meter stands here", suggests="", fit=1.0)


def _steps(counts: int, counter: Counter) -> Iterator[Slip]:
    if counts == 0 and counter.low > 0:
        yield Slip(code="meter-flat", says="the meter stands still", suggests="", fit=1.0)
    middle = (counter.low + counter.high) / 2
    if counts > 0 and counter.low > 0 and (power := near_power_of_ten(counts / middle)):
        says = f"one count may be worth {1 / power:g} times what is set"
        yield Slip(code="unit-times-ten", says=says, suggests=f"{1 / power:g}", fit=1.0)


def _too_many_or_few(display: str, counter: Counter) -> Iterator[Slip]:
    if len(display) > counter.figures:
        for candidate in _undoubled(display):
            if counter.fits(int(candidate) - counter.before):
                says = f"{candidate} would fit: one figure typed twice"
                yield Slip(code="figure-doubled", says=says, suggests=candidate, fit=1.0)


def near_power_of_ten(ratio: float, powers: Sequence[float] = POWERS_OF_TEN) -> float | None:
    """Return the power of ten (1 left out) that a ratio comes near to, or None."""
    for power in powers:
        if abs(ratio / power - 1) <= NEAR_POWER:
            return power
    return None
