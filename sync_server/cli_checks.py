"""Commands that judge what is there: audit and verify."""

import dataclasses
import json
from collections.abc import Iterator
from pathlib import Path

import click

from shared_core.errors import UnreadableError
from shared_core.logbook_checks import problems
from shared_core.photo_folder import PhotoFolder
from sync_server.audit import audit as run_audit
from sync_server.cli_people import data_option, json_option
from sync_server.data_folder import LOGBOOK_NAME, reading_copy
from sync_server.grids import read_terrain
from sync_server.logbook_lines import lines_of, lines_of_logbook, opened_to_read
from sync_server.photos import PHOTOS
from sync_server.store import photos_in


@click.command()
@click.argument("logbook_or_carry", type=click.Path(path_type=Path))
@click.option(
    "--hindsight",
    is_flag=True,
    help="Judge with everything known, not as of then; what only a season tells follows.",
)
@click.option("--dem", type=click.Path(path_type=Path), help="Ground model, for walks over time.")
@click.option("--epsg", type=int, help="Code of the model's projected grid.")
@click.option("--json", "as_json", is_flag=True, help="The same: lines of JSON are all it prints.")
def audit(
    *, logbook_or_carry: Path, hindsight: bool, dem: Path | None, epsg: int | None, as_json: bool
) -> None:
    """Print the findings about each entry as lines of JSON, in order of writing."""
    del as_json
    terrain = None
    if dem is not None:
        if epsg is None:
            raise UnreadableError("a terrain model needs --epsg, the code of its grid")
        terrain = read_terrain(dem, epsg)
    for found in run_audit(lines_of(logbook_or_carry), hindsight=hindsight, terrain=terrain):
        click.echo(json.dumps(dataclasses.asdict(found), ensure_ascii=False))


@click.command()
@data_option
@json_option
def verify(*, data: Path, as_json: bool) -> None:
    """Check chains, hashes, derived tables and photos; exit status 1 if something is wrong."""
    found = list(_problems(data))
    if as_json:
        click.echo(json.dumps({"problems": found}, ensure_ascii=False))
    else:
        click.echo("\n".join(found) if found else "All is as it was written.")
    if found:
        raise click.exceptions.Exit(1)


def _problems(data: Path) -> Iterator[str]:
    with reading_copy(data / LOGBOOK_NAME) as copy, opened_to_read(copy) as logbook:
        yield from problems(logbook)
    folder = PhotoFolder(data / PHOTOS)
    yield from (f"photos: {says}" for says in folder.check())
    for sha256 in sorted(photos_in(lines_of_logbook(data / LOGBOOK_NAME))):
        if not folder.has(sha256):
            yield f"photo {sha256} is named by a record and has not arrived"


def add_to(group: click.Group) -> None:
    """Add these commands to a group."""
    for command in (audit, verify):
        group.add_command(command)
