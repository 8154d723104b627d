"""What the teams wrote at the gauges, the pump, the water's edge, the bore and the logger."""

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Final

from demo_visits.acts import PLACES, Act, gauge_reading, seen_at, slipped, stage_text
from demo_visits.logger import SENSOR_LEVEL_M, depth_shown_m
from demo_visits.scenario import (
    BM1,
    DAYLIGHT,
    M1,
    M2,
    OFFICE,
    PUMP,
    RUTH,
    SG1_CHECKED_ZERO_M,
    SG2_CHECKED_ZERO_M,
    SITE,
    gauge_zero_m,
)
from demo_visits.truth import level_at
from demo_visits.visits import BELOW, DRY, OVER, VISITS, Visit, visit_act, visit_named
from demo_visits.walks import walk_named

# Stages typed otherwise than they stood, by visit and gauge: error, typed, and what it really was.
_STAGE_SLIPS: Final = {
    ("V03", "SG1"): ("E01", "40", "0.402"),
    ("V04", "SG2"): ("E02", "0.371", "0.271"),
    ("V10", "SG2"): ("E26", "1.321", "0.321"),
    ("V16", "SG1"): ("E16", "0.790", "0.890"),
    ("V19", "SG1"): ("E18", "0.463", "0.643"),
}
_WALK_OF: Final = {"V04": "W1", "V06": "W2", "V13": "W3", "V18": "W4", "V22": "W5", "V24": "W6"}
_WALK_PLANTED: Final = {"W2": "E07", "W3": "E14"}

# EC [uS/cm at 25 C], water [C], oxygen [mg/L], and what was seen.
_WATER: Final = {
    "V03": ("143", "11", "8.1", "clear"),
    "V06": ("148", "14", "6.2", "tea-coloured"),
    "V08": ("158", "17", "5.1", ""),
    "V09": ("170", "19", "3.8", "watch for gasping fish"),
    "V13": ("171", "20", "5.6", "after top-up"),
    "V15": ("209", "23", "4.4", ""),
    "V18": ("260", "25", "3.2", ""),
    "V22": ("451", "27", "2.6", "green scum on the lee shore: no contact, reported"),
    "V24": ("1127", "26", "1.8", ""),
    "V25": ("2061", "25", "3.0", "shallow, wind-mixed"),
}
# Bore B1 below the casing's top [m], and how far [mm] the second dip came out from the first.
_DIPS: Final = {
    "V01": (6.842, 2),
    "V05": (6.785, -3),
    "V08": (6.690, 4),
    "V13": (6.585, 1),
    "V17": (6.520, -2),
    "V21": (6.505, 3),
    "V23": (6.515, 2),
    "V24": (6.525, -4),
    "V27": (6.560, 5),
}
_LOGGER_CHECKS: Final = ("V03", "V04", "V08", "V13", "V15", "V18", "V22", "V24")
# Hazard pins: visit, name, place [m], and what was written.
_HAZARDS: Final = (
    (
        "V01",
        "crack",
        (430.0, 425.0),
        {"hazard": "crack", "width_m": "0.12", "depth_m": "0.7", "keep_out_m": "5"},
    ),
    (
        "V03",
        "tunnel",
        (64.0, 452.0),
        {"hazard": "tunnel", "width_m": "0.3", "depth_m": "1.1", "keep_out_m": "5"},
    ),
    (
        "V22",
        "algae",
        (838.0, 430.0),
        {"hazard": "algae", "keep_out_m": "10", "remark": "Green scum on the lee shore."},
    ),
    (
        "V25",
        "soft mud",
        (505.0, 372.0),
        {"hazard": "soft", "depth_m": "0.4", "keep_out_m": "5", "remark": "Mud around SG1."},
    ),
)


def _reading(stage: str) -> dict[str, str]:
    if stage in (OVER, BELOW, DRY):
        return {"state": stage}
    return {"stage_m": stage_text(float(stage), 0.0)}


def _gauge_act(visit: Visit, gauge: str, stage: str, minutes: int) -> Act:
    slip = _STAGE_SLIPS.get((visit.name, gauge))
    typed = {"stage_m": slip[1]} if slip else _reading(stage)
    act = visit_act(visit.name, minutes, f"gauge_reading {gauge}", typed)
    act = replace(act, photo="" if visit.name == "V20" else "plate")
    return slipped(act, slip[0], stage_m=slip[2]) if slip else act


