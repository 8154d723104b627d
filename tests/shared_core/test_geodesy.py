"""Judges: published check values (named by their id), geographiclib and pyproj.

Sources of the check values:

* geo.inverse.flinders, mga.flinders, mga.buninyong, mga.line: ICSM, Geocentric Datum of Australia
  Technical Manual v2.3, 2009, ch. 4, worked example (carried into the GDA2020 manual, 2018)
* geo.inverse.5km, geo.inverse.coincident, mga.geodepy.pt, mga.mirror: tests of GeodePy, Geoscience
  Australia
* geo.inverse.gs0, gs4, gs92, area.plan29, area.plan.mgrs18swk, area.accuracy: GeographicLib test
  set and manual pages; Karney, Algorithms for geodesics, J. Geodesy 87, 2013
* geo.degree_lengths, geo.quarter_meridian, mga.flinders.54, area.pond, area.sigma: computed with
  independent libraries, not published
"""

import math

import pytest
from geographiclib.geodesic import Geodesic
from hypothesis import given, settings
from hypothesis import strategies as st
from pyproj import Proj

from shared_core import geodesy
from shared_core.errors import UnreadableError
from shared_core.geodesy import GRS80, WGS84, Position

JUDGE = Geodesic(6378137.0, 1 / 298.257222101)
# The Australian mainland and Tasmania, roughly.
LATS = st.floats(-44, -10)
LONS = st.floats(113, 154)


def degrees(d: int, minutes: int, seconds: float) -> float:
    return math.copysign(abs(d) + minutes / 60 + seconds / 3600, d)


FLINDERS = (degrees(-37, 57, 3.72030), degrees(144, 25, 29.52440))
BUNINYONG = (degrees(-37, 39, 10.15610), degrees(143, 55, 35.38390))

# area.pond.octagon 200 m pond, computed by three independent implementations.
POND: list[Position] = [
    (-34.6990986, 142.4),
    (-34.6993626, 142.3992282),
    (-34.7, 142.3989085),
    (-34.7006374, 142.3992282),
    (-34.7009014, 142.4),
    (-34.7006374, 142.4007718),
    (-34.7, 142.4010915),
    (-34.6993626, 142.4007718),
]


def placed(lat: float, lon: float, azimuth: float, length_m: float) -> Position:
    there = JUDGE.Direct(lat, lon, azimuth, length_m)
    return there["lat2"], there["lon2"]


def judged(ring: list[Position]) -> tuple[float, float]:
    polygon = JUDGE.Polygon()
    for lat, lon in ring:
        polygon.AddPoint(lat, lon)
    _, perimeter_m, area_m2 = polygon.Compute()
    return perimeter_m, abs(area_m2)


@pytest.mark.parametrize(
    ("start", "end", "length_m", "tolerance_m"),
    [
        (FLINDERS, BUNINYONG, 54972.271, 0.001),  # geo.inverse.flinders
        ((-29.85, 140.716667), (-29.85, 140.766667), 4831.553, 0.001),  # geo.inverse.5km
        ((36.493349428792, 0.0), (36.49334942879201, 8e-07), 0.072, 0.0005),  # geo.inverse.gs4
        (
            (37.757540000000006, -122.47018),  # geo.inverse.gs92
            (37.75754, -122.470177),
            0.264,
            0.0005,
        ),
        ((40.6, -73.8), (49.01666666666667, 2.55), 5853226, 0.5),  # geo.inverse.gs0
        ((-34.5, 142.0), (-35.5, 142.0), 110940.584, 0.001),  # [geo.degree_lengths]
        ((-35.0, 142.0), (-35.0, 143.0), 91287.788, 0.001),  # [geo.degree_lengths]
        ((0.0, 10.0), (90.0, 10.0), 10001965.729, 0.001),  # [geo.quarter_meridian]
    ],
)
def test_published_distances_come_out(
    start: Position, end: Position, length_m: float, tolerance_m: float
) -> None:
    assert geodesy.geodesic(start, end, WGS84)[0] == pytest.approx(length_m, abs=tolerance_m)
    assert geodesy.distance_m(*start, *end) == pytest.approx(length_m, abs=tolerance_m)


