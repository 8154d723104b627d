"""The carry file: everything goes in, everything comes out, nothing that is damaged gets far."""

import hashlib
import json
import zipfile
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from shared_core import carry
from shared_core.carry import SUFFIX, Manifest, read_carry, take_in_carry, write_carry
from shared_core.errors import DamagedError, OutsideRangeError, StrandlineError, UnknownError
from shared_core.exchange import LogbookPeer, exchange
from shared_core.logbook import Logbook
from shared_core.photo_folder import PhotoFolder
from tests.hazards import line_with
from tests.logbooks import ANA, KIM, logbook, reading

NOW = datetime(2026, 3, 9, 8, 30, tzinfo=UTC)
PHOTO = b"\xff\xd8 an invented photo \xff\xd9"
SHA256 = hashlib.sha256(PHOTO).hexdigest()


@pytest.fixture(name="tablet")
def _tablet() -> Iterator[Logbook]:
    with logbook("tablet 1") as book:
        entry = book.write(reading(14.2, photos=(SHA256, "0" * 64)), ANA)
        book.write(reading(1.42, remark="café 🦆"), KIM, record_id=entry.record)
        book.write(reading(0.5), ANA)
        yield book


@pytest.fixture(name="photos")
def _photos(tmp_path: Path) -> PhotoFolder:
    folder = PhotoFolder(tmp_path / "photos")
    folder.put(PHOTO)
    return folder


@pytest.fixture(name="path")
def _path(tmp_path: Path, tablet: Logbook, photos: PhotoFolder) -> Path:
    path = tmp_path / f"visit{SUFFIX}"
    write_carry(path, tablet, photos, made_at=NOW)
    return path


def test_everything_goes_in_and_comes_out(
    tmp_path: Path, tablet: Logbook, photos: PhotoFolder, path: Path
) -> None:
    with logbook("server") as server:
        there = PhotoFolder(tmp_path / "there")
        verdicts = take_in_carry(path, server, there)
        assert [verdict.outcome for verdict in verdicts] == ["taken"] * 3
        assert server.digest() == tablet.digest()
        assert there.hashes() == photos.hashes()
        assert there.path_of(SHA256).read_bytes() == PHOTO
        again = take_in_carry(path, server, there)
        assert [verdict.outcome for verdict in again] == ["had it"] * 3
        assert server.size() == 3
        assert server.quarantined() == []


def test_the_manifest_says_what_is_in_it(path: Path, tablet: Logbook) -> None:
    carried = read_carry(path)
    lines = "".join(f"{line}\n" for line in tablet.lines_of("tablet 1", 0))
    assert carried.manifest == Manifest(
        device="tablet 1",
        log=tablet.log,
        written_at="2026-03-09T08:30:00.000Z",
        since_place=0,
        place=3,
        entries=3,
        entries_sha256=hashlib.sha256(lines.encode()).hexdigest(),
        photos=1,
        files_missing=1,
    )
    assert "".join(f"{line}\n" for line in carried.lines) == lines
    assert list(carried.lines) == list(carried.lines)
    assert dict(carried.photos) == {SHA256: PHOTO}
    with pytest.raises(KeyError):
        carried.photos["0" * 64]


def test_anyone_can_open_it_and_read_what_it_is(path: Path, tablet: Logbook) -> None:
    with zipfile.ZipFile(path) as pack:
        assert pack.testzip() is None
        assert sorted(pack.namelist()) == [
            "README.txt", "entries.ndjson", "manifest.json", f"photos/{SHA256}",
        ]  # fmt: skip
        assert "carry file" in pack.read("README.txt").decode()
        manifest = json.loads(pack.read("manifest.json"))
        lines = pack.read("entries.ndjson").decode().split("\n")
    assert manifest["carry"] == 1
    assert [json.loads(line)["seq"] for line in lines[:-1]] == [1, 2, 3]
    assert lines[:-1] == tablet.lines_of("tablet 1", 0)


def test_the_same_logbook_at_the_same_time_makes_the_same_bytes(
    tmp_path: Path, tablet: Logbook, photos: PhotoFolder, path: Path
) -> None:
    write_carry(tmp_path / "again.strand", tablet, photos, made_at=NOW)
    assert (tmp_path / "again.strand").read_bytes() == path.read_bytes()


