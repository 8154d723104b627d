"""An invitation in a picture: made by the server's own QR maker, read back on the tablet."""

import importlib
import sys
from pathlib import Path

import pytest
import segno
from PIL import Image

from mobile.device.qr import invitation_in, read_invitation
from shared_core.errors import UnreadableError

CODE = "strandline:Q7WK-3RTN-81XC@http://10.1.2.3:8417"


def _picture(folder: Path, text: str) -> Path:
    path = folder / "code.png"
    segno.make(text, error="m", micro=False).save(str(path), scale=6, border=4)
    return path


def test_a_picture_of_the_code_gives_code_and_server(tmp_path: Path) -> None:
    found = read_invitation(_picture(tmp_path, CODE))
    assert found == ("Q7WK-3RTN-81XC", "http://10.1.2.3:8417")


def test_a_turned_and_shrunk_photo_is_still_read(tmp_path: Path) -> None:
    with Image.open(_picture(tmp_path, CODE)) as picture:
        photo = picture.convert("L").rotate(11, expand=True, fillcolor=255).resize((300, 300))
    photo.save(tmp_path / "photo.jpg", quality=70)
    assert read_invitation(tmp_path / "photo.jpg")[0] == "Q7WK-3RTN-81XC"


def test_an_invitation_without_an_address_leaves_it_to_be_typed() -> None:
    assert invitation_in("strandline:ABCD-EFGH") == ("ABCD-EFGH", "")


@pytest.mark.parametrize("text", ["http://elsewhere", "strandline:", "strandline:AB CD"])
def test_what_is_no_invitation_is_said(text: str) -> None:
    with pytest.raises(UnreadableError, match="invitation"):
        invitation_in(text)


def test_a_picture_of_something_else_is_said(tmp_path: Path) -> None:
    Image.new("L", (200, 200), 200).save(tmp_path / "sky.png")
    with pytest.raises(UnreadableError, match="no invitation is seen"):
        read_invitation(tmp_path / "sky.png")
    with pytest.raises(UnreadableError, match="no invitation is seen"):
        read_invitation(_picture(tmp_path, "WIFI:S:field;;"))


def test_what_is_no_picture_or_missing_is_said(tmp_path: Path) -> None:
    (tmp_path / "notes.png").write_text("not a picture", encoding="utf-8")
    with pytest.raises(UnreadableError, match="not a picture"):
        read_invitation(tmp_path / "notes.png")
    with pytest.raises(UnreadableError, match="cannot be opened"):
        read_invitation(tmp_path / "gone.png")


def test_too_many_pixels_are_refused_by_the_header(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("mobile.device.qr.LARGEST_PIXELS", 100)
    with pytest.raises(UnreadableError, match="million pixels"):
        read_invitation(_picture(tmp_path, CODE))


def test_a_device_without_a_reader_asks_for_the_typed_code(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "zxingcpp", None)
    importlib.invalidate_caches()
    with pytest.raises(UnreadableError, match="type the code"):
        read_invitation(_picture(tmp_path, CODE))
