"""Make ``data/logbook_format_1.logbook``: one invented record of each kind, as this version writes.

    python -m tests.make_logbook_format_1

Run it once when a format is new, never for a format that was released: old files must open as
they are.
"""

import json
import random
import sqlite3
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

from shared_core.field_kinds import Choice, Day, Digits, Field, Flag, Moment, Number, Text, Whole
from shared_core.field_shapes import Place, Position, Rows, Typed, Words
from shared_core.fields import fields_of
from shared_core.records import KINDS
from tests.hazards import line_with
from tests.logbooks import ANA, KIM, START, logbook

DATA = Path(__file__).parent / "data"


def some_number(field: Any, dice: random.Random) -> float:
    low, high = field.likely or (0.0, 2.0)
    return float(round(dice.uniform(low, high), field.decimals))


DRAWN: dict[type, Callable[[Any, random.Random], Any]] = {
    Whole: lambda _, dice: dice.randint(1, 9),
    Number: some_number,
    Choice: lambda field, dice: dice.choice(sorted(field.answers)),
    Flag: lambda _, dice: dice.random() < 0.5,
    Digits: lambda _, dice: f"{dice.randint(0, 9999):06d}",
    Moment: lambda _, dice: START + timedelta(minutes=dice.randint(0, 9999)),
    Day: lambda _, dice: (START + timedelta(days=dice.randint(0, 99))).date(),
    Place: lambda *_: Position(-36.48006, 155.45573, 4.0),
    Words: lambda *_: ("Ana Invented", "Kim Invented"),
    Typed: lambda *_: {"stage_m": "1,42"},
    Text: lambda _, dice: dice.choice(["Reedy", "Footbridge", "café “Ö” 🦆"]),
    Rows: lambda field, dice: tuple(
        tuple(some_value(cell, dice) for cell in field.columns) for _ in range(2)
    ),
}


def some_value(field: Field, dice: random.Random) -> Any:
    """Return an invented value of a field."""
    return DRAWN[type(field)](field, dice)


def make(path: Path) -> dict[str, Any]:
    """Write the logbook and return what it holds."""
    dice = random.Random(1)
    with logbook("tablet of format 1", path) as book:
        ids = {}
        for kind in KINDS:
            record = kind(**{field.name: some_value(field, dice) for field in fields_of(kind)})
            ids[kind.kind] = book.write(record, ANA).record
        corrected = book.standing(ids["gauge_reading"])
        if corrected:
            book.write(corrected.record.changed(quality="fair"), KIM, record_id=corrected.record_id)
        book.absorb([line_with(device='"tablet 2"'), line_with(seq="0")], source="tablet 2")
        book.keep_draft("gauge", '{"stage_m": "1.4')
        standing = {name: book.standing(record_id) for name, record_id in ids.items()}
        held = {
            "digest": book.digest(),
            "kinds": list(ids),
            "records": {
                found.record_id: {"kind": name, "body": found.record.encoded()}
                for name, found in standing.items()
                if found
            },
        }
    file = sqlite3.connect(path)
    file.execute("vacuum")
    file.close()
    return held


def main() -> None:
    """Make both files anew."""
    path = DATA / "logbook_format_1.logbook"
    path.unlink(missing_ok=True)
    held = json.dumps(make(path), ensure_ascii=False, indent=1)
    (DATA / "logbook_format_1.json").write_text(held + "\n", encoding="utf-8")
    for left in DATA.glob("*.logbook-*"):
        left.unlink()


if __name__ == "__main__":
    main()
