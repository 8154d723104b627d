"""Meters in the report: what each counted, first and last figures, and what was estimated."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Final

from shared_core.balance import PumpedSpan
from shared_core.records.base import Standing
from shared_core.records.meter_setup import METER_UNITS, MeterFitted, PumpedEstimate
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pumping import Span, pumping
from shared_core.units import megalitres
from sync_server.report.blocks import Block, Heading, Row, Table, columns, paragraph, row
from sync_server.report.material import Material
from sync_server.report.numerals import percent, plain

SHORT_GAP: Final = timedelta(hours=2)


def meters_section(material: Material) -> list[Block]:
    """Return the table of meters and the table of estimates."""
    season = material.balance.season
    spans = pumping(material.known, material.code, material.start, material.end).spans
    fitted = [
        each
        for each in material.known.every(MeterFitted, material.code)
        if each.record.valid_from < material.end
    ]
    rows = [_meter_row(material, each, spans) for each in fitted]
    rows.append(
        row(
            "All", "", "", "", "", "", "", "",
            plain(megalitres(season.metered_m3), 2),
            plain(megalitres(season.estimated_m3), 2),
            total=True,
        )
    )  # fmt: skip
    blocks: list[Block] = [
        Heading(text="Meters", anchor="meters"),
        Table(
            caption="Meters and what they counted in the season",
            columns=columns(
                "Meter", "@Serial", "Unit × multiplier", "@Fitted – removed", ">Readings",
                ">First figures", ">Last figures", "@Passed zero", ">Metered [ML]",
                ">Estimated [ML]",
            ),
            rows=tuple(rows),
        ),
    ]  # fmt: skip
    blocks.append(_estimates(material, spans))
    return blocks


def _meter_row(material: Material, standing: Standing[MeterFitted], spans: tuple[Span, ...]) -> Row:
    meter, clock = standing.record, material.clock
    until = min(meter.removed_at or material.end, material.end)
    readings = material.known.between(
        MeterReading, material.code, meter.valid_from, until, point=meter.meter
    )
    first, last = _edge_figures(meter, [each.record for each in readings])
    rolled = [each.record for each in readings if each.record.rolled]
    own = [span for span in spans if span.meter == meter.meter]
    removed = "still fitted" if meter.removed_at is None else clock.day(meter.removed_at)
    return row(
        meter.meter,
        meter.serial,
        f"{METER_UNITS.get(meter.unit, meter.unit)} × {meter.multiplier:g}",
        f"{clock.day(meter.valid_from)} –\n{removed}",
        str(len(readings)),
        first,
        last,
        "\n".join(f"by {clock.day(reading.seen_at)}" for reading in rolled) or "no",
        plain(_inside(material, [span for span in own if not span.estimated]), 2),
        plain(_inside(material, [span for span in own if span.estimated]), 2),
    )


def _edge_figures(meter: MeterFitted, readings: list[MeterReading]) -> tuple[str, str]:
    first = meter.start_display or (readings[0].display if readings else "–")
    last = meter.final_display or (readings[-1].display if readings else "–")
    return first, last


def _inside(material: Material, spans: list[Span]) -> float:
    """Return what spans hold within the season [ML]; one that reaches beyond counts by its share."""
    total_m3 = 0.0
    for span in spans:
        share = (min(span.end, material.end) - max(span.start, material.start)) / (
            span.end - span.start
        )
        total_m3 += span.volume_m3 * max(share, 0.0)
    return megalitres(total_m3)


def _estimates(material: Material, spans: tuple[Span, ...]) -> Block:
    clock = material.clock
    inside = {name for span in spans if span.estimated for name in span.evidence}
    estimates = [
        each
        for each in material.known.every(PumpedEstimate, material.code)
        if each.record_id in inside
    ]
    if not estimates:
        return paragraph("No water was estimated from pump hours.")
    rows = [
        row(
            estimate.meter,
            f"{clock.moment(estimate.valid_from)} –\n{clock.moment(estimate.until)}",
            plain(estimate.hours, 1),
            plain(estimate.rate_megalitres_per_hour, 3),
            plain(megalitres(estimate.volume_m3), 2),
            percent(estimate.sd_fraction, 1.0, 0),
            estimate.basis,
            standing.author,
        )
        for standing in estimates
        for estimate in (standing.record,)
    ]
    return Table(
        caption="Water estimated from pump hours, for spans in which a meter did not count",
        columns=columns(
            "Meter", "@Span", ">Hours", ">Rate [ML/h]", ">Volume [ML]", ">±", "Rests on", "By"
        ),
        rows=tuple(rows),
    )


def pump_runs(spans: Sequence[PumpedSpan]) -> list[tuple[PumpedSpan, PumpedSpan]]:
    """Return first and last span of each run of pumping; a short gap is a meter changed."""
    runs: list[tuple[PumpedSpan, PumpedSpan]] = []
    for span in sorted(spans, key=lambda each: each.start):
        if span.volume_m3 <= 0:
            continue
        if runs and span.start <= runs[-1][1].end + SHORT_GAP:
            last = max(runs[-1][1], span, key=lambda each: each.end)
            runs[-1] = (runs[-1][0], last)
        else:
            runs.append((span, span))
    return runs
