"""A bore dipped for its water level."""

import math
from collections.abc import Iterator, Mapping
from typing import ClassVar, Final

from shared_core.fields import choice, flag, number, record
from shared_core.records.base import Answer, Finding, Known, Seen, Severity
from shared_core.records.folding import folded
from shared_core.records.limits import limits_at
from shared_core.records.places import POINT_M, seen_elsewhere
from shared_core.records.points_setup import Bore
from shared_core.units import MM_PER_M, SECONDS_PER_DAY

# Tape dips are repeated until they agree (USGS Techniques & Methods 1-A1, 2011); the figure of
# 10 mm and the rate are from memory.
REPEAT_M: Final = 0.010
CHANGE_M_PER_WEEK: Final = 0.3
LARGEST_CHANGE_M: Final = 0.5  # however long ago the last dip was (from memory)
STICK_UP_MATCH_M: Final = 0.020  # a change so near to the stick-up is a change of mark (computed)
ROUNDING_M: Final = 1e-9

MARKS: Final = {"casing": "Top of casing", "ground": "Ground", "other": "Another mark"}


@record
class BoreDip(Seen):
    """Two dips from the marked point down to the water; a falling dip is rising water."""

    kind: ClassVar[str] = "bore_dip"
    title: ClassVar[str] = "Bore"

    dip_1_m: float = number("First dip", "m", (0.0, 100.0), decimals=3)
    dip_2_m: float = number("Second dip", "m", (0.0, 100.0), decimals=3)
    mark: str = choice("Dipped from", MARKS)
    stick_up_m: float | None = number(
        "Stick-up of the casing", "m", (0.0, 2.0), default=None, decimals=3
    )
    cap_sound: bool | None = flag("Cap sound", default=None)

    @property
    def dip_m(self) -> float:
        """The mean of the two dips [m]."""
        return (self.dip_1_m + self.dip_2_m) / 2

    def findings(self, known: Known) -> Iterator[Finding]:
        limits = limits_at(known, self.site, self.when)
        bores = known.every(Bore, self.site)
        places = {standing.record.code: standing.record.place for standing in bores}
        limit_m = limits.get("point-distance", POINT_M)
        yield from folded(
            (
                *super().findings(known),
                *seen_elsewhere(self, known, places, limits, limit_m=limit_m),
                *self._repeats(limits),
                *self._since_last(known, limits),
            ),
            ("bore-mark", "bore-change", "bore-repeat"),
        )

    def tells(self, known: Known) -> Iterator[Answer]:
        yield from super().tells(known)
        bore = known.in_force(Bore, self.site, self.when, point=self.point)
        dip_m = below_casing_m(self, bore.record if bore else None)
        if bore is None or dip_m is None:
            return
        level_m = bore.record.casing_level_m - dip_m
        says = f"{level_m:.3f} m"
        last = known.before(BoreDip, self.site, self.when, point=self.point)
        last_m = below_casing_m(last[0].record, bore.record) if last else None
        if last_m is not None:
            # A falling dip is rising water.
            arrow = "↑" if dip_m < last_m else "↓"
            says += f" {arrow} {abs(dip_m - last_m) * MM_PER_M:.0f} mm since last"
        yield Answer(label="Water in the bore", says=says, value=level_m, unit="m")

    def _repeats(self, limits: Mapping[str, float]) -> Iterator[Finding]:
        apart_m = abs(self.dip_1_m - self.dip_2_m)
        if apart_m > limits.get("bore-repeat", REPEAT_M) + ROUNDING_M:
            yield Finding(
                code="bore-repeat",
                severity=Severity.ASK,
                field="dip_2_m",
                saw=f"The two dips are {apart_m * MM_PER_M:.0f} mm apart.",
                expected="They should agree within 10 mm.",
                do="Dip again until two agree.",
            )

    def _since_last(self, known: Known, limits: Mapping[str, float]) -> Iterator[Finding]:
        bore = known.in_force(Bore, self.site, self.when, point=self.point)
        set_up = bore.record if bore else None
        earlier = known.before(BoreDip, self.site, self.when, point=self.point, limit=2)
        here_m = below_casing_m(self, set_up)
        if here_m is None or not earlier:
            return
        changes = [
            (standing.record, here_m - before_m)
            for standing in earlier
            if (before_m := below_casing_m(standing.record, set_up)) is not None
        ]
        limit_m = limits.get("bore-change", CHANGE_M_PER_WEEK)
        stick_m = stick_up_m(self, set_up)
        odd = [
            _is_odd(self, last, change_m, limit_m) or _is_stick_up(change_m, stick_m)
            for last, change_m in changes
        ]
        if not odd or not odd[0]:
            return
        if len(odd) > 1 and not odd[1]:
            last, before = changes[0], changes[1]
            apart_m = before[1] - last[1]
            if _is_odd(last[0], before[0], apart_m, limit_m) or _is_stick_up(apart_m, stick_m):
                yield _last_was_odd(last[0])
                return
        yield self._change(changes[0][1], stick_m)

    def _change(self, change_m: float, stick_m: float | None) -> Finding:
        way = "deeper" if change_m > 0 else "shallower"
        saw = f"The water is {abs(change_m):.3f} m {way} than at the last dip."
        if stick_m is not None and _is_stick_up(change_m, stick_m):
            meant_m = self.dip_1_m - math.copysign(stick_m, change_m)
            return Finding(
                code="bore-mark",
                severity=Severity.ASK,
                field="dip_1_m",
                saw=saw,
                expected=f"That is the casing's stick-up of {stick_m:.3f} m.",
                do="Which mark was it dipped from? From the casing's top it would be "
                f"{meant_m:.3f} m.",
                suggests=f"{meant_m:.3f}",
            )
        return Finding(
            code="bore-change",
            severity=Severity.ASK,
            field="dip_1_m",
            saw=saw,
            expected="A bore here seldom changes by more than 0.3 m in a week.",
            do="Dip again, from the marked point.",
        )


def stick_up_m(dip: BoreDip, bore: Bore | None) -> float | None:
    """Return the height of the casing's top above the ground [m]."""
    if bore is None:
        return dip.stick_up_m
    if bore.stick_up_m is not None:
        return bore.stick_up_m
    if bore.ground_level_m is not None:
        return bore.casing_level_m - bore.ground_level_m
    return dip.stick_up_m


def below_casing_m(dip: BoreDip, bore: Bore | None) -> float | None:
    """Return the depth to water below the casing's top [m]; None if the mark is not known."""
    if dip.mark == "casing":
        return dip.dip_m
    stick_m = stick_up_m(dip, bore)
    return dip.dip_m + stick_m if dip.mark == "ground" and stick_m is not None else None


def _is_odd(dip: BoreDip, last: BoreDip, change_m: float, limit_m: float) -> bool:
    weeks = max(1.0, (dip.when - last.when).total_seconds() / SECONDS_PER_DAY / 7)
    return abs(change_m) > min(limit_m * weeks, LARGEST_CHANGE_M)


def _is_stick_up(change_m: float, stick_m: float | None) -> bool:
    low_casing = stick_m is None or stick_m <= 2 * STICK_UP_MATCH_M
    return not low_casing and abs(abs(change_m) - (stick_m or 0.0)) <= STICK_UP_MATCH_M


def _last_was_odd(last: BoreDip) -> Finding:
    return Finding(
        code="bore-last-odd",
        severity=Severity.NOTE,
        field="dip_1_m",
        saw=f"This fits the dip before the last, but not that of {last.wall_clock:%-d %B}.",
        do="Look at that one again.",
    )
