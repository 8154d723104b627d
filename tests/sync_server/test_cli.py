"""The commands: what they print, and the sentence and status 2 for what cannot be done."""

import json
import sqlite3
from pathlib import Path

import pytest

from shared_core.carry import write_carry
from shared_core.logbook import Logbook, Said
from sync_server.app import real_clock, real_id
from sync_server.data_folder import LOGBOOK_NAME
from sync_server.store import Store
from tests.sync_server.commands import data_folder, fine, refused, run
from tests.sync_server.rooms import SITE, START, Clock, Names, gauge
from tests.sync_server.test_intake import rewritten

WEATHER = "date,rain_mm,eto_mm\n2023-08-01,0.0,1.9\n2023-08-02,4.2,2.0\n"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return data_folder(tmp_path)


def central_size(data: Path) -> int:
    store = Store(data, clock=real_clock, new_id=real_id)
    with store.opened() as logbook:
        size = logbook.size()
    store.close()
    return size


def carry(tmp_path: Path, *, changed: bool = False) -> Path:
    path = tmp_path / "ana.strand"
    with Logbook(":memory:", device="ANA-1", clock=Clock(), new_id=Names(9)) as logbook:
        logbook.write(gauge(), Said(author="Ana"))
        write_carry(path, logbook, None, made_at=START)
    if changed:
        rewritten(path, "entries", b"{}\n")
    return path


# people -------------------------------------------------------------------------------------------


def test_invite_prints_a_code_to_type_and_one_to_photograph(tmp_path: Path) -> None:
    words = ("invite", "Ana", "--role", "officer", "--site", SITE, "--data", tmp_path / "d")
    text = fine(*words)
    assert "Code to type:" in text
    assert "\u2588" in text
    found = json.loads(fine(*words, "--json", "--server", "https://server.example"))
    assert found["sites"] == [SITE]
    assert found["qr"] == f"strandline:{found['code']}@https://server.example"
    people = json.loads(fine("people", "--data", tmp_path / "d", "--json"))
    assert people == [{"name": "Ana", "role": "officer", "sites": [SITE], "devices": []}]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("Ana", "--role", "officer"), "at least one site"),
        (("Ana", "--role", "king", "--site", SITE), "king"),
        (("Ana", "--site", SITE), "--role"),
        (("Ana", "--role", "officer", "--site", SITE, "--minutes", "0"), "minutes"),
        (("Ana", "--role", "officer", "--site", SITE, "--minutes", "soon"), "soon"),
    ],
)
def test_an_invitation_that_cannot_be_right_says_why(
    tmp_path: Path, words: tuple[str, ...], says: str
) -> None:
    assert says in refused("invite", *words, "--data", tmp_path)


def test_revoke_names_an_unknown_device_and_an_unknown_folder(tmp_path: Path) -> None:
    assert "no data folder" in refused("revoke", "X", "--data", tmp_path)
    fine("invite", "Ana", "--role", "officer", "--site", SITE, "--data", tmp_path)
    assert "X" in refused("revoke", "X", "--data", tmp_path)


# take-in ------------------------------------------------------------------------------------------


def test_take_in_takes_the_sound_files_and_names_the_broken_ones(
    tmp_path: Path, data: Path
) -> None:
    good, bad = tmp_path / "good.csv", tmp_path / "bad.csv"
    good.write_text(WEATHER)
    bad.write_text(WEATHER + "2023-08-03,wet,1\n")
    before = central_size(data)
    result = run("take-in", bad, good, tmp_path / "none.csv", carry(tmp_path), "--data", data)
    assert result.exit_code == 2
    assert "bad.csv: row 4, rain_mm: 'wet' is no number" in result.stderr
    assert "none.csv" in result.stderr
    assert "good.csv: 2 days of weather; 1 taken." in result.stdout
    assert central_size(data) == before + 2
    assert "were here already" in fine("take-in", good, "--data", data)


