"""Photos in a folder, each file named by the SHA-256 of its bytes: the same photo is kept once."""

import contextlib
import errno
import hashlib
import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import BinaryIO, Final

from shared_core.errors import StrandlineError, UnknownError

FINGERPRINT: Final = re.compile("[0-9a-f]{64}")  # SHA-256 in lower case
UNFINISHED: Final = ".part"  # a file that was being written when the power went
_PIECE_BYTES: Final = 1_048_576


@contextlib.contextmanager
def whole_file(path: Path) -> Iterator[BinaryIO]:
    """Write a file that appears under its name whole and on disk, or not at all.

    Raises:
        StrandlineError: if it cannot be written; says why.
    """
    mark = object()  # its address is nobody else's while this file is being written
    unfinished = path.with_name(f".{path.name}.{os.getpid()}-{id(mark)}{UNFINISHED}")
    try:
        with _told_in_words(path), unfinished.open("wb") as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        with _told_in_words(path):
            unfinished.replace(path)
            _fsync_folder(path.parent)
    except BaseException:
        with contextlib.suppress(OSError):
            unfinished.unlink(missing_ok=True)
        raise


@contextlib.contextmanager
def _told_in_words(path: Path) -> Iterator[None]:
    try:
        yield
    except OSError as error:
        raise StrandlineError(
            f"{path.name} could not be put on disk ({error}): make room there, or choose another"
            " place"
        ) from error


def _fsync_folder(folder: Path) -> None:
    """Put the names in a folder on disk, where the system can."""
    if os.name == "nt":  # Windows opens no folders; it keeps names in its own journal
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some sticks and shares cannot
            raise
    finally:
        os.close(handle)


class PhotoFolder:
    """A folder of photos."""

    def __init__(self, path: Path | str) -> None:
        """Use a folder, made if it is not there."""
        self.path = Path(path)
        self.path.mkdir(parents=True, exist_ok=True)

    def put(self, data: bytes) -> str:
        """Keep a photo and return its fingerprint; it is on disk when this returns.

        A copy here that has rotted is replaced.

        Raises:
            StrandlineError: if it cannot be written; says why.
        """
        sha256 = hashlib.sha256(data).hexdigest()
        path = self._path(sha256)
        if not (path.is_file() and _fingerprint(path) == sha256):
            if not path.parent.is_dir():
                with _told_in_words(path):
                    path.parent.mkdir(exist_ok=True)
                    _fsync_folder(self.path)
            with whole_file(path) as file:
                file.write(data)
        return sha256

    def path_of(self, sha256: str) -> Path:
        """Return where a photo is.

        Raises:
            UnknownError: if it is not here.
        """
        if not self.has(sha256):
            raise UnknownError(f"the photo {sha256[:64]} is not on this device")
        return self._path(sha256)

    def has(self, sha256: str) -> bool:
        """Tell whether a photo is here; its bytes are not read."""
        return FINGERPRINT.fullmatch(sha256) is not None and self._path(sha256).is_file()

    def hashes(self) -> list[str]:
        """Return the fingerprints of all photos here, in order."""
        return sorted(path.name for path in self._files() if self._belongs(path))

    def check(self) -> list[str]:
        """Read every photo and return what is wrong, a sentence each."""
        found = []
        for path in sorted(self._files()):
            name = path.relative_to(self.path).as_posix()
            if path.name.endswith(UNFINISHED):
                found.append(f"{name} was being written when the program stopped; delete it")
            elif not self._belongs(path):
                found.append(f"{name} is no photo of this folder")
            elif _fingerprint(path) != path.name:
                found.append(f"{name} is damaged: its bytes do not have this fingerprint")
        return found

    def _path(self, sha256: str) -> Path:
        return self.path / sha256[:2] / sha256

    def _belongs(self, path: Path) -> bool:
        return FINGERPRINT.fullmatch(path.name) is not None and path == self._path(path.name)

    def _files(self) -> Iterator[Path]:
        return (path for path in self.path.rglob("*") if path.is_file())


def _fingerprint(path: Path) -> str:
    found = hashlib.sha256()
    with path.open("rb") as file:
        while piece := file.read(_PIECE_BYTES):
            found.update(piece)
    return found.hexdigest()
