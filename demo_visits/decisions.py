"""When the coordinator decides about a planted error."""

import dataclasses
from collections.abc import Iterator
from datetime import date, timedelta
from typing import Final

from demo_visits.planted import Correction, PlantedError
from demo_visits.season import ALSO_PLANTED, PLANTED

# Decided later than the Monday after: what had to be waited for.
_WAITED: Final = {
    "E07": date(2023, 10, 27),  # a second walk at nearly the same level
    "E11": date(2023, 10, 23),  # the meter change
    "E15": date(2023, 12, 1),  # the check levelling
    "E17": date(2023, 12, 14),  # the sheet typed in the office
    "E24": date(2024, 2, 27),  # asked the team
}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Decision:
    """One correction and the first day on which it can be decided."""

    error: PlantedError
    correction: Correction
    on: date


def decisions() -> list[Decision]:
    """Return every decision of the season, by the day it can be taken."""
    return sorted(_all(), key=lambda decision: (decision.on, decision.error.id))


def _all() -> Iterator[Decision]:
    for error in (*ALSO_PLANTED, *PLANTED):
        on = _WAITED.get(error.id, date.fromisoformat(error.day) + timedelta(days=1))
        for correction in error.corrections:
            yield Decision(error=error, correction=correction, on=on)
