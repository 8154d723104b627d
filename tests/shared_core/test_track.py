"""Walks around invented ponds near 34.7 S, 142.4 E; errors drawn with fixed seeds.

Check value area.sigma.ngon: first-order propagation, confirmed by 200,000 draws (not published).
"""

import math
import random
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shared_core import geodesy, track
from shared_core.errors import OutsideRangeError, UnreadableError
from shared_core.geodesy import PlanePoint
from shared_core.track import Fix, Reason

START = datetime(2024, 1, 16, 22, 0, tzinfo=UTC)
SITE = geodesy.local_projection(-34.7, 142.4)


def fix_at(second: float, east_m: float, north_m: float, accuracy_m: float | None = None) -> Fix:
    lat, lon = SITE.inverse(east_m, north_m)
    return Fix(START + timedelta(seconds=second), lat, lon, accuracy_m)


def circle(perimeter_m: float, speed_m_s: float = 1.2, step_s: float = 5.0) -> list[PlanePoint]:
    """Once round, clockwise from north, without the point that would close it."""
    radius_m = perimeter_m / math.tau
    angles = [
        k * speed_m_s * step_s / radius_m for k in range(int(perimeter_m / speed_m_s / step_s))
    ]
    return [(radius_m * math.sin(a), radius_m * math.cos(a)) for a in angles]


def walked(
    points: list[PlanePoint], step_s: float = 5.0, accuracy_m: float | None = None
) -> list[Fix]:
    return [fix_at(k * step_s, *p, accuracy_m) for k, p in enumerate(points)]


def moved(fix: Fix, east_m: float, north_m: float) -> Fix:
    east, north = SITE.forward(fix.lat, fix.lon)
    lat, lon = SITE.inverse(east + east_m, north + north_m)
    return replace(fix, lat=lat, lon=lon)


def noisy(points: list[PlanePoint], seed: int, sd_m: float = 2.5) -> list[PlanePoint]:
    """First-order Gauss-Markov error on each axis, 60 s, one point per 5 s."""
    source, fade = random.Random(seed), math.exp(-5 / 60)
    errors = [[source.gauss(0, sd_m), source.gauss(0, sd_m)]]
    for _ in points[1:]:
        fresh = sd_m * math.sqrt(1 - fade**2)
        errors.append([fade * e + source.gauss(0, fresh) for e in errors[-1]])
    return [(x + ex, y + ey) for (x, y), (ex, ey) in zip(points, errors, strict=True)]


def reasons(fixes: list[Fix]) -> dict[int, Reason]:
    return {d.index: d.reason for d in track.clean(fixes)[1]}


def test_a_good_walk_is_kept_whole_and_the_raw_track_untouched() -> None:
    fixes = walked(noisy(circle(1500), 1))
    before = list(fixes)
    assert track.clean(fixes) == (tuple(before), ())
    assert fixes == before


def test_poor_and_fast_fixes_are_dropped_with_their_reason() -> None:
    fixes = walked(circle(600), accuracy_m=4.0)
    fixes[10] = replace(fixes[10], accuracy_m=15.1)
    fixes[20] = replace(fixes[20], speed_m_s=3.1)
    fixes[30] = replace(fixes[30], speed_m_s=3.0, accuracy_m=15.0)
    kept, dropped = track.clean(fixes)
    assert [(d.index, d.reason, d.fix) for d in dropped] == [
        (10, Reason.ACCURACY, fixes[10]),
        (20, Reason.SPEED, fixes[20]),
    ]
    assert len(kept) == len(fixes) - 2


@pytest.mark.parametrize("at", [0, 1, 50, 98, 99])
@pytest.mark.parametrize("away_m", [(0.0, 26.0), (40.0, 0.0), (-900.0, 300.0), (2e6, 3e6)])
def test_a_single_wild_point_alone_goes(at: int, away_m: PlanePoint) -> None:
    fixes = walked([(6.0 * k, 0.0) for k in range(100)])
    fixes[at] = moved(fixes[at], *away_m)
    assert reasons(fixes) == {at: Reason.JUMP}


