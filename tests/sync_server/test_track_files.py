"""Walks in files: GPX with care for what XML can hide, NMEA with its checksums."""

from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.errors import StrandlineError, UnknownError, UnreadableError
from shared_core.gpx import read_gpx
from shared_core.nmea import read_nmea, sentence
from sync_server.track_files import read_walks

# The two example sentences printed in many receivers' manuals; checksums worked out by hand rule.
GGA = "$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47"
RMC = "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A"

HEAD = '<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1">'


def gpx(*points: str) -> bytes:
    return f"{HEAD}<trk><name>W1</name><trkseg>{''.join(points)}</trkseg></trk></gpx>".encode()


def point(lat: float, lon: float, time: str = "2023-08-21T00:00:00Z", more: str = "") -> str:
    return f'<trkpt lat="{lat}" lon="{lon}"><time>{time}</time>{more}</trkpt>'


def nmea(*lines: str) -> bytes:
    return "\r\n".join(lines).encode()


def test_a_fix_is_put_together_from_both_sentences_in_either_order() -> None:
    for lines in ((GGA, RMC), (RMC, GGA)):
        (fix,) = read_nmea(nmea(*lines)).fixes
        assert fix.time == datetime(1994, 3, 23, 12, 35, 19, tzinfo=UTC)
        assert fix.lat == pytest.approx(48 + 7.038 / 60, abs=1e-12)
        assert fix.lon == pytest.approx(11.516666667, abs=1e-9)
        assert fix.speed_m_s == pytest.approx(22.4 * 1852 / 3600)
        assert fix.accuracy_m == pytest.approx(2.7)  # 0.9 times a range error of 3 m


def test_the_accuracy_of_another_moment_is_not_taken() -> None:
    later = "GPRMC,123520,A,4807.038,S,01131.000,W,,,230394,,"
    total = 0
    for character in later.encode():
        total ^= character
    (fix,) = read_nmea(nmea(GGA, f"${later}*{total:02X}")).fixes
    assert fix.accuracy_m is None
    assert fix.speed_m_s is None
    assert (fix.lat < 0, fix.lon < 0) == (True, True)


def test_bad_lines_are_numbered_and_the_others_used() -> None:
    found = read_nmea(nmea(GGA, RMC.replace("6A", "6B"), "", "$", RMC, "gibberish", RMC[:30]))
    assert found.bad_lines == (2, 4, 6, 7)
    assert len(found.fixes) == 1


def test_any_changed_character_breaks_the_checksum() -> None:
    for place in range(1, len(RMC) - 3):
        for other in "0A,":
            if RMC[place] != other:
                with pytest.raises(UnreadableError):
                    sentence(RMC[:place] + other + RMC[place + 1 :])


def test_a_file_without_positions_says_what_is_needed() -> None:
    with pytest.raises(UnreadableError, match="RMC"):
        read_nmea(nmea(GGA, GGA))


@given(st.lists(st.text(max_size=90) | st.sampled_from([GGA, RMC]), max_size=12))
def test_any_lines_are_read_or_refused_in_a_sentence(lines: list[str]) -> None:
    try:
        found = read_nmea("\n".join(lines).encode("utf-8", "surrogatepass"))
    except UnreadableError:
        assert RMC not in lines or any(
            "$" in line[1:] or len(line.splitlines()) > 1 for line in lines
        )
    else:
        assert found.fixes


def test_a_gpx_track_is_read_with_its_accuracy() -> None:
    (walk,) = read_gpx(gpx(point(-34.5, 146.5, more="<hdop>1.5</hdop>"), point(-34.6, 146.6)))
    assert walk.name == "W1"
    assert [fix.accuracy_m for fix in walk.fixes] == [4.5, None]
    assert walk.fixes[0].time == datetime(2023, 8, 21, tzinfo=UTC)


def test_points_without_time_are_left_out_and_counted() -> None:
    (walk,) = read_gpx(gpx(point(-34.5, 146.5), '<trkpt lat="1" lon="2"/>'))
    assert len(walk.fixes) == 1
    assert walk.left_out == ("1 points without a time",)


@pytest.mark.parametrize(
    ("broken", "says"),
    [
        (point(-134.5, 146.5), "point 1"),
        (point(-34.5, 146.5, "2023-08-21T00:00:00"), "point 1"),
        (point(-34.5, 146.5, "noon"), "point 1"),
        ('<trkpt lat="x" lon="1"><time>2023-08-21T00:00:00Z</time></trkpt>', "point 1"),
        ("", "no track"),
        ("<trkpt", "no sound XML"),
    ],
)
def test_a_broken_gpx_says_where(broken: str, says: str) -> None:
    with pytest.raises(UnreadableError, match=says):
        read_gpx(gpx(broken))


@pytest.mark.parametrize("encoding", ["utf-8", "utf-16"])
def test_a_document_type_is_refused_in_every_encoding(encoding: str) -> None:
    swelling = (
        '<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaaaaaaaa">'
        '<!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;">]>'
    )
    fetching = '<!DOCTYPE gpx SYSTEM "file:///etc/hostname">'
    for start in (swelling, fetching):
        data = (start + gpx(point(-34.5, 146.5)).decode()).encode(encoding)
        with pytest.raises(UnreadableError, match="document type"):
            read_gpx(data)


def test_a_file_of_another_form_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "walk.gpx"
    with pytest.raises(UnknownError):
        read_walks(path)
    path.write_bytes(b"date,rain\n")
    with pytest.raises(UnreadableError, match="neither"):
        read_walks(path)


@given(st.binary(max_size=200))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    try:
        read_gpx(b"<" + data)
    except StrandlineError as error:
        assert str(error)  # noqa: PT017 - every outcome but a crash is right
