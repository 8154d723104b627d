"""The season report of one site, as blocks built from its records."""

from datetime import datetime
from typing import Final

from shared_core.errors import RefusedError
from shared_core.logbook import Logbook
from sync_server.report.behind import records_behind
from sync_server.report.blocks import Block, Heading, Report, Table, columns, paragraph, row
from sync_server.report.changes import (
    anchors_of,
    changes_in,
    corrections_section,
    disputes_section,
)
from sync_server.report.levels import levels_section
from sync_server.report.material import Material, gathered
from sync_server.report.meters import meters_section
from sync_server.report.method import method_section
from sync_server.report.numerals import counted
from sync_server.report.summary import summary_section
from sync_server.report.terms import balance_section, rates_section
from sync_server.report.visits import planned_section, walks_section

TRIES: Final = 3  # times the report is begun anew because entries came in while it was made


def season_report(
    logbook: Logbook,
    site: str,
    *,
    written_at: datetime,
    start: datetime | None = None,
    end: datetime | None = None,
    period: str = "plan",
) -> Report:
    """Build the season report of a site; the same entries and time give the same report.

    Args:
        logbook: the entries.
        site: code of the site.
        written_at: when the report is made, UTC.
        start: first moment of the season; the plan's first period where left out.
        end: last moment of the season; the end of the plan where left out.
        period: "plan", "visits" or "month", as the balance is cut.

    Raises:
        UnknownError: if the site, its plan or its rating table is not known.
        OutsideRangeError: if levels, weather or rating do not cover the season.
        RefusedError: if entries kept coming in while the report was made.
    """
    for _ in range(TRIES):
        version = (logbook.digest(), logbook.size())
        material = gathered(
            logbook, site, written_at=written_at, start=start, end=end, period=period
        )
        blocks = tuple(_blocks(material))
        if version == (logbook.digest(), logbook.size()):
            return _report(material, blocks, version)
    raise RefusedError("entries kept coming in while the report was made; try again in a moment")


def _report(material: Material, blocks: tuple[Block, ...], version: tuple[str, int]) -> Report:
    clock, plan = material.clock, material.plan
    season = plan.record.season if plan else "season"
    return Report(
        title=f"{material.site.record.name} ({material.code})",
        subtitle=f"Season {season}: water balance from {clock.day(material.start)} to"
        f" {clock.day(material.end)}",
        written_at=f"{clock.moment(material.written_at)} {clock.name}",
        digest=version[0],
        entries=version[1],
        blocks=blocks,
    )


def _blocks(material: Material) -> list[Block]:
    made = changes_in(material)
    anchors = anchors_of(made)
    return [
        *summary_section(material),
        *levels_section(material),
        *meters_section(material),
        *balance_section(material),
        *rates_section(material),
        *walks_section(material),
        *corrections_section(material, made, anchors),
        *disputes_section(material),
        *_left_out(material),
        *planned_section(material),
        *method_section(material),
        *records_behind(material, anchors),
    ]


def _left_out(material: Material) -> list[Block]:
    heading = Heading(text="What was left out, and why", anchor="left-out")
    said = list(material.balance.left_out)
    held = material.logbook.quarantined()
    if held:
        said.append(
            f"In quarantine: {counted(len(held), 'line')}, of this site or another; nothing in them is"
            " counted here."
        )
    if not said:
        return [heading, paragraph("Every reading that was not set aside was used.")]
    table = Table(
        caption="Not used in the balance",
        columns=columns("What and why"),
        rows=tuple(row(words) for words in said),
    )
    return [heading, table]
