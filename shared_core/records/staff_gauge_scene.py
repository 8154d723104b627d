"""What is known around one gauge reading, looked up once, and the windows it is judged by."""

import functools
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Final

from shared_core.expect import Bed, Window
from shared_core.records.base import Known
from shared_core.records.context import expected_from, wetted_to_m
from shared_core.records.levels import reading_sd_m
from shared_core.records.levels_seen import (
    LevelSeen,
    Zero,
    days_from,
    gauges_of,
    recent_levels,
    zero_at,
)
from shared_core.records.limits import limits_at
from shared_core.records.seepage import Learned, learned_seepage
from shared_core.records.site_setup import Gauge
from shared_core.records.staff_gauge import GaugeReading
from shared_core.slips import Plate

SAME_LOOK_DAYS: Final = 2.0 / 24.0  # readings nearer than this belong to one look at the water
BASES: Final = 4  # earlier readings tried where the last one does not fit
TALLEST_PLATE_M: Final = 20.0  # where the gauge is not set up


@dataclass(frozen=True, kw_only=True)
class Scene:
    """What is known around one reading, looked up once."""

    known: Known
    reading: GaugeReading
    limits: Mapping[str, float]
    gauges: Mapping[str, Gauge]
    zero: Zero | None
    levels: tuple[LevelSeen, ...]

    @property
    def plate(self) -> Plate:
        gauge = self.gauges.get(self.reading.point)
        return (
            Plate(from_m=gauge.plate_from_m, to_m=gauge.plate_to_m)
            if gauge
            else Plate(to_m=TALLEST_PLATE_M)
        )

    @functools.cached_property
    def learned(self) -> Learned | None:
        """What the last weeks say of the site's losses."""
        return learned_seepage(self.known, self.reading.site, self.levels)

    def bases(self) -> list[LevelSeen]:
        """Return the earlier looks at the water to judge by, newest first.

        Of one look the reading of the same gauge comes first: the error of its zero cancels.
        """
        when, point = self.reading.when, self.reading.point
        earlier = [level for level in self.levels if days_from(level.at, when) > SAME_LOOK_DAYS]
        found: list[LevelSeen] = []
        while earlier:
            look = [
                level for level in earlier if days_from(level.at, earlier[0].at) <= SAME_LOOK_DAYS
            ]
            found += sorted(look, key=lambda level: level.gauge != point)
            earlier = earlier[len(look) :]
        return found[:BASES]

    def apart_before_m(self, gauge: str) -> Iterator[float]:
        """Yield how far this gauge's level lay above another's at earlier looks [m], newest first."""
        found = [
            level
            for level in self.levels
            if days_from(level.at, self.reading.when) > SAME_LOOK_DAYS
        ]
        for own in found:
            for other in found:
                near = abs(days_from(own.at, other.at)) <= SAME_LOOK_DAYS
                both = own.gauge == self.reading.point and other.gauge == gauge
                if both and near and own.level_m is not None and other.level_m is not None:
                    yield own.level_m - other.level_m

    def windows(self) -> Iterator[tuple[Window, LevelSeen]]:
        """Yield a window from each of the earlier looks, newest first, as they are asked for."""
        for base in self.bases():
            window = self.window_from(base)
            if window is not None:
                yield window, base

    def window_from(self, base: LevelSeen) -> Window | None:
        """Return the window for this reading's level, from an earlier one."""
        wet_by_then = [level for level in self.levels if level.at <= base.at]
        return expected_from(
            self.known,
            base,
            self.reading.when,
            gauge=self.reading.point,
            bed=Bed(wetted_to_m=wetted_to_m(wet_by_then)),
            learned=self.learned,
            reading_sd_m=reading_sd_m(self.reading),
        )

    def other_zeros_m(self) -> dict[str, float]:
        """Return how far the zero of each other gauge lies above this one's [m]."""
        zeros = (
            zero_at(self.known, self.reading.site, gauge, self.reading.when)
            for gauge in self.gauges
            if gauge != self.reading.point
        )
        own_m = self.zero.zero_m if self.zero else 0.0
        return {zero.gauge: zero.zero_m - own_m for zero in zeros if zero is not None}


def scene_of(reading: GaugeReading, known: Known) -> Scene:
    """Return what is known around a reading."""
    return Scene(
        known=known,
        reading=reading,
        limits=limits_at(known, reading.site, reading.when),
        gauges=gauges_of(known, reading.site, reading.when),
        zero=zero_at(known, reading.site, reading.point, reading.when),
        levels=tuple(recent_levels(known, reading.site, reading.when)),
    )