def test_a_wild_point_near_enough_to_one_neighbour_alone_goes() -> None:
    fixes = walked([(6.0 * k, 0.0) for k in range(100)])
    fixes[50] = moved(fixes[50], 18.0, 0.0)  # 24 m from the one before, 12 m past the next
    fixes[70] = moved(fixes[70], 0.0, 24.5)  # 25.2 m from both
    fixes[80] = moved(fixes[80], 19.5, 14.0)  # 29 m from the one before, 19 m from the next
    assert reasons(fixes) == {70: Reason.JUMP, 80: Reason.JUMP}


def test_no_position_at_all_among_good_ones_goes() -> None:
    fixes = walked(circle(600))
    fixes[40] = replace(fixes[40], lat=0.0, lon=0.0)
    assert reasons(fixes) == {40: Reason.JUMP}


def test_a_short_burst_of_wild_points_goes_and_what_follows_stays() -> None:
    fixes = walked([(6.0 * k, 0.0) for k in range(100)])
    fixes[50:56] = [moved(fix, 0.0, 60.0) for fix in fixes[50:56]]
    assert set(reasons(fixes)) == set(range(50, 56))


def test_a_gap_in_which_the_walker_moved_on_drops_nothing() -> None:
    points = circle(2000)
    fixes = walked(points)
    assert reasons(fixes[:100] + fixes[140:]) == {}  # 200 s, 240 m
    assert reasons(fixes[::8]) == {}  # one fix per 40 s, 48 m


def test_two_long_parts_that_do_not_meet_are_both_kept() -> None:
    near = walked([(6.0 * k, 0.0) for k in range(60)])
    far = [fix_at(300 + 5 * k, 900.0 + 6.0 * k, 0.0) for k in range(60)]
    assert reasons(near + far) == {}
    behind = [replace(fix, time=fix.time - timedelta(hours=1)) for fix in near[30:]]
    assert reasons(near[:30] + behind) == {}  # the clock was set in the middle of the walk


def test_a_fix_with_an_impossible_time_goes() -> None:
    fixes = walked(circle(600))
    fixes[40] = replace(fixes[40], time=datetime(1901, 1, 1, tzinfo=UTC))
    fixes[60] = replace(fixes[60], time=fixes[60].time + timedelta(days=1024 * 7))
    assert reasons(fixes) == {40: Reason.JUMP, 60: Reason.JUMP}


def test_repeated_fixes_go() -> None:
    fixes = walked(circle(600))
    again = [*fixes[:31], fixes[30], *fixes[31:]]
    assert reasons(again) == {31: Reason.REPEATED}
    frozen = [*fixes[:31], replace(fixes[30], time=fixes[31].time), *fixes[32:]]
    assert reasons(frozen) == {31: Reason.REPEATED}
    twice = [*fixes, *fixes]
    assert set(reasons(twice)) == set(range(len(fixes), 2 * len(fixes)))


def test_a_stand_is_thinned_to_its_first_fix() -> None:
    out = [(6.0 * k, 0.0) for k in range(20)]
    rest = [(115.0 + 0.3 * math.sin(k), 0.3 * math.cos(k)) for k in range(12)]
    on = [(121.0 + 6.0 * k, 0.0) for k in range(20)]
    found = reasons(walked(out + rest + on))
    assert set(found.values()) == {Reason.STANDING}
    assert set(range(23, 29)) <= set(found) <= set(range(20, 32))


def test_slow_wading_and_turning_back_are_not_standing() -> None:
    wading = walked([(0.3 * 5 * k, 0.0) for k in range(60)])
    assert reasons(wading) == {}
    slower = walked([(0.1 * 5 * k, 0.0) for k in range(60)])
    kept = track.clean(slower)[0]
    steps_m = [geodesy.distance_m(a.lat, a.lon, b.lat, b.lon) for a, b in pairwise(kept)]
    assert max(steps_m) < 2.6
    sparse = walked([(1.5 * k, 0.0) for k in range(20)], step_s=30.0)
    assert reasons(sparse) == {}  # too few fixes to tell
    into_an_arm = walked([(6.0 * min(k, 40 - k), 0.1 * k) for k in range(41)])
    assert reasons(into_an_arm) == {}


def test_nothing_cleans_to_nothing() -> None:
    assert track.clean([]) == ((), ())
    assert reasons(walked([(0.0, 0.0)])) == {}


