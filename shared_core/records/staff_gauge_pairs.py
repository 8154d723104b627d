"""Two readings beside each other: the other gauge, another team, the same sheet typed twice."""

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import timedelta
from typing import Final

from shared_core.records.base import Finding, Known, Severity, Standing
from shared_core.records.context import expected_from, stage_level
from shared_core.records.levels import reading_sd_m
from shared_core.records.levels_seen import Zero, recent_levels
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.staff_gauge_words import apart_words
from shared_core.units import MM_PER_M

# Two gauges in the same water: reading noise of each pair is about 7 mm, so 15 and 30 mm are two and
# four standard deviations (computed; no published tolerance was found).
PAIR_ASK_M: Final = 0.015
PAIR_WARN_M: Final = 0.030
PAIR_SDS: Final = 2.8  # of what readings, zeros and earlier looks leave open; 0.5 % of a normal one
PAIR_WITHIN: Final = timedelta(hours=2)
TEAMS_WITHIN: Final = timedelta(hours=12)
TEAMS_M: Final = 0.020  # beyond the change expected meanwhile (computed)
COPY_WITHIN: Final = timedelta(minutes=60)
COPY_M: Final = 0.010


@dataclass(frozen=True, kw_only=True)
class Pair:
    """The level at the other wet gauge, read about the same time."""

    gauge: str
    level_m: float
    is_before: bool  # read before the reading that is judged
    noise_sd_m: float = 0.0  # of the difference, from the two readings (1 sd)
    zeros_sd_m: float = 0.0  # the same, from the two zeros
    usual_m: float = 0.0  # how far this gauge lay above the other at earlier looks
    usual_sd_m: float = 0.0

    def apart_m(self, level_m: float) -> float:
        """Return how far a level lies above the other gauge's [m]."""
        return level_m - self.level_m

    @property
    def sd_m(self) -> float:
        """How well the difference is known beforehand (1 sd)."""
        return math.hypot(self.noise_sd_m, self.usual_sd_m)

    @property
    def expected_level_m(self) -> float:
        """The level that this gauge should show by the other one [m]."""
        return self.level_m + self.usual_m

    def learned(self, earlier_apart_m: Iterable[float]) -> "Pair":
        """Return the pair with what earlier looks tell of its two zeros.

        Both zeros are known to their own uncertainty, so a difference that stays within it is theirs
        and no reading's; one beyond it says that a post has moved, and teaches nothing.
        """
        one_sd_m = math.hypot(self.noise_sd_m, self.zeros_sd_m)
        agreeing = [apart for apart in earlier_apart_m if abs(apart) <= PAIR_SDS * one_sd_m]
        if self.zeros_sd_m <= 0 or self.noise_sd_m <= 0:
            return self
        prior, each = 1 / self.zeros_sd_m**2, 1 / self.noise_sd_m**2
        total = prior + len(agreeing) * each
        return replace(self, usual_m=each * sum(agreeing) / total, usual_sd_m=1 / math.sqrt(total))


def nearest_other(reading: GaugeReading, known: Known, zero: Zero) -> Pair | None:
    """Return the reading of another gauge nearest in time, within two hours."""
    near = known.between(
        GaugeReading, reading.site, reading.when - PAIR_WITHIN, reading.when + PAIR_WITHIN
    )
    others = [
        standing.record
        for standing in near
        if standing.record.point != reading.point and standing.record.stage_m
    ]
    for other in sorted(others, key=lambda each: _unlike(reading, each)):
        level = stage_level(known, other)
        if level is not None:
            noise_m = reading_sd_m(other)
            other_zero_m2 = max(0.0, level.sd_m**2 - noise_m**2)
            return Pair(
                gauge=other.point,
                level_m=level.level_m,
                is_before=other.when <= reading.when,
                noise_sd_m=math.hypot(noise_m, reading_sd_m(reading)),
                zeros_sd_m=math.sqrt(zero.sd_m**2 + other_zero_m2),
            )
    return None


def _unlike(reading: GaugeReading, other: GaugeReading) -> tuple[bool, timedelta]:
    return other.visit != reading.visit, abs(other.when - reading.when)


def finding(
    pair: Pair, level_m: float, limits: Mapping[str, float], effect_megalitres: float | None
) -> Finding:
    """Return the finding about two gauges that do not agree."""
    apart_m = pair.apart_m(level_m)
    way = "above" if apart_m > 0 else "below"
    far = abs(apart_m) > limits.get("gauge-pair-warn", PAIR_WARN_M)
    return Finding(
        code="gauge-pair",
        severity=Severity.ASK,
        field="stage_m",
        saw=f"The water here is {apart_words(apart_m)} {way} that at {pair.gauge}.",
        expected="Two gauges in one pool agree within 15 mm.",
        do="Read both again and photograph both. If it stays, a post may have moved: have the"
        " zeros levelled."
        if far
        else "Read both again.",
        effect_megalitres=effect_megalitres,
    )


