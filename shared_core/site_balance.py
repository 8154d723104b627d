"""From the records of a site to the inputs of its balance, with a sentence for all that is left out."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, timedelta, timezone
from typing import Final

from shared_core.balance import (
    DailyDepths,
    Inputs,
    PumpedSpan,
    SeasonBalance,
    season_balance,
)
from shared_core.errors import OutsideRangeError, UnknownError
from shared_core.rating import Rating
from shared_core.records.base import Known, Record, Standing
from shared_core.records.levels import Level, level_of, lowest_gauge, one_look
from shared_core.records.plan import WateringPlan
from shared_core.records.pumping import pumping
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Site
from shared_core.records.staff_gauge import STATES, GaugeReading
from shared_core.records.water_setup import EvaporationTable, RatingTable, WeatherSeries
from shared_core.stepping import LevelPath, LevelPoint, days_between

RAIN_SD: Final = 0.08  # share, 1 sd: catch and distance of the gauge; common practice, from memory
AROUND: Final = timedelta(days=60)  # a level this long before or after a period may bound it
PAIR_LIMIT_M: Final = 0.030  # two gauges further apart than 4 sd are not both right; computed
MONTHS: Final = 12
LEVEL_FIELDS: Final = frozenset({"stage_m", "state", "seen_at", "point", "quality"})


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
        OutsideRangeError: if it ends before it starts, or the levels, the weather or the rating do
            not cover the time.
    """
    _site(known, site)
    plan = _plan(known, site, start, end)
    planned = sorted(plan.record.periods, key=lambda row: row[1]) if plan else []
    first = start or (planned[0][1] if planned else None)
    last = end or (plan.record.until if plan else None)
    if first is None or last is None:
        raise UnknownError(f"{site} has no watering plan with periods: give a first and a last day")
    if last <= first:
        raise OutsideRangeError(
            f"a balance must end after it starts, not {last:%Y-%m-%d %H:%M} after"
            f" {first:%Y-%m-%d %H:%M}"
        )
    cuts = {"plan": _plan_cuts, "visits": _visit_cuts, "month": _month_cuts}
    if period not in cuts:
        raise UnknownError(f"a balance goes by {', '.join(cuts)}, not by {period!r}")
    inputs = gather(known, site, first, last)
    named = cuts[period]([(name, moment) for name, moment in planned], inputs, first, last)
    return season_balance(inputs, named, last)


def gather(known: Known, site: str, start: datetime, end: datetime) -> Inputs:
    """Read off the records what a balance between two times rests on.

    Raises:
        UnknownError: if the site or its rating table is not known.
        OutsideRangeError: if no level was read.
    """
    facts = _site(known, site)
    offset_min = facts.record.standard_offset_min
    table = known.in_force(RatingTable, site, end)
    if table is None:
        raise UnknownError(
            f"{site} has no rating table: make one from a terrain model or from walks"
        )
    left_out: list[str] = []
    _say_disputed(table, left_out)
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
                source=span.source,
                estimated=span.estimated,
                evidence=span.evidence,
            )
            for span in pumped.spans
        ],
        rain=_rain(known, site, days, left_out),
        evaporation=_evaporation(known, site, days, end, left_out),
        fit_fraction=table.record.fit_fraction,
        offset_min=offset_min,
        rating_version=table.record.version,
        rating_evidence=table.record_id,
        left_out=tuple(left_out),
    )


def _site(known: Known, site: str) -> Standing[Site]:
    sites = known.every(Site, site)
    if sites:
        return sites[-1]
    names = sorted({standing.record.site for standing in known.every(Site)})
    raise UnknownError(f"no site {site!r} here; known are {', '.join(names) or 'none yet'}")


def _plan(
    known: Known, site: str, start: datetime | None, end: datetime | None
) -> Standing[WateringPlan] | None:
    """Return the newest plan that touches the time asked about."""
    plans = [
        plan
        for plan in known.every(WateringPlan, site)
        if (end is None or plan.record.valid_from < end)
        and (start is None or plan.record.until > start)
    ]
    return plans[-1] if plans else None


def _say_disputed(standing: Standing[Record], left_out: list[str]) -> None:
    if standing.disputed:
        fields = ", ".join(standing.disputed)
        left_out.append(
            f"{type(standing.record).title}: {fields} is disputed; one of the values counts until"
            " it is settled."
        )


