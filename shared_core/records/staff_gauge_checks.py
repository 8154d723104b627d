"""What is odd about a gauge reading, judged while the officer still stands at the gauge."""

from collections.abc import Iterator, Mapping
from typing import Final

from shared_core.records import staff_gauge_pairs as pairs
from shared_core.records import staff_gauge_words as say
from shared_core.records.base import Finding, Known, Severity
from shared_core.records.levels_seen import Zero
from shared_core.records.places import BEYOND_SITE_M, POINT_M, beyond_site, far_from_point
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.staff_gauge_level import LEAST_ODD_M, level_findings
from shared_core.records.staff_gauge_scene import Scene, scene_of
from shared_core.records.wave_state import crossed_waves
from shared_core.units import MM_PER_M

WAVES_NOTE_M: Final = 0.020  # half the range seen (from memory)
WAVES_ASK_M: Final = 0.050  # from memory


def gauge_findings(reading: GaugeReading, known: Known) -> Iterator[Finding]:
    """Yield what is odd about a gauge reading, one alarm for one mistake."""
    yield from _complete(reading)
    scene = scene_of(reading, known)
    yield from crossed_waves(reading)
    yield from _waves(reading, scene.limits)
    level = list(level_findings(scene)) if reading.stage_m is not None else list(_state(scene))
    yield from level
    yield from pairs.copied(reading, known)
    impossible = any(finding.severity is Severity.STOP for finding in level)
    if reading.stage_m is not None and scene.zero is not None and not impossible:
        yield from pairs.teams(reading, known, scene.zero, scene.limits)
    if not any(finding.field == "point" for finding in level):
        yield from _place(scene)


def _complete(reading: GaugeReading) -> Iterator[Finding]:
    if reading.stage_m is None and reading.state is None:
        yield Finding(
            code="nothing-read",
            severity=Severity.ASK,
            field="stage_m",
            saw="Neither a number nor what stood in its place.",
            do="Type the stage, or choose over the plate, below zero, dry or not read.",
        )
    elif reading.stage_m is not None and reading.state is not None:
        yield Finding(
            code="number-and-state",
            severity=Severity.ASK,
            field="state",
            saw=f"Both {reading.stage_m:.3f} m and '{say.state_words(reading.state)}'.",
            do="Keep the one that was seen.",
        )
    if reading.state == "not_read" and not (reading.not_read_because or "").strip():
        yield Finding(
            code="not-read-why",
            severity=Severity.ASK,
            field="not_read_because",
            saw="Not read, without a reason.",
            do="Say why: out of reach, no time, not found.",
        )


def _waves(reading: GaugeReading, limits: Mapping[str, float]) -> Iterator[Finding]:
    low_m, high_m = reading.lowest_m, reading.highest_m
    if low_m is None or high_m is None:
        return
    spread_m = (high_m - low_m) / 2
    if reading.stage_m is not None and not low_m - 1e-9 <= reading.stage_m <= high_m + 1e-9:
        yield Finding(
            code="wave-order",
            severity=Severity.ASK,
            field="highest_m",
            saw=f"{reading.stage_m:.3f} m does not lie between {low_m:.3f} and {high_m:.3f} m.",
            do="The stage is the middle of the lowest and the highest seen.",
        )
    elif spread_m > limits.get("wave-spread-note", WAVES_NOTE_M):
        asks = spread_m > limits.get("wave-spread", WAVES_ASK_M)
        yield Finding(
            code="wave-spread",
            severity=Severity.ASK if asks else Severity.NOTE,
            field="highest_m",
            saw=f"Waves of ± {spread_m * MM_PER_M:.0f} mm.",
            expected="The reading is that much less sure.",
            do="Shelter the plate and read three times.",
        )


def _place(scene: Scene) -> Iterator[Finding]:
    limit_m = scene.limits.get("site-distance", BEYOND_SITE_M)
    away = beyond_site(scene.known, scene.reading, limit_m)
    gauge = scene.gauges.get(scene.reading.point)
    if away is None and gauge is not None:
        away = far_from_point(
            scene.reading,
            gauge.place,
            ((name, other.place) for name, other in scene.gauges.items()),
            limit_m=scene.limits.get("point-distance", POINT_M),
        )
    if away is not None:
        yield away


def _state(scene: Scene) -> Iterator[Finding]:
    """Ask about a state that the expected level speaks against."""
    zero, state = scene.zero, scene.reading.state
    if zero is None or state not in ("dry", "below_zero", "over_plate"):
        return
    low_m, high_m = _range_of(scene, zero, state)
    for window, _ in scene.windows():
        # The window's own 95 %, and as much again as nobody is asked about.
        if window.low_m - LEAST_ODD_M <= high_m and window.high_m + LEAST_ODD_M >= low_m:
            return  # some earlier look at the water agrees
    newest = next(scene.windows(), None)
    if newest is not None:
        yield Finding(
            code="state-unlikely",
            severity=Severity.ASK,
            field="state",
            saw=f"'{say.state_words(state)}' was chosen.",
            expected=say.window_words(newest[0], zero),
            do="Look again which post it is. If it is right, keep it and take a photo.",
        )


def _range_of(scene: Scene, zero: Zero, state: str) -> tuple[float, float]:
    """Return the levels at which a gauge is in a state [m]."""
    gauge = scene.gauges.get(scene.reading.point)
    ground_m = gauge.ground_level_m if gauge else None
    bottom_m = zero.zero_m + scene.plate.from_m
    ranges = {
        "dry": (float("-inf"), bottom_m if ground_m is None else ground_m),
        "below_zero": (float("-inf") if ground_m is None else ground_m, bottom_m),
        "over_plate": (zero.zero_m + scene.plate.to_m, float("inf")),
    }
    return ranges[state]