def _gauge_acts(visit: Visit) -> Iterator[Act]:
    """Yield what was written at the two gauges; V07 wrote one value under the wrong gauge."""
    if visit.name == "V07":
        act = visit_act("V07", 0, "gauge_reading SG1", {"stage_m": visit.sg2})
        act = replace(act, photo="plate", position=seen_at(act.key, PLACES["SG2"]))
        yield slipped(act, "E08", point="SG2")
        return
    first = _gauge_act(visit, "SG1", visit.sg1, 0)
    second = _gauge_act(visit, "SG2", visit.sg2, 8)
    if visit.name == "V14":
        second = replace(second, planted="E15")
    if visit.name == "V25":
        waves = {"lowest_m": "0.000", "highest_m": "0.010", "remark": "stirred mud, waves 10 mm"}
        typed = {**first.typed, **waves}
        first = replace(first, typed=typed, true=typed)
    if visit.name == "V26":
        first = replace(first, typed={"stage_m": "0.000"}, true={"stage_m": "0.000"})
        first = slipped(first, "E23", state=BELOW)
    yield first
    yield second


def _arrival(visit: Visit) -> Act:
    typed = {"team": visit.team}
    if visit.remark:
        typed["remark"] = visit.remark
    if visit.clock_error_min:
        shown = visit.start + timedelta(minutes=visit.clock_error_min)
        typed["clock_shows"] = shown.isoformat(sep=" ", timespec="minutes")
        typed["satellite_time"] = visit.start.isoformat(sep=" ", timespec="minutes")
    act = visit_act(visit.name, -10, f"visit {SITE}", typed)
    return replace(act, photo="meter" if visit.name == "V01" else "")


def _water_acts(visit: Visit) -> Iterator[Act]:
    if visit.name not in _WATER:
        return
    ec, water, oxygen, seen = _WATER[visit.name]
    typed = {
        "ec_us_cm": ec,
        "ec_compensated": "yes",
        "water_c": water,
        "oxygen_mg_l": oxygen,
    }
    if seen:
        typed["remark"] = seen
    act = visit_act(visit.name, 2, "water_sample WQ1", typed)
    if visit.name == "V24":
        act = replace(act, typed={**typed, "ec_us_cm": "1.13"})
        act = slipped(act, "E28", ec_us_cm=ec)
    yield act
    if visit.name == "V09":
        dawn = {"oxygen_mg_l": "3.1", "remark": "at dawn"}
        yield visit_act("V09", -285, "water_sample WQ1", dawn, "dawn")


def _bore_acts(visit: Visit) -> Iterator[Act]:
    if visit.name not in _DIPS:
        return
    dip_m, apart_mm = _DIPS[visit.name]
    typed = _dips(dip_m, apart_mm)
    act = visit_act(visit.name, 50, "bore_dip B1", typed)
    if visit.name == "V23":  # the tape was held at the ground, the mark left at the casing
        act = replace(act, typed=_dips(dip_m - 0.550, apart_mm))
        act = slipped(act, "E21", **typed)
    yield act


def _dips(dip_m: float, apart_mm: int) -> dict[str, str]:
    second_m = dip_m + apart_mm / 1000.0
    return {"dip_1_m": f"{dip_m:.3f}", "dip_2_m": f"{second_m:.3f}", "mark": "casing"}


def _logger_acts(visit: Visit) -> Iterator[Act]:
    if visit.name not in _LOGGER_CHECKS:
        return
    stage, gauge = (visit.sg1, "SG1") if visit.sg1 != OVER else (visit.sg2, "SG2")
    zero_m = gauge_zero_m(gauge, visit.start)
    act = visit_act(visit.name, 12, "logger_check PT1", {})
    logged_m = SENSOR_LEVEL_M + depth_shown_m(act.when, rezeroed=False)
    behind = "60 min behind the wall clock" if visit.start.tzinfo == DAYLIGHT else "as the wall"
    typed = {
        "logged_level_m": f"{logged_m:.3f}",
        "staff_level_m": f"{float(stage_text(float(stage), 0.0)) + zero_m:.3f}",
        "clock_difference_s": "0",
        "remark": f"Logger clock on UTC+10: {behind}.",
    }
    act = replace(act, typed=typed, true=typed)
    if visit.name == "V24":  # set anew at 10:10, before anything was noted
        act = replace(act, typed={**typed, "logged_level_m": ""})
        act = slipped(act, "E22", logged_level_m=typed["logged_level_m"], moved="yes")
    yield act


