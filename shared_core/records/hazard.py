"""Something on the ground that the next team must know about."""

from typing import ClassVar, Final

from shared_core.fields import choice, number, record
from shared_core.records.base import Seen

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
