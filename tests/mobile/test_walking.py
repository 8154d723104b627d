"""A walk without a screen: a circle that holds the rating's area, walked at the practice site."""

import dataclasses
import math
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from mobile import walk_live
from mobile.device.choice import make_receiver
from mobile.field_day import FieldDay
from mobile.walk_shown import READ_AFTER, READ_GAUGE, WalkShown, walk_shown
from mobile.walking import Phase, Walking
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.site_setup import Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.track import measure_walk
from tests.mobile.kept import record_of
from tests.mobile.walked import again, keep, parts_on, radius_m, ring, walk


@pytest.fixture
def parts(tmp_path: Path, clock: Any) -> Any:
    return parts_on(tmp_path, clock)


@pytest.fixture
def read_day(day: FieldDay) -> FieldDay:
    """A day on which the gauge has just been read."""
    day.record(GaugeReading, "G1", {"stage_m": "0.46"})
    return day


@pytest.fixture
def walking(read_day: FieldDay, parts: Any) -> Any:
    walking = Walking(read_day, parts)
    walking.main()
    return walking


def keys(shown: WalkShown) -> Any:
    return [key.send for key in shown.keys]


def test_a_walk_begins_with_the_stage_just_read(walking: Walking) -> None:
    begun = walking.track.begun
    assert begun is not None
    assert (begun.gauge, begun.stage_m) == ("G1", 0.46)
    assert walk_shown(walking).sub == "PRA, level 50.460 m"
    assert walking.phase is Phase.WALKING


def test_without_a_gauge_reading_on_this_visit_the_newest_level_serves(
    day: FieldDay, parts: Any
) -> None:
    walking = Walking(day, parts)
    assert walk_shown(walking).sub == "PRA, level 50.460 m"  # read six days ago
    walking.main()
    assert walking.track.begun is not None
    assert walking.track.begun.stage_m is None


