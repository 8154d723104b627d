"""The water's stage read off a staff gauge."""

from collections.abc import Iterator
from typing import ClassVar

from shared_core.fields import choice, flag, number, record, text
from shared_core.records.base import Answer, Finding, Known, Seen
from shared_core.records.folding import folded

STATES = {
    "over_plate": "Over the plate",
    "below_zero": "Below zero with water",
    "dry": "Dry",
    "not_read": "Not read, because",
}
WAVES = {"calm": "Calm", "ripples": "Ripples", "waves": "Waves"}


@record
class GaugeReading(Seen):
    """What the plate shows where still water meets it, or why it shows nothing."""

    kind: ClassVar[str] = "gauge_reading"
    title: ClassVar[str] = "Staff gauge"

    stage_m: float | None = number(
        "Stage", "m", default=None, decimals=3, help="Read where still water meets the plate."
    )
    state: str | None = choice("Instead of a number", STATES, default=None)
    not_read_because: str | None = text("Not read because", default=None, longest=200)
    lowest_m: float | None = number("Lowest seen in the waves", "m", default=None, decimals=3)
    highest_m: float | None = number("Highest seen in the waves", "m", default=None, decimals=3)
    waves: str | None = choice("Water surface", WAVES, default=None)
    wind_m_s: float | None = number("Wind", "m/s", (0.0, 20.0), default=None, decimals=0)
    plate_cleaned: bool | None = flag("Plate cleaned", default=None)

    def findings(self, known: Known) -> Iterator[Finding]:
        from shared_core.records import staff_gauge_checks as checks  # noqa: PLC0415 - they need this class

        yield from folded((*checks.gauge_findings(self, known), *super().findings(known)), ())

    def tells(self, known: Known) -> Iterator[Answer]:
        from shared_core.records import staff_gauge_answers as answers  # noqa: PLC0415 - they need this class

        yield from super().tells(known)
        yield from answers.gauge_answers(self, known)
