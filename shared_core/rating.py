"""Stage-area-volume tables: how much water stands in a pool at a level, and how far it spreads.

A rating answers inside the range that was surveyed and nowhere else: a mistyped level must not come
back as a volume. Levels are metres above the datum of the site; depth is height above the lowest
ground.
"""

import math
from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from operator import itemgetter
from typing import Final, NamedTuple

from shared_core.errors import OutsideRangeError, UnreadableError
from shared_core.units import megalitres

ORIGINS: Final = ("terrain model", "walks", "power form")
LEVEL_TOLERANCE_M: Final = 1e-6  # stage + gauge zero in binary arithmetic is off by about 1e-14 m
DEFAULT_STEP_M: Final = 0.01  # a row every 10 to 20 mm: common practice
DEFAULT_SHAPE_P: Final = 2.5  # p of 2 to 3 where only one walk is known: common practice
ONE_WALK_FRACTION: Final = 0.30  # a first volume from one walk is good to +-30 %: from memory


class Row(NamedTuple):
    """One line of a rating: level above the datum [m], area [m2] and volume [m3] below it."""

    level_m: float
    area_m2: float
    volume_m3: float


@dataclass(frozen=True)
class Rating:
    """A stage-area-volume table, linear between its rows in area and in volume.

    `fit_fraction` is the standard uncertainty of the volume that comes from the form of the table
    itself, as a fraction of the volume (0.30 where one walk is all there is).

    Raises:
        UnreadableError: when the rows are no table of a pool; the text names the first bad row.
    """

    rows: tuple[Row, ...]
    name: str = ""
    version: str = ""
    origin: str = "terrain model"
    fit_fraction: float = 0.0

    def __post_init__(self) -> None:
        if self.origin not in ORIGINS:
            raise ValueError(f"origin is one of {', '.join(ORIGINS)}, not {self.origin!r}")
        _check_rows(self.rows)

    @classmethod
    def from_rows(
        cls,
        rows: Iterable[Sequence[float]],
        *,
        name: str = "",
        version: str = "",
        origin: str = "terrain model",
        fit_fraction: float = 0.0,
    ) -> "Rating":
        """Make a rating of any triples of level [m], area [m2] and volume [m3].

        Raises:
            UnreadableError: when a row has not three numbers, or the rows are no table of a pool.
        """
        taken = list(rows)
        for number, row in enumerate(taken, 1):
            if len(row) != 3:
                raise UnreadableError(
                    f"row {number} of the rating has {len(row)} values; "
                    "three are needed: level_m, area_m2, volume_m3"
                )
        return cls(tuple(Row(*map(float, r)) for r in taken), name, version, origin, fit_fraction)

    @property
    def lowest_m(self) -> float:
        return self.rows[0].level_m

    @property
    def highest_m(self) -> float:
        return self.rows[-1].level_m

    @property
    def starts_dry(self) -> bool:
        return self.rows[0].area_m2 == 0 and self.rows[0].volume_m3 == 0

    def contains(self, level_m: float) -> bool:
        """Tell whether area and volume at a level [m] are known; a dry pool is."""
        low_enough = level_m <= self.highest_m + LEVEL_TOLERANCE_M
        return low_enough and (self.starts_dry or level_m >= self.lowest_m - LEVEL_TOLERANCE_M)

    def area_at(self, level_m: float) -> float:
        """Return the area under water [m2] at a level [m].

        Raises:
            OutsideRangeError: when the level lies above, or not dry below, the surveyed range.
        """
        return self._between(1, "area", level_m)

    def volume_at(self, level_m: float) -> float:
        """Return the volume [m3] at a level [m].

        Raises:
            OutsideRangeError: when the level lies above, or not dry below, the surveyed range.
        """
        return self._between(2, "volume", level_m)

    def slope(self, level_m: float) -> float:
        """Return the area gained by a rise [m2/m] at a level [m]; at a row, of the slice above it.

        Raises:
            OutsideRangeError: when the level lies above, or not dry below, the surveyed range.
        """
        self._check(level_m, "slope")
        if level_m < self.lowest_m - LEVEL_TOLERANCE_M:
            return 0.0
        low, high = self._slice(level_m)
        return (high.area_m2 - low.area_m2) / (high.level_m - low.level_m)

    def level_at(self, volume_m3: float) -> float:
        """Return the level [m] at which the pool holds a volume [m3].

        An empty pool answers with the highest level that is still empty.

        Raises:
            OutsideRangeError: when the table does not reach down or up to this volume.
        """
        first, last = self.rows[0], self.rows[-1]
        if not first.volume_m3 <= volume_m3 <= last.volume_m3:
            raise OutsideRangeError(
                f"{megalitres(volume_m3):.2f} ML lies outside the surveyed range, which holds "
                f"{megalitres(first.volume_m3):.2f} to {megalitres(last.volume_m3):.2f} ML; "
                "the level for it is not known"
            )
        after = bisect_right(self.rows, volume_m3, key=itemgetter(2))
        if after == len(self.rows):
            return self.rows[bisect_left(self.rows, volume_m3, key=itemgetter(2))].level_m
        low, high = self.rows[after - 1], self.rows[after]
        share = (volume_m3 - low.volume_m3) / (high.volume_m3 - low.volume_m3)
        return low.level_m + share * (high.level_m - low.level_m)

    def mean_area_between(self, level1_m: float, level2_m: float) -> float:
        """Return the mean area [m2] over all levels between two [m], in either order.

        Raises:
            OutsideRangeError: when a level lies above, or not dry below, the surveyed range.
        """
        low, high = sorted((level1_m, level2_m))
        at = [(low, self.area_at(low)), (high, self.area_at(high))]
        if high - low <= LEVEL_TOLERANCE_M:
            return (at[0][1] + at[1][1]) / 2
        at[1:1] = [(row.level_m, row.area_m2) for row in self.rows if low < row.level_m < high]
        return sum((z2 - z1) * (a1 + a2) / 2 for (z1, a1), (z2, a2) in pairwise(at)) / (high - low)

    def volume_uncertainty_m3(
        self,
        level_m: float,
        level_sd_m: float,
        bias_sd_m: float = 0.0,
        fit_fraction: float | None = None,
    ) -> float:
        """Return the standard uncertainty of the volume [m3] at a level [m].

        u_V^2 = (A u_L)^2 + (A b)^2 + (f V)^2: u_L is the standard uncertainty of the level with
        its gauge zero, b that of the mean bias of the ground heights, which no number of cells
        averages out, f the fraction for the form of the table (its own unless given).
        First-order propagation, JCGM 100:2008 equation 10, with dV/dz = A.

        Raises:
            OutsideRangeError: when the level lies above, or not dry below, the surveyed range.
        """
        fraction = self.fit_fraction if fit_fraction is None else fit_fraction
        area_m2 = self.area_at(level_m)
        fit_m3 = fraction * self.volume_at(level_m)
        return math.hypot(area_m2 * level_sd_m, area_m2 * bias_sd_m, fit_m3)

    def _check(self, level_m: float, asked: str) -> None:
        if not math.isfinite(level_m):
            raise ValueError(f"a level is a finite number of metres, not {level_m}")
        if self.contains(level_m):
            return
        where, verb, end_m = "below", "begins", self.lowest_m
        if level_m > end_m:
            where, verb, end_m = "above", "ends", self.highest_m
        raise OutsideRangeError(
            f"{_metres(level_m)} m is {where} the surveyed range, which {verb} at "
            f"{_metres(end_m)} m; the {asked} there is not known"
        )

    def _slice(self, level_m: float) -> tuple[Row, Row]:
        after = bisect_right(self.rows, level_m, key=itemgetter(0))
        after = min(max(after, 1), len(self.rows) - 1)
        return self.rows[after - 1], self.rows[after]

    def _between(self, column: int, asked: str, level_m: float) -> float:
        self._check(level_m, asked)
        inside_m = min(max(level_m, self.lowest_m), self.highest_m)
        low, high = self._slice(inside_m)
        share = (inside_m - low.level_m) / (high.level_m - low.level_m)
        between = low[column] + share * (high[column] - low[column])
        return min(between, high[column])  # rounding must not carry it past the upper row


