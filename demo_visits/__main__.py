"""``strandline-demo``: plays the invented season and sets the balance beside the known truth."""

import argparse
import functools
import http.server
import shutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any, Final

from demo_visits import scenario
from demo_visits.judge import (
    as_json,
    balance_lines,
    compared,
    flagged,
    flagged_lines,
    summary_lines,
)
from demo_visits.play import Season
from demo_visits.server_process import answer_of, command
from shared_core.errors import StrandlineError
from sync_server.data_folder import LOGBOOK_NAME, reading_copy
from sync_server.logbook_lines import opened_to_read

MARK: Final = "This folder was made by strandline-demo; it may be made anew.\n"
PORT: Final = 8417


def main(argv: Sequence[str] | None = None) -> int:
    """Play the season; return 0, or 1 if ``--check`` found a miss, or 2 if it could not be played."""
    asked = _arguments().parse_args(argv)
    try:
        folder = _fresh(asked.folder)
        missed = _run(folder, asked)
    except StrandlineError as error:
        print(f"The season could not be played: {error}", file=sys.stderr)
        return 2
    if not asked.no_serve:
        _serve(folder / "report", asked.port)
    return 1 if asked.check and missed else 0


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="strandline-demo",
        description="Play an invented season of a wetland filled by pump: three tablets without"
        " coverage, a real server over HTTP, a merge, corrections with reasons, a water balance"
        " beside the known truth. Everything in it is invented.",
    )
    parser.add_argument("--check", action="store_true", help="compare, and end with 1 on a miss")
    parser.add_argument("--no-serve", action="store_true", help="stop when the report is written")
    parser.add_argument(
        "--folder", type=Path, default=Path("strandline-season"), help="where files go"
    )
    parser.add_argument("--port", type=int, default=PORT, help="port of the report on loopback")
    parser.add_argument("--cuts", type=int, default=0, help="how often the line breaks, at random")
    parser.add_argument("--seed", type=int, default=0, help="where it breaks")
    return parser


def _fresh(folder: Path) -> Path:
    """Return an empty folder; only one that an earlier run made is emptied.

    Raises:
        StrandlineError: if the folder holds something else.
    """
    mark = folder / "MADE_BY_THE_DEMO.txt"
    if folder.exists() and any(folder.iterdir()):
        if not mark.exists():
            raise StrandlineError(f"{folder} holds other files; name an empty --folder")
        shutil.rmtree(folder)
    folder.mkdir(parents=True, exist_ok=True)
    mark.write_text(MARK, encoding="utf-8")
    return folder


def _run(folder: Path, asked: argparse.Namespace) -> int:
    """Play, print what came out, and return how much was missed."""
    print("Lantern Reed Swamp, season 2023-24. All of it is invented.\n")
    season = Season(folder, lambda line: print(f"  {line}"), cuts=asked.cuts, seed=asked.seed)
    try:
        season.play()
        with (
            reading_copy(folder / "server" / LOGBOOK_NAME) as copy,
            opened_to_read(copy) as central,
        ):
            found = flagged(season, central)
            size = central.size()
            held = len(central.quarantined())
    finally:
        season.close()
    data = str(folder / "server")
    balance: dict[str, Any] = answer_of("balance", "--data", data, "--site", scenario.SITE)
    report = folder / "report"
    command("report", "--data", data, "--site", scenario.SITE, "--out", str(report))
    faults = command("verify", "--data", data, may_fail=True).strip()

    print("\nPlanted errors: who was shown what (raw text kept, correction beside it)")
    for line in flagged_lines(found):
        print(f"  {line}")
    print("\nWater balance [ML], worked out from the corrected records")
    for line in balance_lines(balance):
        print(f"  {line}")
    for line in summary_lines(balance):
        print(f"  {line}")
    told = season.told
    print(
        f"\n{size} entries in the central store, {held} in quarantine, state digest {season.digest}"
        f"\n{told.photos} photos; {told.repeated} repeated lines changed nothing;"
        f" the line broke {told.broke} times; {told.news} corrections reached the tablets"
        f"\nverify: {faults or 'no answer'}"
        f"\nreport: {report / 'report.html'}"
    )
    figures = compared(balance)
    (folder / "check.json").write_text(
        as_json(found, figures, season.digest, told.broke), encoding="utf-8"
    )
    missed = [flag.error.id for flag in found if not flag.held]
    missed += [
        f"{figure.what} {figure.got:.2f} ML instead of {figure.should_be:.2f}"
        for figure in figures
        if not figure.held
    ]
    held_count = sum(flag.held for flag in found)
    print(
        f"check: {held_count} of {len(found)} planted errors flagged and decided;"
        f" {sum(f.held for f in figures)} of {len(figures)} figures as expected"
        + (f"; missed: {', '.join(missed)}" if missed else "")
    )
    return len(missed)


def _serve(report: Path, port: int) -> None:
    """Show the report in a browser on this machine until Ctrl-C."""
    handler = functools.partial(http.server.SimpleHTTPRequestHandler, directory=str(report))
    with http.server.ThreadingHTTPServer(("127.0.0.1", port), handler) as server:
        print(f"\nThe report: http://127.0.0.1:{port}/report.html  (Ctrl-C ends)")
        try:
            server.serve_forever()
        except KeyboardInterrupt:
            print("ended")


if __name__ == "__main__":
    sys.exit(main())
