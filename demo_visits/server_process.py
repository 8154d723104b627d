"""The real server as a process of its own on loopback, and its commands."""

import contextlib
import json
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, Final

from shared_core.errors import StrandlineError

PATIENCE_S: Final = 60.0


def command(*words: str, may_fail: bool = False) -> str:
    """Run a command of the server and return what it printed.

    Raises:
        StrandlineError: if it ends with another status than 0, with what it said.
    """
    run = [sys.executable, "-m", "sync_server", *words]
    done = subprocess.run(run, capture_output=True, text=True, check=False)  # noqa: S603 - our own module
    if done.returncode and not may_fail:
        raise StrandlineError(f"strandline-server {words[0]}: {done.stderr.strip()}")
    return done.stdout


def answer_of(*words: str) -> Any:  # noqa: ANN401 - JSON of whatever the command prints
    """Run a command with ``--json`` and return what it printed, read."""
    return json.loads(command(*words, "--json"))


def free_port() -> int:
    """Return a port on loopback that nobody uses now."""
    with socket.create_server(("127.0.0.1", 0)) as listener:
        return int(listener.getsockname()[1])


@contextlib.contextmanager
def running(data: Path, port: int) -> Iterator[subprocess.Popen[bytes]]:
    """Run the server for as long as the block lasts; its own words go to ``server.log``."""
    words: Sequence[str] = (
        sys.executable, "-m", "sync_server", "serve", "--data", str(data), "--port", str(port),
    )  # fmt: skip
    with (data / "server.log").open("ab") as log:
        process = subprocess.Popen(words, stdout=log, stderr=log)  # noqa: S603 - our own module
        try:
            _wait_for(port, process)
            yield process
        finally:
            process.terminate()
            process.wait(timeout=30)


def _wait_for(port: int, process: "subprocess.Popen[bytes]") -> None:
    until = time.monotonic() + PATIENCE_S
    while time.monotonic() < until:
        if process.poll() is not None:
            raise StrandlineError("the server ended before it answered; see server.log")
        try:
            with urllib.request.urlopen(f"http://127.0.0.1:{port}/v1/about", timeout=2):
                return
        except urllib.error.HTTPError:  # it answers, and asks for a token
            return
        except (urllib.error.URLError, OSError):
            time.sleep(0.05)
    raise StrandlineError("the server did not answer within a minute; see server.log")
