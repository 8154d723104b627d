"""What a benchmark says: one measured figure beside its goal."""

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from typing import Any


@dataclass(frozen=True)
class Figure:
    """One measured figure.

    Args:
        figure: what was measured, in words
        value: the measured number, None where it could not be measured
        unit: of value and beside
        beside: the other side's value in the same run, None where there is none
        goal: the goal in words
        holds: whether the goal is met; None where it was not measured
        why: why it was not measured, or what a reader has to know about the number
    """

    figure: str
    value: float | None
    unit: str
    beside: float | None
    goal: str
    holds: bool | None
    why: str = ""

    def as_json(self) -> dict[str, Any]:
        """The figure as an object for --json."""
        return asdict(self)


def not_measured(figure: str, unit: str, goal: str, why: str) -> Figure:
    """A figure that this run could not measure, and why."""
    return Figure(figure, None, unit, None, goal, None, why)


def _number(value: float | None) -> str:
    if value is None:
        return "-"
    return f"{value:.0f}" if abs(value) >= 1000 else f"{value:.3g}"


_WORD = {True: "holds", False: "MISSED", None: "not measured"}


def table(figures: Sequence[Figure]) -> str:
    """The figures as a table of plain text, one a line."""
    lines = []
    for each in figures:
        beside = "" if each.beside is None else f" (beside {_number(each.beside)})"
        lines.append(
            f"{_WORD[each.holds]:<13} {each.figure}: {_number(each.value)} {each.unit}{beside};"
            f" goal {each.goal}" + (f"; {each.why}" if each.why else "")
        )
    return "\n".join(lines)
