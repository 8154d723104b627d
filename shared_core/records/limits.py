"""Limits of the checks: the defaults on top of each record's file, or what the site has set."""

from collections.abc import Mapping
from datetime import datetime

from shared_core.records.base import Known
from shared_core.records.water_setup import Limits


def limits_at(known: Known, site: str, at: datetime) -> Mapping[str, float]:
    """Return the site's own limits by check, empty where it has none."""
    standing = known.in_force(Limits, site, at)
    if standing is None:
        return {}
    return {str(check).casefold(): float(limit) for check, limit, _ in standing.record.values}
