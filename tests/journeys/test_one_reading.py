"""One reading from finger to funder, and one correction back: through the real server over HTTP."""

from collections.abc import Iterator
from datetime import datetime, timedelta, timezone
from pathlib import Path
from typing import Final

import pytest

from demo_visits.server_process import answer_of, command, free_port, running
from demo_visits.tablet import Tablet
from mobile.amend import amend
from mobile.courier import NoWayError
from shared_core.logbook import Said
from shared_core.records.staff_gauge import GaugeReading

EAST: Final = timezone(timedelta(hours=10))
START: Final = datetime(2023, 8, 1, 9, 0, tzinfo=EAST)
RATING: Final = "71.10; 0; 0\n71.50; 110000; 23000\n72.00; 210000; 103000\n72.60; 320000; 261000"


@pytest.fixture
def office(tmp_path: Path) -> Iterator[Tablet]:
    device = Tablet(tmp_path / "office", "OFFICE", "Ruth Example")
    yield device
    device.close()


@pytest.fixture
def officer(tmp_path: Path) -> Iterator[Tablet]:
    device = Tablet(tmp_path / "tablet", "TAB-1", "Priya Example")
    yield device
    device.close()


@pytest.fixture
def served(tmp_path: Path, office: Tablet, officer: Tablet) -> Iterator[tuple[Path, str]]:
    """A running server that both devices are enrolled at, with the set-up on both."""
    data = tmp_path / "server"
    data.mkdir()
    port = free_port()
    url = f"http://127.0.0.1:{port}"
    with running(data, port):
        _enrol(data, office, "coordinator", url)
        _enrol(data, officer, "officer", url)
        _set_up(office)
        office.exchange(url)
        officer.at(START)
        officer.exchange(url)
        yield data, url


def _set_up(office: Tablet) -> None:
    since = {"valid_from": START.isoformat()}
    office.at(START)
    office.day.site = "LRS"
    site = {
        "name": "An invented wetland", "centre": "-36.48 155.46", "radius_m": "600",
        "standard_offset_min": "600", "epsg": "7856", "height_datum": "local",
    }  # fmt: skip
    plan = {
        "season": "2023-24",
        "until": (START + timedelta(days=40)).isoformat(),
        "target_level_m": "72.40",
    }
    facts = (
        ("site", site),
        ("gauge", {"gauge": "SG1", "ground_level_m": "71.105", "plate_to_m": "1.000"}),
        ("gauge_zero", {"gauge": "SG1", "zero_m": "71.300", "method": "levelled"}),
        ("rating_table", {"version": "first", "origin": "terrain model", "values": RATING}),
        ("evaporation_table", {"monthly_mm_per_day": "\n".join(["2.0"] * 12)}),
        ("watering_plan", plan),
    )
    for kind, typed in facts:
        office.write(kind, "", {**since, **typed})


def _enrol(data: Path, device: Tablet, role: str, url: str) -> None:
    words = ("invite", device.author, "--role", role, "--site", "LRS", "--data", str(data))
    device.enrol(url, str(answer_of(*words)["code"]))


def _read_gauge(officer: Tablet, day: int, text: str) -> str:
    officer.at(START + timedelta(days=day, hours=1))
    officer.day.arrive("LRS", ["Priya Example", "Tom Example"], code=f"V{day}")
    return officer.write("gauge_reading", "SG1", {"stage_m": text}).entry.record


