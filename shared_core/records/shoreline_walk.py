"""A walk along the waterline with a satellite receiver."""

from collections.abc import Iterator
from typing import Any, ClassVar, Final

from shared_core.field_kinds import Choice, Moment, Number
from shared_core.fields import choice, flag, number, record, rows, text, whole
from shared_core.records.base import Answer, Finding, Known, Seen

FIX_COLUMNS: Final = (
    Moment(label="Time", name="time"),
    Number(label="Latitude", unit="deg", name="lat_deg", decimals=7),
    Number(label="Longitude", unit="deg", name="lon_deg", decimals=7),
    Number(label="Accuracy", unit="m", name="accuracy_m", required=False),
    Number(label="Speed", unit="m/s", name="speed_m_s", required=False),
)
STRETCH_COLUMNS: Final = (
    Number(label="From fix", name="from_fix", decimals=0),
    Number(label="To fix", name="to_fix", decimals=0),
    Number(label="Off the waterline by", unit="m", name="offset_m", required=False),
    Choice(
        label="How",
        name="how",
        answers={
            "outside": "Outside the water",
            "inside": "In the water",
            "not_walked": "Not walked",
        },
    ),
)
RECEIVERS: Final = {
    "tablet": "Tablet's own",
    "handheld": "Handheld",
    "rtk": "Survey receiver (RTK)",
    "file": "From a file",
}


@record
class ShorelineWalk(Seen):
    """The raw track, and what the walker knows of it."""

    kind: ClassVar[str] = "shoreline_walk"
    title: ClassVar[str] = "Shoreline walk"

    fixes: tuple[tuple[Any, ...], ...] = rows("Fixes", FIX_COLUMNS)
    receiver: str | None = choice("Receiver", RECEIVERS, default=None)
    stage_before_m: float | None = number("Stage before", "m", default=None, decimals=3)
    stage_after_m: float | None = number("Stage after", "m", default=None, decimals=3)
    gauge: str | None = text("Gauge read", default=None, longest=40)
    closed: bool = flag("Walked back to the start")
    gap_m: float | None = number("Gap left at the end", "m", (0.0, 100.0), default=None, decimals=1)
    water_side: str | None = choice(
        "Water is on the", {"left": "Left", "right": "Right"}, default=None
    )
    off_waterline: tuple[tuple[Any, ...], ...] = rows(
        "Stretches off the waterline", STRETCH_COLUMNS, default=()
    )
    islands_seen: int | None = whole("Islands seen", "", (0, 20), default=None)
    islands_walked: tuple[tuple[Any, ...], ...] = rows(
        "Island fixes",
        (Number(label="Island", name="island", decimals=0), *FIX_COLUMNS),
        default=(),
    )
    longest_accuracy_m: float | None = number(
        "Fixes dropped above accuracy of", "m", (5.0, 50.0), default=None, decimals=0
    )
    fastest_m_s: float | None = number(
        "Fixes dropped above speed of", "m/s", (1.0, 10.0), default=None, decimals=1
    )

    def findings(self, known: Known) -> Iterator[Finding]:
        from shared_core.records import shoreline_walk_checks as checks  # noqa: PLC0415 - they need this class

        yield from super().findings(known)
        yield from checks.walk_findings(self, known)

    def tells(self, known: Known) -> Iterator[Answer]:
        from shared_core.records import shoreline_walk_checks as checks  # noqa: PLC0415 - they need this class

        yield from super().tells(known)
        yield from checks.walk_answers(self, known)
