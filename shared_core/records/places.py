"""Distances: was this seen at the site it is filed under, and at the point it names."""

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from shared_core.field_shapes import Position
from shared_core.geodesy import distance_m
from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.site_setup import Site

BEYOND_SITE_M: Final = 500.0  # outside the circle that holds the site (from memory)
POINT_M: Final = 25.0  # from a gauge or meter (from memory)
TIMES_ACCURACY: Final = 3.0  # of the receiver's own figure (from memory)


def metres_apart(one: Position, other: Position) -> float:
    """Return the distance between two positions [m]."""
    return distance_m(one.lat_deg, one.lon_deg, other.lat_deg, other.lon_deg)


def far(distance: float) -> str:
    """Write a distance [m] the way a person says it."""
    return f"{distance / 1000:.1f} km" if distance >= 1000 else f"{distance:.0f} m"


def nearest(
    here: Position, places: Iterable[tuple[str, Position | None]], within_m: float
) -> str | None:
    """Return the code of the place nearest to a position, None if all are farther than a limit."""
    near = [(metres_apart(here, place), code) for code, place in places if place is not None]
    distance, code = min(near, default=(float("inf"), ""))
    return code if distance <= within_m else None


def beyond_site(known: Known, seen: Seen, limit_m: float = BEYOND_SITE_M) -> Finding | None:
    """Return a finding if a record was made far outside the site it is filed under."""
    standing = known.in_force(Site, seen.site, seen.when)
    if standing is None or seen.position is None:
        return None
    site = standing.record
    outside_m = metres_apart(seen.position, site.centre) - site.radius_m
    if outside_m <= limit_m:
        return None
    others = [
        other.record.site
        for other in known.every(Site)
        if other.record.site != seen.site
        and metres_apart(seen.position, other.record.centre) <= other.record.radius_m + limit_m
    ]
    there = f" It lies in {others[0]}." if others else ""
    return Finding(
        code="site-distance",
        severity=Severity.STOP,
        field="site",
        saw=f"This was recorded {far(outside_m)} outside {site.name}.{there}",
        expected=f"A record of {seen.site} is made at {seen.site}.",
        do="Choose the site again; if it is right, say in the remark how it came about.",
        suggests=others[0] if others else None,
    )


def far_from_point(
    seen: Seen,
    place: Position | None,
    others: Iterable[tuple[str, Position | None]],
    *,
    limit_m: float = POINT_M,
    times_accuracy: float = TIMES_ACCURACY,
) -> Finding | None:
    """Return a finding if a record was made away from the point it names."""
    if place is None or seen.position is None:
        return None
    distance = metres_apart(seen.position, place)
    limit = max(limit_m, times_accuracy * (seen.position.accuracy_m or 0.0))
    if distance <= limit:
        return None
    there = nearest(seen.position, [(c, p) for c, p in others if c != seen.point], limit)
    expected = f"{there} is at this spot." if there else f"It should be within {limit:.0f} m."
    return Finding(
        code="point-distance",
        severity=Severity.ASK,
        field="point",
        saw=f"This was recorded {far(distance)} from {seen.point}.",
        expected=expected,
        do=f"Was it {there}?" if there else "Look which post or peg you are at.",
        suggests=there,
    )


def seen_elsewhere(
    seen: Seen,
    known: Known,
    places: Mapping[str, Position | None],
    limits: Mapping[str, float],
    *,
    limit_m: float = POINT_M,
) -> Iterator[Finding]:
    """Yield one finding if a record was made outside its site, or else away from its point.

    Args:
        seen: The record.
        known: What is known.
        places: Where the points of that kind stand, by code.
        limits: The site's own limits by check.
        limit_m: How far from its point a record may be made [m].
    """
    away = beyond_site(known, seen, limits.get("site-distance", BEYOND_SITE_M))
    if away is None:
        away = far_from_point(seen, places.get(seen.point), places.items(), limit_m=limit_m)
    if away is not None:
        yield away
