"""Transverse Mercator, distances, areas and offsets on the ellipsoid.

A position is (latitude, longitude) [degrees]; a plane point is (east, north) [m]. GRS80 (GDA2020,
GDA94) is the default; on WGS84 a wetland's area differs by one part in 10**9.
"""

import cmath
import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise
from typing import Final, TypeAlias

from shared_core import units
from shared_core.errors import UnreadableError

Position: TypeAlias = tuple[float, float]
PlanePoint: TypeAlias = tuple[float, float]

# Krueger's forward series: row j holds the factors of n**j, n**(j+1), ... n**6. Karney, Transverse
# Mercator with an accuracy of a few nanometers, J. Geodesy 85 (2011), eq. 35; factors from memory,
# judged to n**5 by the tests; those of n**6 weigh less than a nanometre.
_SERIES: Final = (
    (1 / 2, -2 / 3, 5 / 16, 41 / 180, -127 / 288, 7891 / 37800),
    (13 / 48, -3 / 5, 557 / 1440, 281 / 630, -1983433 / 1935360),
    (61 / 240, -103 / 140, 15061 / 26880, 167603 / 181440),
    (49561 / 161280, -179 / 168, 6601661 / 7257600),
    (34729 / 80640, -3418889 / 1995840),
    (212378941 / 319334400,),
)
_ROUNDS: Final = 12  # each round of the inverse gains over two digits
_VINCENTY_ROUNDS: Final = 100
_MGA_SCALE: Final = 0.9996  # Map Grid of Australia: ICSM, GDA2020 Technical Manual v1.2, 2018
_MGA_FALSE_EAST_M: Final = 500_000.0  # the same
_MGA_FALSE_NORTH_M: Final = 10_000_000.0  # the same


@dataclass(frozen=True)
class Ellipsoid:
    """A reference ellipsoid."""

    semi_major_m: float
    inverse_flattening: float

    @cached_property
    def flattening(self) -> float:
        return 1 / self.inverse_flattening

    @cached_property
    def eccentricity(self) -> float:
        return math.sqrt(self.flattening * (2 - self.flattening))

    @cached_property
    def rectifying_radius_m(self) -> float:
        """Radius [m] of the circle as long as a meridian (Karney 2011, eq. 14)."""
        n = self.flattening / (2 - self.flattening)
        return self.semi_major_m / (1 + n) * (1 + n**2 / 4 + n**4 / 64 + n**6 / 256)

    @cached_property
    def series(self) -> tuple[tuple[int, float], ...]:
        """Factors alpha_j of Krueger's series, each after its multiple 2j of the angle."""
        n = self.flattening / (2 - self.flattening)
        return tuple(
            (2 * j, sum(factor * n ** (j + k) for k, factor in enumerate(row)))
            for j, row in enumerate(_SERIES, start=1)
        )


GRS80: Final = Ellipsoid(units.GRS80_SEMI_MAJOR_M, units.GRS80_INVERSE_FLATTENING)
WGS84: Final = Ellipsoid(units.GRS80_SEMI_MAJOR_M, units.WGS84_INVERSE_FLATTENING)


