"""A paper sheet for the day the tablet fails: the same fields in the same order. No Kivy.

One HTML file that needs nothing else, for A4. Fields come from the records' own declarations, so
the sheet cannot fall behind the screens. What is written on it is typed later with the name of
whoever typed it in "Typed from paper by".
"""

import dataclasses
import html
from collections.abc import Iterator, Sequence
from datetime import datetime
from pathlib import Path
from typing import Final

from mobile.drafts import HEAD
from mobile.field_day import DUE_AT
from mobile.identity import read_identity
from shared_core.errors import UnknownError
from shared_core.field_kinds import Choice, Digits, Field, Flag, Text
from shared_core.field_shapes import Rows
from shared_core.fields import fields_of
from shared_core.logbook import Logbook
from shared_core.photo_folder import whole_file
from shared_core.records.base import Known, Record, Seen
from shared_core.records.bore import BoreDip
from shared_core.records.hazard import Hazard
from shared_core.records.meter_setup import METER_UNITS, MeterFitted, Pump
from shared_core.records.points_setup import TreeTagged
from shared_core.records.pump_run import PumpRun
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.site_setup import Site
from shared_core.records.tree import TreeScore
from shared_core.records.vegetation_plot import PlotScore
from shared_core.records.visit import Visit
from shared_core.records.water_quality import WaterSample

LOGBOOK: Final = "logbook.sqlite"  # in the data folder
# Beyond what is due: once a visit, in the order of the feet (trade practice).
FIRST: Final[tuple[type[Seen], ...]] = (Visit, Hazard)
ON_FOOT: Final = frozenset((PlotScore, TreeScore, BoreDip))  # after water quality and the walk
Due = tuple[type[Record], type[Seen]]


def _where_due() -> Iterator[Due]:
    """Yield set-up and record of what is due at a point; a pump's hours come after its meter."""
    for pair in DUE_AT:
        yield pair
        if pair[0] is MeterFitted:
            yield (Pump, PumpRun)
    yield (TreeTagged, TreeScore)


ONCE: Final[tuple[type[Seen], ...]] = (WaterSample, ShorelineWalk)
NOT_ON_PAPER: Final = HEAD | {"site", "photos"}
ROWS_ON_PAPER: Final = 6  # blank rows of a table

STYLE: Final = """
@page { size: A4; margin: 14mm 12mm; }
body { font: 10.5pt sans-serif; color: #000; margin: 0 auto; max-width: 186mm; }
h1 { font-size: 16pt; margin: 0 0 2mm; }
h2 { font-size: 11.5pt; margin: 0 0 1mm; border-bottom: 0.4mm solid #000; }
section { break-inside: avoid; margin: 4mm 0 0; }
dl { display: grid; grid-template-columns: 1fr 1fr; gap: 0 6mm; margin: 0; }
div.field { display: flex; gap: 2mm; align-items: end; min-height: 8mm; break-inside: avoid; }
div.long, div.table { grid-column: 1 / 3; }
dt { max-width: 60%; } dd { flex: 1; margin: 0; border-bottom: 0.25mm solid #000; min-height: 7mm; }
dd.ticks { border: 0; min-height: 0; } span.box { display: inline-block; width: 7mm; height: 8mm;
border: 0.25mm solid #000; margin-right: 0.5mm; } span.tick { display: inline-block; width: 4mm;
height: 4mm; border: 0.25mm solid #000; margin: 0 1mm 0 3mm; vertical-align: -0.5mm; }
small { font-weight: normal; } table { border-collapse: collapse; width: 100%; }
th, td { border: 0.25mm solid #000; height: 7mm; font-weight: normal; text-align: left; }
p { margin: 1mm 0; }
"""


@dataclasses.dataclass(frozen=True, kw_only=True)
class Block:
    """One record to be filled in by hand."""

    kind: type[Seen]
    point: str
    says: str = ""  # what helps to read it, such as the unit on the face
    figures: int = 0  # boxes for a counter's figures; 0: not a counter

    @property
    def fields(self) -> tuple[Field, ...]:
        """Its fields in the order of the screens: needed ones first, the remark last."""
        kept = (field for field in fields_of(self.kind) if field.name not in NOT_ON_PAPER)
        return tuple(sorted(kept, key=lambda each: (not each.required, each.name == "remark")))


def blocks(known: Known, site: str, now: datetime) -> tuple[Block, ...]:
    """Return what a visit to a site may have to fill in, in the order of the feet."""
    first = [Block(kind=kind, point="") for kind in FIRST]
    once = [Block(kind=kind, point="") for kind in ONCE]
    due = _due(known, site, now)
    before = [block for block in due if block.kind not in ON_FOOT]
    return (*first, *before, *once, *(block for block in due if block.kind in ON_FOOT))


def _due(known: Known, site: str, now: datetime) -> list[Block]:
    found: list[Block] = []
    for setup, kind in _where_due():
        latest = {
            s.record.where: s.record for s in known.every(setup, site) if s.record.when <= now
        }
        found += [
            _block(kind, latest[point])
            for point in sorted(latest)
            if (getattr(latest[point], "removed_at", None) or now) >= now
        ]
    return found


