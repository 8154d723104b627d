"""What a stage tells at once: level, depth, area, volume, change, share of the target.

Nothing here speaks before a number is typed, so that no hint steers the reading.
"""

import math
from collections.abc import Iterator
from typing import Final

from shared_core.errors import OutsideRangeError
from shared_core.rating import Rating
from shared_core.records.base import Answer, Known
from shared_core.records.context import Level, rating_at, stage_level
from shared_core.records.levels_seen import LevelSeen, days_from, newest_level
from shared_core.records.plan import WateringPlan
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_setup import RatingTable
from shared_core.units import MM_PER_M, hectares, megalitres

SHORT_DAYS: Final = 1.5  # below it a change is told in hours


def gauge_answers(reading: GaugeReading, known: Known) -> Iterator[Answer]:
    """Yield what a stage tells at once."""
    level = stage_level(known, reading)
    if level is None:
        return
    yield Answer(
        label="Level",
        says=f"{level.level_m:.3f} m ± {level.sd_m * MM_PER_M:.0f} mm",
        value=level.level_m,
        sd=level.sd_m,
        unit="m",
    )
    table = rating_at(known, reading.site, reading.when)
    if table is not None:
        yield from _stored(table, level)
    last = newest_level(known, reading.site, reading.when)
    if last is not None:
        yield from _change(reading, level, last)
    yield from _target(reading, known, level, table.rating if table else None)


def _stored(table: RatingTable, level: Level) -> Iterator[Answer]:
    rating = table.rating
    depth_m = level.level_m - rating.lowest_m
    yield Answer(label="Depth over the lowest ground", says=f"{depth_m:.2f} m", value=depth_m)
    try:
        area_m2 = rating.area_at(level.level_m)
        volume_m3 = rating.volume_at(level.level_m)
    except OutsideRangeError as error:
        yield Answer(label="Volume", says=f"Not known: {error}")
        return
    sd_m3 = rating.volume_uncertainty_m3(
        level.level_m, level.sd_m, table.bias_sd_m, table.fit_fraction
    )
    yield Answer(
        label="Area",
        says=f"{hectares(area_m2):.1f} ha",
        value=area_m2,
        unit="m2",
    )
    yield Answer(
        label="Volume",
        says=f"{megalitres(volume_m3):.1f} ± {megalitres(sd_m3):.1f} ML ({table.version})",
        value=volume_m3,
        sd=sd_m3,
        unit="m3",
    )


def _change(reading: GaugeReading, level: Level, last: LevelSeen) -> Iterator[Answer]:
    days = days_from(last.at, reading.when)
    if last.level_m is None:
        yield Answer(label="Since last reading", says="The pool was dry.")
        return
    change_m = level.level_m - last.level_m
    same_plate = last.gauge == reading.point
    zeros_m = 0.0 if same_plate else math.hypot(level.sd_m, last.zero.sd_m)
    span = f"{days:.0f} days" if days >= SHORT_DAYS else f"{days * 24:.0f} h"
    rate = f", {change_m * MM_PER_M / days:+.1f} mm/day" if days >= SHORT_DAYS else ""
    yield Answer(
        label="Since last reading",
        says=f"{change_m * MM_PER_M:+.0f} mm in {span}{rate}",
        value=change_m,
        sd=math.hypot(last.reading_sd_m, level.sd_m, zeros_m),
        unit="m",
    )


def _target(
    reading: GaugeReading, known: Known, level: Level, rating: Rating | None
) -> Iterator[Answer]:
    plan = known.in_force(WateringPlan, reading.site, reading.when)
    if plan is None or plan.record.target_level_m is None or reading.when > plan.record.until:
        return
    target_m = plan.record.target_level_m
    to_go_m = target_m - level.level_m
    way = "below" if to_go_m >= 0 else "above"
    says = f"{abs(to_go_m) * MM_PER_M:.0f} mm {way} the target of {target_m:.2f} m"
    share = None
    if rating is not None and rating.contains(level.level_m) and rating.contains(target_m):
        share = rating.volume_at(level.level_m) / max(rating.volume_at(target_m), 1.0)
        says = f"{share:.0%} of the target volume, {says}"
    yield Answer(label="Target", says=says, value=share)
