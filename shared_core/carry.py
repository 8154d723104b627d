"""The carry file: entries and photos in one file, for a stick or a second device without network.

It is a ZIP that opens anywhere, with four things in it: ``README.txt``; ``entries.ndjson``, the
exact lines; ``photos/<sha256>``; ``manifest.json``, which says what the others must be.
"""

import contextlib
import dataclasses
import hashlib
import io
import itertools
import re
import struct
import zipfile
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Final, cast

from shared_core.errors import (
    DamagedError,
    OutsideRangeError,
    StrandlineError,
    UnknownError,
    UnreadableError,
)
from shared_core.logbook import BATCH, Logbook, Verdict
from shared_core.logbook_file import stamp
from shared_core.merge import Entry
from shared_core.photo_folder import FINGERPRINT, PhotoFolder, whole_file
from shared_core.portable import LONGEST_LINE_BYTES, read_json, write_json

SUFFIX: Final = ".strand"
FORMAT: Final = 1

MOST_LINES: Final = 1_000_000  # a hundred seasons of a large team
MOST_LINE_BYTES: Final = 2 * 1024**3
MOST_PHOTOS: Final = 100_000
LARGEST_PHOTO_BYTES: Final = 64 * 1024**2
LARGEST_MANIFEST_BYTES: Final = 64 * 1024

_README, _MANIFEST, _LINES, _PHOTOS = "README.txt", "manifest.json", "entries.ndjson", "photos/"
_PIECE_BYTES: Final = 256 * 1024
_NAMED: Final = re.compile('"([0-9a-f]{64})"')
_PLAIN_WORDS: Final = """\
This is a Strandline carry file: what was written down on visits to a wetland, and the photos that
go with it, to be taken from one device to another on a stick, by cable or by hand.

  entries.ndjson   what was written, one line for each time somebody wrote something, as JSON text
  photos/          the photos (JPEG); each is named by the SHA-256 of its bytes
  manifest.json    how much there is, from which device, and the SHA-256 of entries.ndjson

To take it in: choose this file in Strandline on the other device, or on the server run
    strandline-server take-in FILE
It may be taken in any number of times; what is there already is not doubled. Do not change it:
a changed file is refused. Nothing in it is secret from anyone who holds it.
"""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Manifest:
    """What a carry file says about itself."""

    device: str  # that wrote it
    log: str  # name of the log the lines were read from
    written_at: str
    since_place: int  # only what arrived in that log after this place
    place: int  # up to which it reaches: the next carry file may begin here
    entries: int
    entries_sha256: str
    photos: int
    files_missing: int  # photos and other files that the entries name and the device did not have


@dataclasses.dataclass(frozen=True, kw_only=True)
class Carried:
    """A carry file that was opened and found whole; lines and photos are read when asked for."""

    manifest: Manifest
    lines: Iterable[str]
    photos: Mapping[str, bytes]


def write_carry(
    path: Path,
    logbook: Logbook,
    photos: PhotoFolder | None,
    *,
    since_place: int = 0,
    made_at: datetime,
) -> Manifest:
    """Write a carry file; it appears under its name whole and on disk, or not at all.

    Args:
        path: where, usually with the suffix ``.strand``.
        logbook: all its lines go in, whoever wrote them.
        photos: the photos that the lines name go in, as far as they are here; all photos if the
            file begins at place 0.
        since_place: only what arrived in the logbook after this place.
        made_at: time now.

    Raises:
        OutsideRangeError: if there is more than fits one file.
        StrandlineError: if it cannot be written.
    """
    with whole_file(path) as file, zipfile.ZipFile(file, "w") as pack:
        _put(pack, _README, _PLAIN_WORDS, made_at)
        lines = _Lines(logbook, since_place)
        with pack.open(_member(_LINES, made_at), "w", force_zip64=True) as stream:
            for line in lines:
                stream.write(line)
        here = set(photos.hashes()) if photos else set()
        chosen = sorted(here if since_place == 0 else here & lines.named)
        if len(chosen) > MOST_PHOTOS:
            raise OutsideRangeError(f"{len(chosen)} photos; one carry file holds {MOST_PHOTOS}")
        for sha256 in chosen:
            if photos:
                _put_photo(pack, photos.path_of(sha256), made_at)
        manifest = Manifest(
            device=logbook.device,
            log=logbook.log,
            written_at=stamp(made_at),
            since_place=since_place,
            place=lines.place,
            entries=lines.count,
            entries_sha256=lines.digest.hexdigest(),
            photos=len(chosen),
            files_missing=len(lines.named - here),
        )
        told = write_json({"carry": FORMAT, **dataclasses.asdict(manifest)})
        _put(pack, _MANIFEST, told + "\n", made_at)
    return manifest


