"""A tagged tree, scored by eye."""

from typing import ClassVar, Final

from shared_core.fields import choice, flag, number, record
from shared_core.records.base import Seen

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
