import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from mobile.__main__ import main
from mobile.app import Options


def test_help_names_every_option_without_loading_kivy() -> None:
    code = (
        "import sys; from mobile.__main__ import main\n"
        "try: main(['--help'])\n"
        "except SystemExit as end: sys.exit(3 if 'kivy' in sys.modules else end.code)"
    )
    found = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=False
    )
    assert found.returncode == 0, found.stderr
    for option in ("--data", "--server", "--device", "--no-practice", "--receiver"):
        assert option in found.stdout


def test_an_unknown_option_is_refused(capsys: Any) -> None:
    with pytest.raises(SystemExit) as ending:
        main(["--fly"])
    assert ending.value.code == 2
    assert "--fly" in capsys.readouterr().err


def test_the_options_reach_the_app(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    seen: list[Options] = []

    def run(options: Options) -> int:
        seen.append(options)
        return 0

    monkeypatch.setattr("mobile.app.run", run)
    asked = [
        "--data",
        str(tmp_path),
        "--server",
        "http://desk",
        "--device",
        "HER-1",
        "--no-practice",
    ]
    assert main(asked) == 0
    (options,) = seen
    assert (options.folder, options.server, options.device) == (tmp_path, "http://desk", "HER-1")
    assert not options.offer_practice
