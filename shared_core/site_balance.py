"""From the records of a site to the inputs of its balance, with a sentence for all that is left out."""

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Final

from shared_core.balance import (
    DailyDepths,
    Inputs,
    PumpedSpan,
    SeasonBalance,
    season_balance,
)
from shared_core.errors import UnknownError
from shared_core.rating import Rating
from shared_core.records.base import Known, Standing
from shared_core.records.levels import Level, level_of, lowest_gauge, one_look
from shared_core.records.plan import WateringPlan
from shared_core.records.pumping import pumping
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Site
from shared_core.records.staff_gauge import STATES, GaugeReading
from shared_core.records.water_setup import EvaporationTable, RatingTable, WeatherSeries
from shared_core.stepping import LevelPath, LevelPoint, day_label, days_between

RAIN_SD: Final = 0.08  # share, 1 sd: catch and distance of the gauge; trade section 8, from memory
AROUND: Final = timedelta(days=60)  # a level this long before or after a period may bound it


def balance_of(
    known: Known,
    site: str,
    *,
    start: datetime | None = None,
    end: datetime | None = None,
    period: str = "plan",
) -> SeasonBalance:
    """Work out a site's balance from its records.

    Args:
        known: the records.
        site: code of the site.
        start: first moment; the plan's first period where left out.
        end: last moment; the end of the plan where left out.
        period: "plan" (the plan's own periods), "visits" (cut at each look at the water) or
            "month".

    Raises:
        UnknownError: if the site, its plan or its rating table is not known.
        OutsideRangeError: if the levels, the weather or the rating do not cover the time.
    """
    _site(known, site)
    plan = _plan(known, site)
    planned = [(name, moment) for name, moment in plan.record.periods] if plan else []
    first = start or (planned[0][1] if planned else None)
    last = end or (plan.record.until if plan else None)
    if first is None or last is None:
        raise UnknownError(f"{site} has no watering plan with periods: give a first and a last day")
    inputs = gather(known, site, first, last)
    cuts = {"plan": _plan_cuts, "visits": _visit_cuts, "month": _month_cuts}
    if period not in cuts:
        raise UnknownError(f"a balance goes by {', '.join(cuts)}, not by {period!r}")
    named = cuts[period](planned, inputs, first, last)
    return season_balance(inputs, named, last)


def gather(known: Known, site: str, start: datetime, end: datetime) -> Inputs:
    """Read off the records what a balance between two times rests on.

    Raises:
        UnknownError: if the site or its rating table is not known.
        OutsideRangeError: if no level was read, or there is no evaporation for a day.
    """
    facts = _site(known, site)
    offset_min = facts.record.standard_offset_min
    table = known.in_force(RatingTable, site, end)
    if table is None:
        raise UnknownError(
            f"{site} has no rating table: make one from a terrain model or from walks"
        )
    left_out: list[str] = []
    points = _level_points(known, site, (start, end), table.record.rating, left_out)
    pumped = pumping(known, site, start, end)
    left_out.extend(pumped.problems)
    days = [label for label, _, _ in days_between(start, end, offset_min)]
    return Inputs(
        site=site,
        path=LevelPath(points, table.record.rating),
        pumped=[
            PumpedSpan(
                start=span.start,
                end=span.end,
                volume_m3=span.volume_m3,
                sd_fraction=span.sd_fraction,
                source=f"estimate {span.start:%Y-%m-%d}" if span.estimated else "meter",
                estimated=span.estimated,
                evidence=span.evidence,
            )
            for span in pumped.spans
        ],
        rain=_rain(known, site, days, left_out),
        evaporation=_evaporation(known, site, days, end),
        fit_fraction=table.record.fit_fraction,
        offset_min=offset_min,
        rating_version=table.record.version,
        rating_evidence=table.record_id,
        left_out=tuple(left_out),
    )


def _site(known: Known, site: str) -> Standing[Site]:
    for standing in known.every(Site, site):
        return standing
    names = sorted(standing.record.site for standing in known.every(Site))
    raise UnknownError(f"no site {site!r} here; known are {', '.join(names) or 'none yet'}")


def _plan(known: Known, site: str) -> Standing[WateringPlan] | None:
    plans = known.every(WateringPlan, site)
    return plans[-1] if plans else None


def _level_points(
    known: Known,
    site: str,
    span: tuple[datetime, datetime],
    rating: Rating,
    left_out: list[str],
) -> list[LevelPoint]:
    """Return one level for each look at the water: the mean of the gauges that showed a stage."""
    readings = known.between(GaugeReading, site, span[0] - AROUND, span[1] + AROUND)
    points = []
    for look in one_look(readings):
        levels = [level for s in look if (level := _usable(known, s, rating, left_out))]
        at = look[0].record.seen_at
        if levels:
            points.append(_mean(at, levels))
        elif _is_dry(known, site, look):
            points.append(LevelPoint(at=at, level_m=None, evidence=_names(look)))
    return points


def _usable(
    known: Known, standing: Standing[GaugeReading], rating: Rating, left_out: list[str]
) -> Level | None:
    reading = standing.record
    which = f"{reading.point} of {reading.wall_clock:%Y-%m-%d %H:%M}"
    if standing.disputed:
        fields = ", ".join(standing.disputed)
        left_out.append(f"{which}: {fields} is disputed; settle it and it counts.")
        return None
    level = level_of(known, standing)
    if level is None:
        if reading.stage_m is not None:
            left_out.append(f"{which}: {reading.point} has no zero at that time.")
        return None
    if level.doubtful or reading.quality == "doubtful":
        left_out.append(f"{which}: doubtful, not used.")
        return None
    if not rating.contains(level.level_m):
        left_out.append(
            f"{which}: level {level.level_m:.3f} m lies outside the rating,"
            f" {rating.lowest_m:.2f} to {rating.highest_m:.2f} m; not used."
        )
        return None
    return level