def test_the_next_file_begins_where_the_last_one_ended(
    tmp_path: Path, tablet: Logbook, photos: PhotoFolder, path: Path
) -> None:
    reached = read_carry(path).manifest.place
    tablet.write(reading(0.6), ANA)
    other = photos.put(b"another photo")
    tablet.write(reading(0.7, photos=(other,)), ANA)
    second = tmp_path / "second.strand"
    manifest = write_carry(second, tablet, photos, since_place=reached, made_at=NOW)
    assert (manifest.entries, manifest.photos, manifest.files_missing) == (2, 1, 0)
    with logbook("server") as server:
        for part in (second, path):  # in any order
            take_in_carry(part, server, None)
        assert server.digest() == tablet.digest()
    empty = write_carry(
        tmp_path / "third.strand", tablet, photos, since_place=manifest.place, made_at=NOW
    )
    assert (empty.entries, empty.place) == (0, manifest.place)
    assert list(read_carry(tmp_path / "third.strand").lines) == []


def test_a_server_that_was_lost_is_made_whole_from_the_tablets(tmp_path: Path) -> None:
    with logbook("tablet 1") as one, logbook("tablet 2") as two, logbook("server") as server:
        one.write(reading(), ANA)
        record = two.write(reading(14.2), ANA).record
        for tablet in (one, two):
            exchange(tablet, LogbookPeer(server, name="server", device=tablet.device))
        server.write(reading(1.42), KIM, record_id=record)
        exchange(one, LogbookPeer(server, name="server", device="tablet 1"))
        write_carry(tmp_path / "one.strand", one, None, made_at=NOW)
        with logbook("server") as anew:
            take_in_carry(tmp_path / "one.strand", anew, None)
            assert anew.digest() == server.digest()


def test_a_line_that_may_not_be_taken_stops_no_other(path: Path) -> None:
    with logbook("server") as server:
        verdicts = take_in_carry(
            path, server, None, refuse=lambda entry: "not yours" if entry.seq == 2 else ""
        )
        assert [verdict.outcome for verdict in verdicts] == ["taken", "quarantined", "taken"]
        assert server.quarantined()[0].source == "carry file of tablet 1"


# damage


def packed(path: Path, changes: dict[str, bytes | None]) -> Path:
    """Make the file anew with some members changed or left out, its sums in order."""
    with zipfile.ZipFile(path) as pack:
        members = {name: pack.read(name) for name in pack.namelist()}
    changed = path.with_name("changed.strand")
    with zipfile.ZipFile(changed, "w", zipfile.ZIP_DEFLATED) as pack:
        for name, data in {**members, **changes}.items():
            if data is not None:
                pack.writestr(name, data)
    return changed


def with_lines(path: Path, lines: list[bytes]) -> Path:
    """Make the file anew as a device with other lines would have written it."""
    data = b"".join(line + b"\n" for line in lines)
    with zipfile.ZipFile(path) as pack:
        told = json.loads(pack.read("manifest.json"))
    told.update(entries=len(lines), entries_sha256=hashlib.sha256(data).hexdigest())
    return packed(path, {"entries.ndjson": data, "manifest.json": json.dumps(told).encode()})


def with_manifest(path: Path, **changes: Any) -> Path:
    with zipfile.ZipFile(path) as pack:
        told = {**json.loads(pack.read("manifest.json")), **changes}
    return packed(path, {"manifest.json": json.dumps(told).encode()})


def test_a_damaged_line_goes_to_quarantine_and_the_others_are_taken(
    path: Path, tablet: Logbook
) -> None:
    good = [line.encode() for line in tablet.lines_of("tablet 1", 0)]
    odd = [b"", b"{", b'{"a":"\xff"}', line_with(seq="0").encode(), b"\xff\xfe", good[0][:-9]]
    changed = with_lines(path, [good[0], *odd, *good[1:]])
    with logbook("server") as server:
        verdicts = take_in_carry(changed, server, None)
        assert [verdict.outcome for verdict in verdicts] == [
            "taken", *["quarantined"] * len(odd), "taken", "taken",
        ]  # fmt: skip
        assert server.digest() == tablet.digest()
        assert len(server.quarantined()) == len(odd)


