"""A logger against the staff through time: a step where it was moved, a drift to be prorated.

Gradual drift is spread over the time it grew in, a step is cut where it happened (common practice).
The correction is proposed and never applied by itself.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Final

from shared_core.records.base import Known
from shared_core.records.logger_check import ASK_M, LoggerCheck
from shared_core.records.overviews import Overview, day, mm, overview
from shared_core.records.run_of_values import Drift, Step, Value, drift_in, steps_in

CHECK_SD_M: Final = 0.007  # a calm reading of the staff and the logger's own noise (computed)


@dataclass(frozen=True, kw_only=True)
class LoggerHistory:
    """What the checks of one logger say, cut where somebody wrote that it was set anew."""

    logger: str
    steps: tuple[Step, ...]
    drifts: tuple[Drift, ...]

    def correction_m(self, at: datetime) -> float:
        """Return what to add to the logged level at a time [m], where a drift speaks for it."""
        for drift in self.drifts:
            if drift.first.at <= at <= drift.last.at:
                return -drift.at(at)
        return 0.0


def logger_histories(known: Known, site: str, *, least_m: float = ASK_M) -> list[LoggerHistory]:
    """Return the history of each logger of a site.

    Args:
        known: What is known.
        site: The site.
        least_m: The smallest step or drift that is told [m].
    """
    runs: dict[str, list[list[Value]]] = {}
    for standing in known.every(LoggerCheck, site):
        check = standing.record
        if check.unused:
            continue
        parts = runs.setdefault(check.point, [[]])
        if check.moved:
            parts.append([])
        if check.difference_m is not None:
            parts[-1].append(Value(check.when, check.difference_m, (standing.record_id,)))
    found = []
    for logger, parts in runs.items():
        steps = [s for part in parts for s in steps_in(part, least=least_m, sd=CHECK_SD_M)]
        drifts = [d for part in parts for d in _drifts(part, least_m)]
        found.append(LoggerHistory(logger=logger, steps=tuple(steps), drifts=tuple(drifts)))
    return found


def _drifts(part: list[Value], least_m: float) -> Iterator[Drift]:
    drift = drift_in(part, least=least_m, sd=CHECK_SD_M)
    if drift is not None and not any(steps_in(part, least=least_m, sd=CHECK_SD_M)):
        yield drift


def logger_overviews(known: Known, site: str, *, least_m: float = ASK_M) -> Iterator[Overview]:
    """Yield what the checks of a site's loggers say over time."""
    for history in logger_histories(known, site, least_m=least_m):
        for step in history.steps:
            yield overview(
                "logger-moved",
                (step.last_before, step.first_after),
                f"{history.logger} stepped by {mm(step.size)} against the staff between"
                f" {day(step.last_before.at)} and {day(step.first_after.at)}.",
                "Nobody wrote that the sensor was moved or set anew.",
                "Find the time in the series and cut it there.",
            )
        for drift in history.drifts:
            yield overview(
                "logger-drift",
                (drift.first, drift.last),
                f"{history.logger} drifted by {mm(drift.size)} against the staff in"
                f" {drift.days:.0f} days.",
                f"Prorated, take off {mm(drift.at(drift.first.at))} on {day(drift.first.at)}, growing"
                f" to {mm(drift.at(drift.last.at))} on {day(drift.last.at)}.",
                "Look at the vent and the cable; correct the series beside the raw one.",
            )
