"""A tagged tree, scored by eye."""

from collections.abc import Iterator, Mapping
from typing import ClassVar, Final

from shared_core.fields import choice, flag, number, record
from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.folding import folded
from shared_core.records.limits import limits_at
from shared_core.records.places import POINT_M, seen_elsewhere
from shared_core.records.points_setup import TreeTagged
from shared_core.units import SECONDS_PER_DAY

# Crowns change slowly; teams of two scored one tree alike to some 10 % (the method of Souter et al.
# 2010, Ecol. Management & Restoration; the limits themselves are from memory).
JUMP_PCT: Final = 30.0
JUMP_DAYS: Final = 120.0
GIRTH_SHARE: Final = 0.10  # of the diameter: more is another tree or another height (from memory)

AMOUNTS: Final = {
    "absent": "Absent",
    "scarce": "Scarce",
    "common": "Common",
    "abundant": "Abundant",
}


@record
class TreeScore(Seen):
    """Crown and signs of one tree; the amounts are four words of our own."""

    kind: ClassVar[str] = "tree_score"
    title: ClassVar[str] = "Tree"

    extent_pct: float | None = number("Crown extent", "%", (0.0, 100.0), default=None, decimals=0)
    density_pct: float | None = number("Crown density", "%", (0.0, 100.0), default=None, decimals=0)
    new_tips: str | None = choice("New tips", AMOUNTS, default=None)
    epicormic: str | None = choice("Epicormic growth", AMOUNTS, default=None)
    reproduction: str | None = choice("Buds, flowers or fruit", AMOUNTS, default=None)
    die_off: str | None = choice("Leaf die-off", AMOUNTS, default=None)
    mistletoe: str | None = choice("Mistletoe", AMOUNTS, default=None)
    bark_cracked: bool | None = flag("Bark cracked", default=None)
    diameter_m: float | None = number("Diameter at breast height", "m", (0.02, 4.0), default=None)

    def findings(self, known: Known) -> Iterator[Finding]:
        limits = limits_at(known, self.site, self.when)
        trees = known.every(TreeTagged, self.site)
        places = {standing.record.code: standing.record.place for standing in trees}
        away = seen_elsewhere(
            self, known, places, limits, limit_m=limits.get("point-distance", POINT_M)
        )
        checks = (*super().findings(known), *self._range(), *away)
        yield from folded((*checks, *self._since_last(known, limits)), ("tree-range", "tree-jump"))

    def _range(self) -> Iterator[Finding]:
        for field, percent in (("extent_pct", self.extent_pct), ("density_pct", self.density_pct)):
            if percent is not None and not 0.0 <= percent <= 100.0:
                yield Finding(
                    code="tree-range",
                    severity=Severity.STOP,
                    field=field,
                    saw=f"{percent:g} %.",
                    expected="A crown has 0 to 100 %.",
                    do="Score it again.",
                )

    def _since_last(self, known: Known, limits: Mapping[str, float]) -> Iterator[Finding]:
        earlier = known.before(TreeScore, self.site, self.when, point=self.point)
        if not earlier:
            return
        last = earlier[0].record
        days = (self.when - last.when).total_seconds() / SECONDS_PER_DAY
        limit_pct = limits.get("tree-jump", JUMP_PCT)
        for field, now, then in (
            ("extent_pct", self.extent_pct, last.extent_pct),
            ("density_pct", self.density_pct, last.density_pct),
        ):
            if now is None or then is None or abs(now - then) <= limit_pct:
                continue
            yield Finding(
                code="tree-jump",
                severity=Severity.ASK if days <= JUMP_DAYS else Severity.NOTE,
                field=field,
                saw=f"{now:.0f} % against {then:.0f} % {days:.0f} days ago.",
                expected=f"A crown seldom changes by more than {limit_pct:.0f} % so soon.",
                do="Read the tag again: is it the same tree?",
            )
        yield from self._girth(last, limits)

    def _girth(self, last: "TreeScore", limits: Mapping[str, float]) -> Iterator[Finding]:
        if not self.diameter_m or not last.diameter_m:
            return
        share = self.diameter_m / last.diameter_m - 1
        if abs(share) > limits.get("tree-girth", GIRTH_SHARE) + 1e-9:
            yield Finding(
                code="tree-girth",
                severity=Severity.ASK,
                field="diameter_m",
                saw=f"{self.diameter_m:.2f} m against {last.diameter_m:.2f} m last time.",
                expected="A trunk does not change so much.",
                do="Read the tag again: the same tree, at breast height? Girth for diameter?",
            )
