"""What a linter of imports cannot say about the shape of the project."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from shared_core.field_kinds import Field

ROOT = Path(__file__).parents[1]
PACKAGES = ("shared_core", "mobile", "sync_server", "demo_visits", "tests")
LONGEST_FILE = 400  # lines; what one reads in one sitting
UNCLEAR_NAMES = {"utils", "helpers", "manager", "service", "handler"}
MAY_USE_SQLITE = {"logbook_file.py", "known.py"}  # of the core


def files(*packages: str) -> list[Path]:
    return sorted(path for package in packages for path in (ROOT / package).rglob("*.py"))


def name_of(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imported(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import"
            yield str(node.module)
        elif isinstance(node, ast.Import):
            yield from (name.name for name in node.names)


every_file_of_the_core = pytest.mark.parametrize("path", files("shared_core"), ids=name_of)


@every_file_of_the_core
def test_the_core_imports_itself_and_the_standard_library(path: Path) -> None:
    allowed = {*sys.stdlib_module_names, "shared_core"}
    assert {name.partition(".")[0] for name in imported(path)} <= allowed


@every_file_of_the_core
def test_the_core_has_no_network_no_thread_and_no_chance(path: Path) -> None:
    unwanted = {
        "socket", "http", "urllib", "ssl", "asyncio", "threading", "multiprocessing", "subprocess",
        "random", "secrets", "time", "tempfile", "logging", "importlib", "pickle",
    }  # fmt: skip
    assert not {name.partition(".")[0] for name in imported(path)} & unwanted


@every_file_of_the_core
def test_the_core_reads_no_clock_draws_no_number_and_prints_nothing(path: Path) -> None:
    unwanted = {
        "now",
        "utcnow",
        "today",
        "uuid1",
        "uuid4",
        "print",
        "input",
        "urandom",
        "eval",
        "exec",
    }
    called = {
        node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
    }
    assert not called & unwanted


@every_file_of_the_core
def test_every_module_of_the_core_says_what_it_is(path: Path) -> None:
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))


@pytest.mark.parametrize("path", files(*PACKAGES), ids=name_of)
def test_a_file_can_be_read_in_one_sitting(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= LONGEST_FILE


def test_no_file_has_a_name_that_says_nothing() -> None:
    unclear = [path for path in files(*PACKAGES) if set(path.stem.split("_")) & UNCLEAR_NAMES]
    assert unclear == []


def test_only_the_logbook_and_the_servers_stores_speak_to_sqlite() -> None:
    users = {
        path.relative_to(ROOT)
        for path in files("shared_core", "mobile", "sync_server", "demo_visits")
        if "sqlite3" in set(imported(path))
    }
    core = {path.name for path in users if path.parts[0] == "shared_core"}
    assert core == MAY_USE_SQLITE
    elsewhere = {path for path in users if path.parts[0] not in ("shared_core", "sync_server")}
    assert elsewhere == set()


def kinds_of_field() -> set[type[Field]]:
    def below(kind: type[Field]) -> set[type[Field]]:
        return {kind}.union(*(below(inner) for inner in kind.__subclasses__()))

    return {kind for kind in below(Field) - {Field} if kind.__module__.startswith("shared_core.")}


def test_every_kind_of_field_can_be_drawn_in_the_tests() -> None:
    from tests.strategies import _DRAWN

    assert set(_DRAWN) == kinds_of_field()


def test_every_kind_of_field_has_a_box_on_the_tablet() -> None:
    tree = ast.parse((ROOT / "mobile/widgets/boxes.py").read_text(encoding="utf-8"))
    (table,) = (
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.AnnAssign) and getattr(node.target, "id", "") == "BOX_FOR"
    )
    assert isinstance(table, ast.Dict)
    boxed = {key.attr for key in table.keys if isinstance(key, ast.Attribute)}
    assert {kind.__name__ for kind in kinds_of_field()} <= boxed
