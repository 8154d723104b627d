"""The season as people wrote it: pump log, visits, and every planted error."""

import dataclasses
import re
from datetime import date, timedelta
from itertools import pairwise

import pytest

from demo_visits.acts import Act
from demo_visits.scenario import (
    ALLOCATED_MEGALITRES,
    DEVICES,
    M1,
    M2,
    PEOPLE,
    PLANNED_VISITS,
    PUMP,
    gauge_zero_m,
    wall_clock,
)
from demo_visits.season import ALSO_PLANTED, PLANTED, SENT_TWICE, act_named, acts, planted_error
from demo_visits.season_pump import PUMP_LOG
from demo_visits.truth import level_at, truth_days
from demo_visits.visits import VISITS, visit_named
from demo_visits.weather import RAIN_MM
from shared_core.fields import fields_of
from shared_core.records import KINDS

KIND_OF = {kind.kind: kind for kind in KINDS}


def of_kind(kind: str) -> list[Act]:
    return [act for act in acts() if act.kind == kind]


def metered_m3(meter: str, days: list[date]) -> float:
    """Water between readings of one meter in the true log, rollovers counted, in m3."""
    card = {"M1": M1, "M2": M2}[meter]
    counts = [int(line.display) for line in PUMP_LOG if line.meter == meter and line.day in days]
    total = 0
    for earlier, later in pairwise(counts):
        total += (later - earlier) % 10**card.digits
    return float(total * card.multiplier)


AUGUST = [line.day for line in PUMP_LOG if line.day.month == 8]
OCTOBER = [line.day for line in PUMP_LOG if line.day.month == 10]


def test_the_first_watering_was_274_82_megalitres_across_the_rollover() -> None:
    assert metered_m3("M1", AUGUST) == 274_820
    assert 146_060 - 871_240 == -725_180  # what forgetting the rollover would give


def test_the_second_watering_was_metered_in_two_parts() -> None:
    assert metered_m3("M1", OCTOBER) == 35_360
    fitted = int(M2.start_display)
    last = int(next(line for line in PUMP_LOG if line.day == date(2023, 10, 24)).display)
    assert (last - fitted) * M2.multiplier == 16_640


def test_the_stuck_meters_share_is_its_hours_at_the_pumps_rate() -> None:
    hours = {line.day: float(line.hours) for line in PUMP_LOG}
    stuck_h = hours[date(2023, 10, 22)] - hours[date(2023, 10, 20)]
    assert stuck_h == pytest.approx(35.5)
    assert stuck_h * PUMP.rate_megalitres_h == pytest.approx(18.46)
    written = planted_error("E11").corrections[0].values
    assert float(written["hours"]) * float(written["rate_megalitres_per_hour"]) == pytest.approx(
        18.46
    )


def test_the_season_pumped_86_3_percent_of_the_allocation() -> None:
    pumped = 274.82 + 35.36 + 18.46 + 16.64
    assert pumped == pytest.approx(345.28)
    assert sum(day.pumped_megalitres for day in truth_days()) == pytest.approx(pumped, abs=0.05)
    assert 100 * pumped / ALLOCATED_MEGALITRES == pytest.approx(86.3, abs=0.05)


def test_each_days_hours_are_those_of_the_truth() -> None:
    true_h = {day.day: day.pump_h for day in truth_days()}
    for earlier, later in pairwise(PUMP_LOG):
        ran_h = float(later.hours) - float(earlier.hours)
        if later.day - earlier.day == timedelta(days=1):
            assert ran_h == pytest.approx(true_h[later.day], abs=0.001)


def test_each_days_meter_reading_adds_that_days_water() -> None:
    pumped = {day.day: day.pumped_megalitres for day in truth_days()}
    worth_m3 = {"M1": 1, "M2": 10}
    stuck = (date(2023, 10, 21), date(2023, 10, 22))
    for earlier, later in pairwise(PUMP_LOG):
        if earlier.meter != later.meter or later.day in stuck:
            continue
        added = (int(later.display) - int(earlier.display)) % 10**6 * worth_m3[later.meter]
        if later.day - earlier.day == timedelta(days=1):
            assert added / 1000 == pytest.approx(pumped[later.day], abs=0.001)
        else:
            assert added == 0  # nothing was taken between the waterings


