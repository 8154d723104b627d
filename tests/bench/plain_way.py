"""The plain way, beside which the figures stand: fixed limits, as in a spreadsheet.

Written as somebody would who knows the trade and sets the limits once for all sites: a smallest and
a largest value, a fastest fall and rise for each gauge, a largest flow for the meter, one limit for
the difference of two gauges. It suggests nothing.
"""

from dataclasses import dataclass, field
from typing import Final

LEAST_MOVE_M: Final = 0.030  # readings of one day scatter: no rate is taken of less
FALL_M_DAY: Final = 0.020  # trade: above it an outlet, a leak or an error
RISE_M_DAY: Final = 0.150  # a fast pump on a small pool (from memory)
PAIR_M: Final = 0.030  # trade: four standard deviations of two readings
FLOW_TIMES_PLATE: Final = 1.2  # of the rate on the pump's plate, over the time gone by
WALK_SD_M: Final = 3.0  # of each fix, taken as independent of the next


@dataclass
class PlainGauge:
    """One gauge's column of the sheet."""

    plate_m: float
    day: float | None = None
    stage_m: float = 0.0

    def window(self, day: float) -> tuple[float, float]:
        """Return the stages [m] that the fixed limits let pass."""
        if self.day is None:
            return 0.0, self.plate_m
        days = day - self.day
        low_m = self.stage_m - max(LEAST_MOVE_M, FALL_M_DAY * days)
        high_m = self.stage_m + max(LEAST_MOVE_M, RISE_M_DAY * days)
        return max(0.0, low_m), min(self.plate_m, high_m)

    def asks(self, day: float, stage_m: float) -> bool:
        low_m, high_m = self.window(day)
        return not low_m - 1e-9 <= stage_m <= high_m + 1e-9

    def keep(self, day: float, stage_m: float) -> None:
        self.day, self.stage_m = day, stage_m


@dataclass
class PlainSheet:
    """The gauges of one site."""

    plates_m: dict[str, float]
    gauges: dict[str, PlainGauge] = field(default_factory=dict)

    def gauge(self, name: str) -> PlainGauge:
        return self.gauges.setdefault(name, PlainGauge(self.plates_m[name]))


def meter_asks(counted_m3: float, hours: float, plate_m3_h: float) -> bool:
    """Tell whether a volume falls below nothing or above what the pump's plate allows."""
    return counted_m3 < 0 or counted_m3 > FLOW_TIMES_PLATE * plate_m3_h * hours
