"""Whether a stage is odd, beside the water budget and the other gauge, and which slip explains it.

One value raises one alarm: the evidence (plate, window, other gauge) says whether it is odd, and the
slip that explains it, if there is one, says why.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final

from shared_core.expect import COVERAGE_95, Window
from shared_core.records import staff_gauge_pairs as pairs
from shared_core.records import staff_gauge_words as say
from shared_core.records.base import Finding, Severity
from shared_core.records.context import rating_at
from shared_core.records.inflow import inflow_between
from shared_core.records.levels_seen import PLATE_MARGIN_M, LevelSeen, Zero, days_from
from shared_core.records.staff_gauge_scene import Scene
from shared_core.records.weather import weather_between
from shared_core.slips import Slip, explain
from shared_core.units import MM_PER_M, megalitres

SLIP_SDS: Final = 2.0  # outside the window by this and a slip explains it: ask (computed)
LEAST_SLIP_M: Final = 0.012  # and by this: two figures swapped are a multiple of 9 mm (computed)
# A figure put in anywhere makes some thirty values, of which one fits by chance: no evidence by itself.
FITS_EASILY: Final = ("figure-dropped",)
ODD_SDS: Final = 2.8  # outside by this: ask anyway; 0.5 % of a normal distribution
LEAST_ODD_M: Final = 0.020  # nobody is asked about less (computed, four times a calm reading)
# Water that falls faster than 20 mm/day has an outlet, a leak or an error: evaporation and seepage
# take 5 to 12 (computed); seedlings fare worse above it (Bhattacharjee et al. 2006, Wetlands 26).
FALL_M_PER_DAY: Final = 0.020
RISE_M_PER_DAY: Final = 0.015
RAIN_TIMES: Final = 3.0
RATE_FROM_DAYS: Final = 0.5
WIDEST_OTHER_M: Final = 0.050  # an older reading whose window is wider proves nothing


def level_findings(scene: Scene) -> Iterator[Finding]:
    """Yield what is odd about a stage."""
    stage_m = scene.reading.stage_m or 0.0
    judged, odd_base = _judged(scene)
    if stage_m == 0 and scene.reading.state is None:
        yield _zero_or_below(scene, judged.window)
        return
    on_plate = scene.plate.shows(stage_m, scene.limits.get("plate-range", PLATE_MARGIN_M))
    if on_plate and odd_base is not None:
        yield say.base_was_odd(odd_base)
    if on_plate and not judged.is_odd:
        yield from judged.pair_note()
        return
    for view in (judged, *judged.others):
        slip = view.slip()
        if slip is not None:
            yield view.explained(slip, on_plate=on_plate)
            return
    if not on_plate and (slip := judged.slip_of_unit()) is not None:
        yield judged.explained(slip, on_plate=False)
        return
    yield from _unexplained(judged, on_plate=on_plate)


def _unexplained(judged: "_Judged", *, on_plate: bool) -> Iterator[Finding]:
    if not on_plate:
        yield say.off_plate(judged.scene.reading, judged.scene.plate, judged.expected_stage_m)
    elif judged.pair_is_odd and judged.pair is not None:
        yield judged.pair_finding(judged.pair)
    elif judged.is_plainly_odd:
        yield judged.unexplained()


def _judged(scene: Scene) -> tuple["_Judged", LevelSeen | None]:
    """Return a reading beside its window, and the last reading if that one was the odd one.

    The newest reading speaks, unless this one misses it and fits an older one that is still sharp.
    """
    if scene.zero is None:
        return _Judged(scene=scene), None
    pair = _pair(scene, scene.zero)
    views: list[_Judged] = []
    for window, base in scene.windows():
        view = _Judged(scene=scene, window=window, base=base, pair=pair)
        if views and window.half_width_m > _widest_m(views[0]):
            continue
        views.append(view)
        if not view.misses_window:
            return view, views[0].base if len(views) > 1 else None
    if not views:
        return _Judged(scene=scene, pair=pair), None
    return replace(views[0], others=tuple(views[1:])), None


def _pair(scene: Scene, zero: Zero) -> pairs.Pair | None:
    pair = pairs.nearest_other(scene.reading, scene.known, zero)
    return pair and pair.learned(scene.apart_before_m(pair.gauge))


def _widest_m(first: "_Judged") -> float:
    """Return how wide an older window may be [m] to speak against the newest reading."""
    miss_m = abs(first.window.misses_by_m(first.level_m)) if first.window else 0.0
    return max(WIDEST_OTHER_M, miss_m / 4)


def _misses(window: Window, level_m: float) -> bool:
    """Tell whether a level lies so far off that a slip is looked for."""
    return window.beyond(level_m, SLIP_SDS) and abs(window.misses_by_m(level_m)) > LEAST_SLIP_M


def _is_far_off(window: Window, level_m: float) -> bool:
    """Tell whether a level lies so far off that it is asked about without a slip."""
    return window.beyond(level_m, ODD_SDS) and abs(window.misses_by_m(level_m)) > LEAST_ODD_M


def _zero_or_below(scene: Scene, window: Window | None) -> Finding:
    zero = scene.zero
    expected_stage_m = window.level_m - zero.zero_m if window and zero else None
    below = expected_stage_m is not None and expected_stage_m < -LEAST_ODD_M
    hint = (
        f"We expected the water {-(expected_stage_m or 0.0) * MM_PER_M:.0f} mm below zero."
        if below
        else "0.000 can mean three things."
    )
    return Finding(
        code="zero-or-below",
        severity=Severity.ASK,
        field="state",
        saw="0.000 m was typed.",
        expected=hint,
        do="Touching zero, below zero with water, or dry? Choose, and take a photo.",
        suggests="below_zero" if below else None,
    )


@dataclass(frozen=True, kw_only=True)
class _Judged:
    """A reading beside the two things that can speak against it."""

    scene: Scene
    window: Window | None = None
    base: LevelSeen | None = None
    pair: pairs.Pair | None = None
    others: tuple["_Judged", ...] = ()  # the same reading beside older looks at the water

    @property
    def level_m(self) -> float:
        zero_m = self.scene.zero.zero_m if self.scene.zero else 0.0
        return (self.scene.reading.stage_m or 0.0) + zero_m

    @property
    def misses_window(self) -> bool:
        return self.window is not None and _misses(self.window, self.level_m)

    @property
    def other_misses_window(self) -> bool:
        return (
            self.window is not None
            and self.pair is not None
            and _misses(self.window, self.pair.level_m)
        )

    @property
    def pair_is_odd(self) -> bool:
        """Whether the gauges disagree and it is not plainly the other one that is off."""
        if self.pair is None or not self._disagrees:
            return False
        return self.misses_window or not self.other_misses_window or self._has_stayed_apart

    @property
    def _has_stayed_apart(self) -> bool:
        """Whether the gauges differed alike at an earlier look; the later of the two asks."""
        if self.pair is None or not self.pair.is_before:
            return False
        apart_m = self.pair.apart_m(self.level_m)
        return any(
            abs(before_m - apart_m) <= pairs.PAIR_ASK_M
            for before_m in self.scene.apart_before_m(self.pair.gauge)
        )

    @property
    def _disagrees(self) -> bool:
        if self.pair is None:
            return False
        return abs(self.level_m - self.pair.expected_level_m) > self._pair_limit_m

    @property
    def _pair_limit_m(self) -> float:
        """How far two gauges may lie apart [m]: what the site says, else by their uncertainty."""
        usual_m = pairs.PAIR_SDS * self.pair.sd_m if self.pair else 0.0
        return self.scene.limits.get("gauge-pair", max(pairs.PAIR_ASK_M, usual_m))

    @property
    def pair_agrees(self) -> bool:
        return self.pair is not None and not self._disagrees

    @property
    def is_odd(self) -> bool:
        return (
            self.scene.zero is not None
            and ((self.misses_window and not self.pair_agrees) or self.pair_is_odd)
        ) or self.is_plainly_odd

    @property
    def is_plainly_odd(self) -> bool:
        if self.scene.zero is None or self.window is None:
            return False
        far = _is_far_off(self.window, self.level_m)
        return far or bool(self.rate_words())

    @property
    def reference(self) -> tuple[float, float] | None:
        """The level that slips are tried against, and how far a true one may lie from it [m]."""
        sharp = self.window is not None and self.window.half_width_m <= WIDEST_OTHER_M
        if self.pair is not None and not (sharp and self.other_misses_window):
            return self.pair.expected_level_m, max(pairs.PAIR_ASK_M, COVERAGE_95 * self.pair.sd_m)
        if self.window is not None:
            return self.window.level_m, self.window.half_width_m
        return None

    @property
    def expected_stage_m(self) -> float | None:
        if self.reference is None or self.scene.zero is None:
            return None
        return self.reference[0] - self.scene.zero.zero_m

    def slip(self) -> Slip | None:
        """Return the slip that explains the reading best, if one does."""
        if self.pair_agrees:
            return None  # two plates do not slip alike
        if self._has_stayed_apart and not self.misses_window:
            return None  # it is a zero that is off, and no reading
        reading = self.scene.reading
        tolerance_m = self.reference[1] if self.reference else 0.0
        slips = explain(
            reading.stage_m or 0.0,
            self.expected_stage_m,
            tolerance_m,
            plate=self.scene.plate,
            other_zeros_m=self.scene.other_zeros_m(),
            as_typed=reading.as_typed.get("stage_m", ""),
        )
        if not self.is_plainly_odd:
            slips = tuple(slip for slip in slips if slip.code not in FITS_EASILY)
        return slips[0] if slips else None

    def slip_of_unit(self) -> Slip | None:
        """Return the unit that would bring a reading onto the plate, whatever is expected.

        A number so far off the plate is a slip of unit even where the level known here is old.
        """
        stage_m = self.scene.reading.stage_m or 0.0
        slips = explain(stage_m, None, 0.0, plate=self.scene.plate)
        return slips[0] if slips else None

    def explained(self, slip: Slip, *, on_plate: bool) -> Finding:
        hard = slip.code == "one-metre" or not on_plate
        return Finding(
            code=slip.code,
            severity=Severity.STOP if hard else Severity.ASK,
            field="point" if slip.code == "wrong-gauge" else "stage_m",
            saw=say.seen_words(self.scene.reading, self.level_m, self.reference),
            expected=f"{slip.says}.",
            do="Read the plate again. If it is right, keep it and take a photo.",
            suggests=slip.suggests,
            effect_megalitres=self._effect(),
        )

    def unexplained(self) -> Finding:
        rate = self.rate_words()
        return Finding(
            code="level-rate" if rate else "level-expected",
            severity=Severity.NOTE if self.pair_agrees else Severity.ASK,
            field="stage_m",
            saw=say.seen_words(self.scene.reading, self.level_m, self.reference),
            expected=rate or say.window_words(self.window, self.scene.zero),
            do="Both gauges say so: look for a leak, inflow or a pump that ran."
            if self.pair_agrees
            else "Read the plate again, look for a leak, inflow or a pump that ran. If it is right,"
            " keep it and take a photo.",
            effect_megalitres=self._effect(),
        )

    def pair_finding(self, pair: pairs.Pair) -> Finding:
        return pairs.finding(pair, self.level_m, self.scene.limits, self._effect())

    def pair_note(self) -> Iterator[Finding]:
        if self.pair is not None and self._disagrees:
            yield pairs.other_is_off(self.pair, self.level_m)

    def rate_words(self) -> str:
        """Say how fast the water moved where no pump accounts for it, or nothing."""
        if self.base is None or self.base.level_m is None:
            return ""
        days = days_from(self.base.at, self.scene.reading.when)
        change_m = self.level_m - self.base.level_m
        if days < RATE_FROM_DAYS or abs(change_m) <= LEAST_ODD_M:
            return ""
        return _rate_words(self.scene, self.base.at, days, change_m)

    def _effect(self) -> float | None:
        table = rating_at(self.scene.known, self.scene.reading.site, self.scene.reading.when)
        if table is None or self.reference is None:
            return None
        rating = table.rating
        if not rating.contains(self.level_m) or not rating.contains(self.reference[0]):
            return None
        return megalitres(rating.volume_at(self.level_m) - rating.volume_at(self.reference[0]))


def _rate_words(scene: Scene, since: datetime, days: float, change_m: float) -> str:
    rate_m = change_m / days
    if rate_m < 0:
        fastest_m = scene.limits.get("level-rate-fall", FALL_M_PER_DAY)
        if -rate_m > fastest_m:
            return say.fall_words(-rate_m, fastest_m)
        return ""
    site, at = scene.reading.site, scene.reading.when
    pumped = inflow_between(scene.known, site, since, at)
    if pumped.volume_m3 + pumped.possible_m3 > 0:
        return ""
    rain_mm = weather_between(scene.known, site, since, at).rain_mm
    steepest_m = scene.limits.get("level-rate-rise", RISE_M_PER_DAY) * days
    steepest_m += RAIN_TIMES * rain_mm / MM_PER_M
    return say.rise_words(change_m, steepest_m) if change_m > steepest_m else ""