def test_a_reading_reaches_the_balance_and_its_correction_comes_back(
    served: tuple[Path, str], office: Tablet, officer: Tablet
) -> None:
    data, url = served

    first = _read_gauge(officer, 5, "0.700")

    # On the way to the second site there is no coverage, and the wrong figure is typed.
    officer.at(START + timedelta(days=12, hours=1))
    officer.day.arrive("LRS", ["Priya Example"], code="V12")
    draft = officer.day.draft(GaugeReading, "SG1")
    assert draft.answers() == []  # nothing is told before a number is in
    for text in ("0", "0.", "0.5", "0.56", "0.565"):
        draft.type("stage_m", text)
    assert any(finding.field == "stage_m" for finding in draft.findings())
    assert any("ML" in answer.says for answer in draft.answers())
    again = officer.day.draft(GaugeReading, "SG1")  # as after a kill
    assert again.typed == {"stage_m": "0.565"}
    wrong = again.save(reason="Looked twice, no time for a photo.").entry.record
    with pytest.raises(NoWayError):
        _without_coverage(officer)
    officer.exchange(url)

    office.at(START + timedelta(days=14))
    office.exchange(url)
    seen = office.logbook.standing(wrong)
    assert seen is not None
    assert isinstance(seen.record, GaugeReading)
    assert seen.record.stage_m == 0.565
    reason = "Two figures swapped; the photo shows 0.656."
    amend(office.logbook, wrong, {"stage_m": "0.656"}, Said(author=office.author, note=reason))
    office.exchange(url)

    officer.at(START + timedelta(days=15))
    officer.exchange(url)
    news, place = officer.day.news()
    assert [(item.by, item.reason) for item in news] == [(office.author, reason)]
    assert news[0].changed == (("Stage", "0.565 m", "0.656 m"),)
    assert officer.day.news(place) == ([], place)

    corrected = officer.logbook.standing(wrong)
    assert corrected is not None
    assert isinstance(corrected.record, GaugeReading)
    assert corrected.record.stage_m == 0.656
    assert corrected.record.as_typed["stage_m"] == "0.565"  # raw text is never rewritten

    span = (
        "--from",
        (START + timedelta(days=5, hours=1)).isoformat(),
        "--to",
        (START + timedelta(days=12, hours=1)).isoformat(),
    )
    found = answer_of("balance", "--data", str(data), "--site", "LRS", *span)
    assert {first, wrong} <= set(found["season"]["terms"]["storage change"]["evidence"])
    # 44 mm over about 20 ha less evaporation of 7 days x 2.1 mm; by hand from the rating above
    assert found["season"]["end_level_m"] == pytest.approx(71.956)
    assert found["season"]["terms"]["residual"]["megalitres"] > 0
    assert command("verify", "--data", str(data)).strip()


def _without_coverage(device: Tablet) -> None:
    from mobile.courier import HttpPeer, deliver

    deliver(device.logbook, device.photos, HttpPeer("http://127.0.0.1:1", "nothing"))


def test_two_people_who_have_not_read_each_other_leave_both_values_and_one_decision_closes_it(
    served: tuple[Path, str], office: Tablet, officer: Tablet
) -> None:
    _, url = served
    record = _read_gauge(officer, 5, "0.700")
    officer.exchange(url)
    office.at(START + timedelta(days=6))
    office.exchange(url)

    said = Said(author=office.author, note="The photo shows 0.760.")
    amend(office.logbook, record, {"stage_m": "0.760"}, said)
    mine = Said(author=officer.author, note="My notebook says 0.750.")
    amend(officer.logbook, record, {"stage_m": "0.750", "remark": "wind"}, mine)
    office.exchange(url)
    officer.exchange(url)
    office.exchange(url)
    for device in (office, officer):
        standing = device.logbook.standing(record)
        assert standing is not None
        assert sorted(standing.disputed["stage_m"]) == [0.750, 0.760]
        assert standing.record.remark == "wind"  # type: ignore[attr-defined] # disjoint edits are joined

    amend(
        office.logbook,
        record,
        {"stage_m": "0.760"},
        Said(author=office.author, note="Settled by the photo."),
    )
    office.exchange(url)
    officer.exchange(url)
    for device in (office, officer):
        standing = device.logbook.standing(record)
        assert standing is not None
        assert not standing.disputed
    assert office.logbook.digest() == officer.logbook.digest()