@dataclass(frozen=True)
class TransverseMercator:
    """A transverse Mercator projection (Karney 2011, eqs 7-11 and 23-26), south or north."""

    central_meridian: float
    scale: float = 1.0
    false_east_m: float = 0.0
    false_north_m: float = 0.0
    ellipsoid: Ellipsoid = GRS80

    def forward(self, lat: float, lon: float) -> PlanePoint:
        """Return east, north [m] of a position [degrees]."""
        sphere = self._on_sphere(lat, lon)
        angle = sphere + sum(a * cmath.sin(j * sphere) for j, a in self.ellipsoid.series)
        radius = self.scale * self.ellipsoid.rectifying_radius_m
        return self.false_east_m + radius * angle.imag, self.false_north_m + radius * angle.real

    def inverse(self, east_m: float, north_m: float) -> Position:
        """Return the position [degrees] of a point of the plane [m]."""
        radius = self.scale * self.ellipsoid.rectifying_radius_m
        angle = complex(north_m - self.false_north_m, east_m - self.false_east_m) / radius
        sphere = angle
        for _ in range(_ROUNDS):
            sphere = angle - sum(a * cmath.sin(j * sphere) for j, a in self.ellipsoid.series)
        across, along = math.sinh(sphere.imag), math.cos(sphere.real)
        isometric = math.asinh(math.sin(sphere.real) / math.hypot(across, along))
        eccentricity, phi = self.ellipsoid.eccentricity, sphere.real
        for _ in range(_ROUNDS):
            shift = eccentricity * math.atanh(eccentricity * math.sin(phi))
            phi = math.atan(math.sinh(isometric + shift))
        lon = self.central_meridian + math.degrees(math.atan2(across, along))
        return math.degrees(phi), math.remainder(lon, 360.0)

    def scale_and_convergence(self, lat: float, lon: float) -> tuple[float, float]:
        """Return point scale and grid convergence [degrees] at a position [degrees].

        Sign as ICSM has it: grid bearing = azimuth + convergence, before the arc-to-chord term.
        """
        sphere = self._on_sphere(lat, lon)
        slope = 1 + sum(j * a * cmath.cos(j * sphere) for j, a in self.ellipsoid.series)
        phi, lam, tangent = self._conformal(lat, lon)
        bulge = math.sqrt(1 - (self.ellipsoid.eccentricity * math.sin(phi)) ** 2)
        ratio = self.ellipsoid.rectifying_radius_m / self.ellipsoid.semi_major_m
        spherical = bulge / math.cos(phi) / math.hypot(tangent, math.cos(lam))
        turn = math.atan2(tangent * math.sin(lam), math.hypot(1, tangent) * math.cos(lam))
        convergence = math.degrees(cmath.phase(slope) - turn)
        return self.scale * ratio * abs(slope) * spherical, convergence

    def _conformal(self, lat: float, lon: float) -> tuple[float, float, float]:
        phi = math.radians(lat)
        lam = math.radians(math.remainder(lon - self.central_meridian, 360.0))
        e = self.ellipsoid.eccentricity
        return phi, lam, math.sinh(math.asinh(math.tan(phi)) - e * math.atanh(e * math.sin(phi)))

    def _on_sphere(self, lat: float, lon: float) -> complex:
        _, lam, tangent = self._conformal(lat, lon)
        across = math.asinh(math.sin(lam) / math.hypot(tangent, math.cos(lam)))
        return complex(math.atan2(tangent, math.cos(lam)), across)


@dataclass(frozen=True)
class Grid:
    """A map grid; positions handed to its projection must be on its datum."""

    epsg: int
    name: str
    datum: str
    projection: TransverseMercator


def local_projection(lat: float, lon: float, ellipsoid: Ellipsoid = GRS80) -> TransverseMercator:
    """Return the projection with origin and true scale at a site [degrees]."""
    _, north_m = TransverseMercator(lon, ellipsoid=ellipsoid).forward(lat, lon)
    return TransverseMercator(lon, false_north_m=-north_m, ellipsoid=ellipsoid)


def grid_of_epsg(epsg: int) -> Grid:
    """Return the map grid of an EPSG code (EPSG registry: MGA2020 and MGA94).

    Raises:
        UnreadableError: the code is not one of a Map Grid of Australia zone.
    """
    for first, last, offset, datum in (
        (7846, 7859, 7800, "GDA2020"),
        (28348, 28358, 28300, "GDA94"),
    ):
        if first <= epsg <= last:
            zone = epsg - offset
            meridian = 6.0 * zone - 183.0
            mga = TransverseMercator(meridian, _MGA_SCALE, _MGA_FALSE_EAST_M, _MGA_FALSE_NORTH_M)
            return Grid(epsg, f"{datum} / MGA zone {zone}", datum, mga)
    degrees = " has degrees, not metres, and" if epsg in {4326, 4283, 7844} else ""
    raise UnreadableError(
        f"EPSG:{epsg}{degrees} is not read here. A map grid in metres is: EPSG:7846 to 7859 "
        "(GDA2020 / MGA zones 46 to 59) or EPSG:28348 to 28358 (GDA94 / MGA zones 48 to 58)."
    )


