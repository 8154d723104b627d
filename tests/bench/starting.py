"""Cold start to the first usable frame, beside an empty Kivy window, each in a process of its own."""

import json
import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from typing import Final

from tests.bench.drawing import ROOT, around
from tests.bench.figure import Figure, not_measured

HEAVY: Final = (
    "requests", "urllib3", "PIL", "numpy", "pandas", "pyproj", "matplotlib", "serial", "fastapi",
    "kivy.uix.textinput", "kivy.uix.recycleview", "kivy.uix.filechooser", "kivy.uix.settings",
)  # fmt: skip
_BEFORE: Final = """
import time
begun = time.perf_counter()
import json, sys
from tests.mobile import pilot
prepared = time.perf_counter()
"""
_EMPTY: Final = """
from kivy.app import App
from kivy.uix.widget import Widget
class Empty(App):
    def build(self):
        return Widget()
driver = pilot.Pilot(Empty).start()
"""
_OURS: Final = """
from pathlib import Path
from mobile.app import Options, StrandlineApp
driver = pilot.Pilot(lambda: StrandlineApp(Options(folder=Path(FOLDER)))).start()
assert driver.app.root.current_screen.face is not None
"""
_AFTER: Final = """
print(json.dumps([time.perf_counter() - prepared, sorted(sys.modules)]))
"""


def _run(folder: Path, words: str) -> tuple[float, set[str]]:
    script = folder / "start.py"  # Kivy looks for rules beside an app's own file
    script.write_text(_BEFORE + words + _AFTER, encoding="utf-8")
    variables, _ = around()
    variables.pop("PYTHONDONTWRITEBYTECODE", None)  # an app that is installed is compiled once
    variables |= {"PYTHONPATH": str(ROOT), "PYTHONPYCACHEPREFIX": str(folder / "compiled")}
    found = subprocess.run(
        [sys.executable, str(script)],
        cwd=ROOT,
        env=variables,
        capture_output=True,
        text=True,
        check=True,
    )
    seconds, modules = json.loads(found.stdout.splitlines()[-1])
    return seconds * 1000.0, set(modules)


def starting(turns: int) -> list[Figure]:
    """Measure from the first import of Kivy to the fourth frame; both take turns."""
    ours, empty, heavy = [], [], set()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        words = _OURS.replace("FOLDER", repr(str(folder / "data")))
        for _ in range(2):  # compiles what is not compiled yet, and makes the logbook
            _run(folder, words)
            _run(folder, _EMPTY)
        for _ in range(turns):
            took_ms, modules = _run(folder, words)
            ours.append(took_ms)
            other_ms, others = _run(folder, _EMPTY)
            empty.append(other_ms)
            heavy |= (modules - others) & set(HEAVY)
    mine, other = median(ours), median(empty)
    return [
        Figure(
            f"cold start to the first usable frame, median of {turns}",
            mine,
            "ms",
            other,
            "<= 1.5 x an empty Kivy window",
            mine <= 1.5 * other,
            f"{mine / other:.2f} x; imports of Kivy and making the window included in both",
        ),
        Figure(
            "heavy modules imported before it",
            float(len(heavy)),
            "",
            None,
            "none",
            not heavy,
            ", ".join(sorted(heavy)),
        ),
    ]


def first_frame(turns: int) -> list[Figure]:
    """Measure the start where a process can be started at all."""
    try:
        return starting(turns)
    except (OSError, subprocess.CalledProcessError) as error:
        said = getattr(error, "stderr", "") or str(error)
        return [not_measured("cold start", "ms", "<= 1.5 x an empty Kivy window", said[-300:])]