def test_three_days_of_the_log_were_never_written() -> None:
    for day in (24, 25, 26):
        assert not [a for a in acts() if a.when.date() == date(2023, 8, day)]
    assert act_named("2023-08-27 meter_reading M1").typed == {"display": "116420"}


def test_there_are_27_visits_and_each_has_its_act() -> None:
    assert [visit.name for visit in VISITS] == [f"V{number:02d}" for number in range(1, 28)]
    for visit in VISITS:
        act = act_named(f"{visit.name} visit LRS")
        assert act.when == visit.start - timedelta(minutes=10)


def test_wall_clocks_carry_the_offset_of_their_day() -> None:
    for act in acts():
        assert act.when.utcoffset() == wall_clock(act.when).utcoffset()


def test_a_planned_visit_is_missing_and_only_one() -> None:
    missing = [plan for plan in PLANNED_VISITS if not plan.visit]
    assert [plan.day for plan in missing] == [date(2024, 2, 23)]
    for plan in PLANNED_VISITS:
        if plan.visit:
            visit = visit_named(plan.visit)
            assert visit.start.date() == plan.day
            assert visit.team.startswith(plan.team)


def test_the_errors_are_e01_to_e29_in_order() -> None:
    assert [error.id for error in PLANTED] == [f"E{number:02d}" for number in range(1, 30)]


def test_every_error_names_acts_that_exist_and_carry_it() -> None:
    without = {"E05", "E24"}  # nothing was ever written
    for error in (*PLANTED, *ALSO_PLANTED):
        assert bool(error.acts) != (error.id in without)
        for key in error.acts:
            act = act_named(key)
            assert act.planted is not None
            assert act.site == "LRS"
            assert error.id in (act.planted, "V14")
            assert error.corrections


def test_every_planted_act_belongs_to_an_error() -> None:
    named = {key for error in (*PLANTED, *ALSO_PLANTED) for key in error.acts}
    assert {act.key for act in acts() if act.planted} == named


def test_an_act_without_an_error_was_typed_as_it_was() -> None:
    for act in acts():
        if act.planted is None:
            assert act.typed == act.true
            assert act.stamped == act.when


TYPED_IN_ERROR = {  # key: (field, typed, true)
    "V03 gauge_reading SG1": ("stage_m", "40", "0.402"),
    "V04 gauge_reading SG2": ("stage_m", "0.371", "0.271"),
    "2023-08-12 meter_reading M1": ("display", "965520", "956520"),
    "2023-08-15 pump_run PU1": ("hours_reading", "4544.7", "4530.7"),
    "2023-10-23 meter_reading M2": ("display", "1234", "001234"),
    "V11 meter_fitted M2": ("start_display", "", "000012"),
    "V16 gauge_reading SG1": ("stage_m", "0.790", "0.890"),
    "V19 gauge_reading SG1": ("stage_m", "0.463", "0.643"),
    "V23 bore_dip B1": ("dip_1_m", "5.965", "6.515"),
    "V10 gauge_reading SG2": ("stage_m", "1.321", "0.321"),
    "2023-10-21 rain_reading RG": ("read_on", "2023-10-21", "2023-10-22"),
    "V24 water_sample WQ1": ("ec_us_cm", "1.13", "1127"),
}


@pytest.mark.parametrize("key", TYPED_IN_ERROR)
def test_a_slip_is_typed_exactly_as_told(key: str) -> None:
    name, typed, true = TYPED_IN_ERROR[key]
    act = act_named(key)
    assert (act.typed[name], act.true[name]) == (typed, true)