def distance_m(lat1: float, lon1: float, lat2: float, lon2: float) -> float:
    """Return the length [m] of the geodesic between two positions [degrees] on GRS80."""
    return geodesic((lat1, lon1), (lat2, lon2))[0]


def geodesic(start: Position, end: Position, ellipsoid: Ellipsoid = GRS80) -> tuple[float, float]:
    """Return length [m] and azimuth at the start [degrees] (Vincenty, Survey Review 23, 1975).

    Near the antipode the method may find no answer; the length is then good to 1 %.
    """
    f = ellipsoid.flattening
    u1, u2 = (math.atan((1 - f) * math.tan(math.radians(lat))) for lat, _ in (start, end))
    lam = wanted = math.radians(math.remainder(end[1] - start[1], 360.0))
    for _ in range(_VINCENTY_ROUNDS):
        across, along, cos_arc, sin_alpha, slant, middle = _great_circle(u1, u2, lam)
        sin_arc, c = math.hypot(across, along), f / 16 * slant * (4 + f * (4 - 3 * slant))
        twist = math.atan2(sin_arc, cos_arc) + c * sin_arc * (
            middle + c * cos_arc * (2 * middle**2 - 1)
        )
        old, lam = lam, wanted + (1 - c) * f * sin_alpha * twist
        if abs(lam - old) < 1e-13:
            break
    across, along, cos_arc, _, slant, middle = _great_circle(u1, u2, lam)
    sin_arc, stretch = math.hypot(across, along), math.sqrt(1 + slant * (1 / (1 - f) ** 2 - 1))
    k = (stretch - 1) / (stretch + 1)
    b = k * (1 - 3 * k * k / 8)
    cubic = middle * (4 * sin_arc**2 - 3) * (4 * middle**2 - 3)
    bend = b * sin_arc * (middle + b / 4 * (cos_arc * (2 * middle**2 - 1) - b / 6 * cubic))
    minor_m = ellipsoid.semi_major_m * (1 - f)
    length_m = minor_m * (1 + k * k / 4) / (1 - k) * (math.atan2(sin_arc, cos_arc) - bend)
    return length_m, math.degrees(math.atan2(across, along)) % 360.0


def _great_circle(u1: float, u2: float, lam: float) -> tuple[float, ...]:
    """Vincenty's eqs 14 to 18: sin(arc) in two parts, its cosine, sin a, cos2 a, cos 2 sigma-m."""
    sin1, cos1, sin2, cos2 = math.sin(u1), math.cos(u1), math.sin(u2), math.cos(u2)
    across, along = cos2 * math.sin(lam), cos1 * sin2 - sin1 * cos2 * math.cos(lam)
    cos_arc, sin_arc = sin1 * sin2 + cos1 * cos2 * math.cos(lam), math.hypot(across, along)
    sin_alpha = cos1 * across / sin_arc if sin_arc else 0.0
    slant = 1 - sin_alpha**2
    middle = cos_arc - 2 * sin1 * sin2 / slant if slant > 1e-15 else 0.0
    return across, along, cos_arc, sin_alpha, slant, middle


def ring_projection(ring: Sequence[Position]) -> TransverseMercator:
    """Return the local projection centred on the middle of a ring or line [degrees].

    Raises:
        UnreadableError: there is no position at all.
    """
    if not ring:
        raise UnreadableError("There is no position here; a ring needs at least three.")
    lats, first = [lat for lat, _ in ring], ring[0][1]
    easts = [math.remainder(lon - first, 360.0) for _, lon in ring]
    return local_projection((min(lats) + max(lats)) / 2, first + (min(easts) + max(easts)) / 2)