def test_published_azimuths_come_out() -> None:
    # geo.inverse.flinders and back
    second = 0.01 / 3600
    assert geodesy.geodesic(FLINDERS, BUNINYONG)[1] == pytest.approx(
        degrees(306, 52, 5.37), abs=second
    )
    assert geodesy.geodesic(BUNINYONG, FLINDERS)[1] == pytest.approx(
        degrees(127, 10, 25.07), abs=second
    )


def test_coincident_points_are_no_distance_apart() -> None:
    # geo.inverse.coincident: a repeated fix
    near = geodesy.distance_m(-30.645230675, 152.996285475, -30.645230674999997, 152.996285475)
    assert near == pytest.approx(0.0, abs=1e-6)
    for lat, lon in [(0.0, 0.0), (-35.0, 142.0), (90.0, 0.0), (-90.0, 50.0)]:
        assert geodesy.distance_m(lat, lon, lat, lon) == 0.0


@given(st.floats(-85, 85), st.floats(-180, 180), st.floats(0, 360), st.floats(0, 6))
def test_distances_agree_with_an_independent_geodesic(
    lat: float, lon: float, azimuth: float, power: float
) -> None:
    length_m = 10**power
    found_m = geodesy.distance_m(lat, lon, *placed(lat, lon, azimuth, length_m))
    assert found_m == pytest.approx(length_m, abs=5e-5)


@given(st.floats(-90, 90), st.floats(-180, 180), st.floats(-2, 2), st.floats(-2, 2))
def test_a_distance_to_the_far_side_of_the_earth_is_still_a_number(
    lat: float, lon: float, north: float, east: float
) -> None:
    far = (max(-90.0, min(90.0, north - lat)), lon + 180 + east)
    judge_m = JUDGE.Inverse(lat, lon, *far)["s12"]
    assert geodesy.distance_m(lat, lon, *far) == pytest.approx(judge_m, rel=0.01)


def test_published_grid_coordinates_come_out() -> None:
    # mga.flinders.55, mga.buninyong.55: printed .052 east comes from a rounded longitude
    mga = geodesy.grid_of_epsg(7855).projection
    assert mga.forward(*FLINDERS) == pytest.approx((273741.297, 5796489.777), abs=0.001)
    assert mga.forward(*BUNINYONG) == pytest.approx((228854.052, 5828259.038), abs=0.001)
    # mga.flinders.54 a point forced into the next zone
    zone54 = geodesy.grid_of_epsg(7854).projection
    assert zone54.forward(*FLINDERS) == pytest.approx((800938.1216, 5794082.7757), abs=0.001)
    # mga.geodepy.pt, Melbourne
    point = (degrees(-37, 48, 26.67598), degrees(144, 58, 16.44114))
    assert mga.forward(*point) == pytest.approx((321405.5592, 5813614.1613), abs=0.0005)
    assert mga.scale_and_convergence(*point)[0] == pytest.approx(0.99999287, abs=1e-8)


def test_published_scale_and_convergence_come_out_with_their_sign() -> None:
    mga = geodesy.grid_of_epsg(28355).projection
    for point, scale, convergence in [
        (FLINDERS, 1.00023056, degrees(-1, 35, 3.65)),  # mga.flinders.55
        (BUNINYONG, 1.00050567, degrees(-1, 52, 43.22)),  # mga.buninyong.55
    ]:
        found = mga.scale_and_convergence(*point)
        assert found[0] == pytest.approx(scale, abs=1e-8)
        assert found[1] == pytest.approx(convergence, abs=0.01 / 3600)
    # mga.line grid bearing 305 17 01.72 = azimuth 306 52 05.37 + convergence
    bearing = geodesy.geodesic(FLINDERS, BUNINYONG)[1] + mga.scale_and_convergence(*FLINDERS)[1]
    assert bearing == pytest.approx(degrees(305, 17, 1.72), abs=0.02 / 3600)


