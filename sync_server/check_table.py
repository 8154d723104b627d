"""The tables of checks and limits as Markdown, as they stand in the page of methods.

``python -m sync_server.check_table`` puts them into ``docs/methods.md`` between its two marks.
"""

import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Final

from shared_core.records.checks import CHECKS, LIMITS

STARTS: Final = "<!-- tables of checks: written by python -m sync_server.check_table -->"
ENDS: Final = "<!-- end of the tables of checks -->"
PAGE: Final = Path("docs/methods.md")


def check_tables() -> str:
    """Return the table of checks and the table of limits."""
    checks = _table(
        ("no.", "code", "looks at", "asks", "of", "limits", "origin"),
        (
            (
                str(check.number or "–"),
                f"`{check.code}`",
                check.asks,
                check.severity.replace(" ", ", "),
                check.kinds.replace(" ", ", ") or "over time",
                ", ".join(f"`{name}`" for name in check.limits),
                check.origin,
            )
            for check in sorted(CHECKS.values(), key=lambda each: (each.number or 99, each.code))
        ),
    )
    limits = _table(
        ("limit", "default", "unit", "origin"),
        (
            (
                f"{limit.name}",
                "–" if limit.default is None else f"{limit.default:g}",
                limit.unit,
                limit.origin,
            )
            for limit in sorted(LIMITS.values())
        ),
    )
    return f"{checks}\n\n{limits}"


def with_tables(page: str) -> str:
    """Return a page with the tables as they are now between its two marks.

    Raises:
        ValueError: if the page has no marks.
    """
    before, starts, rest = page.partition(STARTS)
    _, ends, after = rest.partition(ENDS)
    if not (starts and ends):
        raise ValueError("the page has no marks for the tables of checks")
    return f"{before}{STARTS}\n\n{check_tables()}\n\n{ENDS}{after}"


def _table(head: tuple[str, ...], rows: Iterable[tuple[str, ...]]) -> str:
    def lines() -> Iterator[tuple[str, ...]]:
        yield head
        yield ("---",) * len(head)
        yield from rows

    return "\n".join(f"| {' | '.join(cells)} |" for cells in lines())


if __name__ == "__main__":
    PAGE.write_text(with_tables(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    sys.stdout.write(f"{len(CHECKS)} checks, {len(LIMITS)} limits\n")
