"""The lowest and the highest stage seen in waves: the one below the other."""

from collections.abc import Iterator

from shared_core.records.base import Finding, Severity
from shared_core.records.staff_gauge import GaugeReading

ROUNDING_M = 1e-9


def crossed_waves(reading: GaugeReading) -> Iterator[Finding]:
    """Ask about a lowest that lies above the highest, or one of the two without the other."""
    low_m, high_m = reading.lowest_m, reading.highest_m
    if low_m is not None and high_m is not None and low_m > high_m + ROUNDING_M:
        yield Finding(
            code="wave-crossed",
            severity=Severity.ASK,
            field="highest_m",
            saw=f"The lowest seen, {low_m:.3f} m, lies above the highest, {high_m:.3f} m.",
            do="Look whether the two were typed the other way round.",
            suggests=f"{low_m:.3f}",
        )
    elif (low_m is None) != (high_m is None):
        field, other = ("highest_m", "highest") if high_m is None else ("lowest_m", "lowest")
        yield Finding(
            code="wave-half",
            severity=Severity.NOTE,
            field=field,
            saw=f"The {other} stage seen in the waves is blank.",
            do="Half the range of the two is how sure the reading is; with one nothing is known.",
        )
