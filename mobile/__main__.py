"""``strandline-tablet``: start the tablet app."""

import argparse
import os
import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path

from mobile.device.folders import data_folder
from mobile.identity import density_of
from shared_core.errors import StrandlineError


def _arguments() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="strandline-tablet",
        description="Record the visits of an environmental watering, with no coverage.",
    )
    parser.add_argument(
        "--data", type=Path, metavar="DIR", help="folder for logbook, photos and identity"
    )
    parser.add_argument(
        "--server", default="", metavar="URL", help="server offered on the enrol screen"
    )
    parser.add_argument("--device", default="", metavar="NAME", help="name of this device")
    parser.add_argument(
        "--no-practice", action="store_true", help="do not offer the invented practice site"
    )
    parser.add_argument(
        "--receiver",
        default="",
        metavar="NAME",
        help="receiver for walks: serial:PORT[@BAUD], gpsd:PORT or file:PATH[@PACE]",
    )
    parser.add_argument(
        "--paper", default="", metavar="SITE", help="write a blank paper sheet for a site, and end"
    )
    parser.add_argument(
        "--out", type=Path, metavar="FILE", help="where --paper goes: a file or a folder"
    )
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Start the tablet app; return its exit status."""
    asked = _arguments().parse_args(argv)
    folder = asked.data or data_folder()
    if asked.paper:
        return _paper(folder, asked.paper, asked.out or Path())
    os.environ["KIVY_NO_ARGS"] = "1"  # the command line is ours
    os.environ.setdefault("KIVY_NO_CONFIG", "1")
    density = density_of(folder)
    if density:
        os.environ.setdefault("KIVY_METRICS_DENSITY", density)  # Kivy reads it once, at its import
    from mobile.app import Options, run  # noqa: PLC0415 - loads Kivy, which --help need not wait for

    return run(
        Options(
            folder=folder,
            server=asked.server,
            device=asked.device,
            offer_practice=not asked.no_practice,
            receiver=asked.receiver,
        )
    )


def _paper(folder: Path, site: str, out: Path) -> int:
    """Write the blank sheet of a site without starting Kivy; return the exit status."""
    from mobile.paper import write_sheet_of  # noqa: PLC0415 - the app itself starts without it

    try:
        sys.stdout.write(f"{write_sheet_of(folder, site, datetime.now(UTC), out)}\n")
    except StrandlineError as error:
        sys.stderr.write(f"strandline-tablet: {error}\n")
        return 1
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