def test_a_small_gap_needs_no_mark_and_a_wide_one_does() -> None:
    points = circle(2000)
    closed = track.close(walked(points))
    assert closed.gap_m == pytest.approx(2000 - 1998 + 6, abs=0.1)
    assert not closed.needs_mark
    assert closed.overlap_m == 0.0
    stopped = track.close(walked(points[:-9]))
    assert stopped.gap_m == pytest.approx(62, abs=0.3)
    assert stopped.gap_share == pytest.approx(0.031, abs=0.001)
    assert stopped.needs_mark


def test_a_gap_is_marked_only_past_both_limits() -> None:
    small = track.close(walked(circle(300)[:-1]))  # 12 m of 300 m
    assert small.needs_mark
    assert not track.close(walked(circle(300))).needs_mark  # 6 m: more than 1 %, less than 10 m
    assert not track.close(walked(circle(2000)[:-1])).needs_mark  # 14 m: less than 1 %
    strict = track.ClosingLimits(gap_m=5.0)
    assert track.close(walked(circle(300)), strict).needs_mark


@pytest.mark.parametrize("aside_m", [0.0, 4.0])
def test_what_was_walked_past_the_start_is_cut_off(aside_m: float) -> None:
    points = circle(1200)
    radius_m = 1200 / math.tau
    past = [((1 + aside_m / radius_m) * x, (1 + aside_m / radius_m) * y) for x, y in points[:6]]
    closed = track.close(walked(points + past))
    assert closed.ring == track.close(walked(points)).ring
    assert closed.gap_m == pytest.approx(aside_m, abs=0.8)  # the line swings out over one step
    assert closed.overlap_m == pytest.approx(36, abs=2)


def test_two_fixes_are_no_ring() -> None:
    with pytest.raises(UnreadableError, match=r"at least three fixes .* has 2"):
        track.close(walked([(0.0, 0.0), (6.0, 0.0)]))
    with pytest.raises(UnreadableError, match="has 0"):
        track.measure_walk([])


def test_a_walk_round_a_circle_has_its_area_and_perimeter() -> None:
    walk = track.measure_walk(walked(circle(2175), accuracy_m=4.0))
    circle_m2 = 2175**2 / (4 * math.pi)
    # 362 sides: short of the circle by (2 pi / n)**2 / 6
    assert walk.outer_area_m2 == pytest.approx(
        circle_m2 * (1 - (math.tau / 362) ** 2 / 6), rel=1e-5
    )
    assert walk.area_m2 == walk.outer_area_m2
    assert walk.perimeter_raw_m == pytest.approx(2175, abs=0.1)
    assert 2155 < walk.perimeter_m < 2175  # chords under 1.5 m of sagitta
    assert walk.offset_area_per_metre_m2 == walk.perimeter_m
    assert walk.gap_m == walk.closing.gap_m == pytest.approx(9.0, abs=0.1)
    assert (walk.loops, walk.dropped, walk.inaccurate_share) == ((), (), 0.0)


def test_noise_lengthens_the_raw_line_more_than_the_simplified() -> None:
    excess_raw, excess = [], []
    for seed in range(8):
        walk = track.measure_walk(walked(noisy(circle(2175), seed, sd_m=3.0)))
        excess_raw.append(walk.perimeter_raw_m / 2175 - 1)
        excess.append(walk.perimeter_m / 2175 - 1)
    assert 0.015 < sum(excess_raw) / 8 < 0.03  # 2 % at 60 s is expected
    assert sum(excess) < 0.8 * sum(excess_raw)


def test_islands_inside_are_taken_off_and_islands_outside_are_counted() -> None:
    island = [(x + 100, y - 50) for x, y in circle(150)]
    elsewhere = [(x + 1000, y) for x, y in circle(150)]
    bare = track.measure_walk(walked(circle(2175)))
    walk = track.measure_walk(walked(circle(2175)), islands=[walked(island), walked(elsewhere)])
    assert walk.island_area_m2 == pytest.approx(150**2 / (4 * math.pi), rel=0.02)
    assert walk.area_m2 == pytest.approx(bare.area_m2 - walk.island_area_m2)
    assert (walk.islands_outside, walk.perimeter_m) == (1, bare.perimeter_m)
    assert walk.area_sd_m2 > bare.area_sd_m2
    assert walk.offset_area_per_metre_m2 == pytest.approx(bare.perimeter_m + 150, abs=5)
    with pytest.raises(UnreadableError, match="at least three"):
        track.measure_walk(walked(circle(2175)), islands=[walked(island[:2])])


