"""The waterline at a level: marching squares over a ground grid."""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from demo_visits.ground import CELL_M, Ground

Line = NDArray[np.float64]  # points by (x, y) [m]; the last joins the first
_Edge = tuple[int, int, bool]  # row, column, and whether it runs east (else north)

# Which sides of a square of four cell centres the waterline crosses, by which corners are wet:
# bit 0 south-west, 1 south-east, 2 north-east, 3 north-west. Saddles keep wet corners apart,
# because pools are joined through sides alone. Marching squares: Lorensen and Cline 1987, in two
# dimensions (from memory).
_CROSSINGS: Final[dict[int, tuple[tuple[str, str], ...]]] = {
    1: (("W", "S"),),
    2: (("S", "E"),),
    3: (("W", "E"),),
    4: (("E", "N"),),
    5: (("W", "S"), ("E", "N")),
    6: (("S", "N"),),
    7: (("W", "N"),),
    8: (("N", "W"),),
    9: (("N", "S"),),
    10: (("S", "E"), ("N", "W")),
    11: (("N", "E"),),
    12: (("E", "W"),),
    13: (("E", "S"),),
    14: (("S", "W"),),
}


def _edge(row: int, column: int, side: str) -> _Edge:
    return {
        "S": (row, column, True),
        "N": (row + 1, column, True),
        "W": (row, column, False),
        "E": (row, column + 1, False),
    }[side]


def _point(ground: Ground, edge: _Edge, level_m: float) -> tuple[float, float]:
    row, column, runs_east = edge
    here = float(ground[row, column])
    there = float(ground[row, column + 1] if runs_east else ground[row + 1, column])
    share = (level_m - here) / (there - here)
    x = (column + 0.5 + (share if runs_east else 0.0)) * CELL_M
    y = (row + 0.5 + (0.0 if runs_east else share)) * CELL_M
    return x, y


def waterlines(ground: Ground, level_m: float) -> list[Line]:
    """Return every closed line at this level [m], longest list of points first.

    Raises:
        ValueError: the water reaches the edge of the grid, so that a line would not close.
    """
    wet = ground < level_m
    if wet[0].any() or wet[-1].any() or wet[:, 0].any() or wet[:, -1].any():
        raise ValueError(f"the water at {level_m} m reaches the edge of the grid")
    code = wet[:-1, :-1] + 2 * wet[:-1, 1:] + 4 * wet[1:, 1:] + 8 * wet[1:, :-1]
    after: dict[_Edge, _Edge] = {}
    for row, column in np.argwhere((code > 0) & (code < 15)):
        for start, end in _CROSSINGS[int(code[row, column])]:
            after[_edge(int(row), int(column), start)] = _edge(int(row), int(column), end)
    lines: list[Line] = []
    while after:
        edge, following = after.popitem()
        loop = [edge]
        while following != loop[0]:
            loop.append(following)
            following = after.pop(following)
        lines.append(np.array([_point(ground, each, level_m) for each in loop]))
    return sorted(lines, key=len, reverse=True)


def area_m2(line: Line) -> float:
    """Return the area [m2] inside a closed line, by the shoelace formula."""
    x, y = line[:, 0], line[:, 1]
    return float(abs(np.dot(x, np.roll(y, -1)) - np.dot(np.roll(x, -1), y)) / 2.0)


def length_m(line: Line) -> float:
    """Return the length [m] of a closed line."""
    return float(np.hypot(*(np.roll(line, -1, axis=0) - line).T).sum())


def is_inside(line: Line, x: float, y: float) -> bool:
    """Tell whether a point x, y [m] lies inside a closed line (crossing number)."""
    ends = np.roll(line, -1, axis=0)
    spans = (line[:, 1] > y) != (ends[:, 1] > y)
    start, end = line[spans], ends[spans]
    crossing = start[:, 0] + (y - start[:, 1]) / (end[:, 1] - start[:, 1]) * (end - start)[:, 0]
    return bool(np.count_nonzero(crossing > x) % 2)