def test_take_in_prints_json(tmp_path: Path, data: Path) -> None:
    found = json.loads(fine("take-in", carry(tmp_path), "--data", data, "--json"))
    assert [(row["file"], row["taken"]) for row in found] == [("ana.strand", 1)]


def test_a_changed_carry_file_is_refused_and_the_store_is_as_before(
    tmp_path: Path, data: Path
) -> None:
    before = central_size(data)
    assert "ana.strand" in refused("take-in", carry(tmp_path, changed=True), "--data", data)
    assert central_size(data) == before


def test_take_in_asks_for_the_site_and_refuses_an_unknown_one(tmp_path: Path, data: Path) -> None:
    path = tmp_path / "w.csv"
    path.write_text(WEATHER)
    assert "which site" in refused("take-in", path, "--data", tmp_path / "new")
    assert SITE in refused("take-in", path, "--data", data, "--site", "NOWHERE")
    assert refused("take-in", "--data", data)


def test_two_programs_on_one_folder_are_kept_apart(tmp_path: Path, data: Path) -> None:
    store = Store(data, clock=real_clock, new_id=real_id)
    assert "stop it first" in refused("take-in", carry(tmp_path), "--data", data)
    assert "stop it first" in refused("serve", "--data", data)
    fine("verify", "--data", data)
    store.close()


def test_a_store_of_a_newer_version_is_left_alone(tmp_path: Path, data: Path) -> None:
    with sqlite3.connect(data / LOGBOOK_NAME) as file:
        file.execute("pragma user_version=99")
    file.close()
    before = (data / LOGBOOK_NAME).read_bytes()
    for words in (
        ("take-in", carry(tmp_path), "--data", data),
        ("verify", "--data", data),
        ("balance", "--data", data, "--site", SITE),
        ("audit", data / LOGBOOK_NAME),
        ("serve", "--data", data),
    ):
        assert "newer version" in refused(*words)
    assert (data / LOGBOOK_NAME).read_bytes() == before


# audit and verify ---------------------------------------------------------------------------------


def test_audit_prints_findings_as_lines_of_json(tmp_path: Path, data: Path) -> None:
    for words in ((), ("--hindsight",)):
        lines = fine("audit", data / LOGBOOK_NAME, *words).splitlines()
        found = [json.loads(line) for line in lines]
        assert {"rain_mm"} <= {row["field"] for row in found}
        keys = ["entry", "record", "kind", "field", "code", "severity", "says", "suggests"]
        assert all(list(row) == keys for row in found)
    fine("audit", carry(tmp_path))


def test_audit_refuses_what_is_neither_logbook_nor_carry_file(tmp_path: Path) -> None:
    path = tmp_path / "notes.txt"
    assert "no file" in refused("audit", path)
    path.write_text("dear diary")
    assert "neither" in refused("audit", path)
    assert refused("audit", carry(tmp_path, changed=True))


def test_verify_is_content_with_what_is_as_it_was_written(data: Path) -> None:
    assert "All is as it was written" in fine("verify", "--data", data)
    assert json.loads(fine("verify", "--data", data, "--json")) == {"problems": []}


def test_verify_names_a_changed_line_and_a_changed_photo(data: Path) -> None:
    store = Store(data, clock=Clock(), new_id=Names(5))
    with store.opened() as logbook:
        logbook.write(gauge(photos=("e" * 64,)), Said(author="Kim"))
    store.close()
    with sqlite3.connect(data / LOGBOOK_NAME) as file:
        file.execute("update entry set line = replace(line, '999', '998') where kind like 'rain%'")
    file.close()
    photo = data / "photos" / "aa" / ("a" * 64)
    photo.parent.mkdir(parents=True)
    photo.write_bytes(b"rotten")
    result = run("verify", "--data", data, "--json")
    assert result.exit_code == 1
    says = "\n".join(json.loads(result.stdout)["problems"])
    assert "chain" in says or "seal" in says
    assert "a" * 64 in says
    assert "e" * 64 in says


def test_verify_without_a_logbook_says_so(tmp_path: Path) -> None:
    assert "no logbook" in refused("verify", "--data", tmp_path)