def test_a_changed_byte_outside_text_never_passes_as_another_line(path: Path) -> None:
    # bytes that are no text must not be mended into a line that somebody might have written
    line = line_with(seq="7", note='"dry"').encode().replace(b"dry", b"d\xffy")
    with logbook("server") as server:
        (verdict,) = take_in_carry(with_lines(path, [line]), server, None)
        assert verdict.outcome == "quarantined"


def test_a_damaged_photo_is_named_and_stops_nothing(tmp_path: Path, path: Path) -> None:
    changed = packed(path, {f"photos/{SHA256}": b"something else"})
    with logbook("server") as server:
        there = PhotoFolder(tmp_path / "there")
        verdicts = take_in_carry(changed, server, there)
        assert [verdict.outcome for verdict in verdicts] == ["taken"] * 3 + ["quarantined"]
        assert verdicts[-1].entry == f"photos/{SHA256}"
        assert "its bytes have another SHA-256" in verdicts[-1].why
        assert there.hashes() == []


SENTENCES: list[tuple[Callable[[Path], Path], str]] = [
    (lambda path: packed(path, {"manifest.json": None}), "manifest.json is missing in it"),
    (lambda path: packed(path, {"entries.ndjson": None}), "entries.ndjson is missing in it"),
    (lambda path: packed(path, {"manifest.json": b"{"}), "manifest.json cannot be read"),
    (lambda path: packed(path, {"manifest.json": b"\xff"}), "manifest.json cannot be read"),
    (lambda path: packed(path, {"manifest.json": b"[]"}), "does not say which format"),
    (lambda path: with_manifest(path, carry=True), "does not say which format"),
    (lambda path: with_manifest(path, carry=2), "format 2, written by a newer version"),
    (lambda path: with_manifest(path, device=7), "does not say 'device' as it should"),
    (lambda path: with_manifest(path, entries=-1), "does not say 'entries' as it should"),
    (lambda path: with_manifest(path, entries=10**9), "says it holds 1,000,000,000 entries"),
    (lambda path: with_manifest(path, entries=2), "holds more lines than the 2"),
    (lambda path: with_manifest(path, entries=4), "holds fewer lines than the 4"),
    (lambda path: with_manifest(path, photos=2), "1 photos are here and 2 in the manifest"),
    (lambda path: with_manifest(path, entries_sha256="0" * 64), "is not what the manifest says"),
    (lambda path: packed(path, {"entries.ndjson": b"{}\n" * 3}), "is not what the manifest says"),
    (lambda path: packed(path, {"entries.ndjson": b"{}"}), "line 1 .* is cut off"),
    (lambda path: packed(path, {"entries.ndjson": b" " * 2**21}), "longer than 1 MiB"),
    (lambda path: packed(path, {"../evil": b""}), "'../evil' does not belong in a carry file"),
    (lambda path: packed(path, {"/etc/passwd": b""}), "does not belong"),
    (lambda path: packed(path, {"photos/../x": b""}), "does not belong"),
    (lambda path: packed(path, {"photos/" + "A" * 64: b""}), "does not belong"),
    (lambda path: packed(path, {"a" * 9999: b""}), "does not belong"),
]


@pytest.mark.parametrize(
    ("change", "sentence"), SENTENCES, ids=[str(n) for n in range(len(SENTENCES))]
)
def test_a_changed_file_is_refused_in_words(
    path: Path, change: Callable[[Path], Path], sentence: str
) -> None:
    with (
        logbook("server") as server,
        pytest.raises(DamagedError, match=f"changed.strand cannot be taken in: .*{sentence}"),
    ):
        take_in_carry(change(path), server, None)


def test_a_file_cut_off_anywhere_is_refused(path: Path) -> None:
    whole = path.read_bytes()
    cut = path.with_name("cut.strand")
    for size in range(0, len(whole), 97):
        cut.write_bytes(whole[:size])
        with pytest.raises(DamagedError, match=r"cut\.strand is no carry file, or was cut off"):
            read_carry(cut)


