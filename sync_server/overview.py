"""What only a season's records together tell about a site: histories, twins, residuals."""

import math
from datetime import datetime
from typing import Final

from shared_core.balance import Balance
from shared_core.errors import StrandlineError
from shared_core.geodesy import grid_of_epsg
from shared_core.logbook import Logbook
from shared_core.records.base import Known
from shared_core.records.levels_seen import newest_level
from shared_core.records.limits import limits_at
from shared_core.records.logger_check import ASK_M
from shared_core.records.logger_history import logger_overviews
from shared_core.records.meter_history import RATIO_OFF, RATIO_STEP, meter_overviews
from shared_core.records.overviews import Overview
from shared_core.records.pair_history import pair_overviews
from shared_core.records.plan import WateringPlan
from shared_core.records.residuals import (
    BELOW_SDS,
    FASTEST_MM_DAY,
    PeriodRate,
    residual_overviews,
)
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.shoreline_walk_checks import level_walked_m, measured
from shared_core.records.site_setup import Site
from shared_core.records.staff_gauge_pairs import PAIR_ASK_M, TEAMS_M
from shared_core.records.twins import twin_overviews
from shared_core.records.visit import Visit
from shared_core.records.walk_ground import Ground, slope_along
from shared_core.records.walk_history import WalkOnGround, walk_overviews
from shared_core.site_balance import balance_of
from shared_core.track import LineLevels, levels_along
from shared_core.uncertainty import Uncertain
from sync_server.grids import Terrain, ground_at

WETTED_M: Final = 0.02  # above the highest level so far: ground is covered for the first time


def over_time(
    logbook: Logbook, site: str, now: datetime, terrain: Terrain | None = None
) -> list[Overview]:
    """Return what the records of a site say together, as known at a time.

    Args:
        logbook: The records.
        site: Code of the site.
        now: When it is asked.
        terrain: The ground model, for what the walks say of it, of each other and of the zeros.
    """
    known = logbook.known(now=now)
    limits = limits_at(known, site, now)
    walks = _walks(known, site, terrain) if terrain is not None else []
    implied_m = {walk.record_id: walk.line.median_m for walk in walks}
    return [
        *pair_overviews(
            known, site, implied_m=implied_m, least_m=limits.get("gauge-pair", PAIR_ASK_M)
        ),
        *logger_overviews(known, site, least_m=limits.get("logger-off", ASK_M)),
        *meter_overviews(
            known,
            site,
            least=limits.get("meter-ratio-step", RATIO_STEP),
            off=limits.get("meter-ratio", RATIO_OFF),
        ),
        *walk_overviews(walks),
        *twin_overviews(known, site, least_m=limits.get("teams", TEAMS_M)),
        *residual_overviews(
            _rates(known, site),
            below_sds=limits.get("residual-negative", BELOW_SDS),
            fastest_mm_day=limits.get("residual-fast", FASTEST_MM_DAY),
        ),
    ]


def sites_of(logbook: Logbook) -> list[str]:
    """Return the sites that a logbook knows, in order of their codes."""
    return sorted({standing.record.site for standing in logbook.known().every(Site)})


def _walks(known: Known, site: str, terrain: Terrain) -> list[WalkOnGround]:
    projection = grid_of_epsg(terrain.epsg).projection

    def ground(lat: float, lon: float) -> float | None:
        return ground_at(terrain, *projection.forward(lat, lon))

    teams = {s.record.visit: s.record.team for s in known.every(Visit, site)}
    found = []
    for standing in known.every(ShorelineWalk, site):
        walk = standing.record
        level_m = level_walked_m(walk, known)
        if walk.unused or level_m is None:
            continue
        on_ground = _on_ground(walk, ground, known)
        if on_ground is not None:
            line, slope = on_ground
            found.append(
                WalkOnGround(
                    record_id=standing.record_id,
                    at=walk.when,
                    team=teams.get(walk.visit, standing.author),
                    gauge=walk.gauge or "",
                    level_m=level_m,
                    line=line,
                    slope=slope,
                )
            )
    return found


def _on_ground(
    walk: ShorelineWalk, ground: Ground, known: Known
) -> tuple[LineLevels, float] | None:
    """Return a walk's line on the ground, and its slope; None where it cannot be measured."""
    try:
        ring = measured(walk, limits_at(known, walk.site, walk.when)).closing.ring
        return levels_along(ring, ground), slope_along(ring, ground)
    except StrandlineError:  # the walk's own findings say what is wrong with it
        return None


def _rates(known: Known, site: str) -> list[PeriodRate]:
    """Return the residual of each period up to the newest level, nothing where none can be told."""
    now = known.now
    newest = newest_level(known, site, now) if now is not None else None
    plan = known.in_force(WateringPlan, site, now) if now is not None else None
    if newest is None or plan is None:
        return []
    try:
        found = balance_of(known, site, end=min(plan.record.until, newest.at))
    except StrandlineError:  # the balance itself says what it lacks
        return []
    rates = []
    highest_m = -math.inf
    for period in found.periods:
        rate = period.rate_mm_day
        wets_first = period.pumped.volume_m3.value > 0 and _top_m(period) > highest_m + WETTED_M
        highest_m = max(highest_m, _top_m(period))
        if rate is not None:
            rates.append(_rate(period, rate, wets_first=wets_first))
    return rates


def _rate(period: Balance, rate: Uncertain, *, wets_first: bool) -> PeriodRate:
    return PeriodRate(
        name=f"{period.name}, {period.start:%-d %B %Y} to {period.end:%-d %B %Y}",
        rate_mm_day=rate.value,
        sd_mm_day=rate.sd,
        wets_first=wets_first,
        too_short=period.is_short,
        record_ids=period.storage_change.evidence,
    )


def _top_m(period: Balance) -> float:
    levels = [m for m in (period.start_level_m, period.end_level_m) if m is not None]
    return max(levels, default=-math.inf)
