"""A level logger: its check against the staff, and the series taken off it."""

from collections.abc import Iterator, Mapping
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any, ClassVar, Final

from shared_core.field_kinds import Moment, Number
from shared_core.fields import flag, number, record, rows, text
from shared_core.records.base import Finding, Known, Seen, SetUp, Severity
from shared_core.records.limits import limits_at
from shared_core.records.places import seen_elsewhere
from shared_core.units import MM_PER_M

# One state's practice (Victorian state water data quality descriptions) grades corrections up to
# 10 mm as good and of 11 to 20 mm as minor; the outer limit and the step are from memory.
NOTE_M: Final = 0.010
ASK_M: Final = 0.020
FAR_M: Final = 0.050
STEP_M: Final = 0.030
STEP_WITHIN: Final = timedelta(minutes=61)
CLOCK_S: Final = 120.0
SERIES_COLUMNS: Final = (
    Moment(label="Time", name="time"),
    Number(label="Depth over the sensor", unit="m", name="depth_m", decimals=3, required=False),
)


@record
class LoggerCheck(Seen):
    """What the logger says now beside what the staff says now."""

    kind: ClassVar[str] = "logger_check"
    title: ClassVar[str] = "Logger check"

    logged_level_m: float | None = number("Logger says", "m", default=None, decimals=3)
    staff_level_m: float | None = number("Staff says", "m", default=None, decimals=3)
    battery_pct: float | None = number("Battery", "%", (0.0, 100.0), default=None, decimals=0)
    clock_difference_s: float | None = number(
        "Logger's clock minus true", "s", (-7200.0, 7200.0), default=None, decimals=0
    )
    file_sha256: str | None = text("File taken off", default=None, longest=64)
    moved: bool | None = flag("Sensor moved or set anew", default=None)

    @property
    def difference_m(self) -> float | None:
        """Logger minus staff [m], None if one of them is blank."""
        if self.logged_level_m is None or self.staff_level_m is None:
            return None
        return self.logged_level_m - self.staff_level_m

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
        limits = limits_at(known, self.site, self.when)
        yield from seen_elsewhere(self, known, {}, limits)
        if self.difference_m is None:
            yield self._blank()
            return
        checks = known.before(LoggerCheck, self.site, self.when, point=self.point, limit=4)
        before = [s.record.difference_m for s in checks if s.record.difference_m is not None]
        yield from self._off(self.difference_m, before[0] if before else None, limits)
        if self.clock_difference_s is not None and abs(self.clock_difference_s) > CLOCK_S:
            yield Finding(
                code="logger-clock",
                severity=Severity.NOTE,
                field="clock_difference_s",
                saw=f"The logger's clock is {self.clock_difference_s / 60:.0f} min off.",
                do="Note it; do not set the clock before the file is taken off.",
            )

    def _blank(self) -> Finding:
        missing = "logged_level_m" if self.logged_level_m is None else "staff_level_m"
        return Finding(
            code="logger-blank",
            severity=Severity.ASK,
            field=missing,
            saw="The check has only one of its two values.",
            expected="Without both, the logger's drift up to now cannot be told.",
            do="Note what the logger says before anything is set anew; if it is too late, say so.",
        )

    def _off(
        self, off_m: float, before_m: float | None, limits: Mapping[str, float]
    ) -> Iterator[Finding]:
        note_m = limits.get("logger-off-note", NOTE_M)
        ask_m = limits.get("logger-off", ASK_M)
        stepped = before_m is not None and abs(before_m) - abs(off_m) > ask_m
        if self.moved or stepped:
            yield Finding(
                code="logger-set-anew",
                severity=Severity.ASK,
                field="moved",
                saw=_off_words(off_m, before_m),
                expected="The sensor seems to have been moved or set anew since the last check.",
                do="Write when that was, so that the series can be cut there.",
                suggests=None if self.moved else "yes",
            )
        elif abs(off_m) > note_m:
            drifting = before_m is not None and abs(off_m - before_m) <= note_m
            loud = abs(off_m) > limits.get("logger-off-far", FAR_M)
            asks = loud or (abs(off_m) > ask_m and not drifting)
            yield Finding(
                code="logger-off",
                severity=Severity.ASK if asks else Severity.NOTE,
                field="logged_level_m",
                saw=_off_words(off_m, before_m),
                expected=f"Logger and staff should agree within {note_m * MM_PER_M:.0f} mm.",
                do="Read the staff again, look at the vent; do not set it anew before noting this.",
            )


@record
class LoggerSeries(SetUp):
    """A logger's file as taken in, read but not corrected."""

    kind: ClassVar[str] = "logger_series"
    title: ClassVar[str] = "Logger file"

    logger: str = text("Logger", longest=40)
    file_sha256: str = text("Fingerprint of the file", longest=64)
    source: str | None = text("File name", default=None, longest=200)
    values: tuple[tuple[Any, ...], ...] = rows("Values", SERIES_COLUMNS)

    @property
    def where(self) -> str:
        return self.logger

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
        limits = limits_at(known, self.site, self.when)
        steps = list(self.steps(limits.get("logger-step", STEP_M)))
        if steps:
            at, step_m = max(steps, key=lambda step: abs(step[1]))
            yield Finding(
                code="logger-step",
                severity=Severity.ASK,
                field="values",
                saw=f"The series jumps by {step_m * MM_PER_M:+.0f} mm at {at.astimezone(UTC):%Y-%m-%d %H:%M} UTC"
                + (f", and {len(steps) - 1} more times." if len(steps) > 1 else "."),
                expected="Water does not change so much within an hour.",
                do="Was the sensor moved or set anew then? Cut the series there.",
            )

    def steps(self, limit_m: float = STEP_M) -> Iterator[tuple[datetime, float]]:
        """Yield each time at which the series jumps within an hour, and by how much [m]."""
        known = [(at, depth_m) for at, depth_m in self.values if depth_m is not None]
        for (earlier, before_m), (later, after_m) in pairwise(known):
            near = later - earlier <= STEP_WITHIN
            if near and abs(after_m - before_m) > limit_m:
                yield later, after_m - before_m


def _off_words(off_m: float, before_m: float | None) -> str:
    way = "above" if off_m >= 0 else "below"
    words = f"The logger is {abs(off_m) * MM_PER_M:.0f} mm {way} the staff"
    return words + ("." if before_m is None else f", {before_m * MM_PER_M:+.0f} mm last time.")
