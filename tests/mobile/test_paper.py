import html
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from mobile import practice
from mobile.__main__ import main
from mobile.identity import Identity, keep_identity
from mobile.paper import NOT_ON_PAPER, blocks, sheet, write_sheet
from shared_core.errors import UnknownError
from shared_core.fields import fields_of
from shared_core.logbook import Logbook
from shared_core.records.pump_meter import MeterReading
from shared_core.records.site_setup import Site
from shared_core.records.staff_gauge import GaugeReading
from tests.mobile import farm


class Headings(HTMLParser):
    """Collects what stands in each element of a kind."""

    def __init__(self, tag: str) -> None:
        super().__init__()
        self.tag, self.inside, self.found = tag, False, []  # type: ignore[var-annotated]

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        del attrs
        if tag == self.tag:
            self.inside = True
            self.found.append("")

    def handle_endtag(self, tag: str) -> None:
        self.inside = self.inside and tag != self.tag

    def handle_data(self, data: str) -> None:
        if self.inside:
            self.found[-1] += data


def headings(text: str, tag: str) -> list[str]:
    reader = Headings(tag)
    reader.feed(text)
    return reader.found


@pytest.fixture
def logbook(make_logbook: Callable[..., Logbook], clock: Any) -> Logbook:
    made = make_logbook()
    farm.set_up(made, clock())
    return made


def test_the_sheet_has_a_block_for_each_thing_in_the_order_of_the_feet(
    logbook: Logbook, clock: Any
) -> None:
    found = [f"{b.kind.kind} {b.point}".strip() for b in blocks(logbook.known(), "PRA", clock())]
    wanted = [
        "visit", "hazard", "gauge_reading G1", "meter_reading M1", "pump_run P1", "rain_reading R1",
        "water_sample", "shoreline_walk", "plot_score Q1",
    ]  # fmt: skip
    assert [each for each in found if each in wanted] == wanted
    assert len(set(found)) == len(found)


@pytest.mark.parametrize("kind", [GaugeReading, MeterReading])
def test_every_field_of_a_record_has_its_place(logbook: Logbook, clock: Any, kind: Any) -> None:
    labels = [text.removesuffix(" *") for text in headings(sheet(logbook, "PRA", clock()), "dt")]
    for field in fields_of(kind):
        assert field.heading in labels or field.name in NOT_ON_PAPER, field.name


def test_a_meter_has_a_box_for_each_figure_of_its_face(logbook: Logbook, clock: Any) -> None:
    text = sheet(logbook, "PRA", clock())
    assert text.count('class="box"') == 6
    assert "serial 00000, the face counts kL" in text


def test_a_removed_meter_is_left_out(logbook: Logbook, clock: Any) -> None:
    from shared_core.records.meter_setup import MeterFitted

    (meter,) = logbook.known().every(MeterFitted, "PRA")
    logbook.write(meter.record.changed(removed_at=clock()), farm.OFFICE, record_id=meter.record_id)
    clock.now = clock.now.replace(day=2)
    assert "Pump meter M1" not in headings(sheet(logbook, "PRA", clock()), "h2")


def test_names_cannot_break_the_page(logbook: Logbook, clock: Any) -> None:
    (site,) = logbook.known().every(Site)
    name = '<script>alert("x")</script>'
    logbook.write(site.record.changed(name=name), farm.OFFICE, record_id=site.record_id)
    text = sheet(logbook, "PRA", clock())
    assert "<script>" not in text
    assert html.escape(name) in text


def test_the_sheet_is_one_file_that_needs_nothing_else(logbook: Logbook, clock: Any) -> None:
    text = sheet(logbook, "PRA", clock())
    assert "size: A4" in text
    assert not any(word in text for word in ("http:", "https:", "src=", "@import", "url("))


def test_a_folder_gets_a_file_named_after_the_site(
    logbook: Logbook, clock: Any, tmp_path: Path
) -> None:
    assert write_sheet(logbook, "PRA", clock(), tmp_path) == tmp_path / "sheet-PRA.html"
    assert (tmp_path / "sheet-PRA.html").read_text().startswith("<!DOCTYPE html>")


def test_a_site_that_is_not_here_is_said_so(logbook: Logbook, clock: Any) -> None:
    with pytest.raises(UnknownError, match="it knows PRA"):
        sheet(logbook, "XYZ", clock())


def test_the_command_writes_a_sheet_without_starting_the_app(
    make_logbook: Callable[..., Logbook], clock: Any, tmp_path: Path, capsys: Any
) -> None:
    data, out = tmp_path / "data", tmp_path / "sheet.html"
    keep_identity(data, Identity(device="HER-1"))
    made = make_logbook(data / "logbook.sqlite")
    practice.prepare(made, clock())
    made.close()
    assert main(["--data", str(data), "--paper", "PRA", "--out", str(out)]) == 0
    assert capsys.readouterr().out == f"{out}\n"
    assert "Staff gauge G1" in headings(out.read_text(), "h2")


def test_the_command_says_what_is_missing(tmp_path: Path, capsys: Any) -> None:
    assert main(["--data", str(tmp_path), "--paper", "PRA"]) == 1
    assert "no logbook in" in capsys.readouterr().err
