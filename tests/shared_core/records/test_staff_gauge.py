"""Stories at the staff gauges; stages and dates from the invented season (E01 to E26)."""

import pytest

from shared_core.records.base import Severity
from shared_core.records.site_setup import GaugeZero
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_setup import Limits
from tests.shared_core.records.swamp import BITTERN, HERON, INES, JULY, SITE, Swamp, at, place


@pytest.fixture
def filling(swamp: Swamp) -> Swamp:
    """Two days of pumping before V03: 71.629 and 71.695 m."""
    swamp.pump_log((9, "919860", 4403.7), (10, "932080", 4427.2), (11, "944300", 4450.7))
    swamp.write(swamp.gauge("SG1", "2023-08-10 09:12+10:00", 0.330, who=INES))
    return swamp


@pytest.fixture
def holding(swamp: Swamp) -> Swamp:
    """The pump stopped on 30 August; V06 read SG2 on 6 September: 72.399 m."""
    swamp.pump_log((29, "140860", 4828.7))
    swamp.write(swamp.meter("M1", "2023-08-30 09:00+10:00", "146060"))
    swamp.write(swamp.hours("2023-08-30 09:03+10:00", 4838.7, stopped_because="full"))
    swamp.write(swamp.gauge("SG2", "2023-09-06 09:38+10:00", 0.550, who=BITTERN))
    return swamp


@pytest.fixture
def falling(swamp: Swamp) -> Swamp:
    """V18 on 11 December: SG1 0.720 m, SG2 0.230 m with its zero levelled anew."""
    swamp.write(_sunk_zero())
    swamp.write(
        swamp.meter("M1", "2023-10-17 10:00+11:00", "146060"),
        swamp.meter("M1", "2023-10-24 10:00+11:00", "146060"),
    )
    swamp.write(swamp.gauge("SG1", "2023-12-11 10:20+11:00", 0.720, visit="V18", who=BITTERN))
    swamp.write(swamp.gauge("SG2", "2023-12-11 10:28+11:00", 0.230, visit="V18", who=BITTERN))
    return swamp


def _sunk_zero() -> GaugeZero:
    since = at("2023-11-03 09:00+10:00")
    return GaugeZero(site=SITE, valid_from=since, gauge="SG2", zero_m=71.790, method="levelled")


# E01 ---------------------------------------------------------------------------------------------


def test_centimetres_typed_for_metres_are_offered_as_metres(filling: Swamp) -> None:
    alarm = filling.the_alarm(filling.gauge("SG1", "2023-08-11 11:30+10:00", 40.0))
    assert (alarm.code, alarm.severity, alarm.suggests) == ("unit-slip", Severity.STOP, "0.400")


def test_the_true_stage_while_filling_raises_nothing(filling: Swamp) -> None:
    assert filling.finds(filling.gauge("SG1", "2023-08-11 11:30+10:00", 0.400)) == []


def test_centimetres_are_seen_by_a_tablet_that_knows_only_an_old_level(swamp: Swamp) -> None:
    swamp.write(swamp.gauge("SG1", "2023-08-07 09:12+10:00", 0.085, who=INES))
    alarm = swamp.the_alarm(swamp.gauge("SG1", "2023-08-11 11:30+10:00", 40.0))
    assert (alarm.code, alarm.severity, alarm.suggests) == ("unit-slip", Severity.STOP, "0.400")


