"""The table of checks beside the source: same codes, same limits, same defaults, every one tested."""

import ast
import importlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from shared_core import slips
from shared_core.records import KINDS
from shared_core.records.base import Severity
from shared_core.records.checks import CHECKS, LIMITS, is_limit
from shared_core.records.water_setup import Limits
from tests.shared_core.records.limit_cases import CASES, SITE_LIMIT, Case, finds
from tests.shared_core.records.swamp import JULY, SITE, Swamp

ROOT = Path(__file__).resolve().parents[3]
SOURCES = [
    path
    for room in ("shared_core", "sync_server", "mobile")
    for path in sorted((ROOT / room).rglob("*.py"))
    if not path.name.startswith("checks")
]
NAMING = {"_asks", "overview", "_overview", "_noted"}  # functions whose first argument is a code
PROBLEMS = {"sync_server/problems.py"}  # codes of HTTP problems are another list
BY_ITS_SENTENCE = {"meter-name": "is the name of a meter that was here before"}  # judged on screen
ORIGINS = re.compile(
    r"\d{4}|computed|from memory|common practice|licence|BoM|NSW|own|Victorian|USGS|UF/IFAS|conservation"
)


def constants(node: ast.expr) -> Iterator[str]:
    """Yield the words that an expression may be: a constant, or either side of a choice."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.IfExp):
        yield from constants(node.body)
        yield from constants(node.orelse)


def codes_in(path: Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if not isinstance(node, ast.Call):
            continue
        name = getattr(node.func, "id", getattr(node.func, "attr", ""))
        if name in ("Finding", "Found"):
            for keyword in node.keywords:
                if keyword.arg == "code":
                    yield from constants(keyword.value)
        elif name in NAMING and node.args:
            yield from constants(node.args[0])


def limits_read() -> Iterator[tuple[str, str, ast.expr]]:
    """Yield module, limit and default of each place in the source that reads a limit."""
    for path in SOURCES:
        module = ".".join(path.relative_to(ROOT).with_suffix("").parts)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            is_get = isinstance(node, ast.Call) and isinstance(node.func, ast.Attribute)
            if not is_get or not isinstance(node, ast.Call) or len(node.args) != 2:
                continue
            source = ast.unparse(node.func)
            if source in ("limits.get", "scene.limits.get", "self.scene.limits.get"):
                for name in constants(node.args[0]):
                    yield module, name, node.args[1]


def test_every_code_of_the_source_stands_in_the_table_and_the_other_way_round() -> None:
    found = {
        code
        for path in SOURCES
        if path.relative_to(ROOT).as_posix() not in PROBLEMS
        for code in codes_in(path)
    }
    # A reading's slip gives its finding the slip's own code; a passed zero has a finding of its own.
    assert found | set(slips._WEIGHTS) == set(CHECKS)


def test_every_limit_read_in_the_source_stands_in_the_table_and_the_other_way_round() -> None:
    read = {name for _, name, _ in limits_read() if is_limit(name) and name in LIMITS}
    unknown = {name for _, name, _ in limits_read() if not is_limit(name)}
    assert not unknown
    assert read == set(LIMITS)


def test_every_default_in_the_source_is_that_of_the_table() -> None:
    compared = set()
    for module, name, default in limits_read():
        known = vars(importlib.import_module(module))
        first = ast.unparse(default).partition(".")[0].partition("[")[0]
        if name in LIMITS and first in known and LIMITS[name].default is not None:
            value = eval(compile(ast.Expression(default), module, "eval"), dict(known))
            assert value == pytest.approx(LIMITS[name].default), (module, name)
            compared.add(name)
    assert compared == {name for name, limit in LIMITS.items() if limit.default is not None}


def test_the_limits_of_a_check_are_limits_and_every_limit_belongs_to_a_check() -> None:
    named = {name for check in CHECKS.values() for name in check.limits}
    assert named == set(LIMITS)


@pytest.mark.parametrize("code", CHECKS)
def test_every_check_names_its_kinds_its_severity_and_its_origin(code: str) -> None:
    check = CHECKS[code]
    kinds = {kind.kind for kind in KINDS} | {"any"}
    assert set(check.kinds.split()) <= kinds
    assert {Severity(word) for word in check.severity.split()}
    assert ORIGINS.search(check.origin) or check.origin == "the field's own range"
    assert check.asks
    assert "|" not in "".join((check.asks, check.origin))


@pytest.mark.parametrize("name", LIMITS)
def test_every_limit_names_its_origin(name: str) -> None:
    assert ORIGINS.search(LIMITS[name].origin)


def test_all_forty_two_checks_of_the_trade_are_there() -> None:
    assert {check.number for check in CHECKS.values()} == set(range(43))


@pytest.mark.parametrize("code", CHECKS)
def test_every_code_is_named_in_a_test_of_its_behaviour(code: str) -> None:
    tests = (path for path in (ROOT / "tests").rglob("*.py") if path != Path(__file__))
    named = BY_ITS_SENTENCE.get(code, f'"{code}"')
    assert any(named in path.read_text(encoding="utf-8") for path in tests)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.limit}: {case.code}")
def test_a_check_is_silent_at_its_limit(case: Case, swamp: Swamp) -> None:
    assert not finds(swamp, case, case.value - case.slack)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.limit}: {case.code}")
def test_a_check_asks_beyond_its_limit(case: Case, swamp: Swamp) -> None:
    assert finds(swamp, case, case.value + case.slack)


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.limit}: {case.code}")
def test_a_site_can_set_a_limit_for_itself(case: Case, swamp: Swamp) -> None:
    row = (case.limit, case.value + 3 * case.slack, "")
    swamp.write(Limits(site=SITE, valid_from=JULY, values=(row,)))
    assert not finds(swamp, case, case.value + case.slack)
    assert case.limit not in SITE_LIMIT or LIMITS[case.limit].default is None