def _mean(at: datetime, levels: Sequence[Level]) -> LevelPoint:
    """Take the mean of gauges read in one look.

    Its uncertainty is that of the best of them, not less: gauges levelled from one bench mark
    share its error.
    """
    return LevelPoint(
        at=at,
        level_m=sum(level.level_m for level in levels) / len(levels),
        sd_m=min(level.sd_m for level in levels),
        evidence=tuple(level.reading_id for level in levels),
    )


def _is_dry(known: Known, site: str, look: Sequence[Standing[GaugeReading]]) -> bool:
    states = {standing.record.point: standing.record.state for standing in look}
    if any(state not in (None, "dry") and state in STATES for state in states.values()):
        return False
    lowest = lowest_gauge(known, site, look[0].record.seen_at)
    return lowest is not None and states.get(lowest) == "dry"


def _names(look: Sequence[Standing[GaugeReading]]) -> tuple[str, ...]:
    return tuple(standing.record_id for standing in look)


def _rain(known: Known, site: str, days: Sequence[date], left_out: list[str]) -> DailyDepths:
    """Return rain by hydrological day: off the gauge where one is read, else out of the weather."""
    by_day: dict[date, float] = {}
    evidence: dict[date, tuple[str, ...]] = {}
    for standing in known.every(RainReading, site):
        reading = standing.record
        if reading.unused or not days or not days[0] <= reading.read_on <= days[-1]:
            continue
        if "rain_mm" in standing.disputed or "read_on" in standing.disputed:
            left_out.append(f"Rain of {reading.read_on}: disputed; settle it and it counts.")
            continue
        for back in range(reading.days_covered):  # an accumulation is spread evenly
            label = reading.read_on - timedelta(days=back)
            by_day[label] = by_day.get(label, 0.0) + reading.rain_mm / reading.days_covered
            evidence[label] = (*evidence.get(label, ()), standing.record_id)
    if by_day:
        return DailyDepths(
            by_day=by_day, sd_fraction=RAIN_SD, source="rain gauge", evidence=evidence
        )
    for series in known.every(WeatherSeries, site):
        for label, _, rain_mm in series.record.values:
            if rain_mm is not None:
                by_day[label] = rain_mm
                evidence[label] = (series.record_id,)
    source = "rain in the weather file"
    return DailyDepths(by_day=by_day, sd_fraction=RAIN_SD, source=source, evidence=evidence)


def _evaporation(known: Known, site: str, days: Sequence[date], at: datetime) -> DailyDepths:
    """Return open-water evaporation by day: daily weather, and the monthly table where it is missing.

    Open water loses a factor times the reference evaporation (FAO-56 Table 12: 1.05).
    """
    by_day: dict[date, float] = {}
    evidence: dict[date, tuple[str, ...]] = {}
    sd_fraction = 0.0
    source = "evaporation"
    table = known.in_force(EvaporationTable, site, at)
    if table is not None:
        rows = [row[0] for row in table.record.monthly_mm_per_day]
        for label in days:
            by_day[label] = rows[label.month - 1] * table.record.open_water_factor
            evidence[label] = (table.record_id,)
        sd_fraction = table.record.sd_fraction
    for standing in known.every(WeatherSeries, site):
        series = standing.record
        for label, reference_mm, _ in series.values:
            if reference_mm is not None:
                by_day[label] = reference_mm * series.open_water_factor
                evidence[label] = (standing.record_id,)
        if all(evidence.get(label) == (standing.record_id,) for label in days):
            sd_fraction = series.sd_fraction
    return DailyDepths(by_day=by_day, sd_fraction=sd_fraction, source=source, evidence=evidence)


def _plan_cuts(
    planned: Sequence[tuple[str, datetime]], inputs: Inputs, first: datetime, last: datetime
) -> list[tuple[str, datetime]]:
    del inputs
    inside = [(name, moment) for name, moment in planned if first <= moment < last]
    if not inside or inside[0][1] > first:
        return [("to begin with", first), *inside]
    return inside


def _visit_cuts(
    planned: Sequence[tuple[str, datetime]], inputs: Inputs, first: datetime, last: datetime
) -> list[tuple[str, datetime]]:
    del planned
    looks = [point.at for point in inputs.path.points if first < point.at < last]
    return [(f"{moment:%Y-%m-%d}", moment) for moment in (first, *looks)]


def _month_cuts(
    planned: Sequence[tuple[str, datetime]], inputs: Inputs, first: datetime, last: datetime
) -> list[tuple[str, datetime]]:
    """Cut at 09:00 standard time on the last day of each month: rain of the first belongs to it."""
    del planned
    cuts = [(f"{first:%Y-%m}", first)]
    for label, since, _ in days_between(first, last, inputs.offset_min):
        named = f"{day_label(since, inputs.offset_min):%Y-%m}"
        if label.day == 1 and named != cuts[-1][0]:
            cuts.append((named, since.astimezone(UTC)))
    return cuts