def test_the_north_mirrors_the_south() -> None:
    # mga.mirror: false northing of the south only
    lat, lon = degrees(34, 57, 0.79653), degrees(117, 48, 36.68783)
    mga = geodesy.grid_of_epsg(7850).projection
    north = geodesy.TransverseMercator(mga.central_meridian, mga.scale, mga.false_east_m)
    assert mga.forward(-lat, lon) == pytest.approx((573976.8747, 6132177.5461), abs=0.0005)
    assert north.forward(lat, lon) == pytest.approx((573976.8747, 3867822.4539), abs=0.0005)


@given(LATS, LONS)
@settings(max_examples=60)
def test_every_zone_agrees_with_an_independent_projection(lat: float, lon: float) -> None:
    zone = math.floor(lon / 6) + 31
    for epsg in {7800 + zone, 28300 + zone} if 48 <= zone <= 58 else {7800 + zone}:
        grid, judge = geodesy.grid_of_epsg(epsg), Proj(f"EPSG:{epsg}")
        assert grid.projection.forward(lat, lon) == pytest.approx(judge(lon, lat), abs=1e-6)
        scale, convergence = grid.projection.scale_and_convergence(lat, lon)
        factors = judge.get_factors(lon, lat)
        assert scale == pytest.approx(factors.meridional_scale, abs=1e-9)
        assert convergence == pytest.approx(-factors.meridian_convergence, abs=1e-7)


@given(st.floats(-85, 85), st.floats(-180, 180), st.floats(-5, 5))
def test_a_position_comes_back_from_the_plane(lat: float, meridian: float, east: float) -> None:
    lon = math.remainder(meridian + east, 360)
    projection = geodesy.TransverseMercator(meridian, 0.9996, 5e5, 1e7, WGS84)
    found_lat, found_lon = projection.inverse(*projection.forward(lat, lon))
    assert found_lat == pytest.approx(lat, abs=1e-11)
    assert math.remainder(found_lon - lon, 360) == pytest.approx(0, abs=1e-10)


@given(st.floats(-89, 89))
def test_the_series_holds_on_a_far_flatter_ellipsoid_too(lat: float) -> None:
    # at 1/50 a slip in a factor of n**5 shows as 10 um along the meridian; truncation is 0.1 um
    flat = geodesy.Ellipsoid(6378137.0, 50.0)
    judge_m = Geodesic(6378137.0, 1 / 50).Inverse(0.0, 0.0, lat, 0.0)["s12"]
    _, north_m = geodesy.TransverseMercator(0.0, ellipsoid=flat).forward(lat, 0.0)
    assert abs(north_m) == pytest.approx(judge_m, abs=1e-6)


def test_a_local_projection_has_its_origin_and_true_scale_at_the_site() -> None:
    site = geodesy.local_projection(-34.7, 142.4)
    assert site.forward(-34.7, 142.4) == pytest.approx((0.0, 0.0), abs=1e-8)
    assert site.scale_and_convergence(-34.7, 142.4) == pytest.approx((1.0, 0.0), abs=1e-12)
    east, north = site.forward(*placed(-34.7, 142.4, 30.0, 1000.0))
    assert (east, north) == pytest.approx((500.0, 866.0254), abs=0.0001)


def test_a_grid_says_its_zone_and_its_datum() -> None:
    new, old = geodesy.grid_of_epsg(7854), geodesy.grid_of_epsg(28354)
    assert (new.name, new.datum) == ("GDA2020 / MGA zone 54", "GDA2020")
    assert (old.name, old.datum) == ("GDA94 / MGA zone 54", "GDA94")
    assert new.projection == old.projection  # same figures on both; the datums differ by 1.8 m
    assert geodesy.grid_of_epsg(7846).projection.central_meridian == 93.0
    assert geodesy.grid_of_epsg(7859).projection.central_meridian == 171.0


@pytest.mark.parametrize("epsg", [4326, 7844, 4283, 3857, 32754, 7845, 7860, 28347, 28359, 0, -1])
def test_any_other_code_is_told_what_is_read(epsg: int) -> None:
    with pytest.raises(UnreadableError, match=rf"EPSG:{epsg} .*EPSG:7846 to 7859") as refused:
        geodesy.grid_of_epsg(epsg)
    assert ("degrees" in str(refused.value)) == (epsg in {4326, 4283, 7844})


