"""An enrolment code out of a picture of its QR. The reader is loaded when it is first needed."""

import importlib
from pathlib import Path
from typing import Any, Final

from shared_core.errors import UnreadableError

PREFIX: Final = "strandline:"
LARGEST_BYTES: Final = 30_000_000  # of a picture; a phone's photo has a tenth of it
LARGEST_PIXELS: Final = 64_000_000  # read off the header before anything is unpacked


def invitation_in(text: str) -> tuple[str, str]:
    """Return (code, server address) of what a QR or a person's paste holds; the address may be empty.

    Raises:
        UnreadableError: if it is no invitation.
    """
    plain = text.strip()
    if not plain.startswith(PREFIX):
        raise UnreadableError(
            "this code is not an invitation; ask the coordinator for one made by the server"
        )
    code, _, server = plain.removeprefix(PREFIX).partition("@")
    if not code or " " in code:
        raise UnreadableError("this invitation is cut short; take the picture again, whole")
    return code, server


def read_invitation(path: Path) -> tuple[str, str]:
    """Return (code, server address) out of a picture.

    Raises:
        UnreadableError: if the file is no picture, too large, or holds no invitation; or if this
            device has no reader, in which case the code is typed.
    """
    try:
        size = path.stat().st_size
    except OSError as error:
        raise UnreadableError(f"{path.name} cannot be opened: {error.strerror}") from error
    if size > LARGEST_BYTES:
        raise UnreadableError(f"{path.name} is larger than 30 MB; a photo of the code is needed")
    found = [text for text in _texts(path) if text.startswith(PREFIX)]
    if not found:
        raise UnreadableError(
            f"no invitation is seen in {path.name}: hold the picture straight, the whole square in"
            " it, or type the code"
        )
    return invitation_in(found[0])


def _texts(path: Path) -> list[str]:
    try:
        reader: Any = importlib.import_module("zxingcpp")
        pictures: Any = importlib.import_module("PIL.Image")
    except ImportError:
        raise UnreadableError(
            "this device has no reader for such pictures; type the code instead"
        ) from None
    try:
        with pictures.open(path) as picture:
            if picture.width * picture.height > LARGEST_PIXELS:
                raise UnreadableError(f"{path.name} has more than 64 million pixels")
            grey = picture.convert("L")
    except (OSError, ValueError, pictures.DecompressionBombError) as error:
        if isinstance(error, UnreadableError):
            raise
        raise UnreadableError(f"{path.name} is not a picture that can be read") from error
    return [str(found.text) for found in reader.read_barcodes(grey)]