def _walk_acts(visit: Visit) -> Iterator[Act]:
    """Yield a walk and the gauge read again after it."""
    if visit.name not in _WALK_OF:
        return
    track = _WALK_OF[visit.name]
    walk = walk_named(track)
    gauge, stage = ("SG1", visit.sg1) if visit.sg1 != OVER else ("SG2", visit.sg2)
    zero_m = gauge_zero_m(gauge, visit.start)
    after_minutes = 58
    level_m = level_at(visit.start + timedelta(minutes=after_minutes))
    again = gauge_reading(gauge, level_m, zero_m)
    typed = {
        "receiver": "handheld",
        "gauge": gauge,
        "stage_before_m": stage_text(float(stage), 0.0),
        "stage_after_m": again["stage_m"],
        "closed": "no" if walk.left_open else "yes",
        "water_side": "right",
        "islands_seen": "1",
        "remark": "Island seen, not walked.",
    }
    start = int((walk.began - visit.start) / timedelta(minutes=1))
    act = visit_act(visit.name, start, f"shoreline_walk {SITE}", typed)
    yield replace(act, track=track, planted=_WALK_PLANTED.get(track))
    read_again = visit_act(visit.name, after_minutes, f"gauge_reading {gauge}", again, "after")
    yield replace(read_again, photo="plate")


def _level_checks() -> Iterator[Act]:
    found = {
        "V01": (gauge_zero_m("SG1", visit_named("V01").start), 71.850, "yes"),
        "V17": (SG1_CHECKED_ZERO_M, SG2_CHECKED_ZERO_M, "no"),
    }
    for name, (sg1_m, sg2_m, straight) in found.items():
        for minutes, gauge, zero_m in ((25, "SG1", sg1_m), (32, "SG2", sg2_m)):
            typed = {
                "gauge": gauge,
                "found_zero_m": f"{zero_m:.3f}",
                "misclose_m": "0.002",
                "bench_mark": BM1.name,
                "plate_straight": straight if gauge == "SG2" else "yes",
            }
            yield visit_act(name, minutes, f"level_check {gauge}", typed)


def _meter_acts() -> Iterator[Act]:
    """Yield the two meters as they were fitted, and the rain Heron read on the day of the change."""
    first = _fitted(M1.name, M1.serial, "1", M1.start_display)
    yield visit_act("V01", 45, "meter_fitted M1", first)
    true = {**_fitted(M2.name, M2.serial, "10", M2.start_display), "replaces": M1.name}
    wrong = {**true, "multiplier": "1", "start_display": ""}
    change = replace(visit_act("V11", 20, "meter_fitted M2", wrong), photo="meter")
    yield slipped(change, "E13", multiplier="10", start_display=M2.start_display)
    reading = visit_act("V11", 24, "meter_reading M2", {"display": M2.start_display})
    yield replace(reading, photo="meter", planted="E13")
    rain = {"rain_mm": "18.4", "days_covered": "1", "read_on": "2023-10-22"}
    yield visit_act("V11", 40, "rain_reading RG", rain)


def _fitted(meter: str, serial: str, multiplier: str, start: str) -> dict[str, str]:
    return {
        "meter": meter,
        "serial": serial,
        "unit": "kL",
        "multiplier": multiplier,
        "figures": "6",
        "start_display": start,
        "pump": PUMP.name,
        "certificate": f"VC-{serial} (invented)",
    }


def _paper_copy() -> Act:
    """Return V18's SG1 as the office typed it again from the sheet, two days later (E17)."""
    sheet = {"stage_m": "0.72", "typed_from_paper_by": RUTH}
    act = visit_act("V18", 10, "gauge_reading SG1", sheet, "paper")
    return replace(
        act,
        who=(RUTH,),
        device=OFFICE,
        visit="",
        planted="E17",
        position=None,
        written=datetime(2023, 12, 13, 9, 15, tzinfo=DAYLIGHT),
    )


def _dry_dates() -> Iterator[Act]:
    """Yield E29: both tablets wrote the dry date into the season's plan, neither saw the other."""
    for name, team, day, minutes in (
        ("HER-1", visit_named("V27"), "2024-03-30", 60),
        ("BIT-1", visit_named("V26"), "2024-03-28", 380),
    ):
        act = visit_act("V27", minutes, f"watering_plan {SITE}", {"dry_on": day}, name)
        act = replace(act, who=team.who, device=team.device, shares_record="watering_plan")
        yield slipped(act, "E29", dry_on="2024-03-30")


def _hazard_acts() -> Iterator[Act]:
    for number, (visit, name, place, typed) in enumerate(_HAZARDS):
        act = visit_act(visit, 65 + number, f"hazard {SITE}", typed, name)
        yield replace(act, position=place, photo="view", point=f"H{number + 1}")


def team_acts() -> tuple[Act, ...]:
    """Return what was written on the 27 visits, plants, trees and photo points left out."""
    acts: list[Act] = []
    for visit in VISITS:
        acts.append(_arrival(visit))
        for each in (_gauge_acts, _water_acts, _bore_acts, _logger_acts, _walk_acts):
            acts.extend(each(visit))
    acts.extend((*_level_checks(), *_meter_acts(), *_hazard_acts(), _paper_copy(), *_dry_dates()))
    return tuple(sorted(acts, key=lambda act: act.when))
