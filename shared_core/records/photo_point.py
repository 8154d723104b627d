"""A photo from a fixed point."""

from collections.abc import Iterator
from datetime import datetime
from typing import ClassVar

from shared_core.fields import choice, moment, number, record, text, whole
from shared_core.records.base import Finding, Known, Seen

NORTHS = {"true": "True north", "magnetic": "Magnetic north"}


@record
class PhotoTaken(Seen):
    """One frame: the file, and how the camera stood."""

    kind: ClassVar[str] = "photo_taken"
    title: ClassVar[str] = "Photo point"

    sha256: str = text("Fingerprint of the file", longest=64)
    bearing_deg: float | None = number("Bearing", "deg", (0.0, 360.0), default=None, decimals=0)
    north: str | None = choice("Measured from", NORTHS, default=None)
    lens_height_m: float | None = number("Lens height", "m", (0.5, 2.5), default=None)
    focal_35mm: float | None = number(
        "Focal length, 35 mm equivalent", "mm", (10.0, 200.0), default=None, decimals=0
    )
    sequence: int | None = whole("Frame", "", (1, 50), default=None)
    compared_with: str | None = text("Lined up with photo", default=None, longest=64)
    camera_time: datetime | None = moment("Time in the file", default=None)

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
