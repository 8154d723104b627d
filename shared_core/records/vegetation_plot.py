"""A vegetation plot: who grows there, how much, at what stage."""

from collections.abc import Iterator
from typing import Any, ClassVar, Final, NamedTuple

from shared_core.field_kinds import Choice, Flag, Number, Text, Whole
from shared_core.fields import flag, number, record, rows, text
from shared_core.records.base import Finding, Known, Seen

GROUPS: Final = {
    "S": "Submerged",
    "AT": "Amphibious, tolerates",
    "AR": "Amphibious, responds",
    "TD": "Damp ground",
    "T": "Dry ground",
}
STAGES: Final = {
    "seedling": "Seedling",
    "juvenile": "Juvenile",
    "adult": "Adult",
    "flower": "In flower",
    "fruit": "In fruit",
    "dead": "Dead",
}
SPECIES_COLUMNS: Final = (
    Text(label="Plant", name="taxon", longest=120),
    Choice(label="Water group", name="group", answers=GROUPS),
    Number(label="Cover", unit="%", name="cover_pct", likely=(0.0, 100.0), decimals=0),
    Choice(label="Stage", name="stage", answers=STAGES, required=False),
    Whole(label="Count", name="count", required=False),
    Flag(label="Native", name="native", required=False),
    Flag(label="Certain", name="certain"),
)


@record
class PlotScore(Seen):
    """One plot scored by one observer."""

    kind: ClassVar[str] = "plot_score"
    title: ClassVar[str] = "Vegetation plot"

    found: bool = flag("Peg found")
    area_m2: float = number("Plot area", "m2", (0.25, 400.0), decimals=2)
    scale: str = text("Cover scale", longest=60, help="Direct percent, or the scale's own name.")
    species: tuple[tuple[Any, ...], ...] = rows("Plants", SPECIES_COLUMNS, default=())
    bare_pct: float | None = number("Bare ground", "%", (0.0, 100.0), default=None, decimals=0)
    litter_pct: float | None = number("Litter", "%", (0.0, 100.0), default=None, decimals=0)
    open_water_pct: float | None = number("Open water", "%", (0.0, 100.0), default=None, decimals=0)
    water_depth_m: float | None = number("Water depth", "m", (0.0, 3.0), default=None)
    disturbance: str | None = text("Disturbance", default=None, longest=200)
    second_observer_of: str | None = text(
        "Second scoring of record", default=None, longest=64, help="For observer spread."
    )

    @property
    def plants(self) -> tuple["Plant", ...]:
        """The rows of the table by name."""
        return tuple(Plant(*row) for row in self.species)

    def findings(self, known: Known) -> Iterator[Finding]:
        from shared_core.records import vegetation_plot_checks as checks  # noqa: PLC0415 - they need this class

        yield from super().findings(known)
        yield from checks.plot_findings(self, known)


class Plant(NamedTuple):
    """One row of the table of plants."""

    taxon: str
    group: str
    cover_pct: float
    stage: str | None = None
    number: int | None = None
    native: bool | None = None
    certain: bool = True

    @property
    def name(self) -> str:
        """The plant's name as it is compared."""
        return " ".join(self.taxon.casefold().split())
