"""How pictures look: drawn scenes, sharp and blurred, lit and dark."""

import io
from pathlib import Path

import pytest
from PIL import Image, ImageDraw, ImageFilter

from shared_core.errors import UnreadableError
from shared_core.photo_folder import PhotoFolder
from shared_core.records.checks import LIMITS
from shared_core.records.photo_point import PhotoTaken
from sync_server.photo_looks import Looks, looks_of, photo_findings
from sync_server.review import review
from tests.shared_core.records.swamp import Swamp

WHEN = "2023-07-20 09:00+10:00"


def scene(brightness: float = 1.0) -> Image.Image:
    """Return a drawn shore: sky, bank, water and some reeds."""
    picture = Image.new("RGB", (640, 480), (176, 204, 222))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((0, 200, 640, 300), fill=(150, 140, 96))
    draw.rectangle((0, 300, 640, 480), fill=(86, 106, 104))
    for number in range(40):
        draw.line((16 * number, 310, 16 * number + 5, 220), fill=(92, 120, 60), width=3)
    return picture.point(lambda value: int(value * brightness))


def kept(folder: Path, picture: Image.Image) -> Path:
    path = folder / "picture.jpg"
    picture.save(path, quality=80)
    return path


def codes(path: Path) -> list[str]:
    return [finding.code for finding in photo_findings(looks_of(path), {})]


def test_a_sharp_and_lit_picture_says_nothing(tmp_path: Path) -> None:
    assert codes(kept(tmp_path, scene())) == []


def test_a_blurred_picture_is_told(tmp_path: Path) -> None:
    assert codes(kept(tmp_path, scene().filter(ImageFilter.GaussianBlur(12)))) == ["photo-blurred"]
    assert codes(kept(tmp_path, scene().filter(ImageFilter.GaussianBlur(1)))) == []


def test_a_black_and_a_white_picture_are_told(tmp_path: Path) -> None:
    assert codes(kept(tmp_path, scene(0.05))) == ["photo-dark"]
    assert codes(kept(tmp_path, Image.new("L", (640, 480), 254))) == ["photo-bright"]


@pytest.mark.parametrize(
    ("code", "below", "above"),
    [
        ("photo-dark", Looks(brightness=0.059, sharpness=50), Looks(brightness=0.06, sharpness=50)),
        (
            "photo-bright",
            Looks(brightness=0.96, sharpness=50),
            Looks(brightness=0.961, sharpness=50),
        ),
        (
            "photo-blurred",
            Looks(brightness=0.5, sharpness=8.9),
            Looks(brightness=0.5, sharpness=9.0),
        ),
    ],
)
def test_a_picture_is_told_at_its_limit(code: str, below: Looks, above: Looks) -> None:
    told, silent = (above, below) if code == "photo-bright" else (below, above)
    assert [finding.code for finding in photo_findings(told, {})] == [code]
    assert not list(photo_findings(silent, {}))
    default = LIMITS[code].default or 0.0
    own = default * (1.04 if code == "photo-bright" else 0.5)
    assert not list(photo_findings(told, {code: own}))


def test_what_cannot_be_decoded_is_said(tmp_path: Path) -> None:
    path = tmp_path / "torn.jpg"
    path.write_bytes(b"\xff\xd8\xff\xe0 torn off")
    with pytest.raises(UnreadableError, match="cannot be decoded"):
        looks_of(path)


def test_the_coordinators_list_looks_at_a_photo_that_has_arrived(
    tmp_path: Path, swamp: Swamp
) -> None:
    data = io.BytesIO()
    scene(0.03).save(data, "JPEG")
    photos = PhotoFolder(tmp_path / "photos")
    sha256 = photos.put(data.getvalue())
    for name, told in ((sha256, True), ("0" * 64, False)):
        record_id = swamp.write(swamp.photo("PP1", WHEN, bearing_deg=110.0).changed(sha256=name))
        standing = swamp.logbook.standing(record_id)
        assert standing is not None
        assert isinstance(standing.record, PhotoTaken)
        known = swamp.logbook.known(without=record_id)
        found = {finding.code for finding in review(standing, known, photos=photos)}
        assert ("photo-dark" in found) is told


@pytest.fixture
def swamp() -> Swamp:
    made = Swamp()
    made.set_up()
    return made
