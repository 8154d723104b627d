"""What a gauge reading is judged by: the other gauge, ground that drank before, a pump that started."""

import math

import pytest

from shared_core.records.base import Severity
from shared_core.records.context import wetted_to_m
from shared_core.records.inflow import inflow_between
from shared_core.records.site_setup import GaugeZero
from shared_core.records.staff_gauge_pairs import PAIR_SDS, Pair
from shared_core.records.staff_gauge_scene import scene_of
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at

CALM_M = math.hypot(0.005, 0.005)  # two calm readings
ZEROS_M = math.hypot(0.005, 0.005)  # two levelled zeros
MORNINGS = ("2023-11-01 09:00+11:00", "2023-11-04 09:00+11:00", "2023-11-07 09:00+11:00")


def _pair() -> Pair:
    return Pair(gauge="SG2", level_m=72.1, is_before=True, noise_sd_m=CALM_M, zeros_sd_m=ZEROS_M)


def test_without_an_earlier_look_the_zeros_are_known_as_they_were_set() -> None:
    fresh = _pair().learned([])
    assert (fresh.usual_m, fresh.usual_sd_m) == pytest.approx((0.0, ZEROS_M))
    assert fresh.sd_m == pytest.approx(0.010)  # four errors of 5 mm


def test_earlier_looks_and_the_zeros_weigh_by_their_uncertainty() -> None:
    # As well known as one look, the zeros count as one more of nought: 3 x 12 mm in four.
    learned = _pair().learned([0.012, 0.012, 0.012])
    assert learned.usual_m == pytest.approx(0.009)
    assert learned.usual_sd_m == pytest.approx(ZEROS_M / 2)
    assert learned.expected_level_m == pytest.approx(72.109)


def test_a_difference_beyond_what_is_stated_teaches_nothing() -> None:
    far_m = PAIR_SDS * math.hypot(CALM_M, ZEROS_M) + 0.001
    assert _pair().learned([far_m, far_m, far_m]).usual_m == 0.0


def _two(swamp: Swamp, when: str, apart_m: float) -> set[str]:
    """Write SG1 and return what is asked about SG2, which shows its level lower by so much."""
    swamp.write(swamp.gauge("SG1", when, 0.800))
    other = swamp.gauge("SG2", when.replace("09:00", "09:05"), round(0.250 - apart_m, 3))
    asked = {f.code for f in swamp.finds(other) if f.severity is not Severity.NOTE}
    swamp.write(other)
    return asked


def test_a_steady_difference_within_the_zeros_is_not_asked_about_but_a_knock_is(
    swamp: Swamp,
) -> None:
    assert not any(_two(swamp, when, 0.018) for when in MORNINGS)
    assert "gauge-pair" in _two(swamp, "2023-11-10 09:00+11:00", 0.018 + 0.030)


def test_gauges_set_by_a_survey_receiver_may_lie_further_apart(swamp: Swamp) -> None:
    rtk = GaugeZero(site=SITE, valid_from=JULY, gauge="SG2", zero_m=71.850, method="rtk")
    assert "gauge-pair" in _two(swamp, MORNINGS[0], 0.040)
    swamp.write(rtk.changed(valid_from=at("2023-11-02 09:00+11:00")))
    assert "gauge-pair" not in _two(swamp, MORNINGS[1], 0.040)


def test_ground_that_another_gauge_saw_wet_since_drinks_all_the_same(swamp: Swamp) -> None:
    """What was wet by the time the window starts from has drunk, and nothing later."""
    swamp.write(swamp.gauge("SG1", "2023-08-06 09:00+10:00", state="dry"))
    swamp.pump_log((6, "871240", 100.0), (10, "910000", 174.0))
    later = swamp.gauge("SG2", "2023-08-10 10:10+10:00", 0.010)
    before = next(scene_of(later, swamp.logbook.known()).windows())[0]
    swamp.write(swamp.gauge("SG1", "2023-08-10 10:00+10:00", 0.100))
    scene = scene_of(later, swamp.logbook.known())
    window, base = next(scene.windows())
    assert base.level_m is None
    assert wetted_to_m(scene.levels) == pytest.approx(71.400)
    assert window.parts_m["first wetting"] == pytest.approx(before.parts_m["first wetting"])


def test_a_pump_that_was_seen_to_start_may_have_run_since(swamp: Swamp) -> None:
    swamp.pump_log((6, "871240", 100.0), (8, "871240", 100.0))
    start, end = at("2023-08-08 09:00+10:00"), at("2023-08-11 09:00+10:00")
    assert inflow_between(swamp.logbook.known(), SITE, start, end).possible_m3 == 0
    swamp.write(swamp.hours("2023-08-08 09:05+10:00", 100.0, started=start))
    # 72 h at 0.55 ML/h, the rate on the pump's plate.
    possible_m3 = inflow_between(swamp.logbook.known(), SITE, start, end).possible_m3
    assert possible_m3 == pytest.approx(39_600)


def test_a_figure_left_out_explains_only_what_is_odd_without_it(swamp: Swamp) -> None:
    swamp.write(swamp.gauge("SG1", MORNINGS[0], 0.660))
    near = swamp.gauge("SG1", MORNINGS[1], 0.61, as_typed={"stage_m": "0.61"})
    assert not swamp.alarms(near)
    far = swamp.gauge("SG1", MORNINGS[1], 0.60, as_typed={"stage_m": "0.60"})
    assert swamp.the_alarm(far).code == "figure-dropped"
