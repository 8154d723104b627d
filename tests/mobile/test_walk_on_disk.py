"""A walk on disk: what a kill, a torn line, a full disk and a second start leave of it."""

import dataclasses
import json
from pathlib import Path
from typing import Any

import pytest

from mobile.device.choice import Receivers
from mobile.field_day import FieldDay
from mobile.walk_shown import walk_shown
from mobile.walking import Phase, Walking
from shared_core.records.staff_gauge import GaugeReading
from tests.mobile.walked import again, keep, parts_on, ring, walk


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


def test_every_fix_is_on_disk_before_it_counts(
    walking: Walking, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen_on_disk = []
    apply = walking.track.apply

    def watched(event: Any) -> None:
        lines = walking._journal.path.read_text(encoding="utf-8").splitlines()
        seen_on_disk.append(
            any(json.loads(line) == json.loads(json.dumps(event)) for line in lines)
        )
        apply(event)

    monkeypatch.setattr(walking.track, "apply", watched)
    walk(walking, ring(20))
    assert seen_on_disk == [True] * 20


def test_each_step_writes_only_what_is_new(walking: Walking) -> None:
    path = walking._journal.path
    grown = []
    for fix in ring(300, every_s=1.0):
        before = path.stat().st_size
        walking.take([fix])
        grown.append(path.stat().st_size - before)
    assert max(grown) < 120  # bytes, the last as the first


def test_a_full_disk_is_said_and_the_fixes_are_written_when_it_has_room(
    walking: Walking, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object) -> int:
        raise OSError(28, "No space left on device")

    walk(walking, ring(10))
    with monkeypatch.context() as patched:
        patched.setattr("os.fsync", full)
        shown = walk(walking, ring(20)[10:])
    assert walking.track.count == 10
    assert "No space left" in shown.receiver.says
    assert len(again(walking).track.shore.fixes) == 10  # no half of a line stays behind
    walking.take_in()
    assert walking.track.count == 20
    assert [f.time for f in again(walking).track.shore.fixes] == [f.time for f in ring(20)]


def test_a_killed_walk_goes_on_where_it_was(walking: Walking) -> None:
    fixes = ring(90)
    walk(walking, fixes[:40])
    walking.press("off")
    walking.press("how outside")
    walking.press("metres 2")
    walk(walking, fixes[40:50])
    after = again(walking)
    assert (after.phase, after.track.count, after.listening) == (Phase.WALKING, 50, True)
    assert after.track.shore.points == walking.track.shore.points
    assert after.track.open_stretch == walking.track.open_stretch
    assert walk_shown(after).sub == walk_shown(walking).sub
    walk(after, fixes[50:])
    record = keep(after)
    assert [row[0] for row in record.fixes] == [fix.time for fix in fixes]


def test_a_torn_last_line_is_cut_off_and_odd_lines_are_counted(walking: Walking) -> None:
    walk(walking, ring(10))
    path = walking._journal.path
    with path.open("ab") as file:
        file.write(b'{"odd": 1}\n["fix","yesterday",1,2,3,4]\n["fix","2026-03-01T22:0')
    after = again(walking)
    assert (after.track.count, after.unread) == (10, 2)
    walk(after, ring(12)[10:])
    assert again(after).track.count == 12


def test_no_fix_is_lost_because_the_first_line_cannot_be_read(walking: Walking) -> None:
    walk(walking, ring(10))
    path = walking._journal.path
    lines = path.read_bytes().split(b"\n")
    path.write_bytes(b"\n".join([b"\xff" * 40, *lines[1:]]))
    after = again(walking)
    assert (after.track.count, after.unread, after.chosen) == (10, 1, "serial:here")
    walk(after, ring(120)[10:])
    assert len(keep(after).fixes) == 120


def test_a_file_played_again_after_a_kill_brings_nothing_twice(
    read_day: FieldDay, parts: Any
) -> None:
    played = dataclasses.replace(
        parts, receivers=lambda: (Receivers(name="file:walk.gpx", says="File"),)
    )
    walking = Walking(read_day, played)
    walking.main()
    walk(walking, ring(60)[:30])
    after = again(walking)
    walk(after, ring(60))
    assert [f.time for f in after.track.shore.fixes] == [f.time for f in ring(60)]


def test_a_walk_kept_right_before_the_kill_is_not_offered_again(walking: Walking) -> None:
    walk(walking, ring(120))
    journal = walking._journal.path.read_bytes()
    keep(walking)
    walking._journal.path.write_bytes(journal)
    assert again(walking).phase is Phase.READY
    assert not walking._journal.path.exists()


def test_a_walk_left_on_another_visit_belongs_to_that_visit(walking: Walking) -> None:
    first = walking.day.visit
    walk(walking, ring(120))
    walking.day.arrive("PRA", ["Ada"])
    assert walking.day.visit != first
    assert keep(again(walking)).visit == first