@dataclass(frozen=True)
class PowerForm:
    """The bowl A = s (h/h0)^(2/p), V = s h0 / (1 + 2/p) (h/h0)^(1 + 2/p), h the depth [m].

    s [m2] is the area at the depth h0 [m]; p = 1 is a cone, 2 a paraboloid, a large p a flat pan.
    Equations 3 and 4 (numbers from memory) of Hayashi & van der Kamp (2000), Simple equations to
    represent the volume-area-depth relations of shallow wetlands in small topographic depressions,
    J. Hydrol. 237:74-85.
    """

    s_m2: float
    p: float
    h0_m: float = 1.0
    fit_fraction: float = 0.0

    def __post_init__(self) -> None:
        _check_positive("s, p and h0 of a power form", self.s_m2, self.p, self.h0_m)

    def at_depth(self, depth_m: float) -> tuple[float, float]:
        """Return area [m2] and volume [m3] at a depth [m]; nothing lies below the lowest ground."""
        depth_m = max(depth_m, 0.0)
        area_m2 = self.s_m2 * (depth_m / self.h0_m) ** (2 / self.p)
        return area_m2, area_m2 * depth_m / (1 + 2 / self.p)


def fit_two(h1_m: float, a1_m2: float, h2_m: float, a2_m2: float) -> PowerForm:
    """Fit the power form to two pairs of depth [m] and area [m2].

    p = 2 ln(h1/h2) / ln(A1/A2), and s follows from either pair: Hayashi & van der Kamp (2000).

    Raises:
        UnreadableError: when a value is not above zero, or the deeper pair has not more area.
    """
    _check_positive("two depths and two areas", h1_m, a1_m2, h2_m, a2_m2)
    if (h2_m - h1_m) * (a2_m2 - a1_m2) <= 0:
        raise UnreadableError(
            f"{_metres(h1_m)} m with {a1_m2:g} m2 and {_metres(h2_m)} m with {a2_m2:g} m2 fit no "
            "bowl: the greater depth needs the greater area"
        )
    p = 2 * math.log(h1_m / h2_m) / math.log(a1_m2 / a2_m2)
    return PowerForm(a1_m2 * h1_m ** (-2 / p), p)


