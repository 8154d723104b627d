"""The pages say what the code does: commands, words, names of tests, links, generated parts."""

import importlib
import importlib.util
import re
import types
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any, Final

import click
import pytest
from click.testing import CliRunner

from demo_visits import __main__ as demo_command
from demo_visits.server_process import answer_of, free_port, running
from mobile import __main__ as tablet_command
from shared_core.logbook import Logbook
from shared_core.merge import NO_CHAIN, chain_holds, read_entry
from shared_core.records import KINDS
from shared_core.records.base import QUALITIES, Record, Severity
from shared_core.records.staff_gauge import STATES
from sync_server.access import ROLES
from sync_server.check_table import with_tables
from sync_server.cli import main as server_command
from sync_server.data_folder import LOGBOOK_NAME
from sync_server.reference import reference_page
from tests.logbooks import ANA, START, counting, reading, ticking

ROOT: Final = Path(__file__).resolve().parent.parent
DOCS: Final = ROOT / "docs"
DECISIONS: Final = sorted((DOCS / "decisions").glob("*.md"))
PAGES: Final = sorted(
    page for page in (ROOT / "README.md", ROOT / "DEVELOPERS.md", *DOCS.rglob("*.md"))
)
NAMES: Final = [str(page.relative_to(ROOT)) for page in PAGES]
LONGEST_DECISION: Final = 40  # lines
LONGEST_DEVELOPERS: Final = 200
OWN_WORDS: Final = (  # words that a page of terms must hold
    "Field", "Record", "Entry", "Logbook", "Finding", "Answer", "Known", "Exchange", "Peer", "Place",
    "Carry file", "Balance", "Disputed", "Stage", "Level", "Depth",
)  # fmt: skip
every_page = pytest.mark.parametrize("page", PAGES, ids=NAMES)


def read(name: str) -> str:
    return (ROOT / name).read_text(encoding="utf-8")


def code_in(text: str) -> Iterator[str]:
    """Yield every line of a code block and every span of code in a page."""
    fenced = re.compile(r"^```.*?^```$", re.MULTILINE | re.DOTALL)
    for block in fenced.findall(text):
        yield from block.replace("\\\n", " ").splitlines()[1:-1]
    rest = fenced.sub("", text)
    yield from re.findall(r"^ {4,}(\S.*)$", rest, re.MULTILINE)
    yield from re.findall(r"`([^`\n]+)`", rest)


# generated parts and worked examples --------------------------------------------------------------


def test_the_record_reference_is_what_the_fields_say_now() -> None:
    assert read("docs/record_reference.md") == reference_page(KINDS)


def test_the_methods_hold_the_tables_of_checks_as_they_are_now() -> None:
    assert with_tables(read("docs/methods.md")) == read("docs/methods.md")


def test_the_reference_names_every_field_with_its_unit_range_and_answers() -> None:
    page = reference_page(KINDS)
    assert "| `stage_m` | Stage | m |  |  | real |" in page
    assert "| `cover_pct`" not in page  # a column of a table, told in its row
    assert "`cover_pct` Cover [%]" in page
    assert "| `rain_mm` | Rain | mm | 0 to 300 | yes | real |" in page
    assert all(f"`{word}` {shown}" in page for word, shown in STATES.items())


def test_the_worked_example_of_the_chain_comes_out() -> None:
    first, second = re.findall(r'^\{"entry":.*\}$', read("docs/wire.md"), re.MULTILINE)
    assert chain_holds(first, NO_CHAIN)
    assert chain_holds(second, read_entry(first).chain)
    assert read_entry(second).replaces == (read_entry(first).entry,)
    assert not chain_holds(second.replace("0.43", "0.44"), read_entry(first).chain)


def test_the_worked_example_of_a_new_kind_is_all_it_takes() -> None:
    (source,) = re.findall(r"^```python\n(.*?)^```$", read("DEVELOPERS.md"), re.M | re.S)
    module = types.ModuleType("frog_survey")
    exec(compile(source, "DEVELOPERS.md", "exec"), module.__dict__)
    kind: type[Record] = module.FrogSurvey
    heard = kind.decoded(
        {
            "site": "REEDY", "visit": "V1", "point": "P1", "seen_at": START.isoformat(),
            "offset_min": 600, "time_source": "gnss", "observers": ["Ana Invented"],
            "callers": 40, "chorus": "none",
        }
    )  # fmt: skip
    with Logbook(
        ":memory:", device="t", clock=ticking(), new_id=counting("t"), kinds=(*KINDS, kind)
    ) as book:
        entry = book.write(heard, ANA)
        standing = book.standing(entry.record)
        assert standing is not None
        assert standing.record == heard
        assert [found.code for found in heard.findings(book.known())] == ["frogs-no-chorus"]
    assert "## Frogs heard" in reference_page((kind,))


