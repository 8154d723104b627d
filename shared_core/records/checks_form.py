"""The form of a check and of a limit as data."""

from typing import NamedTuple


class Limit(NamedTuple):
    """A figure that a site can set for itself."""

    name: str
    default: float | None  # None: no default, another record says it
    unit: str
    origin: str  # a published source by name, common practice, from memory, or computed


class Check(NamedTuple):
    """One finding's code and what stands behind it."""

    code: str
    number: int  # in the list of the trade's plausibility checks; 0: one of our own beside it
    kinds: str  # kinds of record, blanks between; "any" for all observations, "" over time
    severity: str  # as hard as it may ask: "stop", "ask" or "note", blanks between
    asks: str
    limits: tuple[str, ...]
    origin: str
