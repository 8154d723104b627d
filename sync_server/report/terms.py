"""The balance in the report: the table, its uncertainty, the bars, and the rates."""

from collections.abc import Sequence
from typing import Final

from shared_core.balance import Balance, Term
from shared_core.units import hectares, megalitres
from sync_server.figures import PeriodBars, RatePoint, balance_bars, rates_by_depth
from sync_server.report.behind import linked
from sync_server.report.blocks import Block, Figure, Heading, Row, Table, columns, paragraph, row
from sync_server.report.material import Material
from sync_server.report.numerals import measured, percent, plain, uncertain

STEPS: Final = 60  # a period is cut into for its mean depth


def balance_section(material: Material) -> list[Block]:
    """Return the balance table with how its uncertainty was added, and the bars."""
    balance = material.balance
    bars = balance_bars([_bars(period) for period in balance.periods])
    return [
        Heading(text="Water balance", anchor="balance"),
        paragraph(
            "Residual = pumped + rain − evaporation − change in storage. The residual is"
            " infiltration and uptake, and holds every error of the other terms. ± is one"
            " standard uncertainty. Each figure leads to the records behind it."
        ),
        _table(material),
        paragraph(_how_added(material)),
        _made_of(material),
        Figure(
            caption="What came in and what went out in each period; whiskers are one standard"
            " uncertainty.",
            svg=bars.svg,
            alt=bars.alt,
        ),
    ]


def _table(material: Material) -> Table:
    periods, season = material.balance.periods, material.balance.season
    rows = [_row(material, period, number) for number, period in enumerate(periods, 1)]
    rows.append(_row(material, season, 0))
    said = [f"{each.name}: {words}" for each in (*periods, season) for words in each.remarks]
    return Table(
        caption="Balance by period; volumes in ML, ± one standard uncertainty",
        anchor="balance-table",
        columns=columns(
            "Period", "@From – to", ">Days", ">Level [m]", ">Pumped", ">Estimated", ">Rain",
            ">Evaporation", ">Change in storage", ">Residual", ">Residual [mm/day]",
        ),
        rows=tuple(rows),
        remarks=tuple(said),
    )  # fmt: skip


def _row(material: Material, balance: Balance, number: int) -> Row:
    clock, rate = material.clock, balance.rate_mm_day
    pumped = balance.pumped
    return row(
        balance.name,
        clock.span(balance.start, balance.end),
        plain(balance.days, 0),
        f"{_level(balance.start_level_m)} –\n{_level(balance.end_level_m)}",
        linked(_megalitres(pumped), number, pumped),
        percent(balance.estimated_m3, pumped.volume_m3.value),
        linked(_megalitres(balance.rain), number, balance.rain),
        linked(_megalitres(balance.evaporation), number, balance.evaporation),
        linked(_megalitres(balance.storage_change, sign=True), number, balance.storage_change),
        linked(_megalitres(balance.residual), number, balance.residual),
        "–" if rate is None else uncertain(rate, decimals=1),
        total=number == 0,
    )


def _megalitres(term: Term, *, sign: bool = False) -> str:
    return measured(term.megalitres, term.sd_megalitres, sign=sign)


def _level(level_m: float | None) -> str:
    return "dry" if level_m is None else plain(level_m, 3)


def _how_added(material: Material) -> str:
    residual = material.balance.season.residual
    alone = material.balance.sd_as_if_independent_megalitres()
    word = "too small" if alone < residual.sd_megalitres else "not what these instruments give"
    return (
        f"The season's residual is {_megalitres(residual)} ML. Its ± adds straight what the"
        " periods share: one meter, one rain gauge, one evaporation factor and one rating table"
        " err the same way in every period and cannot cancel. Taken as if the periods were"
        f" independent, the ± would be {plain(alone, 1)} ML, which is {word}."
    )


def _made_of(material: Material) -> Table:
    residual = material.balance.season.residual.volume_m3
    rows = [
        row(each.name, plain(megalitres(each.sd), 1), percent(each.share, 1.0, 0))
        for each in residual.contributions(_group)
    ]
    return Table(
        caption="What the season's ± is made of, largest first: a better measure of the first"
        " line would shrink it most",
        columns=columns("Source of error", ">± [ML]", ">Share of the variance"),
        rows=tuple(rows),
    )


def _group(source: str) -> str:
    if source.startswith("level "):
        return "levels read at the ends of periods"
    if source.startswith("estimate "):
        return "water estimated from pump hours"
    return source


def _bars(balance: Balance) -> PeriodBars:
    def pair(term: Term) -> tuple[float, float]:
        return term.megalitres, term.sd_megalitres

    return PeriodBars(
        name=balance.name,
        pumped=pair(balance.pumped),
        rain=pair(balance.rain),
        evaporation=pair(balance.evaporation),
        residual=pair(balance.residual),
        storage_change=pair(balance.storage_change),
    )


# rates ---------------------------------------------------------------------------------------


def rates_section(material: Material) -> list[Block]:
    """Return the residual as rates against mean depth, and whether they show a trend."""
    points = [
        RatePoint(
            name=period.name,
            depth_m=_mean_depth_m(material, period),
            mm_per_day=rate.value,
            sd_mm_per_day=rate.sd,
            pumping=period.pumped.volume_m3.value > 0,
        )
        for period in material.balance.periods
        if (rate := period.rate_mm_day) is not None
    ]
    if not points:
        return []
    drawn = rates_by_depth(points)
    return [
        Heading(text="Rates against depth", anchor="rates"),
        paragraph(trend_says([point for point in points if not point.pumping])),
        Figure(
            caption="Residual as mm/day over the mean wet area, against mean depth.",
            svg=drawn.svg,
            alt=drawn.alt,
        ),
        Table(
            caption="Residual rates",
            columns=columns("Period", ">Mean depth [m]", ">Mean area [ha]", ">Rate [mm/day]"),
            rows=tuple(_rate_row(material, point) for point in points),
        ),
    ]


def _rate_row(material: Material, point: RatePoint) -> Row:
    period = next(p for p in material.balance.periods if p.name == point.name)
    return row(
        point.name,
        plain(point.depth_m, 2),
        plain(hectares(period.mean_area_m2), 1),
        measured(point.mm_per_day, point.sd_mm_per_day, decimals=1),
    )


def trend_says(points: Sequence[RatePoint]) -> str:
    """Say whether rates differ by more than their bars; only periods without pumping count."""
    if len(points) < 2:
        return "No trend shown: fewer than two periods without pumping."
    lowest = min(points, key=lambda point: point.mm_per_day + point.sd_mm_per_day)
    highest = max(points, key=lambda point: point.mm_per_day - point.sd_mm_per_day)
    top = lowest.mm_per_day + lowest.sd_mm_per_day
    if highest.mm_per_day - highest.sd_mm_per_day <= top:
        return "No trend shown: the ± bars of all periods without pumping overlap."
    return (
        f"The rates of {lowest.name} and {highest.name} differ by more than their ± bars. With"
        " few periods that is a question to follow up, not a law of this ground."
    )


def _mean_depth_m(material: Material, period: Balance) -> float:
    """Return mean volume over mean area, both through the period."""
    path = material.inputs.path
    step = (period.end - period.start) / STEPS
    middles = [period.start + step * (number + 0.5) for number in range(STEPS)]
    area_m2 = sum(path.area_at(at) for at in middles)
    return sum(path.volume_at(at) for at in middles) / area_m2 if area_m2 > 0 else 0.0