def test_the_program_that_corrects_a_record_corrects_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    data, port = tmp_path / "season", free_port()
    data.mkdir()
    with Logbook(data / LOGBOOK_NAME, device="t", clock=ticking(), new_id=counting("t")) as book:
        record_id = book.write(reading(0.46), ANA).record
    words = ("Ruth Invented", "--role", "coordinator", "--data", str(data))
    with running(data, port):
        code = answer_of("invite", *words)["typed"]
        (source,) = re.findall(
            r"^```python\n(.*?)^```$", read("docs/run_the_server.md"), re.M | re.S
        )
        for name, value in (
            ("URL", f"http://127.0.0.1:{port}"),
            ("CODE", code),
            ("RECORD", record_id),
        ):
            source, count = re.subn(rf'^{name} = ".*"$', f"{name} = {value!r}", source, flags=re.M)
            assert count == 1
        monkeypatch.chdir(tmp_path)
        space: dict[str, Any] = {}
        exec(compile(source, "run_the_server.md", "exec"), space)
        space["office"].close()
        space["server"].close()
    with Logbook(data / LOGBOOK_NAME, device="t", clock=ticking(), new_id=counting("u")) as book:
        first, correction = book.history(record_id)
        assert (first.body or {})["stage_m"] == 0.46
        assert (correction.body or {})["stage_m"] == 0.64
        assert (correction.author, correction.note) == (
            "Ruth Invented",
            "the plate in the photo shows 0.640",
        )


# words --------------------------------------------------------------------------------------------


def test_every_class_the_glossary_names_exists() -> None:
    names = re.findall(
        r"`((?:shared_core|sync_server|mobile|demo_visits)\.[\w.]+)`", read("docs/glossary.md")
    )
    assert len(names) > 30
    missing = [name for name in names if not exists(name)]
    assert missing == []


def exists(dotted: str) -> bool:
    parts = dotted.split(".")
    for end in range(len(parts), 0, -1):
        name = ".".join(parts[:end])
        try:
            found: object = importlib.import_module(name)
        except ModuleNotFoundError:
            continue
        for part in parts[end:]:
            if not hasattr(found, part):
                return False
            found = getattr(found, part)
        return True
    return False


def test_the_glossary_holds_the_words_of_the_project() -> None:
    page = read("docs/glossary.md")
    assert [word for word in OWN_WORDS if f"| **{word}** |" not in page] == []
    stored = re.findall(r"^\| `(\w+)` \|", page, re.MULTILINE)
    assert set(stored) == {*QUALITIES, *Severity, *ROLES}
    assert [word for word, shown in QUALITIES.items() if f"`{word}` | {shown} |" not in page] == []
    assert [shown for shown in STATES.values() if f"**{shown.lower()}**" not in page.lower()] == []


@every_page
def test_no_page_calls_a_situation_by_a_word_that_is_not_ours_to_use(page: Path) -> None:
    text = " ".join(page.read_text(encoding="utf-8").split()).replace("safe work plan", "")
    for sentence in re.split(r"(?<=[.!?:|])\s", text):
        for found in re.finditer(r"\b(safe|safely|safer|compliant)\b", sentence, re.IGNORECASE):
            before = sentence[: found.start()]
            assert re.search(r"\b(not|never|no|nor|neither)\b", before, re.IGNORECASE), sentence


def test_the_wire_names_every_problem_of_the_server() -> None:
    room = (ROOT / "sync_server").rglob("*.py")
    source = "\n".join(path.read_text(encoding="utf-8") for path in room)
    raised = re.findall(r'(?:ProblemError\(|: \()\s*(4\d\d|500),\s*"([a-z-]+)"', source)
    raised += [(status, name) for status, name in re.findall(r'\b(4\d\d): "([a-z-]+)"', source)]
    rows = re.findall(r"^\| (\d{3}) \| (.*) \|$", read("docs/wire.md"), re.MULTILINE)
    told = {(status, name) for status, names in rows for name in re.findall(r"`([\w-]+)`", names)}
    assert len(raised) > 15
    assert set(raised) - told == set()
    assert told - set(raised) == {("422", "unreadable")}  # what is left of the errors on purpose


# commands -----------------------------------------------------------------------------------------


@cache
def help_of(command: str, word: str = "") -> str:
    if command == "strandline-demo":
        return demo_command._arguments().format_help()
    if command == "strandline-tablet":
        return tablet_command._arguments().format_help()
    words = [word, "--help"] if word else ["--help"]
    return CliRunner().invoke(server_command, words, catch_exceptions=False).output


