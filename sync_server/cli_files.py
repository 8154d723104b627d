"""The command that takes files in."""

import contextlib
import dataclasses
import json
import secrets
from pathlib import Path

import click

from shared_core.errors import StrandlineError
from shared_core.photo_folder import PhotoFolder
from sync_server.access import Access
from sync_server.access_store import FILE_NAME, AccessStore
from sync_server.app import real_clock, real_id
from sync_server.cli_people import data_option, json_option
from sync_server.intake import Intake, TakenIn, Wishes
from sync_server.photos import PHOTOS
from sync_server.store import Store


@click.command("take-in")
@click.argument("files", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option("--site", help="Site of weather, logger files and walks.")
@click.option("--logger", help="Code of the logger, where a site has several.")
@click.option("--visit", default="", help="Code of the visit a walk belongs to.")
@click.option("--offset-min", type=float, help="The logger's clock against UTC, in minutes.")
@click.option("--by", default="coordinator", show_default=True, help="Who brings the files.")
@data_option
@json_option
def take_in(  # noqa: PLR0913 - one for each option
    *,
    files: tuple[Path, ...],
    site: str | None,
    logger: str | None,
    visit: str,
    offset_min: float | None,
    by: str,
    data: Path,
    as_json: bool,
) -> None:
    """Take in FILES: carry files, logbooks, weather CSV, logger CSV, GPX or NMEA walks.

    A file that cannot be read is left out whole, with a sentence why; the others are taken in.
    """
    wishes = Wishes(by=by, site=site, logger=logger, visit=visit, offset_min=offset_min)
    failed = False
    done = []
    with contextlib.ExitStack() as stack:
        store = stack.enter_context(
            contextlib.closing(Store(data, clock=real_clock, new_id=real_id))
        )
        people = stack.enter_context(contextlib.closing(AccessStore(data / FILE_NAME)))
        access = Access(people, secret=secrets.token_bytes)
        photos = PhotoFolder(data / PHOTOS)
        intake = Intake(store, photos, owner_of=access.owner_of, wishes=wishes)
        for file in files:
            try:
                taken = intake.take(file)
            except StrandlineError as error:
                click.echo(f"{file.name}: {error}. Nothing of it was taken in.", err=True)
                failed = True
            else:
                done.append(dataclasses.asdict(taken))
                if not as_json:
                    click.echo(_sentence(taken))
                for says in taken.damaged:
                    click.echo(f"{file.name}: {says}", err=True)
                    failed = True
    if as_json:
        click.echo(json.dumps(done, ensure_ascii=False))
    if failed:
        raise click.exceptions.Exit(2)


def _sentence(taken: TakenIn) -> str:
    parts = [f"{taken.taken} taken"]
    parts += [f"{taken.had} were here already"] if taken.had else []
    parts += [f"{taken.quarantined} in quarantine"] if taken.quarantined else []
    parts += [f"{taken.photos} photos"] if taken.photos else []
    said = "".join(f"\n  {remark}" for remark in taken.remarks)
    return f"{taken.file}: {taken.what}; {', '.join(parts)}.{said}"


def add_to(group: click.Group) -> None:
    """Add this command to a group."""
    group.add_command(take_in)
