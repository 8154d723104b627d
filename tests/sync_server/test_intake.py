"""Files brought by hand: all of a file or nothing, and the second time changes nothing."""

import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from shared_core.carry import write_carry
from shared_core.errors import DamagedError, StrandlineError, UnknownError, UnreadableError
from shared_core.logbook import Logbook, Said
from shared_core.photo_folder import PhotoFolder
from shared_core.records.base import Record
from shared_core.records.logger_check import LoggerSeries
from shared_core.records.points_setup import LevelLogger
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.water_setup import WeatherSeries
from sync_server.access_store import Person
from sync_server.intake import Intake, TakenIn, Wishes
from tests.sync_server.rooms import (
    OTHER_SITE,
    SITE,
    START,
    Clock,
    Names,
    Room,
    gauge,
    png,
    site,
)
from tests.sync_server.test_track_files import GGA, RMC, gpx, nmea, point

WEATHER = "date,rain_mm,eto_mm\n2023-08-01,0.0,1.9\n2023-08-02,4.2,2.0\n"
LOGGER = "time,depth_m\n2023-08-06 09:00,0.501\n2023-08-06 10:00,0.502\n"


@pytest.fixture
def room(tmp_path: Path) -> Iterator[Room]:
    made = Room(tmp_path / "data")
    with made.store.opened() as logbook:
        logbook.write(site(), Said(author="Kim"))
    yield made
    made.close()


def take(room: Room, path: Path, **wishes: Any) -> TakenIn:
    wanted = Wishes(by="Kim", **wishes)
    folder = PhotoFolder(room.data / "photos")
    return Intake(room.store, folder, owner_of=room.access.owner_of, wishes=wanted).take(path)


def put(tmp_path: Path, text: str | bytes, name: str = "file.txt") -> Path:
    path = tmp_path / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


def every(room: Room, kind: type[Record]) -> list[Record]:
    with room.store.opened() as logbook:
        return [standing.record for standing in logbook.known().every(kind, SITE)]


def size(room: Room) -> int:
    with room.store.opened() as logbook:
        return logbook.size()


def carry(tmp_path: Path, device: str = "ANA-1", author: str = "Ana", photo: bytes = b"") -> Path:
    photos = PhotoFolder(tmp_path / "tablet-photos")
    named = (photos.put(photo),) if photo else ()
    path = tmp_path / f"{device}.strand"
    with Logbook(":memory:", device=device, clock=Clock(), new_id=Names(9)) as logbook:
        for stage_m in (0.1, 0.2):
            logbook.write(gauge(stage_m, photos=named), Said(author=author))
        write_carry(path, logbook, photos, made_at=START)
    return path


def test_weather_becomes_a_record_from_the_first_morning_on(room: Room, tmp_path: Path) -> None:
    taken = take(room, put(tmp_path, WEATHER))
    assert (taken.taken, taken.had) == (1, 0)
    (series,) = every(room, WeatherSeries)
    assert isinstance(series, WeatherSeries)
    assert len(series.values) == 2
    assert series.valid_from == datetime(2023, 7, 30, 23, tzinfo=UTC)  # 09:00 +10 the day before


def test_a_file_taken_in_before_changes_nothing(room: Room, tmp_path: Path) -> None:
    for name, text in (("w.csv", WEATHER), ("g.gpx", gpx(point(-34.0, 146.0)))):
        path = put(tmp_path, text, name)
        take(room, path)
        before = size(room)
        again = take(room, path)
        assert (again.taken, again.had) == (0, 1)
        assert size(room) == before


def test_a_broken_row_leaves_nothing_of_the_file(room: Room, tmp_path: Path) -> None:
    before = size(room)
    with pytest.raises(UnreadableError, match="row 4"):
        take(room, put(tmp_path, WEATHER + "2023-08-03,?,1\n"))
    assert size(room) == before


def test_a_logger_file_is_read_with_the_clock_of_the_logger(room: Room, tmp_path: Path) -> None:
    path = put(tmp_path, LOGGER)
    with pytest.raises(UnknownError, match="which logger"):
        take(room, path)
    fitted = LevelLogger(
        site=SITE, valid_from=START, code="PT1", sensor_level_m=71.15, offset_min=660
    )
    with room.store.opened() as logbook:
        logbook.write(fitted, Said(author="Kim"))
    take(room, path)
    (series,) = every(room, LoggerSeries)
    assert isinstance(series, LoggerSeries)
    assert series.logger == "PT1"
    assert series.values[0] == (datetime(2023, 8, 5, 22, tzinfo=UTC), 0.501)


def test_levels_become_depths_over_the_sensor(room: Room, tmp_path: Path) -> None:
    path = put(tmp_path, "time_utc,level_m\n2023-08-06 09:00,71.65\n2023-08-06 10:00,\n")
    with pytest.raises(UnreadableError, match="sensor"):
        take(room, path, logger="PT1")
    with room.store.opened() as logbook:
        fitted = LevelLogger(site=SITE, valid_from=START, code="PT1", sensor_level_m=71.15)
        logbook.write(fitted, Said(author="Kim"))
    take(room, path)
    (series,) = every(room, LoggerSeries)
    assert isinstance(series, LoggerSeries)
    assert [value for _, value in series.values] == [0.5, None]