def spoken(text: str) -> Iterator[tuple[str, str, list[str]]]:
    """Yield every command in a page: program, word after it, options."""
    for code in code_in(text):
        for program, rest in re.findall(r"\b(strandline-(?:server|demo|tablet))\b([^|;&#]*)", code):
            words = rest.split()
            word = words[0] if program == "strandline-server" and words else ""
            options = [option.partition("=")[0] for option in words if option.startswith("--")]
            yield program, "" if word.startswith("-") else word, options


@every_page
def test_every_command_and_option_exists(page: Path) -> None:
    for program, word, options in spoken(page.read_text(encoding="utf-8")):
        assert not word or word in server_command.commands, f"{program} {word}"
        known = help_of(program, word)
        missing = [option for option in options if not re.search(rf"{option}\b", known)]
        assert missing == [], f"{program} {word}"


def test_every_option_in_the_tables_of_the_server_belongs_to_its_command() -> None:
    page = read("docs/run_the_server.md")
    tables = re.findall(r"^\| option of `strandline-server ([\w-]+)` .*\n((?:\|.*\n)+)", page, re.M)
    named = dict(tables)
    named |= dict(re.findall(r"^\| `strandline-server ([\w-]+)` \|(.*)$", page, re.M))
    assert set(named) == set(server_command.commands) - {"people", "revoke"}
    for word, rows in named.items():
        assert options_in(rows) == options_of(server_command.commands[word]), word


def options_in(rows: str) -> set[str]:
    return set(re.findall(r"`(--[\w-]+)`", rows))


def options_of(command: click.Command) -> set[str]:
    return {
        option
        for parameter in command.params
        for option in parameter.opts
        if option.startswith("--")
    }


@every_page
def test_every_module_that_is_run_exists(page: Path) -> None:
    for code in code_in(page.read_text(encoding="utf-8")):
        for module in re.findall(r"python3? -m ([\w.]+)", code):
            assert importlib.util.find_spec(module), module


# files and links ----------------------------------------------------------------------------------


@pytest.mark.parametrize("page", DECISIONS, ids=lambda page: page.stem)
def test_a_decision_is_short_and_its_last_line_names_a_test_that_exists(page: Path) -> None:
    lines = page.read_text(encoding="utf-8").rstrip("\n").split("\n")
    assert len(lines) <= LONGEST_DECISION
    guard = re.fullmatch(r"Guarded by `(tests/[\w/]+\.py)::(test_\w+)`", lines[-1])
    assert guard, lines[-1]
    assert f"def {guard[2]}(" in read(guard[1])


def test_decisions_are_numbered_without_a_gap() -> None:
    numbers = [int(page.name[:4]) for page in DECISIONS]
    assert numbers == list(range(1, len(numbers) + 1))
    titles = [page.read_text(encoding="utf-8").partition("\n")[0] for page in DECISIONS]
    assert [title.partition(".")[0] for title in titles] == [f"# {number}" for number in numbers]


@every_page
def test_every_link_leads_somewhere(page: Path) -> None:
    text = re.sub(r"^```.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.M | re.S)
    for target in re.findall(r"\]\(([^)\s]+)\)", text):
        if re.match(r"\w+://", target):
            continue
        name, _, anchor = target.partition("#")
        there = (page.parent / name).resolve() if name else page
        assert there.exists(), target
        if anchor:
            assert anchor in anchors_of(there), target


def anchors_of(page: Path) -> set[str]:
    headings = re.findall(r"^#+ (.*)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", title.lower()).replace(" ", "-") for title in headings}


@every_page
def test_every_file_that_is_named_exists(page: Path) -> None:
    rooms = r"(?:shared_core|sync_server|mobile|demo_visits|tests|docs)"
    for code in code_in(page.read_text(encoding="utf-8")):
        for name in re.findall(rf"\b{rooms}/[\w/.]*\w\.(?:py|md|json|kv)\b", code):
            assert (ROOT / name).is_file(), name


def test_developers_is_short() -> None:
    assert len(read("DEVELOPERS.md").splitlines()) <= LONGEST_DEVELOPERS


def test_the_map_names_every_module_of_the_core() -> None:
    modules = {path.stem for path in (ROOT / "shared_core").glob("*.py")} - {"__init__"}
    part = read("DEVELOPERS.md").partition("## Map of the rooms")[2].partition("| room |")[0]
    named = set(re.findall(r"`(\w+)`", part)) - {"KINDS"}
    assert named - {"records"} == modules


def test_the_officers_page_names_every_state_of_a_gauge() -> None:
    page = read("docs/for_officers.md")
    assert [
        state for state in STATES.values() if state.partition(",")[0].split(" with")[0] not in page
    ] == []
