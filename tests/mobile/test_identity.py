import json
import stat
from pathlib import Path

import pytest

from mobile.identity import FILE, Identity, keep_identity, read_identity
from shared_core.errors import DamagedError

WHO = Identity(device="HER-1", author="Ada", server="https://desk.example", token="hush", dusk=True)


def test_a_new_folder_has_no_identity(tmp_path: Path) -> None:
    assert read_identity(tmp_path / "not there yet") is None


def test_what_was_kept_is_read_back(tmp_path: Path) -> None:
    keep_identity(tmp_path, WHO)
    assert read_identity(tmp_path) == WHO


def test_only_the_owner_may_read_the_file(tmp_path: Path) -> None:
    keep_identity(tmp_path, WHO)
    assert stat.S_IMODE((tmp_path / FILE).stat().st_mode) == 0o600


def test_a_write_that_fails_leaves_the_old_file_whole(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    keep_identity(tmp_path, WHO)

    def full(*_: object) -> None:
        raise OSError("disk full")

    monkeypatch.setattr("mobile.identity.os.fsync", full)
    with pytest.raises(OSError, match="disk full"):
        keep_identity(tmp_path, Identity(device="BIT-1"))
    monkeypatch.undo()
    assert read_identity(tmp_path) == WHO
    assert [path.name for path in tmp_path.iterdir()] == [FILE]


@pytest.mark.parametrize(
    "text", ["", "[]", "{}", '{"device": ""}', '{"device": 4}', '{"device": "a", "dusk": "no"}']
)
def test_a_file_that_holds_something_else_is_named(tmp_path: Path, text: str) -> None:
    Path(tmp_path / FILE).write_text(text)
    with pytest.raises(DamagedError, match="cannot be read"):
        read_identity(tmp_path)


def test_what_a_newer_version_added_does_not_hurt(tmp_path: Path) -> None:
    (tmp_path / FILE).write_text(json.dumps({"device": "HER-1", "volume_of_beep": 3}))
    assert read_identity(tmp_path) == Identity(device="HER-1")


def test_the_token_is_not_shown_where_an_identity_is_printed() -> None:
    assert "hush" not in repr(WHO)
