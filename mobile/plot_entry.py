"""A vegetation plot being scored, without a screen: the peg first, then one plant after another.

The plants of this plot's last visit are offered by name with their covers, stages and counts left
empty, so that what is scored is what is seen. Rows half filled in are kept as they stand.
"""

import csv
import dataclasses
import io
from datetime import timedelta
from typing import Final

from mobile.drafts import Draft
from mobile.field_day import Device, FieldDay
from mobile.form_entry import FormEntry, FormShown, fill_in, pressed
from mobile.pictures import Pictures
from shared_core.errors import UnreadableError
from shared_core.field_kinds import Field
from shared_core.records.points_setup import PlotSet
from shared_core.records.vegetation_plot import SPECIES_COLUMNS, PlotScore
from shared_core.records.vegetation_plot_checks import SECOND_WITHIN

LAYER: Final = ("bare_pct", "litter_pct", "open_water_pct")
DIRECT: Final = "Direct percent"
COLUMNS: Final = tuple(column.name for column in SPECIES_COLUMNS)
CARRIED: Final = ("taxon", "group", "native")  # they belong to the plant, not to the visit
EARLIER: Final = 20  # scores looked back at for the last visit's plants


@dataclasses.dataclass(frozen=True, kw_only=True)
class PlantRow:
    """One plant of the table, closed."""

    title: str
    says: str
    mood: str  # fits where everything needed is there, look where something is missing


@dataclasses.dataclass(frozen=True, kw_only=True)
class PlotShown(FormShown):
    """What the plot's screen shows."""

    found: str  # yes, no, or nothing yet
    plants: tuple[PlantRow, ...]
    last_time: tuple[str, ...]  # plants of the last visit that are not in the table yet
    sum_words: str
    second_of: str  # words of the offer to call this a second scoring; empty where there is none


class PlotEntry(FormEntry):
    """One plot on one visit."""

    def __init__(
        self,
        draft: Draft,
        day: FieldDay,
        point: str,
        device: Device,
        pictures: Pictures | None,
    ) -> None:
        """Take a draft, and what was scored in this plot before."""
        super().__init__(draft, device, pictures)
        known = day.logbook.known()
        peg = known.in_force(PlotSet, day.site, device.now, point=point)
        self._area_m2 = peg.record.area_m2 if peg else None
        later = device.now + timedelta(seconds=1)  # a score of this very second counts as before
        earlier = known.before(PlotScore, day.site, later, point=point, limit=EARLIER)
        self._last = next((s.record for s in earlier if s.record.visit != day.visit), None)
        self._first = next(
            (s for s in earlier if device.now - s.record.when <= SECOND_WITHIN), None
        )

    def field(self, name: str) -> Field:
        """Return a field by its name."""
        return next(field for field in self._draft.fields if field.name == name)

    # the peg ---------------------------------------------------------------------------------

    def choose_found(self, word: str) -> None:
        """Say whether the peg was found; a plot that was is scored in percent on its own area."""
        self.type("found", word)
        if not self.text("scale"):
            self.type("scale", DIRECT)
        if self._area_m2 is not None and not self.text("area_m2"):
            self.type("area_m2", f"{self._area_m2:g}")

    # the plants ------------------------------------------------------------------------------

    def rows(self) -> list[list[str]]:
        """Return the texts of the table, a list of cells for each plant."""
        lines = csv.reader(
            io.StringIO(self.text("species"), newline=""), delimiter=";", skipinitialspace=True
        )
        return [(line + [""] * len(COLUMNS))[: len(COLUMNS)] for line in lines if line]

    def _write(self, rows: list[list[str]]) -> None:
        written = io.StringIO(newline="")
        csv.writer(written, delimiter=";", lineterminator="\n").writerows(rows)
        self.type("species", written.getvalue().removesuffix("\n"))

    def add_plant(self, name: str = "") -> int:
        """Add a plant, one of the last visit or a new one, and return its place."""
        cells = dict.fromkeys(COLUMNS, "") | {"certain": "yes", "taxon": name}
        plants = self._last.plants if self._last else ()
        before = next((plant for plant in plants if plant.taxon == name), None)
        if name and before is not None:
            for column in SPECIES_COLUMNS:
                if column.name in CARRIED:
                    cells[column.name] = column.write(getattr(before, column.name))
        rows = [*self.rows(), [cells[column] for column in COLUMNS]]
        self._write(rows)
        return len(rows) - 1

    def drop_plant(self, place: int) -> None:
        """Take a plant out of the table."""
        self._write([row for number, row in enumerate(self.rows()) if number != place])

    def cell(self, place: int, column: str) -> str:
        """Return what a cell holds."""
        rows = self.rows()
        return rows[place][COLUMNS.index(column)] if place < len(rows) else ""

    def type_cell(self, place: int, column: str, text: str) -> None:
        """Take what a cell now holds; the whole table is on disk when this returns."""
        rows = self.rows()
        if place < len(rows):
            rows[place][COLUMNS.index(column)] = text
            self._write(rows)

    # the second observer ---------------------------------------------------------------------

    def call_second(self) -> None:
        """Say that this is the second scoring of the plot, or take it back."""
        first = self._first.record_id if self._first else ""
        self.type("second_observer_of", "" if self.text("second_observer_of") else first)

    # shown -----------------------------------------------------------------------------------

    def _in_short(self) -> str:
        if self.text("found") == "no":
            return "“not found”"
        count = len(self.rows())
        return "1 plant" if count == 1 else f"{count} plants"

    def shown(self) -> PlotShown:
        """Return what to show now."""
        shown = super().shown()
        rows = self.rows()
        here = {row[0].strip().casefold() for row in rows}
        before = self._last.plants if self._last else ()
        return PlotShown(
            title=shown.title,
            seen=shown.seen,
            found=self.text("found"),
            plants=tuple(map(_closed, rows)),
            last_time=tuple(p.taxon for p in before if p.taxon.strip().casefold() not in here),
            sum_words=self._sum_words(rows),
            second_of=self._second_words(),
        )

    def _sum_words(self, rows: list[list[str]]) -> str:
        layer = [self._percent(self.field(name), self.text(name)) for name in LAYER]
        cover = SPECIES_COLUMNS[COLUMNS.index("cover_pct")]
        plants = [self._percent(cover, row[COLUMNS.index("cover_pct")]) for row in rows]
        return (
            f"Bare, litter and water come to {sum(layer):g} %; they share one layer."
            f" Plants come to {sum(plants):g} %; they may overlap."
        )

    @staticmethod
    def _percent(field: Field, text: str) -> float:
        try:
            return float(field.read(text) or 0.0) if text.strip() else 0.0
        except UnreadableError:
            return 0.0

    def _second_words(self) -> str:
        if self._first is None:
            return ""
        first = self._first.record
        who = ", ".join(first.observers)
        return f"Second scoring, after {who} at {first.wall_clock:%H:%M}"