def _block(kind: type[Seen], setup: Record) -> Block:
    if not isinstance(setup, MeterFitted):
        return Block(kind=kind, point=setup.where)
    unit = METER_UNITS[setup.unit]
    times = "" if setup.multiplier == 1.0 else f" × {setup.multiplier:g}"
    after = f", {setup.decimals} after the point" if setup.decimals else ""
    says = f"serial {setup.serial}, the face counts {unit}{times}{after}"
    return Block(kind=kind, point=setup.where, says=says, figures=setup.figures)


def sheet(logbook: Logbook, site: str, now: datetime) -> str:
    """Return the sheet of a site as one HTML page.

    Raises:
        UnknownError: if the site is not on this device.
    """
    known = logbook.known()
    sites = {standing.record.site: standing.record for standing in known.every(Site)}
    if site not in sites:
        names = ", ".join(sites) or "none yet"
        raise UnknownError(f"no site {site} on this device; it knows {names}")
    return "".join(_page(sites[site], blocks(known, site, now), now))


def write_sheet(logbook: Logbook, site: str, now: datetime, path: Path) -> Path:
    """Write the sheet of a site to a file, whole or not at all, and return the file.

    Args:
        logbook: this device's.
        site: code of the site.
        now: the sheet names what is set up at this time.
        path: the file, or a folder in which it gets the site's name.

    Raises:
        UnknownError: if the site is not on this device.
        StrandlineError: if it cannot be written.
    """
    text = sheet(logbook, site, now)
    file_name = "".join(letter if letter.isalnum() else "-" for letter in site)
    target = path / f"sheet-{file_name}.html" if path.is_dir() else path
    with whole_file(target) as file:
        file.write(text.encode())
    return target


def write_sheet_of(folder: Path, site: str, now: datetime, path: Path) -> Path:
    """Write the sheet of a site out of a data folder whose app is not running.

    Raises:
        UnknownError: if there is no logbook in the folder, or not this site.
        StrandlineError: if it cannot be read or written.
    """
    file, identity = folder / LOGBOOK, read_identity(folder)
    if identity is None or not file.is_file():
        raise UnknownError(f"no logbook in {folder}; start the app there once and exchange")
    with Logbook(file, device=identity.device, clock=lambda: now, new_id=str) as logbook:
        return write_sheet(logbook, site, now, path)


def _page(site: Site, found: Sequence[Block], now: datetime) -> Iterator[str]:
    title = html.escape(f"{site.name} ({site.site})")
    yield f'<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n<title>{title}'
    yield f"</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<h1>{title}</h1>\n"
    yield f"<p>Set up as of {now.date().isoformat()}. Write what you see, left to right, zeros too."
    yield " A thing not done gets its reason; a blank is not a zero. Photograph this sheet.</p>\n"
    yield "<dl>" + "".join(_blank(words) for words in ("Visit", "Date", "Seen by", "Time zone"))
    yield "</dl>\n"
    for block in found:
        yield from _section(block)
    yield "<section><p>Typed into the tablet by: ____________________ on: ____________</p>"
    yield (
        "<p>Follow your organisation's work plan, local law and licensed people. This sheet does"
        " not judge any situation.</p></section>\n</body>\n</html>\n"
    )


def _section(block: Block) -> Iterator[str]:
    heading = html.escape(" ".join(filter(None, (block.kind.title, block.point))))
    says = f" <small>{html.escape(block.says)}</small>" if block.says else ""
    yield f"<section>\n<h2>{heading}{says}</h2>\n<dl>\n"
    yield _blank("Time")
    for field in block.fields:
        yield _field(field, block.figures)
    yield "</dl>\n</section>\n"


def _field(field: Field, figures: int) -> str:
    heading = field.heading + (" *" if field.required else "")
    if isinstance(field, Rows):
        return _table(field, heading)
    if isinstance(field, Choice):
        return _ticks(heading, tuple(field.answers.values()))
    if isinstance(field, Flag):
        return _ticks(heading, ("Yes", "No"))
    if isinstance(field, Digits) and figures:
        boxes = '<span class="box"></span>' * figures
        return f'<div class="field long"><dt>{html.escape(heading)}</dt><dd class="ticks">{boxes}</dd></div>\n'
    return _blank(heading, wide=isinstance(field, Text))


def _blank(heading: str, *, wide: bool = False) -> str:
    kind = "field long" if wide else "field"
    return f'<div class="{kind}"><dt>{html.escape(heading)}</dt><dd></dd></div>\n'


def _ticks(heading: str, answers: Sequence[str]) -> str:
    ticks = "".join(f'<span class="tick"></span>{html.escape(words)}' for words in answers)
    return f'<div class="field long"><dt>{html.escape(heading)}</dt><dd class="ticks">{ticks}</dd></div>\n'


def _table(field: Rows, heading: str) -> str:
    heads = "".join(f"<th>{html.escape(column.heading)}</th>" for column in field.columns)
    row = f"<tr>{'<td></td>' * len(field.columns)}</tr>"
    return (
        f'<div class="table"><dt>{html.escape(heading)}</dt>'
        f"<table><tr>{heads}</tr>{row * ROWS_ON_PAPER}</table></div>\n"
    )
