"""Sentences about a meter's figures: what was seen, what was expected, one thing to do."""

from datetime import tzinfo
from typing import TYPE_CHECKING, Final

from shared_core.records.base import Finding, Severity
from shared_core.records.counts import Face
from shared_core.records.meter_setup import MeterFitted
from shared_core.records.pump_meter import MeterReading
from shared_core.slips import Slip
from shared_core.units import HOURS_PER_DAY, megalitres

if TYPE_CHECKING:
    from shared_core.records.pump_meter_checks import Look

# The most specific first: each explains those after it.
ORDER: Final = (
    "digit-swap",
    "figure-doubled",
    "unit-times-ten",
    "meter-changed",
    "meter-flat",
    "meter-rolled",
    "figures-count",
    "flow-rate",
    "daily-volume",
    "log-gap",
)


def _asks(code: str, saw: str, expected: str, do: str, suggests: str | None = None) -> Finding:
    return Finding(
        code=code,
        severity=Severity.ASK,
        field="display",
        saw=saw,
        expected=expected,
        do=do,
        suggests=suggests,
    )


def unknown_meter(reading: MeterReading) -> Finding:
    """Return the finding about a meter that is not set up."""
    return Finding(
        code="meter-unknown",
        severity=Severity.ASK,
        field="point",
        saw=f"No meter {reading.point} is set up here.",
        expected="Without its unit and figures a count is worth nothing.",
        do="Choose the meter, or fill in that it was fitted, with a photo of its face.",
    )


def no_start(reading: MeterReading) -> Finding:
    """Return the finding about the first figures of a meter that has no start."""
    return Finding(
        code="meter-no-start",
        severity=Severity.NOTE,  # the meter's own set-up asks for it
        field="display",
        saw=f"{reading.point} has no figures from before this.",
        expected="What it counted until now cannot be told; another meter's figures do not join on.",
        do="Fill in what it showed when it was fitted.",
    )


def figures(reading: MeterReading, meter: MeterFitted) -> Finding:
    """Return the finding about too many or too few figures."""
    count = len(reading.display)
    short = count < meter.figures
    return Finding(
        code="figures-count",
        severity=Severity.NOTE if short else Severity.ASK,
        field="display",
        saw=f"{reading.display} has {count} figures.",
        expected=f"The face of {meter.meter} has {meter.figures}.",
        do="Copy all of them, zeros in front too." if short else "Copy them again.",
        suggests=reading.display.zfill(meter.figures) if short else None,
    )


def _volume(look: "Look") -> str:
    volume_m3 = look.volume_m3 or 0.0
    return f"{megalitres(volume_m3):.2f} ML in {_time(look)}"


def _time(look: "Look") -> str:
    if look.pump_hours is not None:
        return f"{look.pump_hours:.1f} pump hours"
    hours = look.step.hours
    return f"{hours:.0f} h" if hours < 2 * HOURS_PER_DAY else f"{hours / HOURS_PER_DAY:.0f} days"


def _expected(look: "Look") -> str:
    if look.rate is None:
        return ""
    hours = look.pump_hours if look.pump_hours is not None else look.step.hours
    usual = megalitres(look.rate.rate_m3_h * hours)
    most = "" if look.pump_hours is not None else "at most "
    return f"The pump moves {most}about {usual:.2f} ML in that time."


def rolled(reading: MeterReading, look: "Look", *, fits: bool) -> Finding:
    """Return the finding about figures that passed zero: asks until somebody has confirmed it."""
    confirmed = bool(reading.rolled)
    return Finding(
        code="meter-rolled",
        severity=Severity.NOTE if confirmed and fits else Severity.ASK,
        field="rolled",
        saw=f"{reading.display} is less than {look.step.start.display}.",
        expected=f"Past zero that is {_volume(look)}, which fits."
        if fits
        else f"Past zero that would be {_volume(look)}. {_expected(look)}",
        do="" if confirmed and fits else "Confirm that the meter passed zero; photo of its face.",
        suggests=None if confirmed or not fits else "yes",
    )


def changed(reading: MeterReading, look: "Look") -> Finding:
    """Return the finding about figures that fall and have not passed zero."""
    return _asks(
        "meter-changed",
        f"{reading.display} is less than {look.step.start.display}.",
        "Passing zero would mean more than the pump can move.",
        "Was the meter changed? Compare its serial number, and fill in the change.",
    )


