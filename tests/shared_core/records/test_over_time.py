"""Findings over time: planted steps, drifts, offsets and twins come back, and clean runs stay silent."""

from collections.abc import Callable, Iterable
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from shared_core.records.logger_history import logger_histories, logger_overviews
from shared_core.records.meter_history import meter_overviews
from shared_core.records.overviews import Overview
from shared_core.records.pair_history import pair_overviews, pair_steps
from shared_core.records.residuals import PeriodRate, residual_overviews
from shared_core.records.run_of_values import Value, drift_in, steps_in
from shared_core.records.site_setup import LevelCheck
from shared_core.records.twins import twin_overviews
from shared_core.records.walk_history import WalkOnGround, walk_overviews
from shared_core.track import SECTORS, LineLevels, SectorLevel
from tests.shared_core.records.limit_cases import FITTED, days_later, pumped
from tests.shared_core.records.swamp import SITE, Swamp, at

NOISE_M = (0.003, -0.004, 0.001, 0.005, -0.002, -0.003, 0.004, 0.0)  # within 5 mm of nothing


def codes(found: Iterable[Overview]) -> list[str]:
    return [each.finding.code for each in found]


def pairs_read(swamp: Swamp, apart_m: Callable[[int], float], weeks: int = 8) -> None:
    """Write both gauges once a week, the second so much above the first."""
    for week in range(weeks):
        when = days_later(7 * week)
        stage_m = 0.900 - 0.050 * week
        second_m = stage_m - 0.550 + apart_m(week) + NOISE_M[week % 8]
        swamp.write(swamp.gauge("SG1", when, round(stage_m, 3)))
        swamp.write(swamp.gauge("SG2", when, round(second_m, 3)))


def test_gauges_that_agree_say_nothing(swamp: Swamp) -> None:
    pairs_read(swamp, lambda _: 0.010)
    assert not list(pair_overviews(swamp.logbook.known(), SITE))


def test_a_step_between_two_gauges_is_found_with_its_interval(swamp: Swamp) -> None:
    pairs_read(swamp, lambda week: 0.060 if week >= 4 else 0.0)
    (found,) = pair_steps(swamp.logbook.known(), SITE)
    assert found.step.size == pytest.approx(-0.060, abs=3 * found.step.sd)
    assert found.step.last_before.at == at(days_later(21)).astimezone(UTC)
    assert found.step.first_after.at == at(days_later(28)).astimezone(UTC)
    assert found.moved is None
    assert found.proposal is None
    assert codes(pair_overviews(swamp.logbook.known(), SITE)) == ["pair-step"]


def test_levelling_tells_which_post_moved_and_proposes_its_zero(swamp: Swamp) -> None:
    pairs_read(swamp, lambda week: 0.060 if week >= 4 else 0.0)
    check: dict[str, Any] = {"misclose_m": 0.002, "bench_mark": "BM1"}
    day = at(days_later(50))
    for gauge, zero_m in (("SG1", 71.300), ("SG2", 71.790)):
        swamp.write(
            LevelCheck(site=SITE, valid_from=day, gauge=gauge, found_zero_m=zero_m, **check)
        )
    (found,) = pair_steps(swamp.logbook.known(), SITE)
    assert found.moved == "SG2"
    assert found.proposal is not None
    assert found.proposal.zero_m == 71.790
    assert found.proposal.valid_from == found.step.first_after.at
    assert found.proposal.doubtful_from is not None
    assert found.proposal.doubtful_from > found.step.last_before.at
    swamp.write(found.proposal)
    assert not pair_steps(swamp.logbook.known(), SITE)  # the proposed row mends it


def test_one_wrong_reading_is_no_step(swamp: Swamp) -> None:
    pairs_read(swamp, lambda week: 0.100 if week == 4 else 0.0)
    assert not list(pair_overviews(swamp.logbook.known(), SITE))


def test_an_offset_from_the_first_day_is_a_zero_or_its_typing(swamp: Swamp) -> None:
    pairs_read(swamp, lambda _: 0.040)
    assert codes(pair_overviews(swamp.logbook.known(), SITE)) == ["pair-offset"]