def ring_area_m2(ring: Sequence[Position]) -> float:
    """Return the area [m2], never negative, inside a ring [degrees] with geodesic sides on GRS80.

    The shoelace area of the local projection, less what its scale 1 + x**2 / (2 R**2) adds away
    from the central meridian and what the arc-to-chord bend of its sides adds, to order 1 / R**2
    (R Gaussian mean radius; ICSM, GDA2020 Technical Manual v1.2, for scale and bend).
    """
    projection = ring_projection(ring)
    points = [projection.forward(*position) for position in ring]
    excess_m4 = 0.0
    for (x1, y1), (x2, y2) in pairwise([*points, points[0]]):
        length2 = (x2 - x1) ** 2 + (y2 - y1) ** 2
        excess_m4 += (x1 * y2 - x2 * y1) * (x1 * x1 + x1 * x2 + x2 * x2) / 12
        excess_m4 -= length2 * (y2 - y1) * (x1 + x2) / 24
    lat, _ = projection.inverse(0.0, 0.0)
    e2 = projection.ellipsoid.eccentricity**2
    bulge = 1 - e2 * math.sin(math.radians(lat)) ** 2
    radius2 = projection.ellipsoid.semi_major_m**2 * (1 - e2) / bulge**2
    return abs(plane_area_m2(points) - excess_m4 / radius2)


def ring_perimeter_m(ring: Sequence[Position]) -> float:
    """Return the length [m] round a ring [degrees], its closing side included."""
    return sum(distance_m(*a, *b) for a, b in pairwise([*ring, *ring[:1]]))


def offset_m(position: Position, line: Sequence[Position]) -> float:
    """Return the shortest distance [m] from a position to a line [degrees].

    Raises:
        UnreadableError: the line has no position.
    """
    if not line:
        raise UnreadableError("There is no line to measure to; it needs at least one position.")
    projection = local_projection(*position)
    points = [projection.forward(*p) for p in line]
    return min(plane_offset_m((0.0, 0.0), a, b) for a, b in pairwise([points[0], *points]))


def is_inside(position: Position, ring: Sequence[Position]) -> bool:
    """Return whether a position lies inside a ring [degrees]."""
    projection = local_projection(*position)
    points = [projection.forward(*p) for p in ring]
    inside = False
    for (x1, y1), (x2, y2) in pairwise([*points, *points[:1]]):
        if (y1 > 0.0) != (y2 > 0.0) and x1 - y1 * (x2 - x1) / (y2 - y1) > 0.0:
            inside = not inside
    return inside


def plane_area_m2(points: Sequence[PlanePoint]) -> float:
    """Return the area [m2] of a plane ring [m], positive if it runs anticlockwise."""
    x0, y0 = points[0]
    return (
        sum(
            (x1 - x0) * (y2 - y0) - (x2 - x0) * (y1 - y0) for (x1, y1), (x2, y2) in pairwise(points)
        )
        / 2
    )  # the closing side runs to the subtracted origin and adds nothing


def plane_area_sd_m2(
    points: Sequence[PlanePoint], sd_m: Sequence[float], fades: Sequence[float]
) -> float:
    """Return the standard uncertainty [m2] of the area of a plane ring of measured points [m].

    First-order propagation through the shoelace area (Forest Science 51(4), 2005, 347-356):
    var A = sum_ij s_i s_j rho_ij g_i . g_j, with s_i the error of point i per axis and g_i half the
    chord between its neighbours. ``fades`` holds the correlation of each point's error with the one
    before; rho_ij is the product of those between, so one pass does. Zeros: independent errors.
    """
    variance = carried_x = carried_y = 0.0
    for k, (s, fade) in enumerate(zip(sd_m, fades, strict=True)):
        (x1, y1), (x2, y2) = points[k - 1], points[(k + 1) % len(points)]
        x, y = s * (y2 - y1) / 2, s * (x1 - x2) / 2
        carried_x, carried_y = carried_x * fade, carried_y * fade
        variance += x * (x + 2 * carried_x) + y * (y + 2 * carried_y)
        carried_x, carried_y = carried_x + x, carried_y + y
    return math.sqrt(max(0.0, variance))


