"""Rain read off a gauge."""

from collections.abc import Iterator
from datetime import date
from typing import ClassVar

from shared_core.fields import day, number, record, whole
from shared_core.records.base import Finding, Known, Seen


@record
class RainReading(Seen):
    """What had fallen since the last reading, put against the day it is read."""

    kind: ClassVar[str] = "rain_reading"
    title: ClassVar[str] = "Rain gauge"

    rain_mm: float = number("Rain", "mm", (0.0, 300.0), decimals=1)
    days_covered: int = whole("Days covered", "days", (1, 31), default=1)
    read_on: date = day("Day it was read", help="Usually at 09:00 standard time.")

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