def test_a_slow_drift_is_no_step(swamp: Swamp) -> None:
    pairs_read(swamp, lambda week: 0.008 * week)
    assert codes(pair_overviews(swamp.logbook.known(), SITE)) == ["pair-drift"]


@pytest.mark.parametrize(("size", "told"), [(0.014, False), (0.016, True)])
def test_a_step_is_told_beyond_its_limit(size: float, told: bool) -> None:
    start = datetime(2023, 7, 1, tzinfo=UTC)
    run = [Value(start + timedelta(days=d), size * (d >= 10)) for d in range(20)]
    assert bool(list(steps_in(run, least=0.015, sd=0.005))) is told
    assert drift_in(run[:10], least=0.015, sd=0.005) is None


def checks(swamp: Swamp, off_m: Callable[[int], float], **moved: Any) -> None:
    for month in range(6):
        more = moved if month == 3 else {}
        swamp.write(swamp.logger(days_later(30 * month), 72.0 + off_m(month), 72.0, **more))


def test_a_logger_that_drifts_gets_a_prorated_correction(swamp: Swamp) -> None:
    checks(swamp, lambda month: 0.006 * month)
    assert codes(logger_overviews(swamp.logbook.known(), SITE)) == ["logger-drift"]
    (history,) = logger_histories(swamp.logbook.known(), SITE)
    assert history.correction_m(at(days_later(75))) == pytest.approx(-0.015, abs=1e-6)
    assert history.correction_m(at(days_later(400))) == 0.0


def test_a_logger_that_stepped_was_moved_unless_somebody_wrote_so(swamp: Swamp) -> None:
    checks(swamp, lambda month: 0.050 * (month >= 3))
    assert codes(logger_overviews(swamp.logbook.known(), SITE)) == ["logger-moved"]


def test_a_logger_set_anew_is_cut_there(swamp: Swamp) -> None:
    checks(swamp, lambda month: 0.050 * (month >= 3), moved=True)
    assert not list(logger_overviews(swamp.logbook.known(), SITE))


def test_a_logger_that_holds_says_nothing(swamp: Swamp) -> None:
    checks(swamp, lambda month: NOISE_M[month])
    assert not list(logger_overviews(swamp.logbook.known(), SITE))


def metered(swamp: Swamp, ratio: Callable[[int], float]) -> None:
    """Write meter and hours each day, the meter counting so much of hours x rate."""
    counted = 0.0
    for day in range(9):
        counted += 0.52 * 20 * ratio(day) if day else 0.0
        swamp.write(pumped(swamp, counted, float(day)))
        swamp.write(swamp.hours(days_later(day, FITTED), 100.0 + 20.0 * day))


@pytest.mark.parametrize(
    ("ratio", "told"),
    [
        ((1.0, 1.0), []),
        ((1.0, 0.9), []),
        ((1.0, 0.6), ["meter-ratio-step"]),
        ((0.7, 0.7), ["meter-ratio"]),
        ((0.85, 0.85), []),
    ],
)
def test_a_meter_beside_hours_times_rate(
    swamp: Swamp, ratio: tuple[float, float], told: list[str]
) -> None:
    metered(swamp, lambda day: ratio[day >= 5])
    assert codes(meter_overviews(swamp.logbook.known(), SITE)) == told


def walk(number: int, offs: dict[str, float] | float = 0.0, **more: Any) -> WalkOnGround:
    """Return a walk at its own level, by teams in turn, with some sectors off [m]."""
    level_m = more.pop("level_m", 72.0 - 0.2 * number)
    all_m = offs if isinstance(offs, float) else 0.0
    by_sector = offs if isinstance(offs, dict) else {}
    sectors = tuple(
        SectorLevel(name, 40, level_m + all_m + by_sector.get(name, 0.0), 0.02) for name in SECTORS
    )
    line = LineLevels(320, level_m + all_m, 0.02, sectors)
    facts: dict[str, Any] = {
        "record_id": f"walk {number}",
        "at": at(days_later(30 * number)),
        "team": ("Heron", "Bittern")[number % 2],
        "gauge": "SG1",
        "level_m": level_m,
        "line": line,
        "slope": 0.01,
    }
    return WalkOnGround(**{**facts, **more})


