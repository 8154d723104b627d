"""Commands about a season: balance and report."""

import json
from datetime import date, datetime, time, timedelta, timezone
from pathlib import Path
from typing import Final

import click

from shared_core.balance import Balance, SeasonBalance
from shared_core.errors import UnknownError, UnreadableError
from shared_core.records.base import Known
from shared_core.records.site_setup import Site
from shared_core.site_balance import balance_of
from shared_core.units import megalitres
from sync_server.app import real_clock
from sync_server.cli_people import data_option, json_option
from sync_server.data_folder import LOGBOOK_NAME, reading_copy
from sync_server.logbook_lines import opened_to_read

PERIODS: Final = ("plan", "visits", "month")


@click.command()
@data_option
@click.option("--site", required=True, help="Site code.")
@click.option("--from", "start", help="First day or time; the plan's where left out.")
@click.option("--to", "end", help="Last day or time; the plan's where left out.")
@click.option("--period", type=click.Choice(PERIODS), default="plan", show_default=True)
@json_option
def balance(
    *, data: Path, site: str, start: str | None, end: str | None, period: str, as_json: bool
) -> None:
    """Print the water balance of a site: terms, uncertainty, and what was left out."""
    with reading_copy(data / LOGBOOK_NAME) as copy, opened_to_read(copy) as logbook:
        known = logbook.known()
        since, until = (_moment(known, site, text) for text in (start, end))
        season = balance_of(known, site, start=since, end=until, period=period)
    click.echo(json.dumps(_season_values(season)) if as_json else _season_text(season))


def _moment(known: Known, site: str, text: str | None) -> datetime | None:
    """Read a day, meant as 09:00 standard time of the site, or a time with its offset."""
    if text is None:
        return None
    sites = [standing.record for standing in known.every(Site, site)]
    if not sites:
        names = sorted({standing.record.site for standing in known.every(Site)})
        raise UnknownError(f"no site {site!r} here; known are {', '.join(names) or 'none yet'}")
    zone = timezone(timedelta(minutes=sites[-1].standard_offset_min))
    try:
        if len(text) <= 10:
            return datetime.combine(date.fromisoformat(text), time(9), zone)
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise UnreadableError(
            f"{text!r} is no day such as 2023-08-21 nor a time such as 2023-08-21T10:00+10:00"
        ) from None
    return moment if moment.tzinfo else moment.replace(tzinfo=zone)


def _season_values(season: SeasonBalance) -> dict[str, object]:
    wetting = season.first_wetting
    return {
        "site": season.site,
        "rating_version": season.rating_version,
        "rain_source": season.rain_source,
        "evaporation_source": season.evaporation_source,
        "periods": [_period_values(period) for period in season.periods],
        "season": _period_values(season.season),
        "shares_pct": season.shares(),
        "first_wetting": wetting
        and {
            "depth_mm": wetting.depth_mm.value,
            "depth_sd_mm": wetting.depth_mm.sd,
            "newly_wet_m2": wetting.newly_wet_m2,
            "steady_mm_day": wetting.steady_mm_day.value,
        },
        "left_out": list(season.left_out),
    }


def _period_values(period: Balance) -> dict[str, object]:
    return {
        "name": period.name,
        "start": period.start.isoformat(),
        "end": period.end.isoformat(),
        "start_level_m": period.start_level_m,
        "end_level_m": period.end_level_m,
        "terms": {
            term.name: {
                "megalitres": term.megalitres,
                "sd_megalitres": term.sd_megalitres,
                "evidence": list(term.evidence),
            }
            for term in period.terms
        },
        "estimated_megalitres": megalitres(period.estimated_m3),
        "mean_area_m2": period.mean_area_m2,
        "remarks": list(period.remarks),
    }


def _season_text(season: SeasonBalance) -> str:
    names = [term.name for term in season.season.terms]
    head = f"{'ML':<14}" + "".join(f"{name:>18}" for name in names)
    rows = [
        f"{period.name[:13]:<14}"
        + "".join(f"{t.megalitres:>10.2f} ± {t.sd_megalitres:<5.2f}" for t in period.terms)
        for period in (*season.periods, season.season)
    ]
    notes = [
        f"{period.name}: {says}"
        for period in (*season.periods, season.season)
        for says in period.remarks
    ]
    return "\n".join(
        (
            f"{season.site}, rating {season.rating_version}, ± 1 sd",
            head,
            *rows,
            *notes,
            *(f"Left out: {says}" for says in season.left_out),
        )
    )


@click.command()
@data_option
@click.option("--site", required=True, help="Site code.")
@click.option("--out", type=click.Path(path_type=Path), required=True, help="Folder for it.")
def report(*, data: Path, site: str, out: Path) -> None:
    """Write the season report of a site; every figure leads back to what it rests on."""
    from sync_server.report.page import write_report  # noqa: PLC0415 - loads the figures' library

    with reading_copy(data / LOGBOOK_NAME) as copy, opened_to_read(copy) as logbook:
        path = write_report(logbook, site, out, written_at=real_clock())
    click.echo(str(path))


def add_to(group: click.Group) -> None:
    """Add these commands to a group."""
    for command in (balance, report):
        group.add_command(command)
