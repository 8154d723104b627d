"""Two gauges in one pool through time: an offset from the first day, a step, a slow drift.

Constant from the first day it is a zero or its typing; a step is a post that moved; slow growth is a
post that tilts or sinks. The interval of a step runs from the last pair that agrees with those
before to the first that does not; readings of the moved gauge in between are doubtful.
"""

import statistics
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Final

from shared_core.records.base import Known, Standing
from shared_core.records.levels import SAME_VISIT, zero_of
from shared_core.records.logger_check import LoggerCheck
from shared_core.records.overviews import Overview, day, mm, overview
from shared_core.records.points_setup import LevelLogger
from shared_core.records.run_of_values import (
    LEAST_A_SIDE,
    Step,
    Value,
    drift_in,
    steps_in,
    without_lone,
)
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.site_setup import GaugeZero, LevelCheck
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.staff_gauge_pairs import PAIR_ASK_M

PAIR_SD_M: Final = 0.007  # reading noise of one pair (computed: two calm readings of 5 mm)
CHECKED_SD_M: Final = 0.005  # of a levelled zero (from memory)
WALK_STEP_M: Final = 0.030  # between implied and read level, before a walk tells which post moved
AFTER: Final = timedelta(seconds=1)


@dataclass(frozen=True, kw_only=True)
class PairStep:
    """A step between two gauges, which of them moved if anything tells, and the row that mends it."""

    gauges: tuple[str, str]
    step: Step
    moved: str | None
    because: str
    proposal: GaugeZero | None


def pairs_of(known: Known, site: str) -> dict[tuple[str, str], list[Value]]:
    """Return, for each two gauges, how far the first's level lay above the second's [m]."""
    readings = [s for s in known.every(GaugeReading, site) if _shows(s)]
    found: dict[tuple[str, str], list[Value]] = {}
    for place, standing in enumerate(readings):
        for other in readings[place + 1 :]:
            if other.record.when - standing.record.when > SAME_VISIT:
                break
            if other.record.point != standing.record.point:
                first, second = sorted((standing, other), key=lambda s: s.record.point)
                apart_m = _apart_m(known, site, first.record, second.record)
                if apart_m is not None:
                    names = (first.record.point, second.record.point)
                    ids = (first.record_id, second.record_id)
                    found.setdefault(names, []).append(Value(other.record.when, apart_m, ids))
    return found


def _shows(standing: Standing[GaugeReading]) -> bool:
    reading = standing.record
    good = not reading.unused and reading.quality not in ("estimated", "missing")
    return good and bool(reading.stage_m) and reading.state is None


def _apart_m(known: Known, site: str, one: GaugeReading, other: GaugeReading) -> float | None:
    zeros = [zero_of(known, site, reading.point, reading.when) for reading in (one, other)]
    if zeros[0] is None or zeros[1] is None or one.stage_m is None or other.stage_m is None:
        return None
    return (one.stage_m + zeros[0].record.zero_m) - (other.stage_m + zeros[1].record.zero_m)


def pair_steps(
    known: Known,
    site: str,
    *,
    implied_m: Mapping[str, float] | None = None,
    least_m: float = PAIR_ASK_M,
) -> list[PairStep]:
    """Return the steps between the gauges of a site, oldest first.

    Args:
        known: What is known.
        site: The site.
        implied_m: Level that each walk's line has on the ground model [m], by record.
        least_m: The smallest step that is told [m].
    """
    found = []
    for gauges, values in pairs_of(known, site).items():
        run = without_lone(values, 2 * least_m)
        for step in steps_in(run, least=least_m, sd=PAIR_SD_M):
            moved, because = _which_moved(known, site, gauges, step, implied_m or {})
            found.append(
                PairStep(
                    gauges=gauges,
                    step=step,
                    moved=moved,
                    because=because,
                    proposal=_proposal(known, site, gauges, step, moved) if moved else None,
                )
            )
    return sorted(found, key=lambda each: each.step.first_after.at)


def _which_moved(
    known: Known, site: str, gauges: tuple[str, str], step: Step, implied_m: Mapping[str, float]
) -> tuple[str | None, str]:
    """Return which gauge moved and what tells; levelling before a walk, a walk before a logger."""
    for gauge in gauges:
        check = _checked(known, site, gauge, step)
        zero = zero_of(known, site, gauge, step.first_after.at)
        if check and zero and abs(check.found_zero_m - zero.record.zero_m) > PAIR_ASK_M:
            return gauge, f"levelled on {day(check.when)} at {check.found_zero_m:.3f} m"
    for gauge in gauges:
        jump_m = _walks_jump_m(known, site, gauge, step, implied_m)
        if jump_m is not None and abs(jump_m) > WALK_STEP_M:
            return gauge, f"walks lie {mm(-jump_m)} from its level since"
    for gauge in gauges:
        jump_m = _logger_jump_m(known, site, gauge, step)
        if jump_m is not None:
            other = gauges[1] if gauge == gauges[0] else gauges[0]
            moved = gauge if abs(jump_m) > PAIR_ASK_M else other
            return moved, f"the logger checked at {gauge} moved {mm(jump_m)} against it"
    return None, ""