def test_the_rollover_and_the_stuck_meter_were_typed_as_seen() -> None:
    assert act_named("2023-08-18 meter_reading M1").typed["display"] == "010340"
    for day in (20, 21, 22):
        assert act_named(f"2023-10-{day} meter_reading M1").typed["display"] == "181420"


def test_v07_has_one_reading_under_the_wrong_gauge() -> None:
    read = [act for act in of_kind("gauge_reading") if act.visit == "V07"]
    assert [(act.point, act.typed["stage_m"], act.true["point"]) for act in read] == [
        ("SG1", "0.505", "SG2")
    ]


def test_wrong_clocks_stamp_an_hour_early_and_half_a_day_late() -> None:
    for visit, minutes in (("V09", -60), ("V14", 720)):
        for act in acts():
            if act.visit == visit:
                assert act.stamped - act.when == timedelta(minutes=minutes)
        shift = planted_error("E10" if visit == "V09" else "V14").corrections[0]
        assert int(shift.values["minutes"]) == -minutes
        assert set(shift.acts) == {act.key for act in acts() if act.visit == visit}


def test_v14_reads_a_pair_that_differs_by_60_mm_with_the_old_zero() -> None:
    sg1 = float(act_named("V14 gauge_reading SG1").typed["stage_m"]) + 71.300
    sg2 = float(act_named("V14 gauge_reading SG2").typed["stage_m"]) + 71.850
    assert sg2 - sg1 == pytest.approx(0.060, abs=0.006)


def test_v18_comes_twice_and_once_more_from_paper() -> None:
    copy = act_named("V18 gauge_reading SG1 paper")
    assert SENT_TWICE == ("V18",)
    assert copy.typed["stage_m"] == "0.72"
    assert f"{copy.when:%H:%M}" == "10:30"
    assert copy.written is not None
    assert copy.written > copy.when
    assert copy.device == "OFFICE"


def test_a_pool_below_the_plate_was_typed_as_zero() -> None:
    act = act_named("V26 gauge_reading SG1")
    assert act.typed == {"stage_m": "0.000"}
    assert act.true == {"state": "below_zero"}


def test_misplaced_photos_and_the_misplaced_plot_are_far_from_their_pegs() -> None:
    def apart_m(key: str, x: float, y: float) -> float:
        place = act_named(key).position
        assert place is not None
        return float(((place[0] - x) ** 2 + (place[1] - y) ** 2) ** 0.5)

    assert apart_m("V08 photo_taken PP3", 945.0, 430.0) == pytest.approx(510.0, abs=8.0)
    assert apart_m("V22 plot_score Q6", 660.0, 600.0) == pytest.approx(12.0, abs=0.1)
    for sequence in (1, 2):
        key = f"V22 photo_taken PP1 other site {sequence}"
        assert apart_m(key, 550.0, 400.0) == pytest.approx(3250.0, abs=200.0)


def test_two_devices_wrote_different_dry_dates_to_one_record() -> None:
    both = [act_named(key) for key in planted_error("E29").acts]
    assert {(act.device, act.typed["dry_on"]) for act in both} == {
        ("HER-1", "2024-03-30"),
        ("BIT-1", "2024-03-28"),
    }
    assert len({act.shares_record for act in both}) == 1


def test_one_storm_was_entered_on_two_days() -> None:
    storm = [act for act in of_kind("rain_reading") if act.typed["rain_mm"] == "18.4"]
    assert [(act.device, act.typed["read_on"]) for act in storm] == [
        ("IC-1", "2023-10-21"),
        ("HER-1", "2023-10-22"),
    ]


def test_every_rain_day_is_read_once_apart_from_the_storm() -> None:
    read = [act for act in of_kind("rain_reading") if act.planted is None]
    wet = {a.typed["read_on"]: float(a.typed["rain_mm"]) for a in read if a.typed["rain_mm"] > "0"}
    wet = {day: rain_mm for day, rain_mm in wet.items() if rain_mm > 0}
    assert wet == {day.isoformat(): rain_mm for day, rain_mm in RAIN_MM.items()}
    assert len({a.typed["read_on"] for a in read}) == len(read)


