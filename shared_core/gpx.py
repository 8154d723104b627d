"""Walks in GPX files (Topografix GPX 1.1), with care for what XML can hide."""

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime
from xml.etree import ElementTree as ET
from xml.parsers import expat

from shared_core.errors import UnreadableError
from shared_core.nmea import RANGE_ERROR_M
from shared_core.track import Fix


@dataclass(frozen=True, kw_only=True)
class Walked:
    """One track of a file, and what the reader left out of it, in sentences."""

    name: str
    fixes: tuple[Fix, ...]
    left_out: tuple[str, ...] = ()


def read_gpx(data: bytes) -> list[Walked]:
    """Read the tracks of a GPX file (Topografix GPX 1.1); its segments are joined.

    Raises:
        UnreadableError: if it is no sound XML, has a document type (which could swell or read other
            files), or holds no track point with a time.
    """
    _refuse_document_type(data)
    root = ET.fromstring(data)  # noqa: S314 - see above
    walks: list[Walked] = []
    for track in _named(root, "trk"):
        name = next((child.text or "" for child in _named(track, "name")), "").strip()
        walked = _track(track, name or f"track {len(walks) + 1}")
        if walked.fixes:
            walks.append(walked)
    if not walks:
        raise UnreadableError("the GPX file holds no track with times; export the track itself")
    return walks


def _refuse_document_type(data: bytes) -> None:
    def refuse(*_: object) -> None:
        raise UnreadableError("the XML file has a document type of its own; GPX needs none")

    reader = expat.ParserCreate()
    reader.StartDoctypeDeclHandler = refuse
    try:
        reader.Parse(data, True)  # noqa: FBT003 - the interface of expat
    except expat.ExpatError as error:
        raise UnreadableError(f"the file is no sound XML: {error}") from None


def _named(element: ET.Element, name: str) -> Iterator[ET.Element]:
    return (child for child in element.iter() if child.tag.rpartition("}")[2] == name)


def _track(track: ET.Element, name: str) -> Walked:
    fixes: list[Fix] = []
    timeless = 0
    for number, point in enumerate(_named(track, "trkpt"), 1):
        parts = {child.tag.rpartition("}")[2]: (child.text or "").strip() for child in point}
        if not parts.get("time"):
            timeless += 1
            continue
        try:
            fixes.append(_fix(point, parts))
        except ValueError:
            raise UnreadableError(
                f"point {number} of {name} cannot be read: latitude, longitude and a time in UTC"
                " are needed"
            ) from None
    left_out = (f"{timeless} points without a time",) if timeless else ()
    return Walked(name=name, fixes=tuple(fixes), left_out=left_out)


def _fix(point: ET.Element, parts: dict[str, str]) -> Fix:
    lat, lon = float(point.get("lat", "")), float(point.get("lon", ""))
    time = datetime.fromisoformat(parts["time"])
    if time.tzinfo is None or not (abs(lat) <= 90 and abs(lon) <= 180):
        raise UnreadableError("outside the globe, or a time without offset")
    hdop = float(parts["hdop"]) if parts.get("hdop") else math.nan
    accuracy_m = round(hdop * RANGE_ERROR_M, 2) if math.isfinite(hdop) else None
    return Fix(time=time, lat=lat, lon=lon, accuracy_m=accuracy_m)
