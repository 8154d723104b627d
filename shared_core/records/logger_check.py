"""A level logger: its check against the staff, and the series taken off it."""

from collections.abc import Iterator
from typing import Any, ClassVar, Final

from shared_core.field_kinds import Moment, Number
from shared_core.fields import flag, number, record, rows, text
from shared_core.records.base import Finding, Known, Seen, SetUp

SERIES_COLUMNS: Final = (
    Moment(label="Time", name="time"),
    Number(label="Depth over the sensor", unit="m", name="depth_m", decimals=3, required=False),
)


@record
class LoggerCheck(Seen):
    """What the logger says now beside what the staff says now."""

    kind: ClassVar[str] = "logger_check"
    title: ClassVar[str] = "Logger check"

    logged_level_m: float | None = number("Logger says", "m", default=None, decimals=3)
    staff_level_m: float | None = number("Staff says", "m", default=None, decimals=3)
    battery_pct: float | None = number("Battery", "%", (0.0, 100.0), default=None, decimals=0)
    clock_difference_s: float | None = number(
        "Logger's clock minus true", "s", (-7200.0, 7200.0), default=None, decimals=0
    )
    file_sha256: str | None = text("File taken off", default=None, longest=64)
    moved: bool | None = flag("Sensor moved or set anew", default=None)

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)


@record
class LoggerSeries(SetUp):
    """A logger's file as taken in, read but not corrected."""

    kind: ClassVar[str] = "logger_series"
    title: ClassVar[str] = "Logger file"

    logger: str = text("Logger", longest=40)
    file_sha256: str = text("Fingerprint of the file", longest=64)
    source: str | None = text("File name", default=None, longest=200)
    values: tuple[tuple[Any, ...], ...] = rows("Values", SERIES_COLUMNS)

    @property
    def where(self) -> str:
        return self.logger
