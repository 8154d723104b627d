"""The pressure logger PT1: an hourly depth over its sensor that drifts, and one step of E22."""

import csv
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Final

from demo_visits.scenario import STANDARD
from demo_visits.truth import level_at

SENSOR_LEVEL_M: Final = 71.150
DRIFT_M_PER_WEEK: Final = 0.0016
FIRST_HOUR: Final = datetime(2023, 8, 6, 9, tzinfo=STANDARD)
LAST_HOUR: Final = datetime(2024, 3, 30, 9, tzinfo=STANDARD)
REZEROED: Final = datetime(2024, 2, 16, 9, 10, tzinfo=STANDARD)  # E22, before the check
REZERO_STEP_M: Final = -0.044


@dataclass(frozen=True)
class LoggedDepth:
    """What the logger kept: clock time (UTC+10 all year) and depth over the sensor [m]."""

    time: datetime
    depth_m: float


def drift_m(moment: datetime, *, rezeroed: bool = True) -> float:
    """Return how much too high [m] the logger reads, with or without the step of 16 February."""
    drift = DRIFT_M_PER_WEEK * ((moment - FIRST_HOUR) / timedelta(weeks=1))
    return drift + (REZERO_STEP_M if rezeroed and moment >= REZEROED else 0.0)


def depth_shown_m(moment: datetime, *, rezeroed: bool = True) -> float:
    """Return the depth over the sensor [m] the logger shows, to 1 mm; a bare sensor shows drift."""
    level_m = level_at(moment)
    depth_m = 0.0 if level_m is None else max(level_m - SENSOR_LEVEL_M, 0.0)
    return round(depth_m + drift_m(moment, rezeroed=rezeroed), 3)


def series() -> tuple[LoggedDepth, ...]:
    """Return every hour from 6 August 2023 to 30 March 2024."""
    hours = round((LAST_HOUR - FIRST_HOUR) / timedelta(hours=1)) + 1
    times = (FIRST_HOUR + timedelta(hours=hour) for hour in range(hours))
    return tuple(LoggedDepth(time, depth_shown_m(time)) for time in times)


def write_logger_csv(path: Path) -> None:
    """Write the series as CSV: time on the logger's own clock (UTC+10) and depth [m]."""
    with path.open("w", encoding="utf-8", newline="") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(("time_utc_plus_10", "depth_m"))
        for row in series():
            table.writerow((row.time.strftime("%Y-%m-%d %H:%M"), f"{row.depth_m:.3f}"))
