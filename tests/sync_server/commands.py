"""Running the server's commands in this process, for the tests of this folder."""

from pathlib import Path

from click.testing import CliRunner, Result

from shared_core.logbook import Said
from sync_server.cli import main
from sync_server.store import Store
from tests.sync_server.rooms import Clock, Names, rain, site


def run(*words: object) -> Result:
    return CliRunner().invoke(main, [str(word) for word in words])


def fine(*words: object) -> str:
    result = run(*words)
    assert result.exit_code == 0, result.output
    return result.stdout


def refused(*words: object) -> str:
    result = run(*words)
    assert result.exit_code == 2, result.output
    assert "Traceback" not in result.output
    assert result.exception is None or isinstance(result.exception, SystemExit)
    return result.stderr


def data_folder(tmp_path: Path) -> Path:
    """A data folder with a site and one odd reading of rain."""
    folder = tmp_path / "data"
    store = Store(folder, clock=Clock(), new_id=Names())
    with store.opened() as logbook:
        logbook.write(site(), Said(author="Kim"))
        logbook.write(rain(999.0), Said(author="Kim"))
    store.close()
    return folder
