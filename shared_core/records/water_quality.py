"""A water sample measured on site."""

from collections.abc import Iterator
from datetime import date
from typing import ClassVar

from shared_core.fields import day, flag, number, record, text
from shared_core.records.base import Finding, Known, Seen


@record
class WaterSample(Seen):
    """Conductivity, temperature, oxygen and what goes with them."""

    kind: ClassVar[str] = "water_sample"
    title: ClassVar[str] = "Water quality"

    ec_us_cm: float | None = number("Conductivity", "uS/cm", default=None, decimals=0)
    ec_compensated: bool | None = flag("Compensated to 25 °C", default=None)
    water_c: float | None = number("Water temperature", "°C", default=None, decimals=1)
    oxygen_mg_l: float | None = number("Dissolved oxygen", "mg/L", default=None, decimals=1)
    oxygen_pct: float | None = number("Oxygen saturation", "%", default=None, decimals=0)
    ph: float | None = number("pH", "", (4.0, 11.0), default=None, decimals=1)
    turbidity_ntu: float | None = number(
        "Turbidity", "NTU", (0.0, 2000.0), default=None, decimals=0
    )
    sample_depth_m: float | None = number("Sample depth", "m", (0.0, 5.0), default=None)
    instrument: str | None = text("Instrument", default=None, longest=80)
    calibrated_on: date | None = day("Calibrated on", default=None)

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
