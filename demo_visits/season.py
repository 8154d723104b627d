"""The whole invented season: every act in order of time, and every planted error."""

from functools import cache
from typing import Final

from demo_visits.acts import Act
from demo_visits.planted import PlantedError
from demo_visits.season_errors import CLOCK_OF_V14, EARLY_ERRORS
from demo_visits.season_late_errors import LATE_ERRORS
from demo_visits.season_plants import plant_and_photo_acts
from demo_visits.season_pump import landholder_acts
from demo_visits.season_visits import team_acts

PLANTED: Final[tuple[PlantedError, ...]] = (*EARLY_ERRORS, *LATE_ERRORS)
ALSO_PLANTED: Final = (CLOCK_OF_V14,)
SENT_TWICE: Final = ("V18",)  # E17: the same entries arrive a second time


@cache
def acts() -> tuple[Act, ...]:
    """Return everything anybody wrote, by the true moment at which it was seen."""
    everything = (*landholder_acts(), *team_acts(), *plant_and_photo_acts())
    return tuple(sorted(everything, key=lambda act: (act.when, act.key)))


@cache
def _by_key() -> dict[str, Act]:
    return {act.key: act for act in acts()}


def act_named(key: str) -> Act:
    """Return the act with this key, such as "V03 gauge_reading SG1".

    Raises:
        KeyError: there is no such act.
    """
    return _by_key()[key]


def planted_error(name: str) -> PlantedError:
    """Return the planted error with this id, E01 to E29 or V14.

    Raises:
        KeyError: there is no such error.
    """
    return {error.id: error for error in (*PLANTED, *ALSO_PLANTED)}[name]
