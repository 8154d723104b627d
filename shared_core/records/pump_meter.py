"""The totaliser of a pump meter."""

from collections.abc import Iterator
from typing import ClassVar

from shared_core.fields import digits, flag, number, record, text
from shared_core.records.base import Answer, Finding, Known, Seen


@record
class MeterReading(Seen):
    """The figures on the meter's face, as they stand there."""

    kind: ClassVar[str] = "meter_reading"
    title: ClassVar[str] = "Pump meter"

    display: str = digits("Figures on the face", help="All of them, left to right, zeros too.")
    dial_moving: bool | None = flag("Dial moving", default=None)
    flow_now_l_s: float | None = number("Flow now", "L/s", (0.0, 500.0), default=None)
    rolled: bool | None = flag("Passed zero since last time", default=None)
    rolled_confirmed_by: str | None = text("Confirmed by", default=None, longest=80)
    estimate: bool | None = flag("Estimated", default=None)

    def findings(self, known: Known) -> Iterator[Finding]:
        from shared_core.records import pump_meter_checks as checks  # noqa: PLC0415 - they need this class

        yield from super().findings(known)
        yield from checks.meter_findings(self, known)

    def tells(self, known: Known) -> Iterator[Answer]:
        from shared_core.records import pump_meter_checks as checks  # noqa: PLC0415 - they need this class

        yield from super().tells(known)
        yield from checks.meter_answers(self, known)
