"""Walks beside the terrain, and planned visits that were not received."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any, Final

from shared_core.errors import StrandlineError
from shared_core.records.base import Standing
from shared_core.records.plan import VISIT_STATES, PlannedVisit
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.visit import Visit
from shared_core.track import (
    USUAL_CLEANING,
    CleaningLimits,
    Fix,
    WalkMeasure,
    boundary_offset_m,
    measure_walk,
)
from shared_core.units import hectares
from sync_server.report.blocks import Block, Heading, Row, Table, columns, paragraph, row
from sync_server.report.material import Material
from sync_server.report.numerals import measured, plain

NOT_EXPECTED: Final = ("cancelled",)  # states in which nobody waits for a visit
NEAR: Final = timedelta(days=1)  # a visit a day early or late is that visit


def walks_section(material: Material) -> list[Block]:
    """Return the area of each walk beside the rating's at the same level; nothing without walks."""
    walks = material.known.between(ShorelineWalk, material.code, material.start, material.end)
    if not walks:
        return []
    remarks: dict[str, list[str]] = {}
    rows = [_walk_row(material, walk, remarks) for walk in walks]
    return [
        Heading(text="Walks against the terrain", anchor="walks"),
        paragraph(
            "A ratio above 1 says the walked line lies outside the shore that the rating has at"
            " that level. ± is one standard uncertainty of the walked area, from receiver errors"
            " that drift along the track."
        ),
        Table(
            caption="Area walked and area of the rating at the level of that time",
            columns=columns(
                "@Walk", "By", ">Level [m]", ">Walked [ha]", ">Rating [ha]", ">Ratio",
                ">Line outside by [m]", ">Length [m]", ">Gap closed [m]", ">Fixes left out",
            ),
            rows=tuple(rows),
            remarks=tuple(f"{', '.join(who)}: {words}" for words, who in remarks.items()),
        ),
    ]  # fmt: skip


def _walk_row(
    material: Material, standing: Standing[ShorelineWalk], remarks: dict[str, list[str]]
) -> Row:
    walk = standing.record
    name = material.clock.moment(walk.seen_at)
    who = ", ".join(walk.observers)
    path = material.inputs.path
    try:
        level_m = path.level_at(walk.seen_at)
        found = measured_walk(walk)
        rating_m2 = 0.0 if level_m is None else path.rating.area_at(level_m)
    except StrandlineError as error:
        remarks.setdefault(f"not measured. {error}", []).append(name)
        return row(name, who, *["–"] * 8)
    for words in _walk_remarks(walk, found):
        remarks.setdefault(words, []).append(name)
    ratio = plain(found.area_m2 / rating_m2, 3) if rating_m2 > 0 else "–"
    offset_m = boundary_offset_m(found.area_m2, rating_m2, found.perimeter_m)
    return row(
        name,
        who,
        "dry" if level_m is None else plain(level_m, 3),
        measured(hectares(found.area_m2), hectares(found.area_sd_m2), decimals=2),
        plain(hectares(rating_m2), 2),
        ratio,
        plain(offset_m, 1, sign=True),
        plain(found.perimeter_m, 0),
        plain(found.gap_m, 0),
        f"{len(found.dropped)} of {len(walk.fixes)}",
    )


def measured_walk(walk: ShorelineWalk) -> WalkMeasure:
    """Measure a walk with the limits its record carries.

    Raises:
        UnreadableError: if too few fixes count.
    """
    islands: dict[Any, list[Sequence[Any]]] = {}
    for island, *fix in walk.islands_walked:
        islands.setdefault(island, []).append(fix)
    cleaning = CleaningLimits(
        accuracy_m=walk.longest_accuracy_m or USUAL_CLEANING.accuracy_m,
        speed_m_s=walk.fastest_m_s or USUAL_CLEANING.speed_m_s,
    )
    return measure_walk(
        [Fix(*fix) for fix in walk.fixes],
        islands=[[Fix(*fix) for fix in fixes] for fixes in islands.values()],
        cleaning=cleaning,
    )


def _walk_remarks(walk: ShorelineWalk, found: WalkMeasure) -> list[str]:
    said = []
    if walk.off_waterline:
        said.append("stretches off the waterline are marked; the area is as walked, with them.")
    if (walk.islands_seen or 0) > 0 and not walk.islands_walked:
        said.append("an island was seen and not walked; the walked area includes it.")
    if found.closing.needs_mark:
        said.append(f"not walked back to its start; closed by a line of {found.gap_m:.0f} m.")
    if found.loops:
        said.append("the line crosses itself.")
    return said


def planned_section(material: Material) -> list[Block]:
    """Return the planned visits of the season of which nothing was received."""
    last = min(material.end + NEAR, material.written_at)
    planned = [
        standing
        for standing in material.known.every(PlannedVisit, material.code)
        if standing.record.valid_from <= last and standing.record.state not in NOT_EXPECTED
    ]
    visits = [each.record for each in material.known.every(Visit, material.code)]
    missing = [each for each in planned if not _received(material, each.record, visits)]
    blocks: list[Block] = [Heading(text="Planned visits not received", anchor="planned")]
    if not missing:
        words = f"Something was received of each of the {len(planned)} visits planned by then."
        return [*blocks, paragraph(words if planned else "No visit was planned.")]
    rows = [
        row(
            plan.code,
            material.clock.day(plan.valid_from),
            plan.team,
            ", ".join(plan.items) or "–",
            VISIT_STATES.get(plan.state, plan.state),
            plan.state_because or "–",
        )
        for plan in (standing.record for standing in missing)
    ]
    table = Table(
        caption=f"{len(missing)} of {len(planned)} planned visits; ask the device's owner before"
        " calling one lost",
        columns=columns("Visit", "@Planned for", "Team", "Planned there", "State", "Because"),
        rows=tuple(rows),
    )
    return [*blocks, table]


def _received(material: Material, plan: PlannedVisit, visits: Sequence[Visit]) -> bool:
    day = material.clock.local(plan.valid_from).date()
    return any(
        plan.team.casefold() in visit.team.casefold()
        and abs(material.clock.local(visit.seen_at).date() - day) <= NEAR
        for visit in visits
    )
