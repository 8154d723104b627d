"""The command line of the server; each command says what was wrong in a sentence, exit status 2."""

import sys
from pathlib import Path
from typing import Final

import click
import uvicorn

from shared_core.errors import StrandlineError
from shared_core.logbook_file import sqlite_warning
from sync_server import cli_checks, cli_files, cli_people, cli_season, cli_water
from sync_server.app import create_app
from sync_server.settings import LOOPBACK, Settings

STOPPED: Final = 2
KEEP_OPEN_S: Final = 75  # keeps a tablet's connection between two requests


class Sentences(click.Group):
    """A group whose commands end in a sentence instead of a trace."""

    def invoke(self, ctx: click.Context) -> object:
        """Run a command.

        Returns:
            What the command returns.
        """
        try:
            return super().invoke(ctx)
        except StrandlineError as error:
            click.echo(f"{error}", err=True)
        except BrokenPipeError:
            raise  # the reader had enough, as `head` has; click ends quietly
        except OSError as error:
            click.echo(f"{error.filename or 'the file'}: {error.strerror or error}", err=True)
        raise click.exceptions.Exit(STOPPED)


@click.group(cls=Sentences, context_settings={"help_option_names": ["-h", "--help"]})
def main() -> None:
    """The sync server of Strandline: merges several teams' visits and answers for every figure."""


@main.command()
@click.option("--data", type=click.Path(path_type=Path), required=True, help="Data folder.")
@click.option("--host", default=LOOPBACK, show_default=True, help="Address to listen on.")
@click.option("--port", default=8417, show_default=True, type=click.IntRange(0, 65535))
def serve(data: Path, host: str, port: int) -> None:
    """Serve the tablets, on this machine only unless told otherwise."""
    settings = Settings(data=data, host=host, port=port)
    for warning in (sqlite_warning(), _exposed(settings)):
        if warning:
            click.echo(warning, err=True)
    app = create_app(settings)
    click.echo(f"Serving {data} on http://{host}:{port}  (stop with Ctrl-C)")
    uvicorn.run(
        app,
        host=host,
        port=port,
        server_header=False,
        log_level="warning",
        timeout_keep_alive=KEEP_OPEN_S,
    )


def _exposed(settings: Settings) -> str:
    if settings.on_loopback:
        return ""
    return (
        f"Listening on {settings.host}: others can reach this server and the line is not"
        " encrypted. Put a proxy with TLS in front of it."
    )


cli_people.add_to(main)
cli_files.add_to(main)
cli_checks.add_to(main)
cli_water.add_to(main)
cli_season.add_to(main)

if __name__ == "__main__":
    sys.exit(main())