def test_a_long_logger_file_becomes_several_records(room: Room, tmp_path: Path) -> None:
    rows = "".join(
        f"{datetime.fromtimestamp(1_690_000_000 + 600 * i, UTC):%Y-%m-%dT%H:%M},0.5\n"
        for i in range(45_000)
    )
    take(room, put(tmp_path, "time_utc,depth_m\n" + rows), logger="PT1")
    found = every(room, LoggerSeries)
    assert [len(s.values) for s in found if isinstance(s, LoggerSeries)] == [20000, 20000, 5000]


def test_walks_are_taken_in_with_what_was_left_out_of_them(room: Room, tmp_path: Path) -> None:
    path = put(tmp_path, nmea(GGA, RMC, "$bad"), "w.nmea")
    taken = take(room, path, visit="V05")
    assert taken.remarks == ("1 lines with a wrong checksum or form: 3",)
    (walk,) = every(room, ShorelineWalk)
    assert isinstance(walk, ShorelineWalk)
    assert (walk.visit, walk.receiver, len(walk.fixes)) == ("V05", "file", 1)
    assert walk.as_typed["file"] == "w.nmea"


def test_an_open_walk_is_written_down_as_open(room: Room, tmp_path: Path) -> None:
    far = gpx(
        point(-34.0, 146.0),
        point(-34.001, 146.0, "2023-08-21T00:01:00Z"),
    )
    take(room, put(tmp_path, far))
    (walk,) = every(room, ShorelineWalk)
    assert isinstance(walk, ShorelineWalk)
    assert walk.closed is False
    assert walk.gap_m == pytest.approx(110.9, abs=0.2)  # 0.001 deg of latitude at 34 S


def test_an_unknown_site_is_named_with_the_known_ones(room: Room, tmp_path: Path) -> None:
    path = put(tmp_path, WEATHER)
    with pytest.raises(UnknownError, match=f"{OTHER_SITE}.*{SITE}"):
        take(room, path, site=OTHER_SITE)
    with room.store.opened() as logbook:
        logbook.write(site(OTHER_SITE), Said(author="Kim"))
    with pytest.raises(UnknownError, match="which site"):
        take(room, path)
    assert take(room, path, site=OTHER_SITE).taken == 1


def test_a_table_with_other_headings_says_which_are_needed(room: Room, tmp_path: Path) -> None:
    with pytest.raises(UnreadableError, match="date with rain_mm"):
        take(room, put(tmp_path, "a,b\n1,2\n"))


def test_a_carry_file_brings_lines_and_photos_once(room: Room, tmp_path: Path) -> None:
    path = carry(tmp_path, photo=png())
    taken = take(room, path)
    assert (taken.taken, taken.photos, taken.quarantined) == (2, 1, 0)
    again = take(room, path)
    assert (again.taken, again.had, again.photos) == (0, 2, 0)


def test_a_logbook_file_is_taken_in_like_a_carry_file(room: Room, tmp_path: Path) -> None:
    path = tmp_path / "ana.logbook"
    with Logbook(path, device="ANA-1", clock=Clock(), new_id=Names(9)) as logbook:
        logbook.write(gauge(), Said(author="Ana"))
    assert take(room, path).taken == 1


def test_lines_of_an_enrolled_device_are_held_to_its_owners_rights(
    room: Room, tmp_path: Path
) -> None:
    room.tablet("Ana", "officer", OTHER_SITE, device="ANA-1")
    taken = take(room, carry(tmp_path))
    assert (taken.taken, taken.quarantined) == (0, 2)
    assert "outside the scope" in taken.remarks[0]
    room.access.invite(Person(name="Ana", role="officer", sites=(SITE,)), room.clock())
    assert take(room, carry(tmp_path)).taken == 2
    assert room.store.waiting() == []


def test_a_revoked_devices_carry_file_waits_in_quarantine(room: Room, tmp_path: Path) -> None:
    room.tablet("Ana", "officer", SITE, device="ANA-1")
    room.access.revoke("ANA-1", START)
    assert take(room, carry(tmp_path)).quarantined == 2
    assert len(room.store.waiting()) == 2


def rewritten(path: Path, member: str, change: bytes) -> None:
    """Put other bytes of the same kind into one member of a carry file."""
    with zipfile.ZipFile(path) as pack:
        parts = {name: pack.read(name) for name in pack.namelist()}
    parts[next(name for name in parts if name.startswith(member))] = change
    with zipfile.ZipFile(path, "w") as pack:
        for name, data in parts.items():
            pack.writestr(name, data)


def test_a_damaged_carry_file_is_refused_whole(room: Room, tmp_path: Path) -> None:
    before = size(room)
    whole = carry(tmp_path).read_bytes()
    for data in (whole[:-30], whole[:100], b"PK\x03\x04" + b"x" * 200):
        with pytest.raises(DamagedError):
            take(room, put(tmp_path, data, "x.strand"))
    path = put(tmp_path, whole, "y.strand")
    rewritten(path, "entries", b"{}\n")
    with pytest.raises(StrandlineError):
        take(room, path)
    assert size(room) == before


def test_a_damaged_photo_does_not_hold_back_the_lines(room: Room, tmp_path: Path) -> None:
    path = carry(tmp_path, photo=png())
    rewritten(path, "photos/", png(filler=9))
    taken = take(room, path)
    assert (taken.taken, taken.photos) == (2, 0)
    assert "damaged" in taken.damaged[0]