def test_centimetres_are_seen_without_any_earlier_reading(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(swamp.gauge("SG1", "2023-08-11 11:30+10:00", 40.0))
    assert (alarm.code, alarm.suggests) == ("unit-slip", "0.400")


# E02, E15, E26 -----------------------------------------------------------------------------------


def test_a_misread_tenth_shows_on_the_other_gauge(swamp: Swamp) -> None:
    swamp.write(swamp.gauge("SG1", "2023-08-21 10:00+10:00", 0.820, visit="V04"))
    alarm = swamp.the_alarm(swamp.gauge("SG2", "2023-08-21 10:08+10:00", 0.371, visit="V04"))
    assert (alarm.code, alarm.suggests) == ("one-tenth", "0.271")
    assert swamp.finds(swamp.gauge("SG2", "2023-08-21 10:08+10:00", 0.270, visit="V04")) == []


def test_a_gauge_that_fits_the_budget_is_not_blamed_for_the_other(holding: Swamp) -> None:
    holding.write(holding.gauge("SG2", "2023-09-26 10:38+10:00", 0.552, visit="V08", who=BITTERN))
    found = holding.finds(holding.gauge("SG1", "2023-09-26 10:30+10:00", 1.0, visit="V08"))
    assert [(f.code, f.severity) for f in found] == [("gauge-pair-other", Severity.NOTE)]


def test_a_post_that_sank_shows_as_two_gauges_apart(holding: Swamp) -> None:
    holding.write(holding.gauge("SG2", "2023-10-26 10:48+11:00", 0.535, visit="V13"))
    swamp = holding
    first = swamp.gauge("SG1", "2023-11-06 11:40+11:00", 1.0, visit="V14", who=BITTERN)
    assert swamp.alarms(first) == []
    swamp.write(first)
    sunk = swamp.gauge("SG2", "2023-11-06 11:48+11:00", 0.510, visit="V14", who=BITTERN)
    alarm = swamp.the_alarm(sunk)
    assert alarm.code == "gauge-pair"
    assert "60 mm above" in alarm.saw
    assert "levelled" in alarm.do
    assert alarm.effect_megalitres == pytest.approx(0.06 * 270, rel=0.1)  # 27 ha under 60 mm
    swamp.write(_sunk_zero())
    assert swamp.alarms(sunk) == []


def test_gauges_that_stay_apart_go_on_asking(holding: Swamp) -> None:
    for when, sg1, sg2 in (("11-06", 0.998, 0.508), ("11-20", 0.891, 0.401)):
        holding.write(
            holding.gauge("SG1", f"2023-{when} 11:00+11:00", sg1, visit=when),
            holding.gauge("SG2", f"2023-{when} 11:08+11:00", sg2, visit=when),
        )
    holding.write(holding.gauge("SG1", "2023-11-30 10:00+11:00", 0.825, visit="V17"))
    sunk = holding.gauge("SG2", "2023-11-30 10:08+11:00", 0.34, visit="V17")
    alarm = holding.the_alarm(sunk.changed(as_typed={"stage_m": "0.34"}))
    assert alarm.code == "gauge-pair"  # and no figure is said to have been left out


def test_a_metre_too_many_is_named(swamp: Swamp) -> None:
    swamp.write(swamp.gauge("SG1", "2023-10-17 10:00+11:00", 0.870, visit="V10"))
    alarm = swamp.the_alarm(swamp.gauge("SG2", "2023-10-17 10:08+11:00", 1.321, visit="V10"))
    assert (alarm.code, alarm.severity, alarm.suggests) == ("one-metre", Severity.STOP, "0.321")
    assert swamp.finds(swamp.gauge("SG2", "2023-10-17 10:08+11:00", 0.320, visit="V10")) == []


# E08 ---------------------------------------------------------------------------------------------


def test_a_value_under_the_wrong_gauge_raises_one_alarm_that_names_the_other(
    holding: Swamp,
) -> None:
    reading = holding.gauge("SG1", "2023-09-14 12:00+10:00", 0.505, position=place(-299, -5))
    alarm = holding.the_alarm(reading)
    assert (alarm.code, alarm.field, alarm.suggests) == ("wrong-gauge", "point", "SG2")
    right = holding.gauge("SG2", "2023-09-14 12:00+10:00", 0.505, position=place(-299, -5))
    assert holding.finds(right) == []


def test_an_uncorrected_slip_does_not_turn_on_the_next_true_reading(holding: Swamp) -> None:
    holding.write(holding.gauge("SG1", "2023-09-14 12:00+10:00", 0.505))
    found = holding.finds(holding.gauge("SG2", "2023-09-26 10:38+10:00", 0.450, who=BITTERN))
    assert [(f.code, f.severity) for f in found] == [("last-reading-odd", Severity.NOTE)]
    assert "14 September" in found[0].saw


# E16, E17 ----------------------------------------------------------------------------------------


def test_two_teams_a_tenth_apart_are_told_which_tenth(holding: Swamp) -> None:
    holding.write(
        holding.gauge("SG1", "2023-11-20 10:50+11:00", 0.890, visit="V15"), author="Priya Okafor"
    )
    second = holding.gauge("SG1", "2023-11-20 14:15+11:00", 0.790, visit="V16", who=BITTERN)
    alarm = holding.the_alarm(second)
    assert (alarm.code, alarm.suggests) == ("one-tenth", "0.890")
    assert alarm.effect_megalitres == pytest.approx(-23, abs=1)  # scenario, V16
    assert "teams" in holding.codes(second)
    true = holding.gauge("SG1", "2023-11-20 14:15+11:00", 0.890, visit="V16", who=BITTERN)
    assert holding.finds(true) == []


def test_a_sheet_typed_again_is_taken_for_a_copy(falling: Swamp) -> None:
    office = ("Ruth Ansell-Grey",)
    copy = falling.gauge(
        "SG1", "2023-12-11 10:30+11:00", 0.72, who=office, typed_from_paper_by=office[0]
    )
    alarm = falling.the_alarm(copy)
    assert alarm.code == "copied"
    original = falling.gauge("SG1", "2023-12-11 10:20+11:00", 0.720, visit="V18", who=BITTERN)
    falling.write(copy, author=office[0])
    known = falling.logbook.known(without=_first_gauge_id(falling))
    found = list(original.findings(known))
    assert [(f.code, f.severity) for f in found] == [("copied", Severity.NOTE)]


def _first_gauge_id(swamp: Swamp) -> str:
    return swamp.logbook.known().every(GaugeReading, SITE)[0].record_id


def test_a_second_record_with_nothing_of_its_own_is_taken_for_a_copy(filling: Swamp) -> None:
    stood = filling.gauge("SG1", "2023-08-11 11:30+10:00", 0.40, position=place(-30, -20))
    bare = filling.gauge("SG1", "2023-08-11 11:40+10:00", 0.40, who=BITTERN)
    filling.write(stood)
    assert filling.the_alarm(bare).code == "copied"
    own = bare.changed(position=place(-28, -21))
    assert filling.finds(own) == []


def test_two_people_who_both_stood_there_are_no_copy(filling: Swamp) -> None:
    filling.write(filling.gauge("SG1", "2023-08-11 09:12+10:00", 0.395, who=INES))
    assert filling.finds(filling.gauge("SG1", "2023-08-11 09:50+10:00", 0.395, who=HERON)) == []


# E18 ---------------------------------------------------------------------------------------------


def test_swapped_figures_are_turned_back(falling: Swamp) -> None:
    alarm = falling.the_alarm(falling.gauge("SG1", "2023-12-20 12:00+11:00", 0.463))
    assert (alarm.code, alarm.suggests) == ("digit-swap", "0.643")
    assert "18 cm below" in alarm.saw
    assert falling.finds(falling.gauge("SG1", "2023-12-20 12:00+11:00", 0.645)) == []


# E23 ---------------------------------------------------------------------------------------------


@pytest.fixture
def drying(swamp: Swamp) -> Swamp:
    swamp.write(
        swamp.meter("M1", "2023-10-17 10:00+11:00", "146060"),
        swamp.meter("M1", "2023-10-24 10:00+11:00", "146060"),
        swamp.gauge("SG1", "2024-03-01 10:30+11:00", 0.005),
    )
    return swamp


def test_zero_on_the_plate_asks_which_of_three_it_is(drying: Swamp) -> None:
    alarm = drying.the_alarm(drying.gauge("SG1", "2024-03-12 11:00+11:00", 0.0, who=BITTERN))
    assert (alarm.code, alarm.field, alarm.suggests) == ("zero-or-below", "state", "below_zero")
    below = drying.gauge("SG1", "2024-03-12 11:00+11:00", state="below_zero", who=BITTERN)
    assert drying.finds(below) == []


def test_a_state_that_cannot_be_is_asked_about(drying: Swamp) -> None:
    alarm = drying.the_alarm(drying.gauge("SG1", "2024-03-12 11:00+11:00", state="over_plate"))
    assert alarm.code == "state-unlikely"


# the rest of a reading ----------------------------------------------------------------------------


def test_a_stage_off_the_plate_stops(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(swamp.gauge("SG1", "2023-08-11 11:30+10:00", 1.06))
    assert (alarm.code, alarm.severity) == ("plate-range", Severity.STOP)
    assert swamp.finds(swamp.gauge("SG1", "2023-08-11 11:30+10:00", 1.015)) == []


def test_a_site_may_set_its_own_limit(swamp: Swamp) -> None:
    limits = Limits(site=SITE, valid_from=JULY, values=(("plate-range", 0.10, "tall stub"),))
    swamp.write(limits)
    assert swamp.finds(swamp.gauge("SG1", "2023-08-11 11:30+10:00", 1.06)) == []


def test_a_fall_no_slip_explains_asks_for_a_leak(falling: Swamp) -> None:
    alarm = falling.the_alarm(falling.gauge("SG1", "2023-12-20 12:00+11:00", 0.492))
    assert alarm.code == "level-rate"
    assert "25 mm a day" in alarm.expected


def test_a_fall_that_both_gauges_show_is_a_note(falling: Swamp) -> None:
    falling.write(falling.gauge("SG2", "2023-12-20 12:08+11:00", 0.002, visit="V19"))
    found = falling.finds(falling.gauge("SG1", "2023-12-20 12:00+11:00", 0.492, visit="V19"))
    assert [(f.code, f.severity) for f in found] == [("level-rate", Severity.NOTE)]


def test_a_rise_is_no_alarm_where_nobody_here_knows_of_the_pump(swamp: Swamp) -> None:
    swamp.write(swamp.gauge("SG1", "2023-08-11 11:30+10:00", 0.400, who=BITTERN))
    known = swamp.gauge("SG2", "2023-09-06 09:38+10:00", 0.550, who=BITTERN)
    assert swamp.alarms(known) == []


def test_a_rise_asks_where_the_pump_is_known_to_stand_still(holding: Swamp) -> None:
    slow = holding.the_alarm(holding.gauge("SG2", "2023-09-14 12:00+10:00", 0.565))
    assert slow.code == "level-expected"
    fast = holding.the_alarm(holding.gauge("SG2", "2023-09-14 12:00+10:00", 0.720))
    assert fast.code == "level-rate"
    assert "no pumping known" in fast.expected


def test_waves_are_noted_and_then_asked_about(swamp: Swamp) -> None:
    def waves(half_m: float) -> GaugeReading:
        return swamp.gauge(
            "SG1", "2023-08-11 11:30+10:00", 0.4, lowest_m=0.4 - half_m, highest_m=0.4 + half_m
        )

    assert swamp.finds(waves(0.015)) == []
    assert [f.severity for f in swamp.finds(waves(0.030))] == [Severity.NOTE]
    assert swamp.the_alarm(waves(0.060)).code == "wave-spread"


def test_a_stage_outside_its_own_waves_is_asked_about(swamp: Swamp) -> None:
    odd = swamp.gauge("SG1", "2023-08-11 11:30+10:00", 0.4, lowest_m=0.41, highest_m=0.43)
    assert swamp.the_alarm(odd).code == "wave-order"


def test_nothing_read_and_no_reason_are_asked_about(swamp: Swamp) -> None:
    when = "2023-08-11 11:30+10:00"
    assert swamp.the_alarm(swamp.gauge("SG1", when)).code == "nothing-read"
    assert swamp.the_alarm(swamp.gauge("SG1", when, state="not_read")).code == "not-read-why"
    both = swamp.gauge("SG1", when, 0.4, state="dry")
    assert "number-and-state" in swamp.codes(both)


def test_far_from_the_post_is_asked_about(swamp: Swamp) -> None:
    away = swamp.gauge("SG1", "2023-08-11 11:30+10:00", 0.4, position=place(-299, -5))
    alarm = swamp.the_alarm(away)
    assert (alarm.code, alarm.suggests) == ("point-distance", "SG2")
    near = swamp.gauge("SG1", "2023-08-11 11:30+10:00", 0.4, position=place(-20, -12))
    assert swamp.finds(near) == []


# answers ------------------------------------------------------------------------------------------


def test_a_stage_tells_level_area_volume_and_target_at_once(holding: Swamp) -> None:
    told = holding.told(holding.gauge("SG2", "2023-09-14 12:00+10:00", 0.500))
    assert told["Level"].value == pytest.approx(72.350)
    assert told["Area"].value == pytest.approx(275_200)  # the row at 72.35 m
    assert told["Volume"].value == pytest.approx(186_300)
    # 5 mm of reading and 5 mm of zero on 27.5 ha, and 3 % for the table
    assert told["Volume"].sd == pytest.approx(((275_200 * 0.00707) ** 2 + 5589**2) ** 0.5, rel=1e-3)
    assert told["Since last reading"].value == pytest.approx(-0.050)
    assert told["Target"].value == pytest.approx(186.3 / 200.3)


def test_above_the_survey_the_volume_is_not_made_up(holding: Swamp) -> None:
    told = holding.told(holding.gauge("SG2", "2023-09-14 12:00+10:00", 0.900))
    assert "above the surveyed range" in told["Volume"].says
    assert told["Volume"].value is None


def test_nothing_is_told_before_a_number_is_typed(holding: Swamp) -> None:
    """A hint before the number would steer the reading."""
    unread = holding.gauge("SG2", "2023-09-14 12:00+10:00")
    assert holding.told(unread) == {}
    assert all("0.5" not in finding.says for finding in holding.finds(unread))
