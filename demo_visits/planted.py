"""The form of a planted error: what went wrong, what was true, and what the coordinator decides."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

Action = Literal[
    "correct",  # write these values over what was typed
    "set aside",  # keep the record, mark it not used
    "confirm",  # what was typed is right; say so
    "set up",  # write a set-up fact of this kind
    "shift clock",  # move the time seen by so many minutes
    "mark missing",  # say that the planned visit was lost
    "settle",  # close a dispute with this value
    "leave",  # nothing to write: it did no harm
]


@dataclass(frozen=True)
class Correction:
    """One decision of the coordinator: about which acts, what is written, and why.

    ``kind`` is the kind of set-up fact where the action is "set up" or "mark missing". Values are
    texts by field of the record, as they would be typed.
    """

    action: Action
    reason: str
    acts: tuple[str, ...] = ()
    values: Mapping[str, str] = field(default_factory=dict)
    kind: str = ""


@dataclass(frozen=True)
class PlantedError:
    """One error of the invented season; ``checks`` are the numbers of the checks that see it."""

    id: str
    what: str
    typed: str
    true: str
    kind: str
    point: str
    day: str
    acts: tuple[str, ...]
    checks: tuple[str, ...]
    corrections: tuple[Correction, ...]
    megalitres_if_missed: float | None = None


def one_act(act: str, action: Action, reason: str, **values: str) -> tuple[Correction, ...]:
    """Return the single decision about a single act."""
    return (Correction(action, reason, (act,), values),)