class _Lines:
    """The lines of a logbook on their way into a file, counted as they pass."""

    def __init__(self, logbook: Logbook, since_place: int) -> None:
        self._logbook = logbook
        self.place = since_place
        self.count = 0
        self.named: set[str] = set()
        self.digest = hashlib.sha256()

    def __iter__(self) -> Iterator[bytes]:
        size = 0
        while True:
            entries, self.place = self._logbook.since(self.place, BATCH)
            if not entries:
                return
            for entry in entries:
                line = entry.line.encode() + b"\n"
                size += len(line)
                self.count += 1
                if self.count > MOST_LINES or size > MOST_LINE_BYTES:
                    raise OutsideRangeError(
                        f"more than one carry file holds ({MOST_LINES:,} entries); write several,"
                        " each from the place the one before reached"
                    )
                self.named.update(_NAMED.findall(entry.line[: -len(entry.chain) - 2]))
                self.digest.update(line)
                yield line


def _member(name: str, made_at: datetime, *, squeeze: bool = True) -> zipfile.ZipInfo:
    utc = made_at.astimezone(UTC)
    member = zipfile.ZipInfo(name, (utc.year, utc.month, utc.day, utc.hour, utc.minute, utc.second))
    member.compress_type = zipfile.ZIP_DEFLATED if squeeze else zipfile.ZIP_STORED
    member.external_attr = 0o644 << 16
    return member


def _put(pack: zipfile.ZipFile, name: str, text: str, made_at: datetime) -> None:
    pack.writestr(_member(name, made_at), text.encode())


def _put_photo(pack: zipfile.ZipFile, path: Path, made_at: datetime) -> None:
    member = _member(_PHOTOS + path.name, made_at, squeeze=False)
    with path.open("rb") as photo, pack.open(member, "w") as stream:
        while piece := photo.read(_PIECE_BYTES):
            stream.write(piece)


# reading ---------------------------------------------------------------------------------------


def read_carry(path: Path) -> Carried:
    """Open a carry file and check it whole: names, sizes, the number of lines and their SHA-256.

    Photos are checked one by one when they are asked for.

    Raises:
        UnknownError: if there is no such file.
        DamagedError: if it is no carry file, was damaged or changed, or is of a newer version.
    """
    with _opened(path) as pack:
        photos = _checked_names(pack)
        manifest = _manifest(pack)
        digest = hashlib.sha256()
        count = 0
        for line in _raw_lines(pack):
            count += 1
            if count > manifest.entries:
                break
            digest.update(line)
        if count != manifest.entries:
            raise DamagedError(
                f"{_LINES} holds {'more' if count > manifest.entries else 'fewer'} lines than the"
                f" {manifest.entries} of the manifest: it was changed or cut off"
            )
        if digest.hexdigest() != manifest.entries_sha256:
            raise DamagedError(f"{_LINES} is not what the manifest says: it was changed")
        if len(photos) != manifest.photos:
            raise DamagedError(
                f"{len(photos)} photos are here and {manifest.photos} in the manifest"
            )
    return Carried(
        manifest=manifest, lines=_CarriedLines(path), photos=_CarriedPhotos(path, photos)
    )


def take_in_carry(
    path: Path,
    logbook: Logbook,
    photos: PhotoFolder | None,
    *,
    refuse: Callable[[Entry], str] = lambda _: "",
) -> list[Verdict]:
    """Take in a carry file: first every line, then every photo; doing it again changes nothing.

    A line that cannot be taken goes to quarantine and stops no other. A photo that is damaged
    gets a verdict too, named ``photos/<sha256>``.

    Args:
        path: the carry file.
        logbook: takes the lines.
        photos: takes the photos, if any place keeps them.
        refuse: says why an entry may not be taken, or nothing.

    Raises:
        UnknownError, DamagedError: as :func:`read_carry`; nothing was taken then.
    """
    carried = read_carry(path)
    source = f"carry file of {carried.manifest.device}"
    verdicts: list[Verdict] = []
    lines = iter(carried.lines)
    while batch := list(itertools.islice(lines, BATCH)):
        verdicts.extend(logbook.absorb(batch, source=source, refuse=refuse))
    for sha256 in carried.photos if photos else ():
        try:
            data = carried.photos[sha256]
        except DamagedError as error:
            verdicts.append(Verdict(entry=_PHOTOS + sha256, outcome="quarantined", why=str(error)))
        else:
            if photos:
                photos.put(data)
    return verdicts