@pytest.mark.parametrize("act", of_kind("gauge_reading"), ids=lambda act: act.key)
def test_a_true_stage_is_the_true_level_less_the_zero_to_5_mm(act: Act) -> None:
    stage = act.true.get("stage_m")
    if stage is None:
        return
    level_m = level_at(act.when)
    assert level_m is not None
    zero_m = gauge_zero_m(act.true.get("point", act.point), act.when)
    assert float(stage) + zero_m == pytest.approx(level_m, abs=0.0045)


def test_walks_are_followed_by_a_second_reading() -> None:
    for walk in of_kind("shoreline_walk"):
        gauge = walk.typed["gauge"]
        again = act_named(f"{walk.visit} gauge_reading {gauge} after")
        assert again.typed["stage_m"] == walk.typed["stage_after_m"]
        assert again.when > walk.when
    assert [walk.track for walk in of_kind("shoreline_walk")] == [f"W{n}" for n in range(1, 7)]


def test_conductivity_is_that_of_the_true_pool() -> None:
    true = {day.day: day.ec_us_cm for day in truth_days()}
    samples = [act for act in of_kind("water_sample") if "ec_us_cm" in act.true]
    assert len(samples) == 10
    for act in samples:
        assert float(act.true["ec_us_cm"]) == true[act.when.date()]


def test_bore_dips_agree_within_5_mm() -> None:
    dips = of_kind("bore_dip")
    assert len(dips) == 9
    for act in dips:
        apart_m = float(act.typed["dip_1_m"]) - float(act.typed["dip_2_m"])
        assert abs(apart_m) <= 0.0051


def test_everybody_carries_their_own_device() -> None:
    carried = {device.name: set(device.people) for device in DEVICES}
    names = {person.name for person in PEOPLE}
    for act in acts():
        assert set(act.who) <= names
        assert set(act.who) & carried[act.device]


def test_keys_are_unique_and_acts_in_order_of_time() -> None:
    keys = [act.key for act in acts()]
    assert len(set(keys)) == len(keys)
    times = [act.when for act in acts()]
    assert times == sorted(times)


@pytest.mark.parametrize("kind", sorted({act.kind for act in acts()}))
def test_what_is_typed_fits_the_fields_of_its_kind(kind: str) -> None:
    """Every text is one that the record's own field can read, or an empty one that is blank."""
    fields = {field.name: field for field in fields_of(KIND_OF[kind])}
    for act in of_kind(kind):
        for typed in (act.typed, act.true):
            for name, text in typed.items():
                assert name in fields, (act.key, name)
                if text:
                    fields[name].read(text)


def test_corrections_write_fields_of_their_kind() -> None:
    for error in (*PLANTED, *ALSO_PLANTED):
        for correction in error.corrections:
            assert len(correction.reason) > 10
            if correction.action == "shift clock":
                continue
            kinds = {act_named(key).kind for key in correction.acts} or {correction.kind}
            for kind in kinds - {""}:
                fields = {field.name: field for field in fields_of(KIND_OF[kind])}
                for name, text in correction.values.items():
                    assert name in fields, (error.id, name)
                    if text:
                        fields[name].read(text)


def test_a_correction_writes_what_was_true() -> None:
    for error in PLANTED:
        for correction in error.corrections:
            if correction.action != "correct":
                continue
            for key in correction.acts:
                true = act_named(key).true
                for name, text in correction.values.items():
                    if name in true and name not in ("remark", "species"):
                        near = re.fullmatch(r"[\d.]+", text) and "." in text
                        if near:
                            assert float(text) == pytest.approx(float(true[name]), abs=0.0026)
                        else:
                            assert text == true[name], (error.id, name)


def test_acts_cannot_be_changed() -> None:
    with pytest.raises(dataclasses.FrozenInstanceError):
        acts()[0].key = "other"  # type: ignore[misc]  # the point of the test
