"""Commands that measure: rating and walk."""

import json
import re
from pathlib import Path
from typing import Final

import click

from shared_core.errors import UnreadableError
from shared_core.track import WalkMeasure, measure_walk
from shared_core.units import hectares
from sync_server.cli_people import json_option
from sync_server.terrain import pool_table, rating_csv, read_terrain
from sync_server.track_files import read_walks
from sync_server.walk_check import WalkCheck, check_walk

PERIODS: Final = ("plan", "visits", "month")
_SEED: Final = re.compile(r"\s*(-?[\d.]+)\s*,\s*(-?[\d.]+)\s*")


@click.command()
@click.argument("dem", type=click.Path(path_type=Path))
@click.option("--seed", required=True, help="Easting,northing in the deepest part.")
@click.option("--epsg", type=int, required=True, help="Code of the projected grid.")
@click.option("--step", default=0.01, show_default=True, help="Step of level in m.")
@click.option("--lowest", type=float, help="Lowest level in m.")
@click.option("--highest", type=float, help="Highest level in m.")
def rating(
    *,
    dem: Path,
    seed: str,
    epsg: int,
    step: float,
    lowest: float | None,
    highest: float | None,
) -> None:
    """Print the stage-area-volume table of the pool around a seed of DEM as CSV."""
    place = _place(seed)
    table = pool_table(read_terrain(dem, epsg), place, step, lowest, highest)
    click.echo(rating_csv(table.rows), nl=False)
    if table.edge_level_m is not None:
        click.echo(
            f"From {table.edge_level_m:.2f} m the pool touches the edge of the surveyed ground.",
            err=True,
        )
    if table.deepest_m < table.seed_ground_m - step:
        click.echo(
            f"The pool's lowest ground is {table.deepest_m:.2f} m, the seed's"
            f" {table.seed_ground_m:.2f} m.",
            err=True,
        )


def _place(seed: str) -> tuple[float, float]:
    match = _SEED.fullmatch(seed)
    try:
        return (float(match[1]), float(match[2])) if match else _no_place(seed)
    except ValueError:
        return _no_place(seed)


def _no_place(seed: str) -> tuple[float, float]:
    raise UnreadableError(f"a seed is easting,northing in metres, not {seed!r}")


@click.command()
@click.argument("track", type=click.Path(path_type=Path))
@click.option("--dem", type=click.Path(path_type=Path), help="Terrain model.")
@click.option("--epsg", type=int, help="Code of the model's projected grid.")
@click.option("--level", type=float, help="Water level during the walk in m.")
@click.option("--sd", type=float, help="Error of a fix in m, 1 sd, per axis.")
@click.option("--islands", is_flag=True, help="Further tracks of the file are islands.")
@json_option
def walk(
    *,
    track: Path,
    dem: Path | None,
    epsg: int | None,
    level: float | None,
    sd: float | None,
    islands: bool,
    as_json: bool,
) -> None:
    """Measure the shoreline walk in TRACK, a GPX or NMEA file."""
    walks = read_walks(track)
    if sd is not None and not sd > 0:
        raise UnreadableError(f"the error of a fix is above 0 m, not {sd:g}")
    further = [walked.fixes for walked in walks[1:]] if islands else []
    measure = measure_walk(walks[0].fixes, islands=further, sd_m=sd)
    check = None
    if dem is not None:
        if epsg is None:
            raise UnreadableError("a terrain model needs --epsg, the code of its grid")
        check = check_walk(measure, read_terrain(dem, epsg), level)
    found = _walk_values(measure, check)
    if as_json:
        click.echo(json.dumps(found))
        return
    click.echo(_walk_text(measure, check))
    notes = list(walks[0].left_out)
    notes += [f"{len(walks) - 1} further tracks left out"] if len(walks) > 1 + len(further) else []
    for note in notes:
        click.echo(note, err=True)


def _walk_values(measure: WalkMeasure, check: WalkCheck | None) -> dict[str, object]:
    found: dict[str, object] = {
        "area_m2": measure.area_m2,
        "area_sd_m2": measure.area_sd_m2,
        "island_area_m2": measure.island_area_m2,
        "perimeter_m": measure.perimeter_m,
        "perimeter_raw_m": measure.perimeter_raw_m,
        "offset_area_per_metre_m2": measure.offset_area_per_metre_m2,
        "gap_m": measure.gap_m,
        "gap_needs_mark": measure.closing.needs_mark,
        "fixes_used": len(measure.closing.ring),
        "fixes_dropped": len(measure.dropped),
        "loops": len(measure.loops),
    }
    if check is None:
        return found
    found["implied_level_m"] = check.implied.median_m
    found["implied_level_iqr_m"] = check.implied.iqr_m
    found["sectors"] = [
        {"sector": s.sector, "n": s.n, "level_m": s.median_m, "iqr_m": s.iqr_m}
        for s in check.implied.sectors
    ]
    if check.at_level:
        found["level_m"] = check.at_level.level_m
        found["table_area_m2"] = check.at_level.table_area_m2
        found["table_islands_m2"] = check.at_level.islands_m2
        found["offset_m"] = check.at_level.offset_m
    return found


def _walk_text(measure: WalkMeasure, check: WalkCheck | None) -> str:
    hectares_text = f"{hectares(measure.area_m2):.3f} ha"
    lines = [
        f"Area        {measure.area_m2:.0f} m2 ± {measure.area_sd_m2:.0f} (1 sd), {hectares_text}",
        f"Islands     {measure.island_area_m2:.0f} m2",
        f"Shore       {measure.perimeter_m:.0f} m ({measure.perimeter_raw_m:.0f} m as recorded)",
        f"Offset      1 m outward all the way adds {measure.offset_area_per_metre_m2:.0f} m2",
        f"Gap         {measure.gap_m:.1f} m{', mark it' if measure.closing.needs_mark else ''}",
        f"Fixes       {len(measure.closing.ring)} used, {len(measure.dropped)} dropped",
        f"Loops       {len(measure.loops)}",
    ]
    if check is None:
        return "\n".join(lines)
    lines.append(f"Level       {_level(check.implied.median_m, check.implied.iqr_m)} implied")
    level_m = check.at_level.level_m if check.at_level else check.implied.median_m
    lines += [
        f"  {s.sector:<9} {_level(s.median_m, s.iqr_m)}, {s.median_m - level_m:+.2f} m, {s.n} fixes"
        for s in check.implied.sectors
    ]
    if check.at_level:
        at = check.at_level
        lines.append(
            f"Model       {at.table_area_m2:.0f} m2 and islands {at.islands_m2:.0f} m2 at {at.level_m:.2f} m; the walk lies"
            f" {at.offset_m:+.1f} m outside its shore"
        )
    return "\n".join(lines)


def _level(median_m: float, iqr_m: float | None) -> str:
    return f"{median_m:.2f} m" + ("" if iqr_m is None else f" (middle half within {iqr_m:.2f} m)")


def add_to(group: click.Group) -> None:
    """Add these commands to a group."""
    for command in (rating, walk):
        group.add_command(command)