def _level_points(
    known: Known,
    site: str,
    span: tuple[datetime, datetime],
    rating: Rating,
    left_out: list[str],
) -> list[LevelPoint]:
    """Return one level for each look at the water: the mean of the gauges that showed a stage."""
    readings = known.between(
        GaugeReading, site, span[0] - AROUND, span[1] + AROUND, also_unused=True
    )
    points = []
    for look in one_look(_trusted(readings, span, left_out)):
        inside = span[0] <= look[0].record.seen_at <= span[1]
        said: list[str] = left_out if inside else []  # one further off only helps to bound the time
        levels = [level for s in look if (level := _usable(known, s, rating, said))]
        if levels:
            points.append(_mean(levels, f"{look[0].record.wall_clock:%Y-%m-%d %H:%M}", said))
        elif _is_dry(known, site, look):
            at = look[0].record.seen_at
            evidence = tuple(standing.record_id for standing in look)
            points.append(LevelPoint(at=at, level_m=None, evidence=evidence))
    return points


def _which(reading: GaugeReading) -> str:
    return f"{reading.point} of {reading.wall_clock:%Y-%m-%d %H:%M}"


def _trusted(
    readings: Sequence[Standing[GaugeReading]],
    span: tuple[datetime, datetime],
    left_out: list[str],
) -> list[Standing[GaugeReading]]:
    """Leave out readings that a person has set aside, or that two people see differently."""
    kept = []
    for standing in readings:
        disputed = sorted(LEVEL_FIELDS & standing.disputed.keys())
        if not disputed and not standing.record.unused:
            kept.append(standing)
        elif span[0] <= standing.record.seen_at <= span[1]:
            why = "set aside, not used."
            if disputed:
                why = f"{', '.join(disputed)} is disputed; settle it and it counts."
            left_out.append(f"{_which(standing.record)}: {why}")
    return kept


def _usable(
    known: Known, standing: Standing[GaugeReading], rating: Rating, left_out: list[str]
) -> Level | None:
    reading = standing.record
    which = _which(reading)
    level = level_of(known, standing)
    if level is None:
        if reading.stage_m is not None and reading.state is not None:
            left_out.append(f"{which}: a stage, and {STATES[reading.state]!r}; no level.")
        elif reading.stage_m is not None:
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


def _mean(levels: Sequence[Level], when: str, left_out: list[str]) -> LevelPoint:
    """Take the mean of gauges read in one look, each with the weight of its own uncertainty.

    Its uncertainty is that of the best of them, not less: gauges levelled from one bench mark
    share its error. Where they differ by more, one of them is wrong, and it is half the difference.
    """
    weights = [1.0 / level.sd_m**2 for level in levels]
    weighted = zip(weights, (level.level_m for level in levels), strict=True)
    low, high = (pick(level.level_m for level in levels) for pick in (min, max))
    start = levels[0].at
    seconds = sum((level.at - start).total_seconds() for level in levels) / len(levels)
    if high - low > PAIR_LIMIT_M:
        gauges = " and ".join(dict.fromkeys(level.gauge for level in levels))
        left_out.append(
            f"{gauges} of {when}: the readings differ by {high - low:.3f} m; their mean counts until"
            " one is set aside."
        )
    return LevelPoint(
        at=start + timedelta(seconds=seconds),
        level_m=sum(weight * level_m for weight, level_m in weighted) / sum(weights),
        sd_m=max(min(level.sd_m for level in levels), (high - low) / 2.0),
        evidence=tuple(level.reading_id for level in levels),
    )


def _is_dry(known: Known, site: str, look: Sequence[Standing[GaugeReading]]) -> bool:
    """Tell whether the lowest gauge stands dry and no other saw water."""
    wet = (None, "over_plate", "below_zero")  # without a state it shows a stage, usable or not
    if any(standing.record.state in wet for standing in look):
        return False
    lowest = lowest_gauge(known, site, look[0].record.seen_at)
    return any(s.record.point == lowest and s.record.state == "dry" for s in look)


def _rain(known: Known, site: str, days: Sequence[date], left_out: list[str]) -> DailyDepths:
    """Return rain by hydrological day: off the gauge where one is read, else out of the weather."""
    read, evidence = _rain_read(known, site, days, left_out)
    wanted = set(days)
    taken_in: dict[date, float] = {}
    files: dict[date, tuple[str, ...]] = {}
    for series in known.every(WeatherSeries, site):
        for label, _, rain_mm in series.record.values:
            if rain_mm is not None and label in wanted:
                taken_in[label] = rain_mm
                files[label] = (series.record_id,)
    if read:
        missed = [mm for label, mm in taken_in.items() if label not in read and mm > 0]
        if missed:
            left_out.append(
                f"Rain: the weather file has {sum(missed):.1f} mm on {len(missed)} days without a"
                " reading of the rain gauge; the gauge counts, so they are taken as dry."
            )
        return DailyDepths(by_day=read, sd_fraction=RAIN_SD, source="rain gauge", evidence=evidence)
    unknown = len(days) - len(taken_in)
    if unknown:
        left_out.append(f"Rain: nothing is known of {unknown} days; they are taken as dry.")
    source = "rain in the weather file"
    return DailyDepths(by_day=taken_in, sd_fraction=RAIN_SD, source=source, evidence=files)


