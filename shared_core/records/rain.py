"""Rain read off a gauge."""

from collections.abc import Iterator, Mapping
from datetime import date, time, timedelta
from typing import ClassVar, Final

from shared_core.fields import day, number, record, whole
from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.folding import folded
from shared_core.records.limits import limits_at

# Rain is read at 09:00 for the 24 hours before and put against that date; a missed day makes the
# next value an accumulation (Bureau of Meteorology, about rain data). The limits are from memory.
HEAVY_MM_PER_DAY: Final = 100.0
LEAST_MM: Final = 1.0  # smaller amounts are often alike on neighbouring days
SAME_MM: Final = 0.05
LOOKED_AROUND: Final = timedelta(days=4)
NOON: Final = time(12)
ORDER: Final = (
    "rain-neighbour-day",
    "rain-same-day",
    "rain-days-missed",
    "rain-heavy",
    "rain-none-rise",
)


@record
class RainReading(Seen):
    """What had fallen since the last reading, put against the day it is read."""

    kind: ClassVar[str] = "rain_reading"
    title: ClassVar[str] = "Rain gauge"

    rain_mm: float = number("Rain", "mm", (0.0, 300.0), decimals=1)
    days_covered: int = whole("Days covered", "days", (1, 31), default=1)
    read_on: date = day("Day it was read", help="Usually at 09:00 standard time.")

    def findings(self, known: Known) -> Iterator[Finding]:
        from shared_core.records import rain_beside as beside  # noqa: PLC0415 - it needs this class

        limits = limits_at(known, self.site, self.when)
        checks = (
            *super().findings(known),
            *self._heavy(limits),
            *self._neighbours(known),
            *beside.missed_days(self, known),
            *beside.rise_without_rain(self, known, limits),
        )
        yield from folded(checks, ORDER)

    def _heavy(self, limits: Mapping[str, float]) -> Iterator[Finding]:
        daily_mm = self.rain_mm / max(1, self.days_covered)
        limit_mm = limits.get("rain-heavy", HEAVY_MM_PER_DAY)
        if daily_mm > limit_mm:
            yield Finding(
                code="rain-heavy",
                severity=Severity.ASK,
                field="rain_mm",
                saw=f"{daily_mm:.0f} mm in a day.",
                expected=f"More than {limit_mm:.0f} mm a day is rare.",
                do="Does it cover several days? Then say how many.",
            )

    def _neighbours(self, known: Known) -> Iterator[Finding]:
        around = known.between(
            RainReading, self.site, self.when - LOOKED_AROUND, self.when + LOOKED_AROUND
        )
        others = [standing.record for standing in around if standing.record.rain_mm > 0]
        for other in others:
            same = abs(other.rain_mm - self.rain_mm) < SAME_MM
            days = (other.read_on - self.read_on).days
            if self.rain_mm < LEAST_MM:
                continue
            if same and abs(days) == 1 and other.days_covered == self.days_covered:
                yield self._same_next_day(other)
            elif days == 0:
                yield self._same_day(other, same=same)
            elif self._counts_again(other):
                yield self._counted_again(other)

    def _same_next_day(self, other: "RainReading") -> Finding:
        event_day = self._looks_like_event_day()
        hint = " It was read in the evening, so it belongs to the next day." if event_day else ""
        return Finding(
            code="rain-neighbour-day",
            severity=Severity.ASK,
            field="read_on",
            saw=f"{self.rain_mm:g} mm is also written for {other.read_on:%-d %B}.{hint}",
            expected="Rain counts on the day it is read at 09:00, for the 24 hours before.",
            do="If it is the same rain, keep one of the two.",
            suggests=other.read_on.isoformat() if event_day else None,
        )

    def _same_day(self, other: "RainReading", *, same: bool) -> Finding:
        return Finding(
            code="rain-same-day",
            severity=Severity.NOTE if same else Severity.ASK,
            field="rain_mm",
            saw=f"{other.rain_mm:g} mm is also written for this day.",
            expected="" if same else "One of the two may be another day's.",
            do="" if same else "Ask who read which gauge.",
        )

    def _counted_again(self, other: "RainReading") -> Finding:
        return Finding(
            code="rain-counted-again",
            severity=Severity.ASK,
            field="days_covered",
            saw=f"These {self.days_covered} days take in {other.read_on:%-d %B}, which has its own"
            " entry.",
            do="Leave out of the sum what was already written down.",
        )

    def _counts_again(self, other: "RainReading") -> bool:
        back = (self.read_on - other.read_on).days
        return self.days_covered > 1 and 0 < back < self.days_covered

    def _looks_like_event_day(self) -> bool:
        """Tell whether it was written after noon under that same day's date."""
        clock = self.wall_clock
        return clock.date() == self.read_on and clock.time() >= NOON