def _checked(known: Known, site: str, gauge: str, step: Step) -> LevelCheck | None:
    checks = known.after(LevelCheck, site, step.first_after.at, point=gauge)
    return checks[0].record if checks else None


def _jump(values: Sequence[tuple[datetime, float]], step: Step) -> float | None:
    before = [value for at, value in values if at <= step.last_before.at]
    after = [value for at, value in values if at >= step.first_after.at]
    if not before or not after:
        return None
    return statistics.median(after) - statistics.median(before)


def _walks_jump_m(
    known: Known, site: str, gauge: str, step: Step, implied_m: Mapping[str, float]
) -> float | None:
    found = []
    for standing in known.every(ShorelineWalk, site):
        walk, line_m = standing.record, implied_m.get(standing.record_id)
        zero = zero_of(known, site, gauge, walk.when)
        if walk.gauge == gauge and line_m is not None and zero and walk.stage_before_m is not None:
            found.append((walk.when, walk.stage_before_m + zero.record.zero_m - line_m))
    return _jump(found, step)


def _logger_jump_m(known: Known, site: str, gauge: str, step: Step) -> float | None:
    codes = {s.record.code for s in known.every(LevelLogger, site) if s.record.gauge == gauge}
    found = []
    for standing in known.every(LoggerCheck, site):
        check = standing.record
        between = step.last_before.at < check.when <= step.first_after.at
        if check.point in codes and check.moved and between:
            return None
        if check.point in codes and check.difference_m is not None:
            found.append((check.when, check.difference_m))
    return _jump(found, step)


def _proposal(
    known: Known, site: str, gauges: tuple[str, str], step: Step, moved: str
) -> GaugeZero | None:
    """Return the row of zero that would bring the moved gauge back in line; nobody writes it."""
    zero = zero_of(known, site, moved, step.first_after.at)
    if zero is None:
        return None
    check = _checked(known, site, moved, step)
    shift_m = -step.size if moved == gauges[0] else step.size
    return GaugeZero(
        site=site,
        valid_from=step.first_after.at,
        gauge=moved,
        zero_m=check.found_zero_m if check else round(zero.record.zero_m + shift_m, 3),
        method="levelled" if check else "other_gauge",
        misclose_m=check.misclose_m if check else None,
        bench_mark=check.bench_mark if check else None,
        uncertainty_m=round(CHECKED_SD_M if check else max(step.sd, PAIR_SD_M), 3),
        doubtful_from=step.last_before.at + AFTER,
        remark="Proposed from the gauges' history.",
    )


def pair_overviews(
    known: Known,
    site: str,
    *,
    implied_m: Mapping[str, float] | None = None,
    least_m: float = PAIR_ASK_M,
) -> Iterator[Overview]:
    """Yield what the gauges of a site say of each other over time."""
    found = pair_steps(known, site, implied_m=implied_m, least_m=least_m)
    for each in found:
        yield _stepped(each)
    stepped = {each.gauges for each in found}
    for gauges, values in pairs_of(known, site).items():
        run = without_lone(values, 2 * least_m)
        if gauges not in stepped:
            yield from _offset_or_drift(gauges, run, least_m)


def _stepped(each: PairStep) -> Overview:
    step = each.step
    row = each.proposal
    mend = (
        f" A zero of {row.zero_m:.3f} m for {row.gauge} would do, doubtful from"
        f" {day(step.last_before.at)}."
        if row
        else ""
    )
    return overview(
        "pair-step",
        (step.last_before, step.first_after),
        f"{each.gauges[0]} against {each.gauges[1]} stepped by {mm(step.size)} ±"
        f" {step.sd * 1000:.0f} between {day(step.last_before.at)} and {day(step.first_after.at)}.",
        f"{each.moved} moved: {each.because}.{mend}"
        if each.moved
        else "A post moved; nothing here tells which.",
        "Have both zeros levelled, then write the new row of gauge zero.",
    )


def _offset_or_drift(
    gauges: tuple[str, str], run: Sequence[Value], least_m: float
) -> Iterator[Overview]:
    drift = drift_in(run, least=least_m, sd=PAIR_SD_M)
    if drift is not None:
        yield overview(
            "pair-drift",
            run,
            f"{gauges[0]} against {gauges[1]} drifted by {mm(drift.size)} in {drift.days:.0f} days.",
            "A post tilts or sinks.",
            "Have both zeros levelled.",
        )
        return
    middle_m = statistics.median(value.value for value in run) if run else 0.0
    if len(run) >= LEAST_A_SIDE and abs(middle_m) > least_m:
        yield overview(
            "pair-offset",
            run,
            f"{gauges[0]} has stood {mm(middle_m)} against {gauges[1]} since {day(run[0].at)}.",
            "From the first day on it is a zero, or its typing.",
            "Compare both rows of gauge zero with the levelling sheet.",
        )
