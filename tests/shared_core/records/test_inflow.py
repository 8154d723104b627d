"""What came in by the pump, as an expectation needs it; figures from the invented season."""

from datetime import datetime

import pytest

from shared_core.logbook import Said
from shared_core.records.inflow import Inflow, inflow_between
from shared_core.records.meter_setup import PumpedEstimate
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at, meter_m1


def _inflow(swamp: Swamp, start: str, end: str) -> Inflow:
    return inflow_between(swamp.logbook.known(), SITE, at(start), at(end))


def test_readings_carry_their_water_to_the_minute(swamp: Swamp) -> None:
    swamp.pump_log((9, "919860", 4403.7), (10, "932080", 4427.2), (11, "944300", 4450.7))
    found = _inflow(swamp, "2023-08-09 21:00+10:00", "2023-08-10 21:00+10:00")
    assert found.metered_m3 == pytest.approx(12_220)
    assert found.sd_m3 == pytest.approx(0.05 * 12_220)  # a meter without a certificate
    assert (found.possible_m3, found.problems) == (0.0, ())


def test_a_rollover_that_fits_costs_no_water(swamp: Swamp) -> None:
    swamp.pump_log((17, "998120", 4554.2), (18, "010340", 4577.7))
    found = _inflow(swamp, "2023-08-17 09:00+10:00", "2023-08-18 09:00+10:00")
    assert found.metered_m3 == pytest.approx(12_220)
    assert found.problems == ("M1 passed zero, not confirmed",)


def test_figures_that_cannot_be_widen_instead_of_counting(swamp: Swamp) -> None:
    swamp.pump_log((11, "944300", 4450.7), (12, "965520", 4474.2))
    found = _inflow(swamp, "2023-08-11 09:00+10:00", "2023-08-12 09:00+10:00")
    assert found.metered_m3 == 0
    assert found.volume_m3 < 21_220
    assert found.volume_m3 - 2 * found.sd_m3 < 12_220 < found.volume_m3 + 2 * found.sd_m3


def test_a_meter_that_stood_still_is_replaced_by_the_hours(swamp: Swamp) -> None:
    swamp.pump_log((20, "181420", 4906.7), (21, "181420", 4930.2))
    found = _inflow(swamp, "2023-08-20 09:00+10:00", "2023-08-21 09:00+10:00")
    assert found.estimated_m3 == pytest.approx(23.5 * 520)
    swamp.write(
        PumpedEstimate(
            site=SITE,
            valid_from=at("2023-08-20 09:00+10:00"),
            meter="M1",
            until=at("2023-08-21 09:00+10:00"),
            hours=20.0,
            rate_megalitres_per_hour=0.5,
            basis="a person's word",
        )
    )
    found = _inflow(swamp, "2023-08-20 09:00+10:00", "2023-08-21 09:00+10:00")
    assert found.estimated_m3 == pytest.approx(10_000)


def test_a_unit_ten_times_too_small_is_replaced_by_the_hours(swamp: Swamp) -> None:
    swamp.pump_log((20, "180000", 4906.7), (21, "181222", 4930.2))
    found = _inflow(swamp, "2023-08-20 09:00+10:00", "2023-08-21 09:00+10:00")
    assert found.volume_m3 == pytest.approx(23.5 * 520)


def test_hours_that_the_meter_half_bears_out_leave_it_the_word(swamp: Swamp) -> None:
    """E06: 4.94 ML counted, 23.5 h typed; the meter was right."""
    swamp.pump_log((14, "980960", 4521.2), (15, "985900", 4544.7))
    found = _inflow(swamp, "2023-08-14 09:00+10:00", "2023-08-15 09:00+10:00")
    assert found.volume_m3 == pytest.approx(4_940)


def test_a_pump_last_seen_running_may_have_run_on(swamp: Swamp) -> None:
    swamp.pump_log((9, "919860", 4403.7), (10, "932080", 4427.2))
    found = _inflow(swamp, "2023-08-10 09:00+10:00", "2023-08-11 09:00+10:00")
    assert found.volume_m3 == 0
    assert found.possible_m3 == pytest.approx(24 * 550)  # by the plate's 0.55 ML/h


def test_a_pump_that_stopped_has_not_run_on(swamp: Swamp) -> None:
    swamp.pump_log((29, "140860", 4828.7))
    swamp.write(swamp.meter("M1", "2023-08-30 09:00+10:00", "146060"))
    swamp.write(swamp.hours("2023-08-30 09:03+10:00", 4838.7, stopped_because="full"))
    found = _inflow(swamp, "2023-08-30 10:00+10:00", "2023-09-06 09:00+10:00")
    assert found.possible_m3 == 0


def test_where_nobody_wrote_all_is_possible(swamp: Swamp) -> None:
    found = _inflow(swamp, "2023-08-10 09:00+10:00", "2023-08-11 09:00+10:00")
    assert found.possible_m3 == pytest.approx(24 * 550)


def test_hours_speak_where_no_meter_is_known() -> None:
    swamp = _without_meter()
    swamp.write(swamp.hours("2023-08-09 09:03+10:00", 4403.7))
    swamp.write(swamp.hours("2023-08-10 09:03+10:00", 4427.2))
    found = _inflow(swamp, "2023-08-09 09:12+10:00", "2023-08-10 09:03+10:00")
    assert found.estimated_m3 == pytest.approx(23.5 * 520)
    assert found.possible_m3 == 0
    swamp.logbook.close()


def _without_meter() -> Swamp:
    swamp = Swamp()
    swamp.set_up()
    for standing in swamp.logbook.known().every(type(meter_m1()), SITE):
        swamp.logbook.withdraw(standing.record_id, Said(author="Ruth Ansell-Grey"))
    return swamp


def test_a_replaced_meter_says_nothing_of_later_days(swamp: Swamp) -> None:
    swamp.write(swamp.meter("M1", "2023-10-21 10:00+11:00", "181420"))
    swamp.write(
        meter_m1(
            meter="M2",
            multiplier=10.0,
            valid_from=at("2023-10-22 10:00+11:00"),
            start_display="000012",
            replaces="M1",
        )
    )
    swamp.write(swamp.meter("M2", "2023-10-23 10:00+11:00", "001234"))
    swamp.write(swamp.meter("M2", "2023-10-24 10:00+11:00", "001234"))
    found = _inflow(swamp, "2023-10-22 10:00+11:00", "2023-11-06 10:00+11:00")
    assert found.metered_m3 == pytest.approx(12_220)
    assert found.possible_m3 == 0


def test_a_site_without_a_pump_has_no_inflow() -> None:
    swamp = Swamp()
    found = inflow_between(
        swamp.logbook.known(), SITE, JULY, datetime.max.replace(tzinfo=JULY.tzinfo)
    )
    assert found == Inflow()
    swamp.logbook.close()
