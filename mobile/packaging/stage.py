"""Lays out the folder that the Android packer wants: ``main.py`` on top, the packages below it."""

import argparse
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Final

HERE: Final = Path(__file__).resolve().parent
ROOT: Final = HERE.parent.parent
PACKAGES: Final = ("mobile", "shared_core")
LEFT_OUT: Final = shutil.ignore_patterns("__pycache__", "*.pyc", "packaging")
ANDROID_FILES: Final = ("android_gnss.py", "android_bluetooth.py", "android_camera.py")
MAIN: Final = '''"""Starts the tablet app on Android."""

from mobile.__main__ import main

main([])
'''


def stage(target: Path) -> list[Path]:
    """Lay out the folder anew and return the files in it.

    Raises:
        FileExistsError: if the folder holds something that this did not lay there.
    """
    mark = target / "main.py"
    if target.exists() and any(target.iterdir()):
        if not mark.exists() or mark.read_text(encoding="utf-8") != MAIN:
            raise FileExistsError(f"{target} holds other files; name an empty folder")
        shutil.rmtree(target)
    target.mkdir(parents=True, exist_ok=True)
    for package in PACKAGES:
        shutil.copytree(ROOT / package, target / package, ignore=LEFT_OUT)
    for name in ANDROID_FILES:
        shutil.copy2(HERE / name, target / name)
    shutil.copytree(HERE / "services", target / "services", ignore=LEFT_OUT)
    shutil.copy2(HERE / "buildozer.spec", target / "buildozer.spec")
    mark.write_text(MAIN, encoding="utf-8")
    return sorted(path for path in target.rglob("*") if path.is_file())


def main(argv: Sequence[str] | None = None) -> int:
    """Run from the command line."""
    parser = argparse.ArgumentParser(description="Lay out the folder for the Android packer.")
    parser.add_argument("target", type=Path, help="folder to lay out; made anew")
    try:
        files = stage(parser.parse_args(argv).target)
    except FileExistsError as error:
        sys.stderr.write(f"{error}\n")
        return 2
    sys.stdout.write(f"{len(files)} files; next: buildozer android debug\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
