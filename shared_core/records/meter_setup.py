"""Pumps and meters: what is fitted, what a count is worth, and spans without a working meter."""

from collections.abc import Iterator
from datetime import datetime
from typing import ClassVar, Final

from shared_core.fields import choice, digits, moment, number, record, text, whole
from shared_core.records.base import Finding, Known, SetUp, Severity
from shared_core.units import M3_PER_KILOLITRE, M3_PER_MEGALITRE

VALIDATED_SD: Final = 0.025  # with a certificate, 1 sd as a share; from memory
UNVALIDATED_SD: Final = 0.05  # an old one, or without; from memory
METER_UNITS_M3: Final = {"kL": M3_PER_KILOLITRE, "m3": 1.0, "ML": M3_PER_MEGALITRE, "L": 0.001}
METER_UNITS: Final = {"kL": "kL", "m3": "m³", "ML": "ML", "L": "L"}


@record
class MeterFitted(SetUp):
    """A meter from the day it is fitted: serial, digits, and what one count is worth."""

    kind: ClassVar[str] = "meter_fitted"
    title: ClassVar[str] = "Meter fitted"

    meter: str = text("Meter", longest=40)
    serial: str = text("Serial number", longest=60)
    unit: str = choice("Unit on the face", METER_UNITS)
    multiplier: float = number(
        "Multiplier on the face", "", (0.001, 1000.0), default=1.0, decimals=3
    )
    figures: int = whole("Figures on the face", "", (3, 12))
    decimals: int = whole("Of them after the point", "", (0, 6), default=0)
    start_display: str | None = digits("Figures when fitted", default=None)
    removed_at: datetime | None = moment("Removed", default=None)
    final_display: str | None = digits("Figures when removed", default=None)
    replaces: str | None = text("Replaces meter", default=None, longest=40)
    certificate: str | None = text("Certificate", default=None, longest=80)
    pump: str | None = text("Pump", default=None, longest=40)
    sd_fraction: float | None = number(
        "Uncertainty (1 sd, share)", "", (0.0, 0.3), default=None, decimals=3
    )

    @property
    def where(self) -> str:
        return self.meter

    @property
    def scale_sd(self) -> float:
        """How well this meter counts (1 sd, share of the volume)."""
        if self.sd_fraction is not None:
            return self.sd_fraction
        return VALIDATED_SD if self.certificate else UNVALIDATED_SD

    @property
    def m3_per_count(self) -> float:
        """Volume of one count of the last figure [m3]."""
        return METER_UNITS_M3[self.unit] * self.multiplier / 10.0**self.decimals

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
        if not self.start_display:
            yield Finding(
                code="meter-start-missing",
                severity=Severity.ASK,
                field="start_display",
                saw=f"{self.meter} has no figures from when it was fitted.",
                expected="What it counts begins with them; another meter's figures do not join on.",
                do="Copy them off the photo of its face, or from the first reading that day.",
            )
        elif len(self.start_display) > self.figures:
            yield Finding(
                code="figures-count",
                severity=Severity.ASK,
                field="start_display",
                saw=f"{self.start_display} has {len(self.start_display)} figures.",
                expected=f"The face has {self.figures}.",
                do="Copy the figures again.",
            )
        yield from self._replaced(known)

    def _replaced(self, known: Known) -> Iterator[Finding]:
        if not self.replaces:
            return
        old = known.in_force(MeterFitted, self.site, self.valid_from, point=self.replaces)
        if old is None or (old.record.removed_at and old.record.final_display):
            return
        yield Finding(
            code="meter-final-missing",
            severity=Severity.NOTE,
            field="replaces",
            saw=f"{self.replaces} has no last figures, or no day of removal.",
            expected="A change of meter holds both: the last of the old, the first of the new.",
            do=f"Complete {self.replaces} with its last figures and the time.",
        )


@record
class Pump(SetUp):
    """A pump with its plate and its measured rate."""

    kind: ClassVar[str] = "pump"
    title: ClassVar[str] = "Pump"

    pump: str = text("Pump", longest=40)
    nameplate_megalitres_per_hour: float = number(
        "Rate on the plate", "ML/h", (0.001, 5.0), decimals=3
    )
    measured_megalitres_per_hour: float | None = number(
        "Rate measured", "ML/h", (0.001, 5.0), default=None, decimals=3
    )
    measured_on: datetime | None = moment("Measured on", default=None)
    head_m: float | None = number("Total head", "m", (0.0, 100.0), default=None, decimals=1)

    @property
    def where(self) -> str:
        return self.pump


@record
class PumpedEstimate(SetUp):
    """Water pumped in a span for which the meter does not speak, from hours times rate."""

    kind: ClassVar[str] = "pumped_estimate"
    title: ClassVar[str] = "Pumped, estimated"

    meter: str = text("Meter that did not count", longest=40)
    until: datetime = moment("Until")
    hours: float = number("Pump hours", "h", (0.0, 2000.0), decimals=1)
    rate_megalitres_per_hour: float = number("Rate used", "ML/h", (0.001, 5.0), decimals=3)
    sd_fraction: float = number(
        "Uncertainty (1 sd, share)", "", (0.0, 0.5), default=0.10, decimals=2
    )
    basis: str = text("Rests on", longest=300)

    @property
    def where(self) -> str:
        return self.meter

    @property
    def volume_m3(self) -> float:
        """Hours times rate [m3]."""
        return self.hours * self.rate_megalitres_per_hour * M3_PER_MEGALITRE
