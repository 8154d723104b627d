"""The folder for the Android packer, as far as it can be judged on the desk."""

import ast
import configparser
from pathlib import Path

import pytest

from mobile.packaging.stage import ANDROID_FILES, HERE, MAIN, stage


def test_the_packer_finds_a_main_and_both_packages(tmp_path: Path) -> None:
    target = tmp_path / "android"
    files = {str(path.relative_to(target)) for path in stage(target)}
    assert {"main.py", "buildozer.spec", "services/walk.py", "mobile/look.kv"} <= files
    assert {"shared_core/logbook.py", "mobile/app.py", *ANDROID_FILES} <= files
    assert not [name for name in files if "__pycache__" in name or "packaging" in name]
    assert (target / "main.py").read_text(encoding="utf-8") == MAIN


def test_laying_it_out_again_replaces_what_was_laid(tmp_path: Path) -> None:
    target = tmp_path / "android"
    stage(target)
    (target / "mobile" / "old.py").write_text("", encoding="utf-8")
    stage(target)
    assert not (target / "mobile" / "old.py").exists()


def test_a_folder_with_other_files_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    with pytest.raises(FileExistsError, match="other files"):
        stage(tmp_path)
    assert (tmp_path / "mine.txt").exists()


def test_the_spec_can_be_read_and_asks_for_no_camera() -> None:
    spec = configparser.ConfigParser()
    spec.read(HERE / "buildozer.spec", encoding="utf-8")
    assert spec["app"]["services"].startswith("Walk:services/walk.py:foreground")
    assert "CAMERA" not in spec["app"]["android.permissions"]
    assert spec["app"]["android.allow_backup"] == "False"


@pytest.mark.parametrize(
    "path", sorted(HERE.rglob("*.py")), ids=lambda path: str(path.relative_to(HERE))
)
def test_every_file_says_that_it_has_not_been_run_or_needs_no_device(path: Path) -> None:
    says = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8"))) or ""
    assert path.name == "stage.py" or "not run" in says.lower() or "not built" in says.lower()
