"""The water balance of one site: terms by period and for the season, each with its uncertainty.

    I = Q + P - E - dS                                    (1)

Pumped water Q, direct rain P, open-water evaporation E and the change in storage dS are worked
out; what is left over, I, is infiltration and uptake, and holds every other error (trade practice;
USGS WRI 01-4235 says the same of a lake budget). An error that periods share, such as the scale
of the meter, the evaporation factor or the catch of the rain gauge, is one source in
:mod:`shared_core.uncertainty`: it adds straight across the season and cannot cancel. A negative
residual is shown as it is.
"""

import dataclasses
from collections.abc import Callable, Mapping, Sequence
from datetime import date, datetime
from typing import Final

from shared_core.errors import OutsideRangeError
from shared_core.stepping import DaySlice, LevelPath, LevelPoint, total_of
from shared_core.uncertainty import Uncertain, independent, scaled, total
from shared_core.units import MM_PER_M, SECONDS_PER_DAY

STOP_AND_LOOK_SD: Final = 2.0  # a residual this far below zero says an input is missing (computed)
SHORTEST_DAYS: Final = 14.0  # with less, and a fall under 100 mm, a rate says little; computed
LEAST_FALL_M: Final = 0.100  # ten times the level's uncertainty; computed


@dataclasses.dataclass(frozen=True, kw_only=True)
class PumpedSpan:
    """Water pumped between two times, metered or estimated."""

    start: datetime
    end: datetime
    volume_m3: float
    sd_fraction: float
    source: str  # name of the error that all spans of one instrument share
    estimated: bool = False
    evidence: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if self.end <= self.start:
            raise ValueError("a span of pumping ends after it starts")


@dataclasses.dataclass(frozen=True, kw_only=True)
class DailyDepths:
    """A daily depth [mm] by hydrological day, and where it comes from.

    The error of one source scales all days alike, by ``sd_fraction`` or, where a day rests on less,
    by its own of ``sd_by_day``.
    """

    by_day: Mapping[date, float]
    sd_fraction: float
    source: str
    evidence: Mapping[date, tuple[str, ...]] = dataclasses.field(default_factory=dict)
    sd_by_day: Mapping[date, float] = dataclasses.field(default_factory=dict)

    def sd_mm(self, label: date) -> float:
        """Return what one standard error of the source does to a day's depth [mm]."""
        return self.by_day.get(label, 0.0) * self.sd_by_day.get(label, self.sd_fraction)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Inputs:
    """Everything one site's balance rests on, already read off the records."""

    site: str
    path: LevelPath
    pumped: Sequence[PumpedSpan]
    rain: DailyDepths
    evaporation: DailyDepths  # of open water
    fit_fraction: float  # uncertainty of a storage change that comes from the rating (1 sd, share)
    offset_min: int
    rating_version: str = ""
    rating_evidence: str = ""
    left_out: tuple[str, ...] = ()  # what was not used, and why, in sentences


@dataclasses.dataclass(frozen=True, kw_only=True)
class Term:
    """One term of a balance: a volume [m3] with its sources of error and the records behind it."""

    name: str
    volume_m3: Uncertain
    evidence: tuple[str, ...] = ()

    @property
    def megalitres(self) -> float:
        """The volume in ML."""
        return self.volume_m3.value / 1000.0

    @property
    def sd_megalitres(self) -> float:
        """Its standard uncertainty in ML."""
        return self.volume_m3.sd / 1000.0


@dataclasses.dataclass(frozen=True, kw_only=True)
class Balance:
    """The terms of one site over one period."""

    name: str
    start: datetime
    end: datetime
    start_level_m: float | None
    end_level_m: float | None
    pumped: Term
    rain: Term
    evaporation: Term
    storage_change: Term
    residual: Term
    estimated_m3: float  # the part of what was pumped that no meter counted
    mean_area_m2: float
    remarks: tuple[str, ...] = ()

    @property
    def days(self) -> float:
        """Length of the period."""
        return (self.end - self.start).total_seconds() / SECONDS_PER_DAY

    @property
    def terms(self) -> tuple[Term, ...]:
        """The five terms in the order of equation (1), the residual last."""
        return (self.pumped, self.rain, self.evaporation, self.storage_change, self.residual)

    @property
    def rate_mm_day(self) -> Uncertain | None:
        """The residual as a depth over the mean wet area, None where nothing was wet."""
        covered = self.mean_area_m2 * self.days
        return self.residual.volume_m3 * (MM_PER_M / covered) if covered > 0 else None

    @property
    def is_short(self) -> bool:
        """Whether it is too short, and its water too steady, for a rate to say much."""
        if self.start_level_m is None or self.end_level_m is None:
            return self.days < SHORTEST_DAYS and self.start_level_m is self.end_level_m
        moved_m = abs(self.start_level_m - self.end_level_m)
        return self.days < SHORTEST_DAYS and moved_m < LEAST_FALL_M

    @property
    def metered_m3(self) -> float:
        """The part of what was pumped that a meter counted [m3]."""
        return self.pumped.volume_m3.value - self.estimated_m3


