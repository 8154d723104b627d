"""The page of methods: its figures are those of the code, its slips and judges exist."""

import re
from pathlib import Path
from typing import Final

from shared_core import balance, evaporation, expect, rating, slips, track, vegetation
from shared_core.records import meter_setup, pumping, seepage, staff_gauge_level, staff_gauge_pairs
from shared_core.records.levels import READING_SD_M, SAME_VISIT, ZERO_SD_M
from shared_core.site_balance import PAIR_LIMIT_M, RAIN_SD

ROOT: Final = Path(__file__).resolve().parent.parent


def methods() -> str:
    return (ROOT / "docs" / "methods.md").read_text(encoding="utf-8")


FIGURES: Final[dict[str, list[float]]] = {  # words of the methods, and what stands in them
    "calm / ripples / waves | {} / {} / {} mm": [1000 * sd for sd in READING_SD_M.values()],
    "survey receiver / terrain model | {} / {} / {} mm": [1000 * sd for sd in ZERO_SD_M.values()],
    "within {} hours of each other": [SAME_VISIT.total_seconds() / 3600],
    "over {} mm (4 sd": [1000 * PAIR_LIMIT_M],
    "p = {} is assumed": [rating.DEFAULT_SHAPE_P],
    "good to ± {} %": [100 * rating.ONE_WALK_FRACTION],
    "k = {} for water": [evaporation.KC_OPEN_WATER],
    "E = {} · pan": [evaporation.PAN_FACTOR],
    "{} % of open-water evaporation from daily weather, {} % from a monthly": [
        100 * evaporation.SD_DAILY,
        100 * evaporation.SD_MONTHLY,
    ],
    "**Uncertainty**: {} % (catch": [100 * RAIN_SD],
    "{} % of a meter's volume where *Meter fitted* names a certificate, {} % where": [
        100 * meter_setup.VALIDATED_SD,
        100 * meter_setup.UNVALIDATED_SD,
    ],
    "marked estimated {} % at least": [100 * pumping.ESTIMATE_SD],
    "Below −{} sd": [balance.STOP_AND_LOOK_SD],
    "under {} days and under {} mm": [balance.SHORTEST_DAYS, 1000 * balance.LEAST_FALL_M],
    "accuracy over {} m; speed over {} m/s; jumps over {} m": [
        track.USUAL_CLEANING.accuracy_m,
        track.USUAL_CLEANING.speed_m_s,
        track.USUAL_CLEANING.jump_m,
    ],
    "else {} m (handhelds": [track.OPEN_SKY_SD_M],
    "T = {} s is common practice": [track.TIME_CONSTANT_S],
    "T is known within a factor of {}": [track.TIME_CONSTANT_FACTOR],
    "its own error is out by a share of {}": [track.ACCURACY_SPREAD],
    "simplified to {} m first": [track.SIMPLIFY_M],
    "seepage i | {} mm/day": [expect.SEEPAGE_MM_DAY],
    "not yet covered | {} mm | {} mm": [expect.UPTAKE_MM, round(expect.UPTAKE_SD_MM)],
    "the last {} days hold two intervals on one plate, each of {} days": [
        seepage.LONGEST_DAYS,
        seepage.SHORTEST_DAYS,
    ],
    "A drift of {} mm/day is added": [seepage.DRIFT_MM_DAY],
    "differ by more than {} sd teach": [seepage.AGREE_SDS],
    "only a share of {} of its": [seepage.STAYS],
    "loss of {} mm/day": [expect.PLAIN_LOSS_MM_DAY],
    "fits within the window or {} mm": [1000 * slips.CLOSE_M],
    "window is wider than {} mm": [1000 * slips.WIDEST_FOR_SMALL_SLIPS_M],
    "window by {} sd and {} mm, or by {} sd and {} mm": [
        staff_gauge_level.ODD_SDS,
        1000 * staff_gauge_level.LEAST_ODD_M,
        staff_gauge_level.SLIP_SDS,
        1000 * staff_gauge_level.LEAST_SLIP_M,
    ],
    "must come out within {} mm": [1000 * slips.NEAREST_FOR_SMALL_SLIPS_M],
    "another gauge by more than {} mm and by more than {} sd": [
        1000 * staff_gauge_pairs.PAIR_ASK_M,
        staff_gauge_pairs.PAIR_SDS,
    ],
    "s_observer = {} % cover": [vegetation.OBSERVER_SD_PERCENT],
}


def test_the_figures_of_the_methods_are_those_of_the_code() -> None:
    page = " ".join(methods().split())
    said = [words.format(*(f"{value:g}" for value in values)) for words, values in FIGURES.items()]
    assert [words for words in said if words not in page] == []


def test_the_methods_name_every_slip() -> None:
    rows = re.findall(r"^\| (`[\w-]+`(?:, `[\w-]+`)*) \| ", methods(), re.MULTILINE)
    named = {code for row in rows for code in re.findall(r"`([\w]+-[\w-]+)`", row)}
    assert named == set(slips._WEIGHTS)


def test_the_methods_name_the_tests_that_judge_them() -> None:
    judges = re.findall(r"`(tests/[\w/]+\.py)`", methods())
    assert len(set(judges)) > 10
    assert [name for name in judges if not (ROOT / name).is_file()] == []
