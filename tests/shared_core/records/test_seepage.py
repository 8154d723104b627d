"""What a site learns of its own losses; a swamp that seeps 3.6 mm a day."""

from datetime import timedelta

import pytest

from shared_core.records.levels_seen import recent_levels
from shared_core.records.seepage import Learned, learned_seepage
from shared_core.records.weather import weather_between
from tests.shared_core.records.swamp import SITE, Swamp, at

SEEPS_MM_DAY = 3.6
START = at("2023-11-10 10:00+11:00")
STAGE_M = 0.900


@pytest.fixture
def off(swamp: Swamp) -> Swamp:
    """The pump stands still: two looks at the meter a day apart."""
    for day in (8, 9):
        swamp.write(swamp.meter("M1", f"2023-11-{day:02d} 10:00+11:00", "146060"))
    return swamp


def _fall(swamp: Swamp, days: list[int], slip_m: float = 0.0) -> Learned | None:
    """Write readings on days after the start, the last but one off by a slip, and learn."""
    known = swamp.logbook.known()
    for place, day in enumerate(days):
        when = START + timedelta(days=day)
        lost_mm = 0.0
        if day:
            sky = weather_between(known, SITE, START, when)
            lost_mm = SEEPS_MM_DAY * day + (sky.evaporation_mm or 0.0) - sky.rain_mm
        stage_m = STAGE_M - lost_mm / 1000 + (slip_m if place == len(days) - 2 else 0.0)
        swamp.write(swamp.gauge("SG1", when.isoformat(), stage_m, visit=f"day {day}"))
    after = START + timedelta(days=days[-1] + 8)
    levels = recent_levels(swamp.logbook.known(), SITE, after)
    return learned_seepage(swamp.logbook.known(), SITE, levels)


def test_two_steady_intervals_tell_the_rate(off: Swamp) -> None:
    off.write(off.rain("2023-11-11 10:00+11:00", START.date() + timedelta(days=1), 0.0))
    learned = _fall(off, [0, 10, 22])
    assert learned is not None
    assert learned.rate_mm_day == pytest.approx(SEEPS_MM_DAY, abs=0.05)
    bed = learned.bed(None)
    assert bed.seepage_mm_day == pytest.approx(SEEPS_MM_DAY, abs=0.4)
    assert bed.seepage_sd_mm_day < 0.6


def test_a_slip_in_the_middle_teaches_nothing(off: Swamp) -> None:
    assert _fall(off, [0, 10, 22], slip_m=0.1) is None


def test_one_interval_teaches_nothing(off: Swamp) -> None:
    assert _fall(off, [0, 12]) is None


def test_days_with_a_pump_teach_nothing(swamp: Swamp) -> None:
    swamp.write(swamp.meter("M1", "2023-11-12 10:00+11:00", "100000"))
    swamp.write(swamp.meter("M1", "2023-11-13 10:00+11:00", "112000"))
    swamp.write(swamp.meter("M1", "2023-11-14 10:00+11:00", "112000"))
    assert _fall(swamp, [0, 10, 22]) is None


def test_the_learned_rate_takes_in_what_evaporation_was_off_by(off: Swamp) -> None:
    learned = _fall(off, [0, 10, 22])
    assert learned is not None
    known = off.logbook.known()
    sky = weather_between(known, SITE, START, START + timedelta(days=10))
    assert learned.weather(sky).evaporation_sd_mm < 0.75 * sky.evaporation_sd_mm
