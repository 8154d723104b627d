"""Walks as the files receivers leave behind: GPX 1.1 and NMEA 0183 sentences."""

import math
from collections.abc import Iterable, Sequence
from itertools import pairwise
from pathlib import Path
from typing import Final
from xml.sax.saxutils import escape

from demo_visits.walks import WalkFix

KNOTS_PER_M_S: Final = 3600.0 / 1852.0  # international nautical mile, exact
RANGE_ERROR_M: Final = 3.0  # what this receiver multiplies its HDOP by; invented


def write_gpx(path: Path, fixes: Iterable[WalkFix], name: str) -> None:
    """Write fixes as one track of a GPX 1.1 file (Topografix schema 1.1)."""
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<gpx version="1.1" creator="invented walk" xmlns="http://www.topografix.com/GPX/1/1">',
        f"<trk><name>{escape(name)}</name><trkseg>",
    ]
    for fix in fixes:
        time = fix.time.strftime("%Y-%m-%dT%H:%M:%SZ")
        hdop = fix.accuracy_m / RANGE_ERROR_M
        lines.append(
            f'<trkpt lat="{fix.lat:.7f}" lon="{fix.lon:.7f}">'
            f"<time>{time}</time><hdop>{hdop:.1f}</hdop></trkpt>"
        )
    lines.append("</trkseg></trk></gpx>")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def write_nmea(path: Path, fixes: Sequence[WalkFix]) -> None:
    """Write a GGA and an RMC sentence for each fix, lines ended as the standard asks."""
    courses = [_course_deg(start, end) for start, end in pairwise(fixes)] or [0.0]
    courses.append(courses[-1])
    with path.open("w", encoding="ascii", newline="") as file:
        for fix, course_deg in zip(fixes, courses, strict=False):
            file.write(f"{gga(fix)}\r\n{rmc(fix, course_deg)}\r\n")


def gga(fix: WalkFix) -> str:
    """Return the fix as a GGA sentence (NMEA 0183: time, place, quality, satellites, HDOP)."""
    time = fix.time.strftime("%H%M%S.00")
    hdop = fix.accuracy_m / RANGE_ERROR_M
    satellites = 14 if hdop < 2.0 else 7
    return _sentence(f"GNGGA,{time},{_place(fix)},1,{satellites:02d},{hdop:.1f},,M,,M,,")


def rmc(fix: WalkFix, course_deg: float) -> str:
    """Return the fix as an RMC sentence (NMEA 0183: time, place, speed [knots], course, date)."""
    time, day = fix.time.strftime("%H%M%S.00"), fix.time.strftime("%d%m%y")
    knots = fix.speed_m_s * KNOTS_PER_M_S
    return _sentence(f"GNRMC,{time},A,{_place(fix)},{knots:.2f},{course_deg:.1f},{day},,,A")


def checksum(body: str) -> str:
    """Return the exclusive-or of the characters between $ and *, as two hexadecimal digits."""
    total = 0
    for character in body.encode("ascii"):
        total ^= character
    return f"{total:02X}"


def _sentence(body: str) -> str:
    return f"${body}*{checksum(body)}"


def _place(fix: WalkFix) -> str:
    lat = f"{_degrees_minutes(fix.lat, 2)},{'S' if fix.lat < 0 else 'N'}"
    lon = f"{_degrees_minutes(fix.lon, 3)},{'W' if fix.lon < 0 else 'E'}"
    return f"{lat},{lon}"


def _degrees_minutes(degrees: float, width: int) -> str:
    hundred_thousandths = round(abs(degrees) * 60.0 * 1e5)  # of a minute, so that 60 never shows
    whole, rest = divmod(hundred_thousandths, 60 * 100_000)
    return f"{whole:0{width}d}{rest / 1e5:08.5f}"


def _course_deg(start: WalkFix, end: WalkFix) -> float:
    return math.degrees(math.atan2(end.x - start.x, end.y - start.y)) % 360.0
