"""What a report is made of: headings, paragraphs, tables, figures and notes, as plain data.

A block knows nothing of HTML or PDF; whoever renders it escapes every text, for people typed some
of them.
"""

import dataclasses
from collections.abc import Iterator
from typing import ClassVar


@dataclasses.dataclass(frozen=True)
class Piece:
    """Words, and the anchor in the same report that they lead to, if any."""

    text: str
    to: str = ""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Heading:
    """The title of a section; level 2 is the highest below the report's own."""

    form: ClassVar[str] = "heading"
    text: str
    level: int = 2
    anchor: str = ""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Paragraph:
    """A few sentences."""

    form: ClassVar[str] = "paragraph"
    pieces: tuple[Piece, ...]


@dataclasses.dataclass(frozen=True, kw_only=True)
class Note:
    """Something a reader must not miss."""

    form: ClassVar[str] = "note"
    text: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class Column:
    """Heading of a column; lines of figures stand to the right, those of times stay whole."""

    label: str
    figures: bool = False
    times: bool = False


@dataclasses.dataclass(frozen=True, kw_only=True)
class Row:
    """One line of a table."""

    cells: tuple[Piece, ...]
    anchor: str = ""
    total: bool = False


@dataclasses.dataclass(frozen=True, kw_only=True)
class Table:
    """Rows under headings, with remarks below."""

    form: ClassVar[str] = "table"
    caption: str
    columns: tuple[Column, ...]
    rows: tuple[Row, ...]
    anchor: str = ""
    remarks: tuple[str, ...] = ()
    small: bool = False

    def __post_init__(self) -> None:
        if any(len(row.cells) != len(self.columns) for row in self.rows):
            raise ValueError(f"a row of {self.caption!r} does not fit its columns")


@dataclasses.dataclass(frozen=True, kw_only=True)
class Figure:
    """A drawing with its caption and what it shows in words."""

    form: ClassVar[str] = "figure"
    caption: str
    svg: str
    alt: str


Block = Heading | Paragraph | Note | Table | Figure


@dataclasses.dataclass(frozen=True, kw_only=True)
class Report:
    """A whole report; ``digest`` and ``entries`` name exactly the data it was made from."""

    title: str
    subtitle: str
    written_at: str
    digest: str
    entries: int
    blocks: tuple[Block, ...]

    def contents(self) -> Iterator[Heading]:
        """Yield the headings that a list of contents shows."""
        for block in self.blocks:
            if isinstance(block, Heading) and block.level == 2 and block.anchor:
                yield block


def paragraph(*parts: str | Piece) -> Paragraph:
    """Return a paragraph of words and links."""
    return Paragraph(pieces=tuple(_piece(part) for part in parts))


def row(*parts: str | Piece, anchor: str = "", total: bool = False) -> Row:
    """Return a row of words and links."""
    return Row(cells=tuple(_piece(part) for part in parts), anchor=anchor, total=total)


def columns(*labels: str) -> tuple[Column, ...]:
    """Return columns; ``>`` before a label makes it one of figures, ``@`` one of times."""
    return tuple(
        Column(label=each.lstrip(">@"), figures=each.startswith(">"), times=each.startswith("@"))
        for each in labels
    )


def _piece(part: str | Piece) -> Piece:
    return part if isinstance(part, Piece) else Piece(part)
