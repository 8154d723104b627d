"""A bore dipped for its water level."""

from collections.abc import Iterator
from typing import ClassVar, Final

from shared_core.fields import choice, flag, number, record
from shared_core.records.base import Finding, Known, Seen

MARKS: Final = {"casing": "Top of casing", "ground": "Ground", "other": "Another mark"}


@record
class BoreDip(Seen):
    """Two dips from the marked point down to the water; a falling dip is rising water."""

    kind: ClassVar[str] = "bore_dip"
    title: ClassVar[str] = "Bore"

    dip_1_m: float = number("First dip", "m", (0.0, 100.0), decimals=3)
    dip_2_m: float = number("Second dip", "m", (0.0, 100.0), decimals=3)
    mark: str = choice("Dipped from", MARKS)
    stick_up_m: float | None = number(
        "Stick-up of the casing", "m", (0.0, 2.0), default=None, decimals=3
    )
    cap_sound: bool | None = flag("Cap sound", default=None)

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