def _rain_read(
    known: Known, site: str, days: Sequence[date], left_out: list[str]
) -> tuple[dict[date, float], dict[date, tuple[str, ...]]]:
    """Return what was read: an accumulation spread evenly, the mean where a site has two gauges."""
    by_gauge: dict[date, dict[str, float]] = defaultdict(lambda: defaultdict(float))
    evidence: dict[date, tuple[str, ...]] = defaultdict(tuple)
    for standing in known.every(RainReading, site):
        reading = standing.record
        covered = [reading.read_on - timedelta(days=back) for back in range(reading.days_covered)]
        inside = [label for label in covered if label in days]
        if not inside:
            continue
        disputed = sorted(
            {"rain_mm", "read_on", "days_covered", "quality"} & standing.disputed.keys()
        )
        if reading.unused or disputed:
            why = "set aside, not used."
            if disputed:
                why = f"{', '.join(disputed)} is disputed; settle it and it counts."
            left_out.append(f"Rain of {reading.read_on}: {why}")
            continue
        for label in inside:
            by_gauge[label][reading.point] += reading.rain_mm / reading.days_covered
            evidence[label] += (standing.record_id,)
    means = {label: sum(mm.values()) / len(mm) for label, mm in by_gauge.items()}
    return means, evidence


def _evaporation(
    known: Known, site: str, days: Sequence[date], at: datetime, left_out: list[str]
) -> DailyDepths:
    """Return open-water evaporation by day: daily weather, and the monthly table where it is missing.

    Open water loses a factor times the reference evaporation (FAO-56 Table 12: 1.05). Each day has
    the uncertainty of what it rests on. The factor is in all of them, so they share one error.
    """
    wanted = set(days)
    by_day: dict[date, float] = {}
    sd_by_day: dict[date, float] = {}
    evidence: dict[date, tuple[str, ...]] = {}
    for standing in known.every(WeatherSeries, site):
        series = standing.record
        _say_disputed(standing, left_out)
        for label, reference_mm, _ in series.values:
            if reference_mm is not None and label in wanted:
                by_day[label] = reference_mm * series.open_water_factor
                sd_by_day[label] = series.sd_fraction
                evidence[label] = (standing.record_id,)
    missing = [label for label in days if label not in by_day]
    table = known.in_force(EvaporationTable, site, at) if missing else None
    if table is not None:
        _say_disputed(table, left_out)
    if table is not None and len(table.record.monthly_mm_per_day) != MONTHS:
        left_out.append("Evaporation by month: twelve rows are needed; the table is not used.")
    elif table is not None:
        rows = [row[0] for row in table.record.monthly_mm_per_day]
        for label in missing:
            by_day[label] = rows[label.month - 1] * table.record.open_water_factor
            sd_by_day[label] = table.record.sd_fraction
            evidence[label] = (table.record_id,)
        left_out.append(
            f"Evaporation of {len(missing)} of {len(days)} days comes from the monthly table."
        )
    return DailyDepths(
        by_day=by_day,
        sd_fraction=max(sd_by_day.values(), default=0.0),
        source="evaporation",
        evidence=evidence,
        sd_by_day=sd_by_day,
    )


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
    zone = timezone(timedelta(minutes=inputs.offset_min))
    looks = [point.at for point in inputs.path.points if first < point.at < last]
    return [(f"{at.astimezone(zone):%Y-%m-%d %H:%M}", at) for at in (first, *looks)]


def _month_cuts(
    planned: Sequence[tuple[str, datetime]], inputs: Inputs, first: datetime, last: datetime
) -> list[tuple[str, datetime]]:
    """Cut at 09:00 standard time on the last day of each month: rain of the first belongs to it."""
    del planned
    cuts: list[tuple[str, datetime]] = []
    for label, since, _ in days_between(first, last, inputs.offset_min):
        named = f"{label:%Y-%m}"
        if not cuts or named != cuts[-1][0]:
            cuts.append((named, since))
    return cuts
