"""Pictures on this device: taken into the photo folder, read, and shown small. No Kivy here.

A picture is judged by its header before anything of it is decoded: a small file can hold a picture
that fills the memory.
"""

import io
import warnings
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from shared_core.errors import OutsideRangeError, UnknownError, UnreadableError
from shared_core.field_shapes import Position
from shared_core.photo_folder import PhotoFolder, whole_file

if TYPE_CHECKING:
    from PIL import Image

LARGEST_BYTES: Final = 40_000_000  # the server takes no larger file
MOST_PIXELS: Final = 64_000_000  # nor a picture of more pixels
SMALL: Final = 480  # longest side of a thumbnail [pixels]
LARGE: Final = 1280  # longest side where one picture is looked at or lined up [pixels]
_FORMATS: Final = ("JPEG", "PNG")
# JPEG: ITU-T T.81 B.1.1.3, start of image and another marker; PNG: W3C PNG, third edition, 5.2.
_MARKS: Final = (b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n")
_QUALITY: Final = 85

# EXIF tags (CIPA DC-008, Exif 3.0, tables 4 to 15).
_EXIF, _GPS = 0x8769, 0x8825
_TIME, _OFFSET, _FOCAL_35MM = 0x9003, 0x9011, 0xA405
_LAT_REF, _LAT, _LON_REF, _LON = 1, 2, 3, 4
_BEARING_REF, _BEARING, _ERROR_M = 16, 17, 31
_NORTH: Final = {"T": "true", "M": "magnetic"}
_BROKEN: Final = (
    ArithmeticError, AttributeError, LookupError, OSError, SyntaxError, TypeError, ValueError,
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Picture:
    """A picture on this device, and what its camera wrote into it."""

    sha256: str
    width: int
    height: int
    taken_at: datetime | None = None
    position: Position | None = None
    bearing_deg: float | None = None
    north: str = ""  # true or magnetic
    focal_35mm: float | None = None


class Pictures:
    """The photo folder as the screens use it."""

    def __init__(
        self, folder: PhotoFolder, thumbs: Path, offset_min: Callable[[], int] = lambda: 0
    ) -> None:
        """Take the photo folder, where small copies go, and this device's offset from UTC."""
        self.folder = folder
        self._thumbs = thumbs
        self._offset_min = offset_min

    def take_in(self, path: Path) -> Picture:
        """Put a picture into the folder; it is on disk when this returns.

        Raises:
            UnknownError: if the file is not there.
            UnreadableError: if it is no whole JPEG or PNG.
            OutsideRangeError: if it is too large, in bytes or in pixels.
            StrandlineError: if there is no room for it.
        """
        data = _read(path)
        with _opened(data, path.name) as image:
            size = image.size
            written = _camera_words(image, self._offset_min())
        small = _small_copy(data, SMALL, path.name)
        sha256 = self.folder.put(data)
        self._keep_small(sha256, SMALL, small)
        return Picture(sha256=sha256, width=size[0], height=size[1], **written)

    def has(self, sha256: str) -> bool:
        """Tell whether a picture is on this device."""
        return self.folder.has(sha256)

    def thumbnail(self, sha256: str, longest: int = SMALL) -> Path | None:
        """Return a small copy, the right way up; it is made once. None if there is no picture."""
        kept = self._small_path(sha256, longest)
        if kept.is_file():
            return kept
        if not self.has(sha256):
            return None
        try:
            data = _read(self.folder.path_of(sha256))
            self._keep_small(sha256, longest, _small_copy(data, longest, sha256[:8]))
        except (UnreadableError, OutsideRangeError):
            return None  # what came from elsewhere and cannot be shown is still kept
        return kept

    def drop(self, sha256: str) -> None:
        """Delete a picture that no record names, and its small copies."""
        if self.has(sha256):
            self.folder.path_of(sha256).unlink(missing_ok=True)
        for longest in (SMALL, LARGE):
            self._small_path(sha256, longest).unlink(missing_ok=True)

    def _small_path(self, sha256: str, longest: int) -> Path:
        return self._thumbs / f"{sha256}-{longest}.jpg"

    def _keep_small(self, sha256: str, longest: int, data: bytes) -> None:
        self._thumbs.mkdir(parents=True, exist_ok=True)
        with whole_file(self._small_path(sha256, longest)) as file:
            file.write(data)


def _read(path: Path) -> bytes:
    try:
        size = path.stat().st_size
        if size > LARGEST_BYTES:
            raise OutsideRangeError(
                f"{path.name} has {size / 1e6:.0f} MB; a photo may have {LARGEST_BYTES / 1e6:.0f} MB."
                " Take it again with a smaller picture size"
            )
        data = path.read_bytes()
    except OSError as error:
        raise UnknownError(
            f"{path.name} cannot be read ({error.strerror}). Is the stick or the card still in?"
        ) from error
    if not data.startswith(_MARKS):
        raise UnreadableError(
            f"{path.name} is not a picture: a photo is a JPEG or a PNG file. Choose another file"
        )
    return data


def _opened(data: bytes, name: str) -> "Image.Image":
    """Open a picture: its header is read, nothing is decoded."""
    from PIL import Image  # noqa: PLC0415 - 20 ms that the first screen need not wait for

    try:
        with warnings.catch_warnings():  # our own limit below is the narrower one
            warnings.simplefilter("ignore", Image.DecompressionBombWarning)
            image = Image.open(io.BytesIO(data), formats=_FORMATS)
    except Image.DecompressionBombError as error:
        raise _too_many(name) from error
    except _BROKEN as error:
        raise _breaks_off(name) from error
    if image.width * image.height > MOST_PIXELS:
        raise _too_many(name)
    return image


def _too_many(name: str) -> OutsideRangeError:
    return OutsideRangeError(
        f"{name} has more than {MOST_PIXELS / 1e6:.0f} million pixels."
        " Take it again with a smaller picture size"
    )


def _breaks_off(name: str) -> UnreadableError:
    return UnreadableError(f"{name} is a broken picture. Copy it again, or take it again")


def _small_copy(data: bytes, longest: int, name: str) -> bytes:
    """Return a JPEG the right way up whose longest side is at most so many pixels."""
    from PIL import ImageOps  # noqa: PLC0415 - see above

    small = io.BytesIO()
    with _opened(data, name) as image:
        try:
            image.draft("RGB", (longest, longest))  # a JPEG is decoded at a fraction of its size
            upright = ImageOps.exif_transpose(image)
            upright.thumbnail((longest, longest))
            upright.convert("RGB").save(small, "JPEG", quality=_QUALITY)
        except _BROKEN as error:
            raise _breaks_off(name) from error
    return small.getvalue()


def _camera_words(image: "Image.Image", offset_min: int) -> dict[str, Any]:
    """Return what the camera wrote; a header that cannot be read says nothing."""
    if image.format != "JPEG":  # Pillow would decode a whole PNG to look for it
        return {}
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # Pillow warns of a broken header
        try:
            header = image.getexif()
            inner, gps = header.get_ifd(_EXIF), header.get_ifd(_GPS)
        except _BROKEN:
            return {}
    readers: dict[str, Callable[[], Any]] = {
        "taken_at": lambda: _taken_at(inner, offset_min),
        "position": lambda: _position(gps),
        "bearing_deg": lambda: _within(float(gps[_BEARING]), 0.0, 360.0),
        "north": lambda: _NORTH.get(str(gps[_BEARING_REF]), ""),
        "focal_35mm": lambda: _within(float(inner[_FOCAL_35MM]), 1.0, 2000.0),
    }
    found = {}
    for name, read in readers.items():
        try:
            found[name] = read()
        except _BROKEN:
            continue
    return found


def _within(value: float, low: float, high: float) -> float | None:
    return value if low <= value <= high else None  # a zero focal length says "not known"


def _taken_at(inner: Mapping[int, Any], offset_min: int) -> datetime:
    """Read the camera's own clock; without an offset it runs on this device's."""
    local = datetime.strptime(str(inner[_TIME]), "%Y:%m:%d %H:%M:%S")  # noqa: DTZ007 - the offset stands apart
    offset = timezone(timedelta(minutes=offset_min))
    if inner.get(_OFFSET):
        offset = datetime.strptime(str(inner[_OFFSET]), "%z").tzinfo  # type: ignore[assignment] # %z gives one
    return local.replace(tzinfo=offset).astimezone(UTC)


def _position(gps: Mapping[int, Any]) -> Position | None:
    lat = _degrees(gps[_LAT]) * (-1 if gps[_LAT_REF] == "S" else 1)
    lon = _degrees(gps[_LON]) * (-1 if gps[_LON_REF] == "W" else 1)
    if not (abs(lat) <= 90 and abs(lon) <= 180) or (lat == 0 and lon == 0):
        return None
    error_m = float(gps[_ERROR_M]) if _ERROR_M in gps else None
    return Position(round(lat, 7), round(lon, 7), error_m)


def _degrees(parts: Any) -> float:  # noqa: ANN401 - whatever a camera wrote
    whole, minutes, seconds = (float(part) for part in parts)
    return whole + minutes / 60 + seconds / 3600
