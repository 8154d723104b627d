"""Shoreline walks round a round pool (E07, E14 of the invented season)."""

import math
from collections.abc import Callable
from datetime import UTC, timedelta
from typing import Any

import pytest

from shared_core.records.base import Severity
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.walk_ground import walk_findings_with_ground
from tests.shared_core.records.swamp import (
    HERON,
    LAT,
    LON,
    M_PER_DEG_LAT,
    M_PER_DEG_LON,
    SITE,
    Swamp,
    at,
)

LEVEL_M = 72.40
RADIUS_M = math.sqrt(284_200 / math.pi)  # the rating's 28.42 ha at 72.40 m
FIXES = 340
SLOPE = 0.012  # of the invented site's shore


def _walk(
    swamp: Swamp,
    off_m: Callable[[float], float] = lambda _: 0.0,
    *,
    leave_out: int = 0,
    wild: tuple[int, ...] = (),
    **more: Any,
) -> ShorelineWalk:
    """Return a walk clockwise from the south, so many metres off the waterline by bearing."""
    start = at("2023-09-06 09:50+10:00").astimezone(UTC)
    rows = []
    for number in range(FIXES - leave_out):
        bearing = 180.0 + 360.0 * number / FIXES
        radius_m = RADIUS_M + off_m(bearing % 360.0) + (70.0 if number in wild else 0.0)
        east_m = radius_m * math.sin(math.radians(bearing))
        north_m = radius_m * math.cos(math.radians(bearing))
        lat, lon = LAT + north_m / M_PER_DEG_LAT, LON + east_m / M_PER_DEG_LON
        rows.append((start + timedelta(seconds=5 * number), lat, lon, 3.5, 1.3))
    head = swamp.head("2023-09-06 09:50+10:00", "V06", HERON)
    rest: dict[str, Any] = {
        "point": SITE, "fixes": tuple(rows), "gauge": "SG2", "closed": not leave_out,
        "stage_before_m": 0.550, "stage_after_m": 0.550,
    }  # fmt: skip
    return ShorelineWalk(**{**head, **rest, **more})


def _bowl(lat: float, lon: float) -> float:
    """Return the ground of a cone whose waterline at LEVEL_M is the walked circle [m]."""
    east_m, north_m = (lon - LON) * M_PER_DEG_LON, (lat - LAT) * M_PER_DEG_LAT
    return LEVEL_M + SLOPE * (math.hypot(east_m, north_m) - RADIUS_M)


def _nowhere(lat: float, lon: float) -> None:
    """Tell no height: off the edge of the model."""


def _in_the_reeds(bearing: float) -> float:
    """Return 9 m outside the water in the north and north-east (scenario, W2)."""
    return 9.0 if bearing >= 335.0 or bearing <= 70.0 else 0.0


def test_a_walk_along_the_waterline_raises_nothing(swamp: Swamp) -> None:
    walk = _walk(swamp)
    assert swamp.finds(walk) == []
    assert list(walk_findings_with_ground(walk, LEVEL_M, _bowl)) == []


def test_a_walk_left_open_is_asked_about(swamp: Swamp) -> None:
    """E14: a gap of 54 m and two wild points; nine steps of 5.6 m are left out here."""
    walk = _walk(swamp, leave_out=9, wild=(100, 200), closed=False)
    found = {finding.code: finding for finding in swamp.finds(walk)}
    assert set(found) == {"walk-gap", "walk-wild"}
    assert found["walk-gap"].severity is Severity.ASK
    assert "55 m" in found["walk-gap"].saw or "56 m" in found["walk-gap"].saw
    assert "2 wild fixes" in found["walk-wild"].saw
    assert found["walk-wild"].severity is Severity.NOTE


def test_the_plants_edge_shows_in_its_sectors(swamp: Swamp) -> None:
    """E07: 9 m on a slope of 0.012 is 108 mm; the area alone passes."""
    walk = _walk(swamp, _in_the_reeds)
    assert swamp.alarms(walk) == []
    found = list(walk_findings_with_ground(walk, LEVEL_M, _bowl))
    assert [finding.code for finding in found] == ["walk-sector"]
    assert "In the N and NE the line lies" in found[0].saw
    assert "108 mm above" in found[0].saw


def test_a_whole_line_off_is_the_zero_or_the_datum(swamp: Swamp) -> None:
    walk = _walk(swamp)
    found = list(walk_findings_with_ground(walk, LEVEL_M - 0.12, _bowl))
    assert [finding.code for finding in found] == ["walk-level"]
    assert "120 mm above" in found[0].saw


def test_a_walk_off_the_ground_model_is_a_note(swamp: Swamp) -> None:
    found = list(walk_findings_with_ground(_walk(swamp), LEVEL_M, _nowhere))
    assert [(f.code, f.severity) for f in found] == [("walk-ground", Severity.NOTE)]


@pytest.mark.parametrize(("off_m", "asks"), [(8.0, False), (15.0, True), (-13.0, True)])
def test_an_area_that_does_not_fit_the_rating_is_asked_about(
    swamp: Swamp, off_m: float, asks: bool
) -> None:
    """All round, 300 m of radius: 10.4 m is 7 %."""
    alarms = swamp.alarms(_walk(swamp, lambda _: off_m))
    assert [alarm.code for alarm in alarms] == (["walk-area"] if asks else [])


def test_islands_seen_and_not_walked_are_allowed_for(swamp: Swamp) -> None:
    walk = _walk(swamp, lambda _: 12.0)
    assert swamp.the_alarm(walk).code == "walk-area"
    assert swamp.alarms(walk.changed(islands_seen=1)) == []


def test_poor_fixes_are_noted(swamp: Swamp) -> None:
    walk = _walk(swamp)
    poor = tuple((*row[:3], 12.0 if n % 5 == 0 else 3.5, 1.3) for n, row in enumerate(walk.fixes))
    assert swamp.codes(walk.changed(fixes=poor)) == {"walk-accuracy"}


def test_water_that_moved_during_the_walk_is_asked_about(swamp: Swamp) -> None:
    assert swamp.the_alarm(_walk(swamp, stage_after_m=0.500)).code == "walk-steady"


def test_two_fixes_are_no_walk(swamp: Swamp) -> None:
    short = _walk(swamp)
    alarm = swamp.the_alarm(short.changed(fixes=short.fixes[:2]))
    assert (alarm.code, alarm.severity) == ("walk-too-short", Severity.STOP)
    assert swamp.told(short.changed(fixes=short.fixes[:2])) == {}


def test_a_walk_tells_area_shoreline_and_ratio(swamp: Swamp) -> None:
    told = swamp.told(_walk(swamp))
    assert told["Area walked"].value == pytest.approx(284_200, rel=0.003)
    assert told["Area walked"].sd is not None
    assert told["Shoreline"].value == pytest.approx(2 * math.pi * RADIUS_M, rel=0.003)
    assert told["Walked to rating"].value == pytest.approx(1.0, abs=0.003)
