"""The first page of the report: what was delivered, where it went, and how sure that is."""

from collections.abc import Iterator

from shared_core.records.base import Standing
from shared_core.records.plan import Allocation, WateringPlan
from shared_core.units import M3_PER_MEGALITRE, hectares, megalitres
from sync_server.report.blocks import Block, Heading, Piece, Row, Table, columns, paragraph, row
from sync_server.report.material import Material
from sync_server.report.meters import pump_runs
from sync_server.report.numerals import counted, measured, percent, plain, uncertain


def summary_section(material: Material) -> list[Block]:
    """Return the headline and the key figures."""
    season = material.balance.season
    return [
        Heading(text="Summary", anchor="summary"),
        paragraph(_headline(material)),
        Table(
            caption="Key figures",
            columns=columns("What", "Figure", "Remark"),
            rows=(
                *_water_rows(material),
                *_share_rows(material),
                *_level_rows(material),
                *_date_rows(material.plan),
                row(
                    "Season residual",
                    Piece(
                        f"{measured(season.residual.megalitres, season.residual.sd_megalitres)} ML",
                        "balance",
                    ),
                    "infiltration and uptake, with every error of the other terms",
                ),
                *_wetting_rows(material),
            ),
        ),
    ]


def _headline(material: Material) -> str:
    season, clock = material.balance.season, material.clock
    allocated = _allocated_megalitres(material)
    delivered = f"{plain(season.pumped.megalitres, 2)} ML"
    of_that = (
        f" of {plain(allocated, 1)} ML allocated ({percent(season.pumped.megalitres, allocated)})"
        if allocated
        else ""
    )
    return (
        f"Between {clock.day(material.start)} and {clock.day(material.end)}, {delivered}{of_that}"
        f" went into {material.site.record.name}. Of all water that came in,"
        f" {_of_inputs(material, 'evaporation')} evaporated and"
        f" {_of_inputs(material, 'residual')} infiltrated, was taken up, or is error of the other"
        " terms."
    )


def _of_inputs(material: Material, term: str) -> str:
    share = material.balance.shares().get(term)
    return "an unknown part" if share is None else f"{percent(share, 100.0)}"


def _allocations(material: Material) -> list[Standing[Allocation]]:
    return [
        each
        for each in material.known.every(Allocation, material.code)
        if each.record.valid_from < material.end and each.record.until > material.start
    ]


def _allocated_megalitres(material: Material) -> float:
    return sum(each.record.allocated_megalitres for each in _allocations(material))


def _water_rows(material: Material) -> Iterator[Row]:
    season = material.balance.season
    pumped = season.pumped
    yield row(
        "Delivered",
        f"{measured(pumped.megalitres, pumped.sd_megalitres, decimals=2)} ML",
        f"metered {plain(megalitres(season.metered_m3), 2)} ML"
        f" ({percent(season.metered_m3, pumped.volume_m3.value)}), estimated"
        f" {plain(megalitres(season.estimated_m3), 2)} ML"
        f" ({percent(season.estimated_m3, pumped.volume_m3.value)})",
    )
    for standing in _allocations(material):
        allocation = standing.record
        left = allocation.allocated_megalitres - pumped.megalitres
        yield row(
            f"Allocated, account {allocation.account}",
            f"{plain(allocation.allocated_megalitres, 1)} ML",
            f"{percent(pumped.megalitres, allocation.allocated_megalitres)} delivered,"
            f" {plain(left, 1)} ML left" + (f"; {allocation.funder}" if allocation.funder else ""),
        )
    clock = material.clock
    runs = [
        f"{clock.moment(first.start)} – {clock.moment(last.end)}"
        for first, last in pump_runs(material.inputs.pumped)
    ]
    yield row("Pumping", counted(len(runs), "run"), "; ".join(runs) or "none")


def _share_rows(material: Material) -> Iterator[Row]:
    shares = material.balance.shares()
    if not shares:
        return
    yield row(
        "Of all inputs",
        f"pumped {percent(shares['pumped'], 100.0)}, rain {percent(shares['rain'], 100.0)}",
        "together 100 %",
    )
    yield row(
        "Where it went",
        f"evaporation {percent(shares['evaporation'], 100.0)}, residual"
        f" {percent(shares['residual'], 100.0)}, left in storage"
        f" {percent(shares['storage_change'], 100.0)}",
        "together 100 %",
    )


def _level_rows(material: Material) -> Iterator[Row]:
    path = material.inputs.path
    wet = [
        (point.level_m, point)
        for point in path.points
        if point.level_m is not None and material.start <= point.at <= material.end
    ]
    if not wet:
        return
    level_m, point = max(wet, key=lambda pair: pair[0])
    area_m2, volume_m3 = path.rating.area_at(level_m), path.rating.volume_at(level_m)
    yield row(
        "Highest level read",
        f"{measured(level_m, point.sd_m, decimals=3)} m",
        f"on {material.clock.moment(point.at)}",
    )
    yield row(
        "Area then",
        f"{plain(hectares(area_m2), 1)} ha",
        f"holding {plain(volume_m3 / M3_PER_MEGALITRE, 1)} ML, by the rating",
    )


def _date_rows(plan: Standing[WateringPlan] | None) -> Iterator[Row]:
    if plan is None:
        return
    for name, label in (("first_full_on", "First full on"), ("dry_on", "Dry on")):
        values = plan.disputed.get(name, ())
        if values:
            words = " or ".join(sorted(str(value) for value in values))
            yield row(label, words, Piece("disputed, still open", "disputed"))
        elif getattr(plan.record, name) is not None:
            yield row(label, f"{getattr(plan.record, name)}", "as written in the plan")


def _wetting_rows(material: Material) -> Iterator[Row]:
    wetting = material.balance.first_wetting
    if wetting is None:
        return
    yield row(
        "First wetting",
        f"{uncertain(wetting.depth_mm, decimals=0)} mm",
        f"taken up by {plain(hectares(wetting.newly_wet_m2), 1)} ha of newly wet ground, beyond a"
        f" steady {uncertain(wetting.steady_mm_day, decimals=1)} mm/day",
    )
