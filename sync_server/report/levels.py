"""Levels in the report: the hydrograph and the zeros that turn stages into levels."""

from collections.abc import Iterator
from datetime import datetime

from shared_core.records.base import Standing
from shared_core.records.levels import level_of, zero_sd_m
from shared_core.records.site_setup import HOW_LEVELLED, GaugeZero
from shared_core.records.staff_gauge import GaugeReading
from shared_core.units import M3_PER_MEGALITRE, SECONDS_PER_DAY
from sync_server.figures import GaugeMark, Hydrograph, PumpBar, hydrograph
from sync_server.report.blocks import Block, Figure, Heading, Table, columns, row
from sync_server.report.material import Material
from sync_server.report.numerals import plain


def levels_section(material: Material) -> list[Block]:
    """Return the hydrograph and the table of gauge zeros."""
    shown = hydrograph_of(material)
    drawn = hydrograph(shown)
    return [
        Heading(text="Levels, rain and pumping", anchor="levels"),
        Figure(
            caption="Level of the water with every reading, above it rain by the day it was read"
            f" (09:00), below it pumping. Datum: {material.site.record.height_datum}. Times are"
            f" site standard time, {material.clock.name}.",
            svg=drawn.svg,
            alt=drawn.alt,
        ),
        _zeros(material),
    ]


def hydrograph_of(material: Material) -> Hydrograph:
    """Gather what the hydrograph of a season shows."""
    start, end = material.start, material.end
    inputs, plan = material.inputs, material.plan
    return Hydrograph(
        start=start,
        end=end,
        offset_min=material.clock.offset_min,
        line=list(_line(material)),
        marks=list(_marks(material)),
        dry_at=[p.at for p in inputs.path.points if p.level_m is None and start <= p.at <= end],
        zero_changes=list(_zero_changes(material)),
        pumping=[
            PumpBar(
                start=span.start,
                end=span.end,
                megalitres_per_day=span.volume_m3
                / M3_PER_MEGALITRE
                / ((span.end - span.start).total_seconds() / SECONDS_PER_DAY),
                estimated=span.estimated,
            )
            for span in inputs.pumped
            if span.volume_m3 > 0 and span.end > span.start
        ],
        rain_mm={
            day: amount
            for day, amount in inputs.rain.by_day.items()
            if material.clock.local(start).date() < day <= material.clock.local(end).date()
        },
        target_level_m=plan.record.target_level_m if plan else None,
    )


def _line(material: Material) -> Iterator[tuple[datetime, float | None]]:
    """Yield the level line; beside a wet reading a dry one is the lowest level of the rating."""
    path = material.inputs.path
    points = path.points
    for place, point in enumerate(points):
        beside = points[max(0, place - 1) : place + 2]
        wet_beside = any(each.level_m is not None for each in beside)
        level_m = point.level_m
        if level_m is None and wet_beside:
            level_m = path.rating.lowest_m
        yield point.at, level_m


def _marks(material: Material) -> Iterator[GaugeMark]:
    used = {name for point in material.inputs.path.points for name in point.evidence}
    readings = material.known.between(
        GaugeReading, material.code, material.start, material.end, also_unused=True
    )
    for standing in readings:
        level = level_of(material.known, standing)
        if level is not None:
            yield GaugeMark(
                at=level.at,
                level_m=level.level_m,
                gauge=level.gauge,
                corrected=_value_corrected(material, standing),
                used=standing.record_id in used,
            )


def _value_corrected(material: Material, standing: Standing[GaugeReading]) -> bool:
    """Tell whether what stands differs from what was first written."""
    history = material.histories.get(standing.record_id, [])
    return bool(history) and dict(history[0].body or {}) != standing.record.encoded()


def _zero_changes(material: Material) -> Iterator[tuple[datetime, str]]:
    for standing in material.known.every(GaugeZero, material.code):
        zero = standing.record
        if material.start < zero.valid_from < material.end:
            yield zero.valid_from, f"{zero.gauge} zero {plain(zero.zero_m, 3)} m"


def _zeros(material: Material) -> Table:
    clock = material.clock
    zeros = [standing.record for standing in material.known.every(GaugeZero, material.code)]
    rows = [
        row(
            zero.gauge,
            clock.moment(zero.valid_from),
            plain(zero.zero_m, 3),
            plain(1000.0 * zero_sd_m(zero), 0),
            HOW_LEVELLED.get(zero.method, zero.method),
            "–" if zero.doubtful_from is None else clock.moment(zero.doubtful_from),
            zero.remark or "–",
        )
        for zero in sorted(zeros, key=lambda zero: (zero.gauge, zero.valid_from))
        if zero.valid_from < material.end
    ]
    return Table(
        caption="Gauge zeros: level = stage + zero; a reading uses the zero valid at its time",
        columns=columns(
            "Gauge", "@Valid from", ">Zero [m]", ">± [mm]", "Method", "@Earlier zero doubtful from",
            "Remark",
        ),
        rows=tuple(rows),
    )  # fmt: skip
