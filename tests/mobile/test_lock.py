import subprocess
import sys
from pathlib import Path

import pytest

from mobile.device.lock import FolderLock
from shared_core.errors import RefusedError

HOLDS = (
    "import sys, pathlib, mobile.device.lock as l;"
    "k = l.FolderLock(pathlib.Path(sys.argv[1])); print('held', flush=True); sys.stdin.read()"
)


def test_a_folder_has_one_window_at_a_time(tmp_path: Path) -> None:
    lock = FolderLock(tmp_path / "new")
    with pytest.raises(RefusedError, match="open already on this device"):
        FolderLock(tmp_path / "new")
    lock.let_go()
    lock.let_go()
    FolderLock(tmp_path / "new").let_go()


def test_a_program_that_is_killed_lets_go(tmp_path: Path) -> None:
    with subprocess.Popen(
        [sys.executable, "-c", HOLDS, str(tmp_path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "held\n"
        with pytest.raises(RefusedError):
            FolderLock(tmp_path)
        other.kill()
        other.wait()
    FolderLock(tmp_path).let_go()