def other_is_off(pair: Pair, level_m: float) -> Finding:
    """Return the note that this gauge fits what was expected and the other does not."""
    return Finding(
        code="gauge-pair-other",
        severity=Severity.NOTE,
        field="stage_m",
        saw=f"{pair.gauge} differs by {apart_words(pair.apart_m(level_m))}; this reading fits what"
        " was expected.",
        do=f"Read {pair.gauge} again.",
    )


def copied(reading: GaugeReading, known: Known) -> Iterator[Finding]:
    """Ask about a record that looks like another one typed a second time."""
    near = known.between(
        GaugeReading,
        reading.site,
        reading.when - COPY_WITHIN,
        reading.when + COPY_WITHIN,
        point=reading.point,
    )
    for standing in near:
        other = standing.record
        if _looks_alike(reading, other) and _may_be_copied(reading, other):
            yield _copy(reading, standing)
            return


def _looks_alike(reading: GaugeReading, other: GaugeReading) -> bool:
    if reading.visit == other.visit and not _from_paper(reading, other):
        return False
    if reading.stage_m is None or other.stage_m is None:
        return reading.stage_m == other.stage_m and reading.state == other.state
    return abs(reading.stage_m - other.stage_m) < COPY_M


def _from_paper(reading: GaugeReading, other: GaugeReading) -> bool:
    return bool(reading.typed_from_paper_by or other.typed_from_paper_by)


def _may_be_copied(reading: GaugeReading, other: GaugeReading) -> bool:
    """Two different people who both stood there are two readings, not a copy.

    Who stood there has a position or a photo of the plate; a sheet typed later has neither.
    """
    same_people = bool(set(reading.observers) & set(other.observers))
    one_stood_there = _stood_there(reading) != _stood_there(other)
    return same_people or one_stood_there or _from_paper(reading, other)


def _stood_there(reading: GaugeReading) -> bool:
    return reading.position is not None or bool(reading.photos)


def _copy(reading: GaugeReading, other: Standing[GaugeReading]) -> Finding:
    minutes = abs((other.record.when - reading.when).total_seconds()) / 60
    from_paper = bool(other.record.typed_from_paper_by) and not reading.typed_from_paper_by
    original = from_paper or (_stood_there(reading) and not _stood_there(other.record))
    return Finding(
        code="copied",
        severity=Severity.NOTE if original else Severity.ASK,
        field="visit",
        saw=f"{other.author} has this gauge within {minutes:.0f} min and 10 mm.",
        expected="Probably the same reading (typed from paper?).",
        do="" if original else "If so, set this one aside as 'not used'.",
    )


def teams(
    reading: GaugeReading, known: Known, zero: Zero, limits: Mapping[str, float]
) -> Iterator[Finding]:
    """Note where another visit's earlier reading of the gauge, near in time, does not agree."""
    near = known.between(
        GaugeReading,
        reading.site,
        reading.when - TEAMS_WITHIN,
        reading.when,
        point=reading.point,
    )
    limit_m = limits.get("teams", TEAMS_M)
    level_m = (reading.stage_m or 0.0) + zero.zero_m
    for standing in near:
        other = standing.record
        level = stage_level(known, other) if other.visit != reading.visit else None
        if level is None or abs(level_m - level.level_m) <= limit_m:
            continue
        apart_m = _unexpected_m(reading, known, standing, level_m - level.level_m)
        if abs(apart_m) > limit_m:
            yield Finding(
                code="teams",
                severity=Severity.NOTE,
                field="stage_m",
                saw=f"{standing.author} read {other.stage_m:.3f} m at {other.wall_clock:%H:%M}:"
                f" {abs(apart_m) * MM_PER_M:.0f} mm away beyond the change expected.",
                do="Put the two photos of the plate side by side.",
            )
            return


def _unexpected_m(
    reading: GaugeReading, known: Known, other: Standing[GaugeReading], apart_m: float
) -> float:
    """Return how much of a change since an earlier reading was not to be expected [m]."""
    bases = recent_levels(known, reading.site, reading.when)
    base = next((level for level in bases if level.standing.record_id == other.record_id), None)
    window = expected_from(known, base, reading.when) if base else None
    if base is None or base.level_m is None or window is None:
        return apart_m
    return window.misses_by_m(base.level_m + apart_m)
