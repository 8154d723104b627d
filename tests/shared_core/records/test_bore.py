"""Bore dips (E21 of the invented season: dipped from the ground, not the casing)."""

import pytest

from shared_core.records.base import Severity
from tests.shared_core.records.swamp import Swamp


@pytest.fixture
def dipped(swamp: Swamp) -> Swamp:
    swamp.write(swamp.dip("2023-11-30 11:00+11:00", 6.520))
    swamp.write(swamp.dip("2024-01-11 11:00+11:00", 6.505))
    return swamp


def test_a_change_of_the_stick_up_is_a_change_of_mark(dipped: Swamp) -> None:
    alarm = dipped.the_alarm(dipped.dip("2024-02-01 11:30+11:00", 5.965))
    assert (alarm.code, alarm.suggests) == ("bore-mark", "6.515")
    assert dipped.finds(dipped.dip("2024-02-01 11:30+11:00", 6.515)) == []


def test_a_dip_said_to_be_from_the_ground_is_taken_at_its_word(dipped: Swamp) -> None:
    ground = dipped.dip("2024-02-01 11:30+11:00", 5.965, mark="ground")
    assert dipped.finds(ground) == []
    # 74.612 - (5.966 + 0.550), the mean of the two dips
    assert dipped.told(ground)["Water in the bore"].value == pytest.approx(68.096)


def test_the_dip_after_a_wrong_one_is_not_blamed_for_it(dipped: Swamp) -> None:
    dipped.write(dipped.dip("2024-02-01 11:30+11:00", 5.965))
    found = dipped.finds(dipped.dip("2024-02-16 11:00+11:00", 6.525))
    assert [(f.code, f.severity) for f in found] == [("bore-last-odd", Severity.NOTE)]


def test_a_change_too_fast_for_a_bore_is_asked_about(dipped: Swamp) -> None:
    assert dipped.the_alarm(dipped.dip("2024-01-18 11:00+11:00", 6.905)).code == "bore-change"


def test_two_dips_that_do_not_agree_are_asked_about(dipped: Swamp) -> None:
    apart = dipped.dip("2024-02-01 11:30+11:00", 6.515, apart_m=0.012)
    assert dipped.the_alarm(apart).code == "bore-repeat"
    assert dipped.finds(dipped.dip("2024-02-01 11:30+11:00", 6.515, apart_m=0.010)) == []


def test_a_falling_dip_is_told_as_rising_water(dipped: Swamp) -> None:
    told = dipped.told(dipped.dip("2024-02-01 11:30+11:00", 6.465))
    assert "↑ 40 mm" in told["Water in the bore"].says