def test_a_loop_is_found_where_the_line_crosses_itself() -> None:
    corners = [
        (0, 0),
        (300, 0),
        (300, 300),
        (150, 300),
        (150, 330),
        (180, 330),
        (180, 280),
        (0, 280),
    ]
    points = [
        (x1 + (x2 - x1) * k / 10, y1 + (y2 - y1) * k / 10)
        for (x1, y1), (x2, y2) in pairwise([*corners, (0, 20)])
        for k in range(10)
    ]
    walk = track.measure_walk(walked(points, step_s=30.0))
    (loop,) = walk.loops
    assert loop.length_m == pytest.approx(120, abs=0.1)
    assert loop.area_m2 == pytest.approx(900, abs=1)
    assert geodesy.distance_m(*loop.at, *SITE.inverse(180, 300)) < 0.1
    assert track.loops(walk.closing.ring, longer_than_m=121) == ()
    assert track.measure_walk(walked(noisy(circle(1200), 3))).loops == ()


def test_the_share_of_poor_fixes_is_of_all_fixes() -> None:
    fixes = walked(circle(600), accuracy_m=4.0)
    for k in range(0, 100, 5):
        fixes[k] = replace(fixes[k], accuracy_m=12.0 if k % 2 else 18.0)
    assert track.measure_walk(fixes).inaccurate_share == pytest.approx(0.2)


def simulated_area_sd_m2(
    points: list[PlanePoint], sds_m: list[float], time_constant_s: float, draws: int = 3000
) -> float:
    source, fade = np.random.default_rng(23), math.exp(-5 / time_constant_s)
    error = source.normal(size=(draws, 2))
    twice_m2 = np.zeros(draws)
    xy = np.array(points)
    track_xy = np.empty((len(points), draws, 2))
    for k, sd_m in enumerate(sds_m):
        track_xy[k] = xy[k] + sd_m * error
        error = fade * error + math.sqrt(1 - fade**2) * source.normal(size=(draws, 2))
    for a, b in zip(track_xy, np.roll(track_xy, -1, axis=0), strict=True):
        twice_m2 += a[:, 0] * b[:, 1] - b[:, 0] * a[:, 1]
    return float(np.std(twice_m2 / 2, ddof=1))


@pytest.mark.parametrize("time_constant_s", [30.0, 60.0, 120.0])
def test_area_uncertainty_is_what_drifting_errors_make(time_constant_s: float) -> None:
    points = circle(2175)
    judge_m2 = simulated_area_sd_m2(points, [3.0] * len(points), time_constant_s)
    found_m2 = track.area_sd_m2(walked(points), 3.0, time_constant_s)
    rule_m2 = track.area_sd_rule_m2(3.0, 2175, 1.2, time_constant_s)
    assert found_m2 == pytest.approx(judge_m2, rel=0.04)  # 3000 draws: 1.3 % per standard error
    assert found_m2 < rule_m2 < 1.13 * found_m2


def test_the_rule_of_thumb_gives_its_known_figure() -> None:
    # s sqrt(2 P Lc) for 3 m, 60 s, 1.2 m/s, 2175 m: 0.168 ha
    assert track.area_sd_rule_m2(3.0, 2175, 1.2) == pytest.approx(1680, abs=5)


def test_area_uncertainty_follows_the_accuracy_each_fix_reports() -> None:
    points = circle(2175)
    sds_m = [6.0 if 100 < k < 200 else 2.5 for k in range(len(points))]  # trees on one side
    fixes = [
        replace(f, accuracy_m=s * track.SD_PER_ACCURACY)
        for f, s in zip(walked(points), sds_m, strict=True)
    ]
    judge_m2 = simulated_area_sd_m2(points, sds_m, 60.0)
    assert track.area_sd_m2(fixes) == pytest.approx(judge_m2, rel=0.04)
    assert track.area_sd_m2(walked(points)) == track.area_sd_m2(walked(points), track.OPEN_SKY_SD_M)
    told = track.measure_walk(fixes, sd_m=3.0, time_constant_s=60.0)
    assert told.area_sd_m2 == track.area_sd_m2(walked(points), 3.0)


