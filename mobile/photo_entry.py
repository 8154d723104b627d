"""One frame at a photo point, without a screen: the file, the bearing, the last photo to line up with."""

import dataclasses
from pathlib import Path
from typing import Final

from mobile.attached import Attached
from mobile.drafts import Draft, Saved
from mobile.field_day import Device, FieldDay
from mobile.form_entry import FormEntry, FormShown
from mobile.pictures import LARGE, Picture, Pictures
from shared_core.field_kinds import Field
from shared_core.field_shapes import Place, Position
from shared_core.fields import fields_of
from shared_core.records.photo_point import PhotoTaken
from shared_core.records.places import far, metres_apart
from shared_core.records.points_setup import NORTHS, PhotoPoint

BY_HAND: Final = ("bearing_deg", "north", "lens_height_m", "focal_35mm", "remark")
EMPTY: Final = "Take the photo"


@dataclasses.dataclass(frozen=True, kw_only=True)
class FrameShown:
    """The photo and the one of the last visit under it."""

    path: str  # of the new photo, empty before it is taken
    ghost: str  # of the last one, empty where it is not on this device
    ghost_words: str
    peg_words: str
    distance_words: str
    trouble: str


@dataclasses.dataclass(frozen=True, kw_only=True)
class PhotoShown(FormShown):
    """What the photo point's screen shows."""

    frame: FrameShown


class PhotoEntry(FormEntry):
    """One photo point on one visit."""

    def __init__(
        self,
        draft: Draft,
        day: FieldDay,
        point: str,
        device: Device,
        pictures: Pictures | None,
    ) -> None:
        """Begin, or take up what was left half done at this point."""
        super().__init__(draft, device, pictures)
        self._pictures = pictures
        self._frame = Attached(self._entering, pictures, field="sha256")
        known = day.logbook.known()
        peg = known.in_force(PhotoPoint, day.site, device.now, point=point)
        self._peg = peg.record if peg else None
        taken = [
            s.record for s in known.before(PhotoTaken, day.site, device.now, point=point, limit=20)
        ]
        self._last = next((photo for photo in taken if photo.visit != day.visit), None)
        self._frames_today = sum(photo.visit == day.visit for photo in taken)

    @property
    def fields(self) -> tuple[Field, ...]:
        """What there is to fill in by hand beside the photo."""
        by_name = {field.name: field for field in self._draft.fields}
        return tuple(by_name[name] for name in BY_HAND)

    def take(self, path: Path) -> str:
        """Take a picture file for this frame; return why it could not be taken, or nothing."""
        before = self._frame.names
        picture = self._frame.take_in(path)
        if picture is None:
            return self._frame.trouble
        for sha256 in before:
            if sha256 != picture.sha256:
                self._frame.take_off(sha256)
        self._fill_in(picture)
        self._entering.again()
        return ""

    def _fill_in(self, picture: Picture) -> None:
        """Write down what the camera and the screen know; what a person typed stays."""
        fields = {field.name: field for field in fields_of(PhotoTaken)}
        self.type("camera_time", fields["camera_time"].write(picture.taken_at))
        self.type("sequence", str(self._frames_today + 1))
        self.type("compared_with", self._last.sha256 if self._last and self._ghost() else "")
        if picture.position is not None and self._device.position is None:
            self.type("position", fields["position"].write(picture.position))
        if picture.focal_35mm is not None:
            self.type("focal_35mm", _figure(picture.focal_35mm))
        if picture.bearing_deg is not None and not self.text("bearing_deg"):
            self.type("bearing_deg", _figure(picture.bearing_deg))
            self.type("north", picture.north)

    def keep(self) -> Saved | None:
        """Touch the main action; without a photo there is nothing to keep."""
        if not self._frame.names:
            return None
        saved = super().keep()
        if saved is not None:
            self._frame.record_kept()
        return saved

    def _ghost(self) -> str:
        if self._last is None or self._pictures is None:
            return ""
        return str(self._pictures.thumbnail(self._last.sha256, LARGE) or "")

    def _in_short(self) -> str:
        return f"frame {self._frames_today + 1}"

    def shown(self) -> PhotoShown:
        """Return what to show now."""
        shown = super().shown()
        seen = shown.seen
        if not self._frame.names:
            seen = dataclasses.replace(
                seen, button=dataclasses.replace(seen.button, words=EMPTY, tone="go"), lines=()
            )
        return PhotoShown(title=shown.title, seen=seen, frame=self._frame_shown())

    def _frame_shown(self) -> FrameShown:
        names = self._frame.names
        path = self._pictures.thumbnail(names[-1], LARGE) if names and self._pictures else None
        return FrameShown(
            path=str(path or ""),
            ghost=self._ghost(),
            ghost_words=self._ghost_words(),
            peg_words=self._peg_words(),
            distance_words=self._distance_words(),
            trouble=self._frame.trouble,
        )

    def _ghost_words(self) -> str:
        if self._last is None:
            return "First photo of this point on this device"
        day = f"{self._last.wall_clock:%d %b %Y}".removeprefix("0")
        here = "" if self._ghost() else ", is not on this device"
        return f"Last photo, {day}{here}"

    def _peg_words(self) -> str:
        peg = self._peg
        if peg is None:
            return "No bearing is set up for this point."
        lens = "" if peg.focal_35mm is None else f", lens {peg.focal_35mm:.0f} mm"
        height = "" if peg.lens_height_m is None else f", {peg.lens_height_m:.2f} m above ground"
        return f"Looks along {peg.bearing_deg:.0f}° from {NORTHS[peg.north].lower()}{lens}{height}."

    def _distance_words(self) -> str:
        here = self._here()
        if self._peg is None or self._peg.place is None:
            return "The peg's position is not set up."
        if here is None:
            return "No position here: how far the peg is cannot be told."
        accuracy = "" if here.accuracy_m is None else f" (±{here.accuracy_m:.0f} m)"
        return f"{far(metres_apart(here, self._peg.place))} from the peg{accuracy}."

    def _here(self) -> Position | None:
        if self._device.position is not None:
            return Position(*self._device.position)
        typed = self.text("position")
        return Place(label="Position").parse(typed) if typed else None


def _figure(value: float) -> str:
    return f"{value:.0f}"