def test_the_pond_has_its_published_area_and_perimeter() -> None:
    # area.pond.octagon: ellipsoid 28284.515 m2, grid 28273.35 m2
    assert geodesy.ring_area_m2(POND) == pytest.approx(28284.515, abs=0.01)
    assert geodesy.ring_perimeter_m(POND) == pytest.approx(612.2961, abs=0.0005)
    mga = geodesy.grid_of_epsg(7854).projection
    grid_m2 = geodesy.plane_area_m2([mga.forward(*p) for p in POND])
    assert grid_m2 == pytest.approx(28273.35, abs=0.02)  # anticlockwise: positive
    assert mga.forward(*POND[0]) == pytest.approx((628222.7447, 6159433.0472), abs=0.0002)


def test_a_square_kilometre_is_one() -> None:
    # area.plan29.square: edges turned by 90 degrees
    ring = [(0.0, 0.0)]
    for azimuth in (90, 0, -90):
        ring.append(placed(*ring[-1], azimuth, 1000.0))
    assert geodesy.ring_area_m2(ring) == pytest.approx(1e6, abs=0.01)


def test_a_big_square_is_measured_on_the_ellipsoid_not_on_the_grid() -> None:
    # area.plan.mgrs18swk 100 km: far beyond a wetland, so only to one part in 10 million
    utm = geodesy.TransverseMercator(-75.0, 0.9996, 5e5, 0.0, WGS84)
    ring = [utm.inverse(e, n) for e, n in [(5e5, 44e5), (6e5, 44e5), (6e5, 45e5), (5e5, 45e5)]]
    assert geodesy.ring_area_m2(ring) == pytest.approx(10007388597.2, rel=1e-7)
    assert geodesy.ring_perimeter_m(ring) == pytest.approx(400139.5329586, abs=0.001)


@st.composite
def rings(draw: st.DrawFn) -> list[Position]:
    """Star-shaped rings of 5 to 40 points, radius 50 m to 5 km, no thinner than a starfish."""
    lat, lon, n = draw(LATS), draw(LONS), draw(st.integers(5, 40))
    radius_m = draw(st.floats(50, 5000))
    reach = draw(st.lists(st.floats(0.3, 1.0), min_size=n, max_size=n))
    return [placed(lat, lon, 360 * k / n, radius_m * r) for k, r in enumerate(reach)]


@given(rings())
@settings(max_examples=60)
def test_areas_and_perimeters_agree_with_an_independent_planimeter(ring: list[Position]) -> None:
    perimeter_m, area_m2 = judged(ring)
    # area.accuracy the judge itself may be 0.0013 m2 out, whatever the size
    assert geodesy.ring_area_m2(ring) == pytest.approx(area_m2, rel=1e-9, abs=0.002)
    assert geodesy.ring_perimeter_m(ring) == pytest.approx(perimeter_m, abs=1e-5)


@given(rings(), st.integers(0, 39), st.floats(-360, 360))
@settings(max_examples=40)
def test_area_does_not_care_where_a_ring_starts_or_runs(
    ring: list[Position], start: int, turn: float
) -> None:
    area_m2 = geodesy.ring_area_m2(ring)
    k = start % len(ring)
    assert geodesy.ring_area_m2(ring[::-1]) == pytest.approx(area_m2, rel=1e-12)
    assert geodesy.ring_area_m2(ring[k:] + ring[:k]) == pytest.approx(area_m2, rel=1e-12)
    assert geodesy.ring_area_m2([*ring, ring[0]]) == pytest.approx(area_m2, rel=1e-12)
    # a turned ring is the same but for the last digits of its degrees
    moved = [(lat, lon + turn) for lat, lon in ring]
    assert geodesy.ring_area_m2(moved) == pytest.approx(area_m2, rel=1e-7)


def test_nothing_encloses_nothing() -> None:
    assert geodesy.ring_perimeter_m([]) == 0.0
    assert geodesy.ring_area_m2([(-34.7, 142.4)]) == 0.0
    assert geodesy.ring_area_m2([(-34.7, 142.4), (-34.8, 142.4)]) == pytest.approx(0.0, abs=1e-6)
    with pytest.raises(UnreadableError, match="at least three"):
        geodesy.ring_area_m2([])