def test_fixes_far_apart_in_time_err_on_their_own() -> None:
    # area.sigma.ngon: n = 36, r = 100 m, 3 m per coordinate: 312.57 m2
    ngon = [(100 * math.cos(k * math.pi / 18), 100 * math.sin(k * math.pi / 18)) for k in range(36)]
    assert track.area_sd_m2(walked(ngon, step_s=3600), 3.0) == pytest.approx(312.57, abs=0.05)


@given(st.integers(0, 10_000), st.integers(0, 240), st.floats(-0.5, 0.5))
@settings(max_examples=25, deadline=None)
def test_area_is_the_same_backwards_from_elsewhere_and_shifted(
    seed: int, start: int, turn: float
) -> None:
    points = noisy(circle(1500), seed)
    area_m2 = track.measure_walk(walked(points)).area_m2
    backwards = track.measure_walk(walked(points[::-1])).area_m2
    elsewhere = walked(points[start:] + points[:start])
    # the walker starts elsewhere: the old gap is a step of the walk, a fix may be cut at the new end
    assert backwards == pytest.approx(area_m2, rel=0.002)
    assert geodesy.ring_area_m2([(f.lat, f.lon) for f in elsewhere]) == pytest.approx(
        geodesy.ring_area_m2([(f.lat, f.lon) for f in walked(points)]), rel=1e-12
    )
    shifted = [replace(f, lon=f.lon + turn) for f in walked(points)]
    assert track.measure_walk(shifted).area_m2 == pytest.approx(area_m2, rel=1e-7)


def sloping(height_m: float, reed_m: float) -> Callable[[float, float], float | None]:
    """Ground at one height along any circle, higher in the east, unknown in the north-west."""

    def ground(lat: float, lon: float) -> float | None:
        east, north = SITE.forward(lat, lon)
        bearing = math.degrees(math.atan2(east, north)) % 360
        if 292.5 < bearing < 337.5:
            return None
        ripple = 0.004 * math.sin(bearing)
        return height_m + ripple + (reed_m if 67.5 < bearing < 112.5 else 0.0)

    return ground


def test_a_high_sector_stands_out_and_the_median_holds() -> None:
    levels = track.levels_along(walked(circle(2000)), sloping(72.4, 0.11))
    assert levels.median_m == pytest.approx(72.4, abs=0.003)
    by_sector = {s.sector: s for s in levels.sectors}
    assert list(by_sector) == ["N", "NE", "E", "SE", "S", "SW", "W"]
    assert by_sector["E"].median_m == pytest.approx(72.51, abs=0.003)
    assert by_sector["W"].median_m == pytest.approx(72.4, abs=0.003)
    assert all(s.iqr_m is not None and s.iqr_m < 0.01 for s in levels.sectors)
    assert sum(s.n for s in levels.sectors) == levels.n
    assert by_sector["S"].n == pytest.approx(333 / 8, abs=1)


def test_median_and_range_are_those_of_the_heights() -> None:
    heights = iter([72.1, 72.2, 72.3, 72.4, 72.9])
    levels = track.levels_along(walked(circle(30)), lambda _lat, _lon: next(heights))
    assert (levels.n, levels.median_m) == (5, 72.3)
    assert levels.iqr_m == pytest.approx(0.2)
    assert all(s.iqr_m is None for s in levels.sectors if s.n == 1)


def test_a_walk_off_the_ground_model_has_no_level() -> None:
    with pytest.raises(OutsideRangeError, match="No fix"):
        track.levels_along(walked(circle(600)), lambda _lat, _lon: None)
    with pytest.raises(OutsideRangeError, match="No fix"):
        track.levels_along([], lambda _lat, _lon: 72.4)


def test_two_metres_outside_the_water_come_back_as_two_metres() -> None:
    water = track.measure_walk(walked(circle(2175)))
    outside = track.measure_walk(walked(circle(2175 + 2 * math.tau)))
    offset_m = track.boundary_offset_m(outside.area_m2, water.area_m2, water.perimeter_m)
    assert offset_m == pytest.approx(2.0, abs=0.05)
