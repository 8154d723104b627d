"""What the pump did: hours, fuel, the river, and why it stopped."""

from collections.abc import Iterator
from datetime import datetime
from typing import ClassVar

from shared_core.fields import moment, number, record, text
from shared_core.records.base import Answer, Finding, Known, Seen


@record
class PumpRun(Seen):
    """The engine's hour meter, or a start and a stop."""

    kind: ClassVar[str] = "pump_run"
    title: ClassVar[str] = "Pump hours"

    hours_reading: float | None = number("Hour meter", "h", default=None, decimals=1)
    started: datetime | None = moment("Started", default=None)
    stopped: datetime | None = moment("Stopped", default=None)
    fuel_litres: float | None = number("Fuel added", "L", (0.0, 2000.0), default=None, decimals=0)
    river_level_m: float | None = number("River gauge", "m", (-1.0, 15.0), default=None)
    stopped_because: str | None = text("Stopped because", default=None, longest=200)

    def findings(self, known: Known) -> Iterator[Finding]:
        from shared_core.records import pump_run_checks as checks  # noqa: PLC0415 - they need this class

        yield from super().findings(known)
        yield from checks.run_findings(self, known)

    def tells(self, known: Known) -> Iterator[Answer]:
        from shared_core.records import pump_run_checks as checks  # noqa: PLC0415 - they need this class

        yield from super().tells(known)
        yield from checks.run_answers(self, known)