@contextlib.contextmanager
def _opened(path: Path) -> Iterator[zipfile.ZipFile]:
    """Open a carry file; whatever goes wrong in reading it becomes one sentence."""
    try:
        with zipfile.ZipFile(path) as pack:
            yield pack
    except FileNotFoundError as error:
        raise UnknownError(f"there is no file {path}") from error
    except StrandlineError as error:
        raise DamagedError(f"{path.name} cannot be taken in: {error}") from error
    except (
        zipfile.BadZipFile, zlib.error, struct.error, EOFError, OSError, ValueError, KeyError,
        RuntimeError, OverflowError,
    ) as error:  # fmt: skip
        raise DamagedError(
            f"{path.name} is no carry file, or was cut off or damaged on the way ({error}):"
            " copy it again from the device that wrote it"
        ) from error


def _checked_names(pack: zipfile.ZipFile) -> frozenset[str]:
    """Check that only what belongs in the file is there, in sizes that fit; return the photos."""
    limits = {
        _README: LARGEST_MANIFEST_BYTES,
        _MANIFEST: LARGEST_MANIFEST_BYTES,
        _LINES: MOST_LINE_BYTES,
    }
    members = pack.infolist()
    if len(members) > MOST_PHOTOS + len(limits):
        raise DamagedError(f"{len(members)} files are in it; {MOST_PHOTOS} photos fit")
    seen: set[str] = set()
    for member in members:
        name = member.orig_filename
        sha256 = name.removeprefix(_PHOTOS)
        is_photo = sha256 != name and FINGERPRINT.fullmatch(sha256)
        limit = LARGEST_PHOTO_BYTES if is_photo else limits.get(name)
        if limit is None:
            raise DamagedError(f"{name[:80]!r} does not belong in a carry file")
        if name in seen:
            raise DamagedError(f"{name} is in it twice")
        if member.file_size > limit:
            raise DamagedError(f"{name} unpacks to {member.file_size:,} bytes; {limit:,} fit")
        if member.flag_bits & 1:
            raise DamagedError(f"{name} is locked with a password; a carry file has none")
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise DamagedError(f"{name} is packed in a way that a carry file does not use")
        seen.add(name)
    for name in (_MANIFEST, _LINES):
        if name not in seen:
            raise DamagedError(f"{name} is missing in it")
    return frozenset(name.removeprefix(_PHOTOS) for name in seen if name.startswith(_PHOTOS))


def _manifest(pack: zipfile.ZipFile) -> Manifest:
    try:
        told = read_json(pack.read(_MANIFEST).decode())
    except (UnreadableError, UnicodeDecodeError) as error:
        raise DamagedError(f"{_MANIFEST} cannot be read: {error}") from error
    if not isinstance(told, dict) or type(told.get("carry")) is not int:
        raise DamagedError(f"{_MANIFEST} does not say which format of carry file this is")
    if told["carry"] > FORMAT:
        raise DamagedError(
            f"it has format {told['carry']}, written by a newer version; this one reads up to"
            f" {FORMAT}: update the program"
        )
    values: dict[str, Any] = {}
    for field in dataclasses.fields(Manifest):
        values[field.name] = value = told.get(field.name)
        if type(value) is not field.type or (isinstance(value, int) and value < 0):
            raise DamagedError(f"{_MANIFEST} does not say {field.name!r} as it should")
    if values["entries"] > MOST_LINES:
        raise DamagedError(f"it says it holds {values['entries']:,} entries; {MOST_LINES:,} fit")
    return Manifest(**values)


def _raw_lines(pack: zipfile.ZipFile) -> Iterator[bytes]:
    with pack.open(_LINES) as member:
        stream = io.BufferedReader(cast("io.RawIOBase", member), _PIECE_BYTES)
        for number in itertools.count(1):
            line = stream.readline(LONGEST_LINE_BYTES + 1)
            if not line:
                return
            if not line.endswith(b"\n"):
                raise DamagedError(f"line {number} of {_LINES} is cut off, or longer than 1 MiB")
            yield line


@dataclasses.dataclass(frozen=True)
class _CarriedLines(Iterable[str]):
    path: Path

    def __iter__(self) -> Iterator[str]:
        with _opened(self.path) as pack:
            for line in _raw_lines(pack):
                # bytes that are no text become half characters, which no logbook takes as a line
                yield line[:-1].decode("utf-8", "surrogateescape")


@dataclasses.dataclass(frozen=True)
class _CarriedPhotos(Mapping[str, bytes]):
    path: Path
    names: frozenset[str]

    def __getitem__(self, sha256: str) -> bytes:
        if sha256 not in self.names:
            raise KeyError(sha256)
        with _opened(self.path) as pack:
            data = pack.read(_PHOTOS + sha256)
            if hashlib.sha256(data).hexdigest() != sha256:
                raise DamagedError(f"the photo {sha256} is damaged: its bytes have another SHA-256")
        return data

    def __iter__(self) -> Iterator[str]:
        return iter(sorted(self.names))

    def __len__(self) -> int:
        return len(self.names)