@dataclasses.dataclass(frozen=True, kw_only=True)
class FirstWetting:
    """What newly wet ground took up when it was first covered."""

    depth_mm: Uncertain
    newly_wet_m2: float
    steady_mm_day: Uncertain


@dataclasses.dataclass(frozen=True, kw_only=True)
class SeasonBalance:
    """A season: its periods, their sum, and what the sum rests on."""

    site: str
    periods: tuple[Balance, ...]
    season: Balance
    rating_version: str
    rain_source: str
    evaporation_source: str
    left_out: tuple[str, ...]
    first_wetting: FirstWetting | None

    def shares(self) -> dict[str, float]:
        """Return each term as percent of all inputs; inputs and outputs each add to 100."""
        season = self.season
        inputs = season.pumped.megalitres + season.rain.megalitres
        if inputs <= 0:
            return {}
        return {
            "pumped": 100.0 * season.pumped.megalitres / inputs,
            "rain": 100.0 * season.rain.megalitres / inputs,
            "evaporation": 100.0 * season.evaporation.megalitres / inputs,
            "residual": 100.0 * season.residual.megalitres / inputs,
            "storage_change": 100.0 * season.storage_change.megalitres / inputs,
        }

    def sd_as_if_independent_megalitres(self) -> float:
        """Return what the season's uncertainty would be if periods shared no error (they do)."""
        return float(sum(period.residual.sd_megalitres**2 for period in self.periods) ** 0.5)


def season_balance(
    inputs: Inputs, cuts: Sequence[tuple[str, datetime]], end: datetime
) -> SeasonBalance:
    """Work out the balance of each period and of the whole season.

    Args:
        inputs: what the balance rests on.
        cuts: name and start of each period, in order.
        end: end of the last period.

    Raises:
        OutsideRangeError: if there is no period, or one ends before it starts, lies outside the
            level readings, or has water on a day without evaporation.
    """
    if not cuts:
        raise OutsideRangeError("a balance needs at least one period: a name and a start")
    starts = [start for _, start in cuts]
    ends = [*starts[1:], end]
    periods = tuple(
        period_balance(inputs, name, since, until)
        for (name, since), until in zip(cuts, ends, strict=True)
    )
    season = _sum_of(periods)
    return SeasonBalance(
        site=inputs.site,
        periods=periods,
        season=season,
        rating_version=inputs.rating_version,
        rain_source=inputs.rain.source,
        evaporation_source=inputs.evaporation.source,
        left_out=inputs.left_out,
        first_wetting=_first_wetting(inputs.path, periods),
    )


def period_balance(inputs: Inputs, name: str, start: datetime, end: datetime) -> Balance:
    """Work out equation (1) over one period.

    Raises:
        OutsideRangeError: if the period ends before it starts, lies outside the level readings, or
            has water on a day without evaporation.
    """
    if end <= start:
        raise OutsideRangeError(
            f"the period {name!r} ends {end:%Y-%m-%d %H:%M}, but it starts"
            f" {start:%Y-%m-%d %H:%M}; a period must end after it starts"
        )
    path = inputs.path
    slices = list(path.slices(start, end, inputs.offset_min))
    days = [s.label for s in slices]
    pumped, estimated_m3, pump_evidence = _pumped(inputs.pumped, start, end)
    rain = _depths_over(inputs.rain, slices, lambda d: inputs.rain.by_day.get(d, 0.0))
    evaporated = _depths_over(
        inputs.evaporation, slices, lambda d: _evaporation_on(inputs.evaporation, d)
    )
    storage = _storage_change(inputs, start, end)
    residual = pumped + rain - evaporated - storage
    levels = _levels_used(path, start, end)
    balance = Balance(
        name=name,
        start=start,
        end=end,
        start_level_m=path.level_at(start),
        end_level_m=path.level_at(end),
        pumped=Term(name="pumped", volume_m3=pumped, evidence=pump_evidence),
        rain=Term(name="rain", volume_m3=rain, evidence=_behind(inputs.rain, days)),
        evaporation=Term(
            name="evaporation", volume_m3=evaporated, evidence=_behind(inputs.evaporation, days)
        ),
        storage_change=Term(
            name="storage change",
            volume_m3=storage,
            evidence=tuple(dict.fromkeys(filter(None, (*levels, inputs.rating_evidence)))),
        ),
        residual=Term(name="residual", volume_m3=residual),
        estimated_m3=estimated_m3,
        mean_area_m2=path.mean_area(start, end),
    )
    return dataclasses.replace(balance, remarks=_remarks(balance))


def _evaporation_on(depths: DailyDepths, label: date) -> float:
    if label not in depths.by_day:
        raise OutsideRangeError(
            f"no evaporation for {label:%Y-%m-%d}, a day with water; take in the weather of that"
            " day, or enter a monthly table"
        )
    return depths.by_day[label]


def _depths_over(
    depths: DailyDepths, slices: Sequence[DaySlice], depth_mm: Callable[[date], float]
) -> Uncertain:
    volume_m3 = total_of(slices, depth_mm)
    return Uncertain(volume_m3, {depths.source: total_of(slices, depths.sd_mm)})


