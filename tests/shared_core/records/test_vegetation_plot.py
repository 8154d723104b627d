"""Vegetation plots (E19, E20 of the invented season)."""

from typing import Any

import pytest

from shared_core.records.base import Severity
from shared_core.records.water_setup import Limits
from tests.shared_core.records.swamp import JULY, SITE, Swamp, place


def _plant(taxon: str, group: str, cover: float, *, native: bool | None = None) -> tuple[Any, ...]:
    return (taxon, group, cover, None, None, native, True)


@pytest.fixture
def scored(swamp: Swamp) -> Swamp:
    """Q4 on 11 December: amphibious plants only."""
    plants = (_plant("Ludwigia", "AR", 35.0, native=True), _plant("Typha", "AT", 15.0, native=True))
    swamp.write(swamp.plot("Q4", "2023-12-11 12:00+11:00", plants))
    return swamp


def test_a_native_grass_with_a_foreign_double_asks_for_a_specimen(scored: Swamp) -> None:
    """E19: barnyard grass taken for native millet."""
    millet = (_plant("Native millet", "TD", 22.0, native=True),)
    alarm = scored.the_alarm(scored.plot("Q4", "2024-01-11 11:50+11:00", millet))
    assert alarm.code == "plant-look-alike"
    assert "barnyard grass, which is not native" in alarm.expected
    weed = (_plant("Barnyard grass", "TD", 22.0, native=False),)
    assert scored.finds(scored.plot("Q4", "2024-01-11 11:50+11:00", weed)) == []


def test_a_known_weed_marked_native_is_asked_about(scored: Swamp) -> None:
    weed = (_plant("Barnyard  Grass", "TD", 22.0, native=True),)
    assert scored.the_alarm(scored.plot("Q4", "2024-01-11 11:50+11:00", weed)).code == (
        "plant-native"
    )


def test_a_site_may_name_its_own_weeds(scored: Swamp) -> None:
    mint = scored.plot(
        "Q4", "2024-01-11 11:50+11:00", (_plant("River mint", "TD", 5.0, native=True),)
    )
    assert scored.finds(mint) == []
    row = (("not native: river mint", 1.0, "escaped here"),)
    scored.write(Limits(site=SITE, valid_from=JULY, values=row))
    assert scored.the_alarm(mint).code == "plant-native"


def test_a_plant_that_changes_its_kind_is_asked_about(scored: Swamp) -> None:
    flipped = (_plant("Ludwigia", "T", 30.0, native=False),)
    alarm = scored.the_alarm(scored.plot("Q5", "2024-01-11 12:10+11:00", flipped))
    assert alarm.code == "plant-flipped"
    assert "Amphibious, responds, native" in alarm.expected
    same = (_plant("Ludwigia", "AR", 30.0, native=True),)
    assert scored.finds(scored.plot("Q5", "2024-01-11 12:10+11:00", same)) == []


def test_a_second_observer_who_sees_another_kind_is_asked_to_look_together(scored: Swamp) -> None:
    first = scored.logbook.known().every(type(scored.plot("Q4", "2023-12-11 12:00+11:00")), SITE)
    second = scored.plot(
        "Q4",
        "2023-12-11 13:00+11:00",
        (_plant("Ludwigia", "AR", 30.0, native=False),),
        second_observer_of=first[0].record_id,
    )
    found = scored.finds(second)
    assert {f.code for f in found} == {"plant-flipped", "observers-differ"}
    assert "typha" in next(f.saw for f in found if f.code == "observers-differ")


def test_a_found_peg_that_lies_elsewhere_was_not_found(swamp: Swamp) -> None:
    """E20: a new quadrat 12 m away saved as Q6."""
    away = swamp.plot("Q6", "2024-01-16 12:10+11:00", position=place(121, 195.2))
    alarm = swamp.the_alarm(away)
    assert (alarm.code, alarm.field, alarm.suggests) == ("plot-distance", "found", "no")
    assert "12 m" in alarm.saw
    near = swamp.plot("Q6", "2024-01-16 12:10+11:00", position=place(113, 203))
    assert swamp.finds(near) == []


def test_plants_scored_without_a_peg_are_another_plot(swamp: Swamp) -> None:
    plants = (_plant("Typha", "AT", 21.0),)
    other = swamp.plot(
        "Q6", "2024-01-16 12:10+11:00", plants, found=False, position=place(121, 195.2)
    )
    alarm = swamp.the_alarm(other)
    assert alarm.code == "plot-not-found"
    assert "12 m" in alarm.saw
    assert swamp.finds(swamp.plot("Q6", "2024-01-16 12:10+11:00", found=False)) == []


def test_another_plot_s_peg_is_named(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(swamp.plot("Q6", "2024-01-16 12:10+11:00", position=place(165, 180)))
    assert (alarm.code, alarm.suggests) == ("point-distance", "Q5")


def test_one_layer_holds_a_hundred_percent(swamp: Swamp) -> None:
    when = "2023-07-12 12:00+10:00"
    full = swamp.plot("Q4", when, bare_pct=70.0, litter_pct=30.0, open_water_pct=10.0)
    assert swamp.the_alarm(full).code == "cover-sum"
    assert swamp.finds(swamp.plot("Q4", when, bare_pct=70.0, litter_pct=30.0)) == []
    over = swamp.plot("Q4", when, (_plant("Typha", "AT", 130.0),))
    assert swamp.the_alarm(over).severity is Severity.STOP


def test_a_jump_asks_within_weeks_and_is_noted_after_months(scored: Swamp) -> None:
    grown = (_plant("Ludwigia", "AR", 80.0, native=True), _plant("Typha", "AT", 15.0, native=True))
    soon = scored.plot("Q4", "2024-01-11 12:00+11:00", grown)
    assert scored.the_alarm(soon).code == "cover-jump"
    later = scored.finds(scored.plot("Q4", "2024-03-30 12:00+11:00", grown))
    assert [f.severity for f in later] == [Severity.NOTE]