def fit_one(depth_m: float, area_m2: float, p: float = DEFAULT_SHAPE_P) -> PowerForm:
    """Fit the power form to one pair of depth [m] and area [m2], with an assumed shape p.

    The volume is good to +-30 % only (from memory), which `fit_fraction` states.

    Raises:
        UnreadableError: when a value is not above zero.
    """
    _check_positive("a depth, an area and p", depth_m, area_m2, p)
    return PowerForm(area_m2 * depth_m ** (-2 / p), p, 1.0, ONE_WALK_FRACTION)


def power_form(
    form: PowerForm,
    lowest_m: float,
    highest_m: float,
    *,
    step_m: float = DEFAULT_STEP_M,
    name: str = "",
    version: str = "",
) -> Rating:
    """Tabulate a power form from its lowest ground [m] to the highest level it was seen to fit [m].

    Raises:
        UnreadableError: when the highest level is not above the lowest ground.
    """
    ground = Row(lowest_m, 0.0, 0.0)
    rows = (ground, *_tabulate(ground, highest_m, step_m, form.at_depth))
    return Rating(rows, name, version, "power form", form.fit_fraction)


def from_walks(
    walks: Iterable[tuple[float, float]],
    lowest_m: float,
    *,
    p: float = DEFAULT_SHAPE_P,
    step_m: float = DEFAULT_STEP_M,
    name: str = "",
    version: str = "",
) -> Rating:
    """Make a rating of shoreline walks, each a level [m] and the area inside it [m2].

    Between two walks the volume is that of a frustum, (h/3)(A1 + A2 + sqrt(A1 A2)) (elementary
    geometry; exact for a cone, low for a parabolic bowl). Below the lowest walk stands a power form
    (Hayashi & van der Kamp 2000) down to the lowest ground `lowest_m`, fitted to the two lowest
    walks; with one walk its shape is `p` and the volume is stated as good to +-30 %.

    Raises:
        UnreadableError: when there is no walk, or the walks are not those of one bowl.
    """
    known = sorted(walks)
    _check_walks(known, lowest_m)
    first_m, first_m2 = known[0]
    bottom = fit_one(first_m - lowest_m, first_m2, p)
    fraction = bottom.fit_fraction if len(known) == 1 else 0.0
    if len(known) > 1 and known[1][1] > first_m2:
        bottom = fit_two(first_m - lowest_m, first_m2, known[1][0] - lowest_m, known[1][1])
    rows = list(power_form(bottom, lowest_m, first_m, step_m=step_m).rows)
    for level_m, area_m2 in known[1:]:
        slice_at = _frustum(rows[-1], level_m, area_m2)
        rows.extend(_tabulate(rows[-1], level_m, step_m, slice_at))
    return Rating(tuple(rows), name, version, "walks", fraction)