def test_walks_that_lie_at_their_level_say_nothing() -> None:
    assert not list(walk_overviews([walk(n, {"NE": 0.075, "S": -0.02}) for n in range(4)]))


def test_a_sector_high_on_several_walks_is_the_ground_model() -> None:
    (found,) = walk_overviews([walk(n, {"NE": 0.110}) for n in range(3)])
    assert found.finding.code == "walks-terrain"
    assert found.record_ids == ("walk 0", "walk 1", "walk 2")


def test_a_sector_high_once_is_the_walker() -> None:
    (found,) = walk_overviews([walk(0), walk(1, {"NE": 0.110}), walk(2)])
    assert (found.finding.code, found.record_ids) == ("walks-walker", ("walk 1",))


def test_a_walk_at_the_same_level_that_fits_speaks_against_the_walker() -> None:
    high = {"NE": 0.110}
    walks = [walk(0, high), walk(1, high), walk(2, high, level_m=72.4), walk(3, level_m=72.38)]
    assert codes(walk_overviews(walks)) == ["walks-terrain", "walks-walker"]


def test_all_sectors_of_all_walks_off_alike_is_the_zero() -> None:
    (found,) = walk_overviews([walk(n, 0.120) for n in range(3)])
    assert found.finding.code == "walks-zero"
    other = [walk(n, gauge="SG2") for n in (3, 4)]
    (found,) = walk_overviews([*(walk(n, 0.120) for n in range(3)), *other])
    assert "it is the zero of SG1" in found.finding.says
    assert not list(walk_overviews([walk(n, 0.075) for n in range(3)]))


def test_high_on_one_side_and_low_on_the_other_is_a_shift_of_the_map() -> None:
    slanted = {"E": 0.10, "NE": 0.07, "SE": 0.07, "W": -0.10, "NW": -0.07, "SW": -0.07}
    (found,) = walk_overviews([walk(n, slanted) for n in range(3)])
    assert found.finding.code == "walks-shift"
    # First harmonic of the eight: (2/8) (0.2 + 4 x 0.07 / sqrt 2) = 0.0995 m, on a slope of 1:100.
    assert "9.9 m to the E" in found.finding.says


def twins(swamp: Swamp, apart_m: float, minutes: int, **more: Any) -> list[Overview]:
    swamp.write(swamp.gauge("SG1", days_later(-3), 0.520, visit="A"))
    swamp.write(swamp.gauge("SG1", days_later(0), 0.500, visit="V", photos=("a" * 64,)))
    when = days_later(minutes / 1440)
    swamp.write(swamp.gauge("SG1", when, 0.500 + apart_m, visit="W", who=("Jo M.",), **more))
    return list(twin_overviews(swamp.logbook.known(), SITE))


def test_a_sheet_typed_later_is_a_twin(swamp: Swamp) -> None:
    (found,) = twins(swamp, 0.002, 20, typed_from_paper_by="Jo M.")
    assert found.finding.code == "twin-same"
    assert len(found.record_ids) == 2


@pytest.mark.parametrize(("apart_m", "told"), [(0.010, False), (0.018, False), (0.030, True)])
def test_two_visits_that_do_not_agree_have_their_photos_named(
    swamp: Swamp, apart_m: float, told: bool
) -> None:
    found = twins(swamp, apart_m, 180, photos=("b" * 64,))
    assert codes(found) == (["twin-apart"] if told else [])
    if told:
        assert "aaaaaaaaaaaa and bbbbbbbbbbbb" in found[0].finding.says


@pytest.mark.parametrize(
    ("rate", "wets_first", "too_short", "told"),
    [
        (2.5, False, False, []),
        (-1.9, False, False, []),
        (-2.1, False, False, ["residual-negative"]),
        (15.0, False, False, []),
        (15.1, False, False, ["residual-fast"]),
        (40.0, True, False, []),
        (-5.0, True, False, ["residual-negative"]),
        (-5.0, False, True, []),
    ],
)
def test_what_is_left_over_must_be_able_to_be_seepage(
    rate: float, wets_first: bool, too_short: bool, told: list[str]
) -> None:
    period = PeriodRate("P1", rate, 1.0, wets_first=wets_first, too_short=too_short)
    assert codes(residual_overviews([period])) == told