def _behind(depths: DailyDepths, days: Sequence[date]) -> tuple[str, ...]:
    found = (name for label in days for name in depths.evidence.get(label, ()))
    return tuple(dict.fromkeys(found))


def _pumped(
    spans: Sequence[PumpedSpan], start: datetime, end: datetime
) -> tuple[Uncertain, float, tuple[str, ...]]:
    """Return what was pumped in a period; a span that reaches beyond it counts by its share."""
    parts = []
    estimated_m3 = 0.0
    evidence: list[str] = []
    for span in spans:
        inside = (min(span.end, end) - max(span.start, start)) / (span.end - span.start)
        if inside <= 0 or (span.volume_m3 == 0 and inside < 1):
            continue
        volume_m3 = span.volume_m3 * inside
        parts.append(scaled(span.source, volume_m3, span.sd_fraction))
        estimated_m3 += volume_m3 if span.estimated else 0.0
        evidence += span.evidence
    return (
        total([independent("nothing pumped", 0.0, 0.0), *parts]),
        estimated_m3,
        tuple(dict.fromkeys(evidence)),
    )


def _storage_change(inputs: Inputs, start: datetime, end: datetime) -> Uncertain:
    """Return V(end) - V(start); the level's error acts through the area, the rating's on the change."""
    after = _stored(inputs.path, end)
    before = _stored(inputs.path, start)
    change = after - before
    return change + scaled("rating", change.value, inputs.fit_fraction) - change.value


def _stored(path: LevelPath, at: datetime) -> Uncertain:
    """Return the volume at a time; the readings that its level rests on are its sources of error."""
    level_m = path.level_at(at)
    if level_m is None:
        return Uncertain(0.0)
    area_m2 = path.rating.area_at(level_m)
    parts = {point.name: area_m2 * share * point.sd_m for point, share in path.resting_on(at)}
    return Uncertain(path.rating.volume_at(level_m), parts)


def _levels_used(path: LevelPath, start: datetime, end: datetime) -> list[str]:
    inside: list[LevelPoint] = [p for p in path.points if start <= p.at <= end]
    edges = [path.nearest(start), path.nearest(end)]
    return [name for point in [*edges, *inside] for name in point.evidence]


def _sum_of(periods: Sequence[Balance]) -> Balance:
    first, last = periods[0], periods[-1]
    wet_seconds = sum(p.mean_area_m2 * p.days for p in periods)
    days = sum(p.days for p in periods)
    sums = {
        name: Term(
            name=name,
            volume_m3=total([t.volume_m3 for p in periods for t in p.terms if t.name == name]),
            evidence=tuple(
                dict.fromkeys(
                    e for p in periods for t in p.terms if t.name == name for e in t.evidence
                )
            ),
        )
        for name in ("pumped", "rain", "evaporation", "storage change", "residual")
    }
    season = Balance(
        name="season",
        start=first.start,
        end=last.end,
        start_level_m=first.start_level_m,
        end_level_m=last.end_level_m,
        pumped=sums["pumped"],
        rain=sums["rain"],
        evaporation=sums["evaporation"],
        storage_change=sums["storage change"],
        residual=sums["residual"],
        estimated_m3=sum(p.estimated_m3 for p in periods),
        mean_area_m2=wet_seconds / days,
    )
    return dataclasses.replace(season, remarks=_remarks(season))


def _remarks(balance: Balance) -> tuple[str, ...]:
    said, residual = [], balance.residual.volume_m3
    if residual.value < -STOP_AND_LOOK_SD * residual.sd:
        said.append(
            "The residual is below zero by more than its uncertainty: an input is missing, or"
            " evaporation is too high."
        )
    if balance.is_short:
        said.append("Too short for a rate: under 14 days and under 100 mm of change.")
    if balance.estimated_m3 > 0:
        share = 100.0 * balance.estimated_m3 / balance.pumped.volume_m3.value
        said.append(f"{share:.1f} % of what was pumped is estimated, not metered.")
    return tuple(said)


def _first_wetting(path: LevelPath, periods: Sequence[Balance]) -> FirstWetting | None:
    """Separate the uptake of newly wet ground from the steady rate of the periods without pumping."""
    steady = [p for p in periods if p.pumped.volume_m3.value == 0 and p.mean_area_m2 > 0]
    filling = next((p for p in periods if p.pumped.volume_m3.value > 0), None)
    if filling is None or not steady:
        return None
    newly_wet_m2 = path.area_at(filling.end) - path.area_at(filling.start)
    if newly_wet_m2 <= 0:
        return None
    covered = sum(p.mean_area_m2 * p.days for p in steady)
    rate_m_day = total([p.residual.volume_m3 for p in steady]) / covered
    uptake = filling.residual.volume_m3 - rate_m_day * (filling.mean_area_m2 * filling.days)
    return FirstWetting(
        depth_mm=uptake * (MM_PER_M / newly_wet_m2),
        newly_wet_m2=newly_wet_m2,
        steady_mm_day=rate_m_day * MM_PER_M,
    )