def test_a_file_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(UnknownError, match="there is no file"):
        read_carry(tmp_path / "nothing.strand")


def test_a_file_with_one_name_twice_is_refused(path: Path) -> None:
    twice = path.with_name("twice.strand")
    with zipfile.ZipFile(twice, "w") as pack:
        pack.writestr("manifest.json", "{}")
        with pytest.warns(UserWarning, match="Duplicate name"):
            pack.writestr("manifest.json", "{}")
    with pytest.raises(DamagedError, match=r"manifest\.json is in it twice"):
        read_carry(twice)


def test_what_unpacks_to_far_more_than_fits_is_refused(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    bomb = packed(path, {f"photos/{SHA256}": bytes(2**20)})
    assert bomb.stat().st_size < 10_000
    monkeypatch.setattr(carry, "LARGEST_PHOTO_BYTES", 2**19)
    with pytest.raises(DamagedError, match="unpacks to 1,048,576 bytes; 524,288 fit"):
        read_carry(bomb)
    monkeypatch.setattr(carry, "MOST_LINE_BYTES", 100)
    with pytest.raises(DamagedError, match=r"entries\.ndjson unpacks to .* 100 fit"):
        read_carry(path)
    monkeypatch.undo()
    monkeypatch.setattr(carry, "MOST_PHOTOS", 0)
    with pytest.raises(DamagedError, match="4 files are in it; 0 photos fit"):
        read_carry(path)


def test_a_locked_or_oddly_packed_file_is_refused(path: Path) -> None:
    raw = bytearray(path.read_bytes())
    place = raw.index(b"PK\x01\x02")  # the central directory, APPNOTE.TXT 4.3.12
    locked, odd = bytearray(raw), bytearray(raw)
    locked[place + 8] |= 1
    odd[place + 10] = 99
    for changed, sentence in ((locked, "locked with a password"), (odd, "a way that a carry file")):
        path.write_bytes(changed)
        with pytest.raises(DamagedError, match=sentence):
            read_carry(path)


def test_more_than_one_file_holds_is_told_and_nothing_is_left(
    tmp_path: Path, tablet: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(carry, "MOST_LINES", 2)
    with pytest.raises(OutsideRangeError, match="write several, each from the place"):
        write_carry(tmp_path / "a.strand", tablet, None, made_at=NOW)
    assert [found.name for found in tmp_path.glob("*a.strand*")] == []


def test_a_stick_that_is_full_is_told_and_the_old_file_stays(
    tmp_path: Path, tablet: Logbook, path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    before = path.read_bytes()
    tablet.write(reading(), ANA)

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    with pytest.raises(StrandlineError, match=r"No space left on device.*make room"):
        write_carry(path, tablet, None, made_at=NOW)
    assert path.read_bytes() == before
    assert list(tmp_path.glob(".*")) == []


@settings(
    deadline=None, max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(flips=st.lists(st.tuples(st.integers(0, 10**6), st.integers(0, 7)), min_size=1, max_size=4))
def test_flipped_bits_are_refused_in_words_or_harmless(
    path: Path, tablet: Logbook, photos: PhotoFolder, flips: list[tuple[int, int]]
) -> None:
    raw = bytearray(path.read_bytes())
    for place, bit in flips:
        raw[place % len(raw)] ^= 1 << bit
    flipped = path.with_name("flipped.strand")
    flipped.write_bytes(raw)
    with logbook("server") as server:
        says = ""
        verdicts = []
        try:
            verdicts = take_in_carry(flipped, server, photos)
        except StrandlineError as refused:
            says = str(refused)
        if says:
            assert "flipped.strand" in says
            assert server.size() == 0
        else:
            assert server.digest() == tablet.digest()
            assert all(verdict.why for verdict in verdicts[3:])


@settings(
    deadline=None, max_examples=200, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(raw=st.binary(max_size=400), head=st.sampled_from([b"", b"PK\x03\x04", b"PK\x05\x06"]))
def test_any_file_at_all_is_refused_in_words(tmp_path: Path, raw: bytes, head: bytes) -> None:
    path = tmp_path / "any.strand"
    path.write_bytes(head + raw)
    with pytest.raises(DamagedError, match=r"any\.strand"):
        read_carry(path)