def flat(look: "Look") -> Finding:
    """Return the finding about a meter that stood still while the pump ran."""
    lost = megalitres(look.rate.rate_m3_h * (look.pump_hours or 0.0)) if look.rate else None
    return Finding(
        code="meter-flat",
        severity=Severity.STOP,
        field="display",
        saw=f"The meter still shows {look.step.end.display} after {_time(look)}.",
        expected=_expected(look),
        do="Watch the dial for two minutes; if it stands still, tell the coordinator. The hours"
        " will be used instead.",
        effect_megalitres=-lost if lost is not None else None,
    )


def times_ten(look: "Look", slip: Slip) -> Finding:
    """Return the finding about a count that is worth ten or more times what is set."""
    volume_m3 = look.volume_m3 or 0.0
    return Finding(
        code="unit-times-ten",
        severity=Severity.STOP,
        field="display",
        saw=f"{_volume(look)}.",
        expected=f"{_expected(look)} {slip.says.capitalize()}.",
        do="Read the unit and the multiplier on the face, and correct the meter's set-up.",
        effect_megalitres=megalitres(volume_m3 * (1 - float(slip.suggests))),
    )


def slipped(reading: MeterReading, look: "Look", slip: Slip) -> Finding:
    """Return the finding about figures that a slip of the hand explains."""
    volume = f" would be {_volume(look)}" if look.volume_m3 is not None else " does not fit"
    return Finding(
        code=slip.code,
        severity=Severity.STOP,
        field="display",
        saw=f"{reading.display}{volume}.",
        expected=f"{_expected(look)} {slip.says[:1].upper()}{slip.says[1:]}.".strip(),
        do="Read the figures aloud off the face, one by one.",
        suggests=slip.suggests,
    )


def too_fast(look: "Look") -> Finding:
    """Return the finding about more than the pump can move."""
    by_clock_m3 = look.rate.at_most_m3(look.step.hours) if look.rate else 0.0
    impossible = (look.volume_m3 or 0.0) > by_clock_m3
    return Finding(
        code="flow-rate",
        severity=Severity.STOP if impossible else Severity.ASK,
        field="display",
        saw=f"{_volume(look)}.",
        expected=_expected(look),
        do="Read the figures and the unit again; time the dial for ten minutes.",
    )


def too_slow(look: "Look") -> Finding:
    """Return the note about less than the hours would give; the hours carry the question."""
    return Finding(
        code="flow-rate",
        severity=Severity.NOTE,
        field="display",
        saw=f"{_volume(look)}.",
        expected=_expected(look),
        do="Did the pump really run so long? Look at hours, screen and dial.",
    )


def last_was_odd(last: Face, clock: tzinfo) -> Finding:
    """Return the note that the last figures, not these, are the odd ones."""
    return Finding(
        code="last-figures-odd",
        severity=Severity.NOTE,
        field="display",
        saw=f"This fits the figures before, but not the {last.display} of {last.at.astimezone(clock):%-d %B}.",
        do="Look at that reading again.",
    )


def daily_volume(licence: str, per_day: float, limit: float) -> Finding:
    """Return the finding about a day's volume over the licence; the tool never decides."""
    return _asks(
        "daily-volume",
        f"{per_day:.1f} ML a day.",
        f"This may exceed the daily limit of {limit:g} ML on licence {licence}.",
        "Contact the coordinator.",
    )


def used_up(name: str, share: float, severity: Severity) -> Finding:
    """Return the finding about most of the water allowed being used."""
    return Finding(
        code="used-up",
        severity=severity,
        field="point",
        saw=f"{share:.0%} of {name} is used.",
        do="Plan the stop with the coordinator.",
    )


def gap(look: "Look", days: float, severity: Severity) -> Finding:
    """Return the finding about days without a look at the meter; the totaliser carries them."""
    return Finding(
        code="log-gap",
        severity=severity,
        field="seen_at",
        saw=f"{days:.0f} days since the meter was last read, with the pump running.",
        expected=f"The meter carries the volume over the gap: {_volume(look)}.",
        do="Go on from today's figures; do not make up the missing days.",
    )
