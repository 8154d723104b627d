"""Commands about people and devices: invite, people, revoke."""

import contextlib
import json
import secrets
from collections.abc import Iterator
from pathlib import Path

import click
import segno

from shared_core.errors import UnknownError
from sync_server.access import ROLES, USUAL_MINUTES, Access, Invitation
from sync_server.access_store import FILE_NAME, AccessStore, Person
from sync_server.app import real_clock

data_option = click.option(
    "--data", type=click.Path(path_type=Path), required=True, help="Data folder."
)
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON.")


@contextlib.contextmanager
def opened_access(data: Path, *, make: bool = False) -> Iterator[Access]:
    """Yield the access file of a data folder; the server may be running.

    Raises:
        UnknownError: if there is none and it is not to be made.
    """
    if make:
        data.mkdir(parents=True, exist_ok=True)
    elif not (data / FILE_NAME).is_file():
        raise UnknownError(f"{data} is no data folder of this server; nobody was invited there")
    store = AccessStore(data / FILE_NAME)
    try:
        yield Access(store, secret=secrets.token_bytes)
    finally:
        store.close()


@click.command()
@click.argument("name")
@click.option("--role", type=click.Choice(ROLES), required=True)
@click.option("--site", "sites", multiple=True, help="Site code; once for each site.")
@click.option("--point", "points", multiple=True, help="Gauge or meter a landholder reads.")
@click.option("--minutes", default=USUAL_MINUTES, show_default=True, help="How long it works.")
@click.option("--server", default="", help="Address tablets reach this server at, for the QR.")
@data_option
@json_option
def invite(  # noqa: PLR0913 - one for each option
    *,
    name: str,
    role: str,
    sites: tuple[str, ...],
    points: tuple[str, ...],
    minutes: float,
    server: str,
    data: Path,
    as_json: bool,
) -> None:
    """Invite NAME: print a code that lets one device in, once."""
    person = Person(name=name, role=role, sites=sites, points=points)
    with opened_access(data, make=True) as access:
        invitation = access.invite(person, real_clock(), minutes)
    carried = f"strandline:{invitation.code}" + (f"@{server}" if server else "")
    click.echo(_as_json(invitation, carried) if as_json else _as_text(invitation, carried))


def _as_json(invitation: Invitation, carried: str) -> str:
    return json.dumps(
        {
            "name": invitation.person.name,
            "role": invitation.person.role,
            "sites": invitation.person.sites,
            "points": invitation.person.points,
            "code": invitation.code,
            "typed": invitation.typed,
            "expires_at": invitation.expires_at.isoformat(timespec="seconds"),
            "qr": carried,
        },
        ensure_ascii=False,
    )


def _as_text(invitation: Invitation, carried: str) -> str:
    person = invitation.person
    return "\n".join(
        (
            f"{person.name}, {person.role}, {', '.join(person.sites) or 'all sites'}",
            f"Code to type:  {invitation.typed}",
            f"Works once, until {invitation.expires_at:%Y-%m-%d %H:%M} UTC.",
            "",
            qr_text(carried),
        )
    )


def qr_text(carried: str) -> str:
    """Return a QR code as lines of half blocks, light on dark as most terminals are."""
    rows = [list(row) for row in segno.make(carried, error="m").matrix_iter(border=2)]
    if len(rows) % 2:
        rows.append([0] * len(rows[0]))
    blocks = {(0, 0): "\u2588", (0, 1): "\u2580", (1, 0): "\u2584", (1, 1): " "}
    pairs = zip(rows[::2], rows[1::2], strict=True)
    return "\n".join(
        "".join(blocks[int(a), int(b)] for a, b in zip(upper, lower, strict=True))
        for upper, lower in pairs
    )


@click.command()
@data_option
@json_option
def people(*, data: Path, as_json: bool) -> None:
    """List people with their role, sites and devices."""
    with opened_access(data) as access:
        devices = access.store.devices()
        rows = [
            {
                "name": person.name,
                "role": person.role,
                "sites": list(person.sites),
                "devices": [
                    device.name + (" (revoked)" if device.revoked_at else "")
                    for device in devices
                    if device.person == person.name
                ],
            }
            for person in access.store.people()
        ]
    if as_json:
        click.echo(json.dumps(rows, ensure_ascii=False))
        return
    for row in rows:
        sites, held = ", ".join(row["sites"]) or "all sites", ", ".join(row["devices"])
        click.echo(f"{row['name']}: {row['role']}, {sites}; {held or 'no device'}")


@click.command()
@click.argument("device")
@data_option
def revoke(device: str, data: Path) -> None:
    """Shut DEVICE out, such as a lost tablet; what it still sends goes to quarantine."""
    with opened_access(data) as access:
        access.revoke(device, real_clock())
    click.echo(f"{device} is shut out. What it still sends waits in quarantine.")


def add_to(group: click.Group) -> None:
    """Add these commands to a group."""
    for command in (invite, people, revoke):
        group.add_command(command)
