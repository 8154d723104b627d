"""Planned visits (E24 of the invented season: done on paper, the sheet lost)."""

from shared_core.records.plan import PlannedVisit
from tests.shared_core.records.swamp import SITE, Swamp, at

PLANNED = PlannedVisit(
    site=SITE, valid_from=at("2024-02-23 09:00+10:00"), code="Heron 2024-02-23", team="Heron"
)
LATER = at("2024-02-27 09:00+10:00")


def test_a_visit_of_which_nothing_came_in_is_missing(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(PLANNED, now=LATER)
    assert alarm.code == "visit-missing"
    assert "23 February 2024" in alarm.saw
    assert "paper" in alarm.do


def test_a_visit_that_came_in_is_not_missing(swamp: Swamp) -> None:
    swamp.write(swamp.visit("2024-02-24 10:00+11:00", team="Heron + landholder"))
    assert swamp.finds(PLANNED, now=LATER) == []


def test_another_team_is_not_the_one_that_was_planned(swamp: Swamp) -> None:
    swamp.write(swamp.visit("2024-02-23 10:00+11:00", team="Bittern"))
    assert "Bittern was there" in swamp.the_alarm(PLANNED, now=LATER).saw


def test_nobody_is_asked_too_early_or_about_what_is_settled(swamp: Swamp) -> None:
    assert swamp.finds(PLANNED, now=at("2024-02-25 08:00+10:00")) == []
    assert swamp.finds(PLANNED) == []
    assert swamp.finds(PLANNED.changed(state="lost"), now=LATER) == []