def plane_centroid(points: Sequence[PlanePoint]) -> PlanePoint:
    """Return the centroid [m] of a plane ring; of its points if it encloses next to nothing."""
    count, (x0, y0), area6 = len(points), points[0], 6 * plane_area_m2(points)
    spread2 = sum((x - x0) ** 2 + (y - y0) ** 2 for x, y in points) / count
    if abs(area6) < 1e-3 * spread2 or not area6:
        return sum(x for x, _ in points) / count, sum(y for _, y in points) / count
    east = north = 0.0
    for (x1, y1), (x2, y2) in pairwise((x - x0, y - y0) for x, y in points):
        cross = x1 * y2 - x2 * y1
        east, north = east + (x1 + x2) * cross, north + (y1 + y2) * cross
    return x0 + east / area6, y0 + north / area6


def plane_offset_m(point: PlanePoint, start: PlanePoint, end: PlanePoint) -> float:
    """Return the distance [m] from a point to the segment between two others [m]."""
    dx, dy = end[0] - start[0], end[1] - start[1]
    px, py = point[0] - start[0], point[1] - start[1]
    length2 = dx * dx + dy * dy
    along = min(1.0, max(0.0, (px * dx + py * dy) / length2)) if length2 else 0.0
    return math.hypot(px - along * dx, py - along * dy)


def simplified(ring: Sequence[PlanePoint], tolerance_m: float) -> list[PlanePoint]:
    """Return a plane ring without the points that stray less than a tolerance [m].

    Douglas and Peucker, Cartographica 10(2), 1973, on the two halves that meet at the first point
    and at the point farthest from it.
    """
    closed = [*ring, *ring[:1]]
    middle = max(range(len(ring)), key=lambda k: math.dist(ring[0], ring[k]), default=0)
    keep, spans = {0, middle}, [(0, middle), (middle, len(ring))]
    while spans:
        a, b = spans.pop()
        offsets = [plane_offset_m(closed[k], closed[a], closed[b]) for k in range(a + 1, b)]
        if offsets and max(offsets) > tolerance_m:
            k = a + 1 + offsets.index(max(offsets))
            keep.add(k)
            spans += [(a, k), (k, b)]
    return [ring[k] for k in sorted(keep) if k < len(ring)]


def crossings(ring: Sequence[PlanePoint]) -> list[tuple[int, int, PlanePoint]]:
    """Return where a plane ring crosses itself: the two sides, by their first points, and where."""
    sides = list(pairwise([*ring, *ring[:1]]))
    order = sorted(range(len(sides)), key=lambda i: min(p[0] for p in sides[i]))
    found = []
    for rank, i in enumerate(order):
        right = max(p[0] for p in sides[i])
        for j in order[rank + 1 :]:
            if min(p[0] for p in sides[j]) > right:
                break
            point = None if abs(i - j) in {1, len(sides) - 1} else _crossing(*sides[i], *sides[j])
            if point:
                found.append((min(i, j), max(i, j), point))
    return sorted(found)


def _crossing(a: PlanePoint, b: PlanePoint, c: PlanePoint, d: PlanePoint) -> PlanePoint | None:
    (rx, ry), (sx, sy) = (b[0] - a[0], b[1] - a[1]), (d[0] - c[0], d[1] - c[1])
    cross, qx, qy = rx * sy - ry * sx, c[0] - a[0], c[1] - a[1]
    if not cross:
        return None
    along, other = (qx * sy - qy * sx) / cross, (qx * ry - qy * rx) / cross
    inside = 0 <= along < 1 and 0 <= other < 1
    return (a[0] + along * rx, a[1] + along * ry) if inside else None
