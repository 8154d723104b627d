"""A photo from a fixed point."""

from collections.abc import Iterator, Mapping
from datetime import datetime
from typing import ClassVar, Final

from shared_core.fields import choice, moment, number, record, text, whole
from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.limits import limits_at
from shared_core.records.places import BEYOND_SITE_M, beyond_site, far_from_point
from shared_core.records.points_setup import NORTHS, PhotoPoint

# Repeat photographs need the same place, bearing and lens (Hall 2001, PNW-GTR-503); the limits
# themselves are from memory.
PEG_M: Final = 10.0
PEG_TIMES_ACCURACY: Final = 2.0
BEARING_DEG: Final = 10.0
DECLINATION_DEG: Final = (
    12.0  # allowed where true and magnetic north are mixed, inland SE Australia
)
FOCAL_SHARE: Final = 0.05


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
        limits = limits_at(known, self.site, self.when)
        standing = known.in_force(PhotoPoint, self.site, self.when, point=self.point)
        peg = standing.record if standing else None
        away = list(self._place(known, peg, limits))
        yield from away
        if peg is not None and not away:  # at another place the bearing is another's too
            yield from self._bearing(peg, limits)
            yield from self._lens(peg, limits)

    def _place(
        self, known: Known, peg: PhotoPoint | None, limits: Mapping[str, float]
    ) -> Iterator[Finding]:
        away = beyond_site(known, self, limits.get("site-distance", BEYOND_SITE_M))
        if away is None and peg is not None:
            pegs = known.every(PhotoPoint, self.site)
            away = far_from_point(
                self,
                peg.place,
                ((other.record.code, other.record.place) for other in pegs),
                limit_m=limits.get("photo-distance", PEG_M),
                times_accuracy=PEG_TIMES_ACCURACY,
            )
        if away is not None:
            yield away

    def _bearing(self, peg: PhotoPoint, limits: Mapping[str, float]) -> Iterator[Finding]:
        if self.bearing_deg is None:
            yield Finding(
                code="bearing-missing",
                severity=Severity.ASK,
                field="bearing_deg",
                saw="No bearing.",
                expected=f"{peg.code} looks along {peg.bearing_deg:.0f}° ({NORTHS[peg.north]}).",
                do="Write the bearing the camera looked along.",
            )
            return
        same_north = self.north in (None, peg.north)
        limit = limits.get("bearing", BEARING_DEG) + (0.0 if same_north else DECLINATION_DEG)
        off = (self.bearing_deg - peg.bearing_deg + 180.0) % 360.0 - 180.0
        if abs(off) > limit:
            yield Finding(
                code="bearing-off",
                severity=Severity.ASK,
                field="bearing_deg",
                saw=f"{self.bearing_deg:.0f}° is {abs(off):.0f}° from the point's bearing.",
                expected=f"{peg.code} looks along {peg.bearing_deg:.0f}° ({NORTHS[peg.north]}).",
                do="Line up with the last photo and take it again.",
            )

    def _lens(self, peg: PhotoPoint, limits: Mapping[str, float]) -> Iterator[Finding]:
        if self.focal_35mm is None or peg.focal_35mm is None:
            return
        if abs(self.focal_35mm / peg.focal_35mm - 1) > limits.get("focal-length", FOCAL_SHARE):
            yield Finding(
                code="focal-length",
                severity=Severity.ASK,
                field="focal_35mm",
                saw=f"Taken with {self.focal_35mm:.0f} mm.",
                expected=f"{peg.code} is taken with {peg.focal_35mm:.0f} mm.",
                do="Set the zoom back and take it again.",
            )
