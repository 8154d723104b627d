"""Something on the ground that the next team must know about."""

from collections.abc import Iterator
from typing import ClassVar, Final

from shared_core.fields import choice, number, record
from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.limits import limits_at
from shared_core.records.places import seen_elsewhere

HAZARDS: Final = {
    "crack": "Crack in the ground",
    "tunnel": "Tunnel or sinkhole",
    "soft": "Soft mud",
    "bank": "Undercut bank",
    "water": "Deep or moving water",
    "tree": "Tree or limb",
    "animal": "Animal",
    "algae": "Algae or scum",
    "access": "Gate or track",
    "other": "Something else",
}


@record
class Hazard(Seen):
    """A pin for all teams; keep away by the stated distance until somebody has judged it."""

    kind: ClassVar[str] = "hazard"
    title: ClassVar[str] = "Hazard"

    hazard: str = choice("What", HAZARDS)
    width_m: float | None = number("Width", "m", (0.0, 50.0), default=None)
    depth_m: float | None = number("Depth", "m", (0.0, 20.0), default=None)
    keep_out_m: float | None = number("Keep away by", "m", (0.0, 500.0), default=None, decimals=0)

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
        yield from seen_elsewhere(self, known, {}, limits_at(known, self.site, self.when))
        if self.position is None:
            yield Finding(
                code="hazard-position",
                severity=Severity.ASK,
                field="position",
                saw="No position.",
                expected="The next team finds it, or keeps away from it, by its position.",
                do="Take a fix beside it, not on it.",
            )
        if self.keep_out_m is None:
            yield Finding(
                code="hazard-keep-out",
                severity=Severity.ASK,
                field="keep_out_m",
                saw="No distance to keep.",
                do="Say how far to keep away until somebody has judged it.",
            )
