"""The record reference: every kind and every field as one page, read off the declarations.

``python -m sync_server.reference`` prints the page that stands in ``docs/record_reference.md``.
"""

import inspect
import sys
from collections.abc import Iterable, Sequence
from typing import Final

from shared_core.field_kinds import Choice, Field, Number, Text
from shared_core.field_shapes import Rows
from shared_core.fields import fields_of
from shared_core.records import KINDS
from shared_core.records.base import Record, Seen, SetUp

_HEADS: Final[tuple[tuple[type[Record], str], ...]] = (
    (Seen, "Shared by all observations"),
    (SetUp, "Shared by all set-up facts"),
)
_COLUMNS: Final = ("Name", "What", "Unit", "Usual range", "Needed", "SQL", "What goes in")
_ABOUT: Final = """\
# Record reference

This page is written by `python -m sync_server.reference` from the declarations in
`shared_core/records/`; change those, not this page. A test holds the two together.

A record of a kind is stored as the body of an entry (see [the wire](wire.md)): a JSON object with
the names below, fields without a value left out. In a logbook opened with any SQLite program each
kind is also a view of that name: `record_id`, the columns below in their SQL type, then
`written_by`, `written_on`, `written_at` and `disputed`. A value outside its usual range is asked
about and kept. "Needed" means that a record without it cannot be built; every other field may be
left empty.
"""


def reference_page(kinds: Sequence[type[Record]]) -> str:
    """Return the reference of some kinds of record as a page of Markdown."""
    parts = [_ABOUT]
    for head, title in _HEADS:
        parts += [f"## {title}", _docstring(head), _table(fields_of(head))]
    parts += _kind_parts(kinds)
    return "\n\n".join(part.strip("\n") for part in parts) + "\n"


def _kind_parts(kinds: Iterable[type[Record]]) -> list[str]:
    parts = []
    for kind in kinds:
        head, title = next(
            ((base, words) for base, words in _HEADS if issubclass(kind, base)), (None, "")
        )
        shared = fields_of(head) if head else ()
        own = [field for field in fields_of(kind) if field not in shared]
        parts += [f"## {kind.title}", f"Kind `{kind.kind}`. {_docstring(kind)}"]
        if head:
            parts.append(
                f"Begins with the fields [{title[0].lower()}{title[1:]}](#{_slug(title)})."
            )
        if own:
            parts.append(_table(own))
    return parts


def _docstring(kind: type[Record]) -> str:
    return inspect.cleandoc(kind.__doc__ or "")


def _slug(title: str) -> str:
    return title.lower().replace(" ", "-")


def _table(fields: Iterable[Field]) -> str:
    rows = [_COLUMNS, ("---",) * len(_COLUMNS), *map(_row, fields)]
    return "\n".join(f"| {' | '.join(row)} |" for row in rows)


def _row(field: Field) -> tuple[str, ...]:
    needed = "yes" if field.required else ""
    cells = (field.label, field.unit, _usual(field), needed, field.sql, _goes_in(field))
    return (f"`{field.name}`", *(cell.replace("|", "\\|") for cell in cells))


def _usual(field: Field) -> str:
    if not isinstance(field, Number) or field.likely is None:
        return ""
    low, high = field.likely
    return f"{low:,g} to {high:,g}".replace("-", "\u2212")


def _goes_in(field: Field) -> str:
    says = [field.help] if field.help else []
    if not says and not isinstance(field, Number | Text | Choice | Rows):
        says.append(f"{field.wanted().capitalize()}.")
    if isinstance(field, Choice):
        says.append("; ".join(f"`{word}` {shown}" for word, shown in field.answers.items()))
    elif isinstance(field, Rows):
        says.append(f"Rows of {'; '.join(map(_column, field.columns))}")
    return " ".join(says)


def _column(column: Field) -> str:
    may_miss = "" if column.required else ", may be empty"
    return f"`{column.name}` {column.heading}{may_miss}"


if __name__ == "__main__":
    sys.stdout.write(reference_page(KINDS))