def test_the_gauge_is_asked_for_where_no_level_is_known(
    day: FieldDay, parts: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mobile.walking.rated", lambda *_: (None, None))
    assert walk_shown(Walking(day, parts)).receiver.says == READ_GAUGE


def test_nothing_starts_before_a_receiver_is_chosen(day: FieldDay, parts: Any) -> None:
    walking = Walking(day, dataclasses.replace(parts, receivers=lambda: ()))
    shown = walk_shown(walking)
    assert (shown.button.words, shown.button.tone) == ("Start the walk", "off")
    walking.main()
    assert walking.phase is Phase.READY
    assert list(parts.folder.rglob("*.jsonl")) == []


def test_pausing_records_nothing_until_it_goes_on(walking: Walking) -> None:
    fixes = ring(60)
    walk(walking, fixes[:20])
    walking.press("pause")
    assert again(walking).phase is Phase.PAUSED
    shown = walk(walking, fixes[20:40])
    assert "nothing is recorded" in shown.receiver.says
    walking.press("on")
    walk(walking, fixes[40:])
    times = [fix.time for fix in walking.track.shore.fixes]
    assert times == [fix.time for fix in (*fixes[:20], *fixes[40:])]


def test_the_area_stands_beside_the_rating_with_its_uncertainty(walking: Walking) -> None:
    area, rating = walk(walking, ring(120)).results
    # a polygon of 120 corners holds sin(a)/a of its circle, a = 2 pi/120: 0.9995
    assert area.figure == f"{math.pi * radius_m() ** 2 * 0.9995 / 1e4:.2f}"
    assert area.spread.startswith("± ")
    assert (rating.figure, rating.unit) == ("1.00", "of 3.22 ha")


def test_a_walk_outside_the_rating_is_shown_without_a_ratio(
    walking: Walking, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mobile.walking.rated", lambda *_: (99.0, None))
    walking._rated = None
    assert walk(walking, ring(60)).results[1].says == "No rating at this level"


def test_an_island_is_taken_off_and_kept_as_its_own_ring(walking: Walking) -> None:
    shore = ring(120)
    island = ring(30, radius=20.0, begun=shore[60].time)
    walk(walking, shore[:60])
    walking.press("island")
    assert keys(walk_shown(walking)) == ["pause", "shore"]
    walk(walking, island)
    assert "You are back at the start of the island." in walk_shown(walking).lines
    walking.press("shore")
    walk(
        walking, [dataclasses.replace(f, time=f.time + timedelta(seconds=150)) for f in shore[60:]]
    )
    walking.press("seen 1")
    record = keep(walking)
    assert len(record.fixes) == 120
    assert [row[0] for row in record.islands_walked] == [1] * 30
    assert record.islands_seen == 2
    answers = {a.label: a for a in record.tells(walking.day.logbook.known())}
    island_m2 = math.pi * 20.0**2 * 0.9927  # sin(a)/a at a = 2 pi/30
    whole_m2 = math.pi * radius_m() ** 2 * 0.9995
    assert answers["Area walked"].value == pytest.approx(whole_m2 - island_m2, rel=1e-3)


def test_an_island_of_two_fixes_is_seen_and_not_walked(walking: Walking) -> None:
    walk(walking, ring(120)[:60])
    walking.press("island")
    walk(walking, ring(120)[60:62])
    walking.press("shore")
    walk(walking, ring(120)[62:])
    record = keep(walking)
    assert (record.islands_seen, record.islands_walked) == (1, ())


@pytest.mark.parametrize(
    ("touches", "offset_m", "how"),
    [
        (["how outside", "metres 2"], 2.0, "outside"),
        (["how inside", "metres"], None, "inside"),
        (["how not_walked"], None, "not_walked"),
    ],
)
def test_a_stretch_off_the_waterline_is_kept_with_its_first_and_last_fix(
    walking: Walking, touches: Any, offset_m: Any, how: str
) -> None:
    fixes = ring(120)
    walk(walking, fixes[:31])
    walking.press("off")
    for touch in touches:
        assert touch in keys(walk_shown(walking))
        walking.press(touch)
    walk(walking, fixes[31:41])
    assert "Now off the waterline" in walk_shown(walking).lines
    walking.press("back")
    walk(walking, fixes[41:])
    assert keep(walking).off_waterline == ((30.0, 40.0, offset_m, how),)


def test_a_mark_can_be_left_alone(walking: Walking) -> None:
    walk(walking, ring(20))
    walking.press("off")
    walking.press("cancel")
    walking.press("metres 2")  # a second finger, a moment later
    assert (walking.track.stretches, walking.asking) == ([], "")


def test_the_way_to_the_start_is_told(walking: Walking) -> None:
    fixes = ring(120)
    shown = walk(walking, fixes[:60])  # on the west side; the walk began in the east
    gap_m, wind = shown.lines.split("\n")[0].split(" m to the ")
    assert float(gap_m.split()[-1]) == pytest.approx(2 * radius_m(), abs=1.0)
    assert wind.startswith("east; 39% of the way round is open.")  # 2 / (2 + pi)
    assert "You are back at the start" in walk(walking, fixes[60:]).lines


def test_what_is_kept_is_what_was_walked(walking: Walking, clock: Any) -> None:
    fixes = ring(120)
    walk(walking, fixes)
    clock.now = fixes[-1].time + timedelta(minutes=2)
    walking.main()
    assert str(walking.phase) == "finished"
    assert READ_AFTER in walk_shown(walking).lines
    walking.day.record(GaugeReading, "G1", {"stage_m": "0.465"})
    walking.refresh()
    assert READ_AFTER not in walk_shown(walking).lines
    walking.press("side left")
    shown = walk_shown(walking)
    assert shown.seen is not None
    assert shown.button.words == f"Keep {shown.results[0].figure} ha"
    record = record_of(walking.day, walking.main())
    assert (record.stage_before_m, record.stage_after_m, record.gauge) == (0.46, 0.465, "G1")
    assert (record.closed, record.water_side) == (True, "left")
    assert (record.receiver, record.time_source) == ("handheld", "gnss")
    assert (record.seen_at, record.visit, record.point) == (
        fixes[-1].time,
        walking.day.visit,
        "site",
    )
    assert record.gap_m == pytest.approx(2 * math.pi * radius_m() / 120, abs=0.1)
    row = record.fixes[7]
    assert row[1:] == (
        pytest.approx(fixes[7].lat, abs=1e-7),
        pytest.approx(fixes[7].lon, abs=1e-7),
        3.0,
        1.2,
    )
    assert walking.phase is Phase.READY
    assert not walking._journal.path.exists()
    assert [name for name in walking.day.logbook.drafts() if "walk" in name] == []


def test_an_open_walk_is_asked_about_and_may_be_walked_on(walking: Walking) -> None:
    fixes = ring(120)
    walk(walking, fixes[:80])
    walking.main()
    assert walk_shown(walking).button.words.startswith("Look again")
    assert walking.main() is None
    shown = walk_shown(walking)
    assert shown.question == "Keep it because"
    walking.press("reason The line is right")
    walking.press("again")
    walking.press("on")
    assert walking.phase is Phase.WALKING
    walk(walking, fixes[80:])
    record = keep(walking)
    assert (record.closed, len(record.fixes)) == (True, 120)


def test_throwing_away_needs_a_second_yes(walking: Walking) -> None:
    walk(walking, ring(30))
    walking.press("pause")
    walking.press("discard!")  # without having been asked
    assert walking.track.count == 30
    walking.press("discard")
    assert "30 fixes" in walk_shown(walking).question
    walking.press("cancel")
    assert walking.track.count == 30
    walking.press("discard")
    walking.press("discard!")
    assert (walking.phase, walking.track.count) == (Phase.READY, 0)
    assert again(walking).phase is Phase.READY
    assert walking.day.logbook.known().every(ShorelineWalk) == []


@pytest.mark.slow
def test_five_thousand_fixes_are_measured_seldom_and_from_few(
    walking: Walking, monkeypatch: pytest.MonkeyPatch
) -> None:
    sizes = []

    def counted(fixes: Any, **more: Any) -> Any:
        sizes.append(len(fixes))
        return measure_walk(fixes, **more)

    monkeypatch.setattr("mobile.walk_live.measure_walk", counted)
    walk(walking, ring(5000, every_s=1.0), at_a_time=2)
    assert walking.track.count == 5000
    assert 100 < walking.live.computed < 250
    assert len(sizes) == walking.live.computed
    assert max(sizes) <= walk_live.LIVE_FIXES + 1


def test_a_slow_receiver_is_measured_at_each_fix(walking: Walking) -> None:
    walk(walking, ring(30, every_s=6.0), at_a_time=1)
    assert walking.live.computed == 30


def test_a_fast_receiver_is_taken_once_a_second(walking: Walking) -> None:
    walk(walking, ring(100, every_s=0.1), at_a_time=1)
    assert walking.track.count == 10


def test_a_long_walk_is_taken_more_sparsely_so_that_one_entry_holds_it(
    walking: Walking, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mobile.walking.SPARSER_AFTER", 50)
    walk(walking, ring(250, every_s=1.0))
    # 50 in the first 50 s, then one every 2 s, then one every 3 s
    assert walking.track.count == pytest.approx(50 + 50 + 100 // 3, abs=8)


def test_poor_fixes_are_counted_and_said(walking: Walking) -> None:
    shown = walk(walking, ring(30, accuracy_m=14.0))
    assert shown.receiver.says.startswith("± 14 m is poor, a fix every 5.0 s.")
    assert walking.track.poor == 30
    assert "30 worse than 10 m" in shown.lines


def test_the_outline_is_used_where_the_site_has_one(day: FieldDay, parts: Any, clock: Any) -> None:
    from shared_core.logbook import Said

    assert Walking(day, parts).outline == []
    site = day.sites()[0]
    corners = tuple((fix.lat, fix.lon) for fix in ring(8))
    day.logbook.write(
        site.record.changed(outline=corners), Said(author="Ada", note="surveyed"),
        record_id=site.record_id,
    )  # fmt: skip
    assert isinstance(day.sites()[0].record, Site)
    outline = Walking(day, parts).outline
    assert [math.hypot(*point) for point in outline] == pytest.approx([radius_m()] * 8, abs=0.01)


def test_a_receiver_that_cannot_be_made_is_said(read_day: FieldDay, parts: Any) -> None:
    walking = Walking(read_day, dataclasses.replace(parts, make=make_receiver))
    walking.chosen = "file:/nowhere/walk.gpx"
    walking.main()
    assert "there is no file walk.gpx" in walk_shown(walking).receiver.says


@pytest.fixture
def make_walking(parts: Any, make_logbook: Callable[..., Any], make_day: Any) -> Any:
    def make(name: str) -> Walking:
        day = make_day(make_logbook())
        walking = Walking(day, dataclasses.replace(parts, folder=parts.folder / name))
        walking.main()
        return walking

    return make


def test_the_same_walk_in_any_portions_is_the_same_walk(make_walking: Any) -> None:
    fixes = ring(60)
    one, other = make_walking("one"), make_walking("other")
    walk(one, fixes, at_a_time=1)
    walk(other, fixes, at_a_time=60)
    assert one.track.shore.points == other.track.shore.points
    assert one.track.shore.length_m == other.track.shore.length_m