class Cells:
    """One plant's cells, as the boxes of a form see them."""

    def __init__(self, entry: PlotEntry, place: int, device: Device) -> None:
        """Take the plot, and the plant's place in its table."""
        self._entry, self._place, self._device = entry, place, device

    def text(self, field: str) -> str:
        """Return what a cell holds."""
        return self._entry.cell(self._place, field)

    def type(self, field: str, text: str) -> None:
        """Take what a cell now holds."""
        self._entry.type_cell(self._place, field, text)

    def press(self, field: str, key: str) -> str:
        """Take a key of the keypad for a cell and return what it holds then."""
        new = pressed(self.text(field), key)
        self.type(field, new)
        return new

    def now(self, field: Field) -> str:
        """Return what the device itself would fill in."""
        return fill_in(field, self._device)

    def step(self, field: Field, by: timedelta) -> str:
        """Leave a cell as it is: no column of plants holds a time."""
        del by
        return self.text(field.name)


def _closed(row: list[str]) -> PlantRow:
    cells = dict(zip(COLUMNS, row, strict=True))
    missing = [c.label.lower() for c in SPECIES_COLUMNS if c.required and not cells[c.name].strip()]
    said = [
        f"{cells['cover_pct']} %" if cells["cover_pct"] else "",
        *(_shown(c, cells[c.name]) for c in SPECIES_COLUMNS if c.name in ("group", "stage")),
        f"{cells['count']} counted" if cells["count"] else "",
        "not certain" if cells["certain"] == "no" else "",
    ]
    if missing:
        return PlantRow(
            title=cells["taxon"] or "New plant",
            says=f"Still needed: {', '.join(missing)}",
            mood="look",
        )
    return PlantRow(title=cells["taxon"], says=", ".join(filter(None, said)), mood="fits")


def _shown(field: Field, text: str) -> str:
    try:
        return field.show(field.read(text)) if text else ""
    except UnreadableError:
        return text