def test_the_offset_to_a_line_is_the_shortest_way() -> None:
    west, east = placed(-34.7, 142.4, 270.0, 200.0), placed(-34.7, 142.4, 90.0, 200.0)
    north = placed(-34.7, 142.4, 0.0, 30.0)
    assert geodesy.offset_m(north, [west, east]) == pytest.approx(30.0, abs=0.01)
    beyond = placed(*east, 90.0, 12.0)
    assert geodesy.offset_m(beyond, [west, east]) == pytest.approx(12.0, abs=0.001)
    assert geodesy.offset_m(north, [north]) == 0.0
    with pytest.raises(UnreadableError, match="at least one"):
        geodesy.offset_m(north, [])


@given(st.floats(0, 360), st.floats(0, 1000))
def test_inside_the_pond_is_within_its_octagon(azimuth: float, out_m: float) -> None:
    position = placed(-34.7, 142.4, azimuth, out_m)
    if out_m < 91.0:  # inscribed circle: 100 cos(22.5 degrees) = 92.4 m
        assert geodesy.is_inside(position, POND)
    if out_m > 101.0:
        assert not geodesy.is_inside(position, POND)


def test_nothing_lies_inside_no_ring() -> None:
    assert not geodesy.is_inside((-34.7, 142.4), [])


def test_independent_vertex_errors_give_the_known_uncertainty() -> None:
    # area.sigma.ngon n = 36, r = 100 m, 3 m per coordinate: 312.57 m2
    ngon = [(100 * math.cos(k * math.pi / 18), 100 * math.sin(k * math.pi / 18)) for k in range(36)]
    assert geodesy.plane_area_sd_m2(ngon, [3.0] * 36, [0.0] * 36) == pytest.approx(312.57, abs=0.05)
    # a shift common to all points leaves the area as it is
    assert geodesy.plane_area_sd_m2(ngon, [3.0] * 36, [1.0] * 36) == pytest.approx(0.0, abs=1e-4)


def test_the_centroid_is_that_of_the_area() -> None:
    ell = [(0.0, 0.0), (3.0, 0.0), (3.0, 1.0), (1.0, 1.0), (1.0, 2.0), (0.0, 2.0)]
    # two rectangles: 3 x 1 about (1.5, 0.5) and 1 x 1 about (0.5, 1.5)
    assert geodesy.plane_centroid(ell) == pytest.approx((1.25, 0.75))
    assert geodesy.plane_centroid([(x + 3e5, y + 6e6) for x, y in ell[::-1]]) == pytest.approx(
        (300001.25, 6000000.75)
    )
    assert geodesy.plane_centroid([(0.0, 0.0), (2.0, 4.0)]) == (1.0, 2.0)


def test_simplifying_keeps_every_point_within_the_tolerance() -> None:
    ring = [(100 * math.cos(t), 60 * math.sin(t)) for t in (k * math.tau / 400 for k in range(400))]
    fewer = geodesy.simplified(ring, 1.5)
    sides = list(zip(fewer, [*fewer[1:], fewer[0]], strict=True))
    assert 8 < len(fewer) < 40
    assert set(fewer) <= set(ring)
    assert max(min(geodesy.plane_offset_m(p, *side) for side in sides) for p in ring) <= 1.5
    assert geodesy.simplified(ring, 0.0) == ring


def test_a_figure_of_eight_crosses_once() -> None:
    eight = [(0.0, 0.0), (10.0, 10.0), (10.0, 0.0), (0.0, 10.0)]
    assert geodesy.crossings(eight) == [(0, 2, (5.0, 5.0))]
    assert geodesy.crossings([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0), (0.0, 10.0)]) == []


def test_the_two_ellipsoids_differ_by_nothing_a_walk_could_see() -> None:
    lengths = [geodesy.geodesic(FLINDERS, BUNINYONG, e)[0] for e in (GRS80, WGS84)]
    assert lengths[0] == pytest.approx(lengths[1], abs=0.0001)
