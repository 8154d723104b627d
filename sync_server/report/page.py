"""A report as one HTML file that needs nothing else: no script, no font, no picture from elsewhere."""

import base64
import os
import tempfile
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Final

from jinja2 import Environment, PackageLoader, StrictUndefined, Template

from shared_core.logbook import Logbook
from sync_server.report.blocks import Report
from sync_server.report.season import season_report

FILE_NAME: Final = "report.html"


def write_report(logbook: Logbook, site: str, out_dir: Path, *, written_at: datetime) -> Path:
    """Write the season report of a site into a folder and return the file; it is whole or absent.

    Raises:
        UnknownError: if the site, its plan or its rating table is not known.
        OutsideRangeError: if levels, weather or rating do not cover the season.
        RefusedError: if entries kept coming in while the report was made.
    """
    page = report_page(season_report(logbook, site, written_at=written_at))
    out_dir.mkdir(parents=True, exist_ok=True)
    path = out_dir / FILE_NAME
    with tempfile.NamedTemporaryFile(dir=out_dir, suffix=".part", delete=False) as file:
        part = Path(file.name)
        try:
            file.write(page.encode())
            file.flush()
            os.fsync(file.fileno())
            file.close()
            part.chmod(0o644)  # a temporary file is its owner's alone; a report is to be read
            part.replace(path)
        except BaseException:
            part.unlink(missing_ok=True)
            raise
    return path


def report_page(report: Report) -> str:
    """Return the report as HTML."""
    return _template().render(report=report)


@cache
def _template() -> Template:
    environment = Environment(
        loader=PackageLoader("sync_server", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["picture"] = _as_picture
    return environment.get_template("report.html")


def _as_picture(svg: str) -> str:
    """Return a drawing as an address that holds it, so that figures cannot touch each other."""
    return "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()
