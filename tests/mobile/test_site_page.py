from typing import Any

from mobile import practice
from mobile.field_day import FieldDay
from mobile.router import ROUTES
from mobile.site_page import CAUTION, OWN_SCREEN, site_shown
from shared_core.records.staff_gauge import GaugeReading


def states(day: FieldDay) -> Any:
    return {row.title: row.state for section in site_shown(day).sections for row in section.rows}


def test_each_item_says_how_it_stands(day: FieldDay) -> None:
    day.record(GaugeReading, "G1", {"stage_m": "0.42"})
    day.draft(*_meter(day)).type("display", "01")
    day.leave_out(day.to_do()[4], "Flooded")
    found = states(day)
    assert found["Staff gauge G1"] == "done"
    assert found["Pump meter M1"] == "begun"
    assert found["Rain gauge R1"] == "todo"
    assert found["Vegetation plot Q1"] == "left"
    assert site_shown(day).sections[0].heading == "To do today: 2 of 6"


def _meter(day: FieldDay) -> Any:
    item = day.to_do()[1]
    return item.kind, item.point


def test_what_is_due_is_not_offered_a_second_time(day: FieldDay) -> None:
    titles = [row.title for section in site_shown(day).sections for row in section.rows]
    assert len(titles) == len(set(titles))
    assert "Hazard" in titles


def test_some_kinds_lead_to_their_own_screens_and_the_rest_to_the_form(
    day: FieldDay,
) -> None:
    screens = {row.kind: row.screen for section in site_shown(day).sections for row in section.rows}
    for kind, screen in OWN_SCREEN.items():
        assert screens.pop(kind) == screen
        assert screen in ROUTES
    assert set(screens.values()) == {"form"}


def test_the_caution_defers_to_others_and_judges_nothing(day: FieldDay) -> None:
    assert site_shown(day).caution == CAUTION
    assert CAUTION.endswith("does not judge whether it is safe.")
    assert site_shown(day).name.startswith("Practice Pool")
    assert practice.SITE in site_shown(day).sub
