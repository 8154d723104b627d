"""Sentences about a gauge reading: what was seen, what was expected."""

from typing import Final

from shared_core.expect import Window
from shared_core.records.base import Finding, Severity
from shared_core.records.levels_seen import LevelSeen, Zero
from shared_core.records.staff_gauge import STATES, GaugeReading
from shared_core.slips import Plate
from shared_core.units import MM_PER_M

NO_SLIP_OF_THE_EYE_M: Final = 2.0  # farther off, the distance itself says nothing


def state_words(state: str) -> str:
    """Return what people read for a state."""
    return STATES.get(state, state)


def apart_words(metres: float) -> str:
    """Write a difference of levels [m] the way a person says it."""
    if abs(metres) < 0.1:
        return f"{abs(metres) * MM_PER_M:.0f} mm"
    if abs(metres) < 1.0:
        return f"{abs(metres) * 100:.0f} cm"
    return f"{abs(metres):.2f} m"


def seen_words(reading: GaugeReading, level_m: float, reference: tuple[float, float] | None) -> str:
    """Say how a stage stands to what was expected."""
    stage_m = reading.stage_m or 0.0
    if reference is None:
        return f"{stage_m:.3f} m was typed."
    away_m = level_m - reference[0]
    way = "above" if away_m > 0 else "below"
    expected_m = stage_m - away_m
    if abs(away_m) > NO_SLIP_OF_THE_EYE_M:
        return f"{stage_m:g} m was typed; we expected about {expected_m:.2f}."
    return f"{stage_m:.3f} m is {apart_words(away_m)} {way} what we expected ({expected_m:.2f})."


def window_words(window: Window | None, zero: Zero | None) -> str:
    """Say between which stages a reading was expected."""
    if window is None or zero is None:
        return ""
    low_m, high_m = window.low_m - zero.zero_m, window.high_m - zero.zero_m
    return f"Expected on this plate: {low_m:.2f} to {high_m:.2f} m."


def fall_words(rate_m_per_day: float, limit_m_per_day: float) -> str:
    """Say how fast the water fell."""
    return (
        f"The water would have fallen {rate_m_per_day * MM_PER_M:.0f} mm a day; more than "
        f"{limit_m_per_day * MM_PER_M:.0f} needs an outlet or a leak."
    )


def rise_words(change_m: float, limit_m: float) -> str:
    """Say how far the water rose without a pump."""
    return (
        f"The water would have risen {change_m * MM_PER_M:.0f} mm with no pumping known; rain "
        f"accounts for {limit_m * MM_PER_M:.0f} at most."
    )


def off_plate(reading: GaugeReading, plate: Plate, expected_stage_m: float | None) -> Finding:
    """Return the finding about a stage that the plate cannot show."""
    stage_m = reading.stage_m or 0.0
    over = expected_stage_m is not None and expected_stage_m > plate.to_m and stage_m > plate.to_m
    return Finding(
        code="plate-range",
        severity=Severity.STOP,
        field="state" if over else "stage_m",
        saw=f"{stage_m:g} m was typed.",
        expected=f"This plate shows {plate.from_m:g} to {plate.to_m:g} m.",
        do="Choose 'over the plate' and read the next post up."
        if over
        else "Read it again: the right post? metres?",
        suggests="over_plate" if over else None,
    )


def base_was_odd(base: LevelSeen) -> Finding:
    """Return the note that the last reading, not this one, is the odd one."""
    stage_m = base.standing.record.stage_m
    shown = "" if stage_m is None else f" ({base.gauge} {stage_m:.3f} m)"
    return Finding(
        code="last-reading-odd",
        severity=Severity.NOTE,
        field="stage_m",
        saw=f"This fits the readings before, but not that of {base.standing.record.wall_clock:%-d %B}{shown}.",
        do="Look at that one again.",
    )
