"""Every check as data: its code, what it looks at, how hard it asks, its limits and their origin.

The checks themselves stand in the files of their records; a test holds codes, kinds and limits of
both together. The page of methods and the record *Limits of the checks* read from here.
"""

from collections.abc import Mapping
from typing import Final

from shared_core.records.checks_form import Check, Limit
from shared_core.records.checks_of_land import LAND_CHECKS, LAND_LIMITS
from shared_core.records.checks_of_pumping import PUMPING_CHECKS, PUMPING_LIMITS
from shared_core.records.checks_of_time import TIME_CHECKS, TIME_LIMITS
from shared_core.records.checks_of_water import WATER_CHECKS, WATER_LIMITS

CHECKS: Final[Mapping[str, Check]] = {
    check.code: check for check in (*TIME_CHECKS, *WATER_CHECKS, *PUMPING_CHECKS, *LAND_CHECKS)
}
LIMITS: Final[Mapping[str, Limit]] = {
    limit.name: limit for limit in (*TIME_LIMITS, *WATER_LIMITS, *PUMPING_LIMITS, *LAND_LIMITS)
}
# Limits named so are a site's own list: a plant's name follows, or a kind of record [days].
NAMED_BY_SITE: Final = ("not native: ", "every-")


def is_limit(name: str) -> bool:
    """Tell whether a check reads a limit of this name."""
    return name in LIMITS or name.startswith(NAMED_BY_SITE)
