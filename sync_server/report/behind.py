"""The records behind each figure of the balance, as lists that the figures lead to."""

from collections.abc import Iterable, Mapping
from typing import Final

from shared_core.balance import Balance, Term
from shared_core.records.base import Record, Seen, Standing
from shared_core.records.levels import zero_of
from shared_core.records.meter_setup import MeterFitted
from shared_core.records.pump_meter import MeterReading
from shared_core.records.staff_gauge import GaugeReading
from sync_server.report.blocks import Block, Heading, Piece, Row, Table, columns, paragraph, row
from sync_server.report.material import Material, clipped, value_of
from sync_server.report.numerals import counted

RESIDUAL: Final = "residual"
STORAGE: Final = "storage change"


def anchor_of(number: int, term: str) -> str:
    """Return the anchor of the list behind a term of a period; 0 is the season."""
    return f"behind-{number or 'season'}-{term.replace(' ', '-')}"


def linked(text: str, number: int, term: Term) -> Piece:
    """Return a figure that leads to the records behind it, or stands alone where there are none."""
    bare = term.name != RESIDUAL and not term.evidence
    return Piece(text, "" if bare else anchor_of(number, term.name))


def records_behind(material: Material, change_anchors: Mapping[str, str]) -> list[Block]:
    """Return the lists behind every figure of the balance table."""
    blocks: list[Block] = [
        Heading(text="Records behind each figure", anchor="behind"),
        paragraph(
            "Each figure of the ", Piece("balance table", "balance"), " leads here. Gauge zeros"
            " and meters stand with the readings they turn into levels and volumes. Rain and"
            " evaporation fall on the wet area, which comes from the levels and the rating table"
            f" listed under {STORAGE}. Times are site standard time, {material.clock.name}.",
        ),
    ]  # fmt: skip
    periods = material.balance.periods
    for number, period in enumerate(periods, 1):
        for term in period.terms:
            if term.name == RESIDUAL:
                blocks += _residual(number, period)
            elif term.evidence:
                blocks.append(_list(material, number, period, term, change_anchors))
    blocks += _season(periods, material.balance.season)
    return blocks


def _list(
    material: Material,
    number: int,
    period: Balance,
    term: Term,
    change_anchors: Mapping[str, str],
) -> Table:
    names = dict.fromkeys(_with_set_up(material, term.evidence))
    return Table(
        caption=f"Behind {period.name}, {term.name}: {counted(len(names), 'record')}",
        anchor=anchor_of(number, term.name),
        columns=columns("What", "Value", "@When", "Seen or set by", "Device", "Standing", "Record"),
        rows=tuple(_record_row(material, name, change_anchors) for name in names),
        small=True,
    )


def _with_set_up(material: Material, evidence: Iterable[str]) -> Iterable[str]:
    """Yield records, each with the gauge zero or the meter it is read with."""
    for name in evidence:
        yield name
        standing = material.logbook.standing(name)
        record = standing.record if standing else None
        if isinstance(record, GaugeReading):
            zero = zero_of(material.known, record.site, record.point, record.seen_at)
            if zero is not None:
                yield zero.record_id
        elif isinstance(record, MeterReading):
            fitted = material.known.in_force(
                MeterFitted, record.site, record.seen_at, point=record.point
            )
            if fitted is not None:
                yield fitted.record_id


def _record_row(material: Material, name: str, change_anchors: Mapping[str, str]) -> Row:
    standing = material.logbook.standing(name)
    if standing is None:  # a record of a newer version, or withdrawn while the report was made
        return row("–", "–", "–", "–", "–", "not shown by this version", name)
    return row(
        _what(standing),
        value_of(standing.record, material.clock),
        material.clock.moment(standing.record.when),
        _who(standing),
        _first_device(material, standing),
        _how_it_stands(standing, change_anchors.get(name, "")),
        name,
    )


def _what(standing: Standing[Record]) -> str:
    return f"{standing.record.title} {standing.record.where}".strip()


def _who(standing: Standing[Record]) -> str:
    record = standing.record
    if isinstance(record, Seen):
        return ", ".join(record.observers) or standing.author
    return standing.author


def _first_device(material: Material, standing: Standing[Record]) -> str:
    """Return the device on which the record was first written; a correction has its own line."""
    history = material.histories.get(standing.record_id)
    return history[0].device if history else standing.device


def _how_it_stands(standing: Standing[Record], anchor: str) -> Piece:
    record = standing.record
    words = "corrected" if anchor else "as first written"
    if isinstance(record, Seen) and record.quality not in (None, "good"):
        words = f"{words}, {record.quality}"
    if isinstance(record, Seen) and record.typed_from_paper_by:
        words = f"{words}, typed from paper by {clipped(record.typed_from_paper_by)}"
    return Piece(words, anchor)


def _residual(number: int, period: Balance) -> list[Block]:
    others = [term for term in period.terms if term.name != RESIDUAL and term.evidence]
    pieces: list[str | Piece] = ["Worked out from the other terms of the period: "]
    for place, term in enumerate(others):
        pieces += [", " if place else "", Piece(term.name, anchor_of(number, term.name))]
    heading = f"Behind {period.name}, residual"
    return [
        Heading(text=heading, level=3, anchor=anchor_of(number, RESIDUAL)),
        paragraph(*pieces, "."),
    ]


def _season(periods: tuple[Balance, ...], season: Balance) -> list[Block]:
    blocks: list[Block] = []
    for term in season.terms:
        pieces: list[str | Piece] = ["The sum of the periods: "]
        for number, period in enumerate(periods, 1):
            same = next(each for each in period.terms if each.name == term.name)
            pieces += [", " if number > 1 else "", linked(period.name, number, same)]
        heading = f"Behind the season, {term.name}"
        blocks += [
            Heading(text=heading, level=3, anchor=anchor_of(0, term.name)),
            paragraph(*pieces, "."),
        ]
    return blocks
