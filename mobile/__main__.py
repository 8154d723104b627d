"""``strandline-tablet``: start the tablet app."""

import argparse
import os
from collections.abc import Sequence
from pathlib import Path

from mobile.device.folders import data_folder


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
    return parser


def main(argv: Sequence[str] | None = None) -> int:
    """Start the tablet app; return its exit status."""
    asked = _arguments().parse_args(argv)
    os.environ["KIVY_NO_ARGS"] = "1"  # the command line is ours
    os.environ.setdefault("KIVY_NO_CONFIG", "1")
    from mobile.app import Options, run  # noqa: PLC0415 - loads Kivy, which --help need not wait for

    return run(
        Options(
            folder=asked.data or data_folder(),
            server=asked.server,
            device=asked.device,
            offer_practice=not asked.no_practice,
        )
    )


if __name__ == "__main__":
    raise SystemExit(main())