def _frustum(start: Row, top_m: float, top_m2: float) -> Callable[[float], tuple[float, float]]:
    """Return area and volume over height for a slice whose square root of area grows evenly."""
    root = math.sqrt(start.area_m2)
    widening = (math.sqrt(top_m2) - root) / (top_m - start.level_m)

    def at_height(height_m: float) -> tuple[float, float]:
        here = root + widening * height_m
        slice_m3 = height_m / 3 * (root**2 + here**2 + root * here)
        return here**2, start.volume_m3 + slice_m3

    return at_height


def _tabulate(
    start: Row, top_m: float, step_m: float, at: Callable[[float], tuple[float, float]]
) -> list[Row]:
    """List the rows above a first one, up to a level [m], evenly and at most a step [m] apart."""
    height_m = top_m - start.level_m
    _check_positive("the step and the height of the table", step_m, height_m)
    count = math.ceil(height_m / step_m - 1e-9)
    rows = [start]
    for i in range(1, count + 1):
        area_m2, volume_m3 = at(height_m * i / count)
        level_m = top_m if i == count else start.level_m + height_m * i / count
        before = rows[-1]  # the last binary digit must not let the table fall
        rows.append(Row(level_m, max(area_m2, before.area_m2), max(volume_m3, before.volume_m3)))
    return rows[1:]


def _check_positive(what: str, *values: float) -> None:
    if not all(math.isfinite(value) and value > 0 for value in values):
        given = ", ".join(f"{value:g}" for value in values)
        raise UnreadableError(f"{what} must all be above zero, not {given}")


def _check_walks(walks: Sequence[tuple[float, float]], lowest_m: float) -> None:
    if not walks:
        raise UnreadableError("a rating from walks needs at least one walk with level and area")
    for (z1, a1), (z2, a2) in pairwise([(lowest_m, 0.0), *walks]):
        if not (z2 > z1 and a2 >= a1 and a2 > 0):
            raise UnreadableError(
                f"the walk at {_metres(z2)} m ({a2:g} m2) does not fit above {_metres(z1)} m "
                f"({a1:g} m2): it needs a higher level and at least as much area"
            )


def _check_rows(rows: Sequence[Row]) -> None:
    if len(rows) < 2:
        raise UnreadableError(f"a rating needs at least two rows, not {len(rows)}")
    before = Row(-math.inf, 0.0, 0.0)
    for number, row in enumerate(rows, 1):
        wrong = _what_is_wrong(row, before)
        if wrong:
            where = f"row {number} of the rating ({_metres(row.level_m)} m)"
            raise UnreadableError(f"{where}: {wrong}")
        before = row


def _what_is_wrong(row: Row, before: Row) -> str:
    if not all(math.isfinite(value) for value in row):
        return f"level, area and volume must be finite, not {', '.join(map(str, row))}"
    if row.level_m <= before.level_m:
        return f"the level must be above that of the row before, {_metres(before.level_m)} m"
    if row.area_m2 < before.area_m2:
        return f"the area, {row.area_m2:g} m2, must not be below {before.area_m2:g} m2"
    if row.volume_m3 < before.volume_m3:
        return f"the volume, {row.volume_m3:g} m3, must not be below {before.volume_m3:g} m3"
    return ""


def _metres(level_m: float) -> str:
    """Write a level [m] with two decimals, or with up to six where it has them."""
    whole, _, decimals = f"{level_m:.6f}".partition(".")
    return f"{whole}.{decimals.rstrip('0').ljust(2, '0')}" if decimals else whole
