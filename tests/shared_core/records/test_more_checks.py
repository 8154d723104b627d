"""Checks of time, completeness, hazards, trees, waves and the like: each fires, and each stays silent."""

from datetime import date, timedelta
from typing import Any

import pytest

from shared_core.records.base import Record, Severity
from shared_core.records.plan import PlannedVisit
from shared_core.records.points_setup import TreeTagged
from shared_core.records.water_setup import Limits
from tests.shared_core.records.limit_cases import MORNING, days_later, hazard, pair, pumped, tree
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at, place
from tests.shared_core.records.test_shoreline_walk import _walk

HOUR = timedelta(hours=1)


def test_a_number_outside_its_fields_range_is_asked_about(swamp: Swamp) -> None:
    assert "unusual-value" in swamp.codes(hazard(swamp, width_m=60.0))
    assert "unusual-value" not in swamp.codes(hazard(swamp, width_m=50.0))


def test_a_time_before_the_site_was_set_up_is_a_clock_that_lost_its_battery(swamp: Swamp) -> None:
    assert swamp.the_alarm(hazard(swamp, seen_at=at("2000-01-01 00:00+00:00"))).code == "clock-old"
    assert "clock-old" not in swamp.codes(hazard(swamp, seen_at=JULY))


def test_a_time_yet_to_come_is_told_of_any_record(swamp: Swamp) -> None:
    early, late = at(MORNING) - HOUR, at(MORNING) + HOUR
    assert swamp.the_alarm(hazard(swamp), now=early).code == "clock-future"
    assert not swamp.alarms(hazard(swamp), now=late)
    assert not swamp.alarms(hazard(swamp), now=at(MORNING) - timedelta(minutes=5))


def test_morning_and_afternoon_mixed_up_shows_beside_the_visit(swamp: Swamp) -> None:
    swamp.write(swamp.visit(MORNING))
    found = swamp.the_alarm(swamp.water("2023-07-20 21:30+10:00"))
    assert (found.code, found.suggests) == ("clock-visit", "2023-07-20T09:30+10:00")
    assert not swamp.alarms(swamp.water("2023-07-20 15:30+10:00"))


def test_what_was_seen_on_a_visit_with_a_wrong_clock_only_says_so(swamp: Swamp) -> None:
    shows = at(MORNING) + HOUR
    swamp.write(swamp.visit(MORNING, clock_shows=shows, satellite_time=at(MORNING)))
    (found,) = swamp.finds(swamp.water(MORNING))
    assert (found.code, found.severity) == ("clock", Severity.NOTE)
    assert not swamp.finds(swamp.water(MORNING).changed(time_source="gnss"))


def test_an_offset_unlike_that_of_its_visit_is_asked_about(swamp: Swamp) -> None:
    swamp.write(swamp.visit(MORNING))
    summer = swamp.water(MORNING).changed(offset_min=660)
    assert swamp.the_alarm(summer).code == "clock-offset"
    assert not swamp.finds(swamp.water(MORNING))


def test_an_offset_without_a_visit_is_a_note(swamp: Swamp) -> None:
    (found,) = swamp.finds(swamp.water(MORNING).changed(offset_min=660))
    assert (found.code, found.severity) == ("clock-offset", Severity.NOTE)


def over(swamp: Swamp, **more: Any) -> Record:
    return swamp.visit(MORNING, left=at(MORNING) + 3 * HOUR, **more)


def test_a_gauge_that_nobody_read_and_nobody_excused_is_missing(swamp: Swamp) -> None:
    swamp.write(swamp.gauge("SG1", MORNING, 0.4, visit="V"))
    found = swamp.the_alarm(over(swamp))
    assert found.code == "items-missing"
    assert "SG2" in found.says
    assert "SG1" not in found.says
    assert not swamp.alarms(swamp.visit(MORNING))  # the team is still there
    assert not swamp.alarms(over(swamp, not_done=("SG2",), not_done_because="under water"))
    swamp.write(swamp.gauge("SG2", MORNING, state="dry", visit="V"))
    assert not swamp.alarms(over(swamp))


def test_a_planned_item_is_missing_until_it_is_done(swamp: Swamp) -> None:
    for gauge in ("SG1", "SG2"):
        swamp.write(swamp.gauge(gauge, MORNING, state="dry", visit="V"))
    items = ("hold", "plots")
    plan = PlannedVisit(site=SITE, valid_from=at(MORNING), code="P", team="Heron", items=items)
    swamp.write(plan)
    assert "plots" in swamp.the_alarm(over(swamp)).says
    swamp.write(swamp.plot("Q4", MORNING))
    assert not swamp.alarms(over(swamp))


def test_a_visit_that_nobody_closed_is_over_the_next_day(swamp: Swamp) -> None:
    visit = swamp.visit(MORNING)
    assert swamp.the_alarm(visit, now=at(MORNING) + 19 * HOUR).code == "items-missing"
    assert not swamp.alarms(visit, now=at(MORNING) + 17 * HOUR)


def test_a_hazard_needs_a_place_and_a_distance(swamp: Swamp) -> None:
    assert swamp.the_alarm(hazard(swamp, position=None)).code == "hazard-position"
    assert swamp.the_alarm(hazard(swamp, keep_out_m=None)).code == "hazard-keep-out"
    assert not swamp.finds(hazard(swamp, keep_out_m=0.0))


def test_a_crown_has_at_most_a_hundred_percent(swamp: Swamp) -> None:
    assert swamp.the_alarm(tree(swamp, extent_pct=101.0)).code == "tree-range"
    assert not swamp.finds(tree(swamp, extent_pct=100.0, density_pct=0.0))


def test_a_plant_covers_at_most_a_hundred_percent(swamp: Swamp) -> None:
    def plot(cover: float) -> Record:
        return swamp.plot("Q4", MORNING, (("Sedge", "AT", cover, None, None, True, True),))

    assert swamp.the_alarm(plot(100.5)).code == "cover-range"
    assert not swamp.finds(plot(100.0))


def test_the_lowest_of_the_waves_lies_below_the_highest(swamp: Swamp) -> None:
    crossed = swamp.gauge("SG1", MORNING, 0.41, lowest_m=0.42, highest_m=0.40)
    assert swamp.the_alarm(crossed).code == "wave-crossed"
    assert not swamp.finds(swamp.gauge("SG1", MORNING, 0.41, lowest_m=0.41, highest_m=0.41))
    assert swamp.codes(swamp.gauge("SG1", MORNING, 0.41, lowest_m=0.40)) == {"wave-half"}


@pytest.mark.parametrize(("gap", "asked"), [(1, False), (2, True), (4, True), (5, False)])
def test_a_missed_day_makes_an_accumulation_where_rain_is_read_daily(
    swamp: Swamp, gap: int, asked: bool
) -> None:
    for day in (17, 18, 19):
        swamp.write(swamp.rain(f"2023-07-{day} 09:00+10:00", date(2023, 7, day), 0.0))
    day = 19 + gap
    late = swamp.rain(f"2023-07-{day} 09:00+10:00", date(2023, 7, day), 6.0)
    found = {each.code: each for each in swamp.finds(late)}
    assert ("rain-days-missed" in found) is asked
    if asked:
        assert found["rain-days-missed"].suggests == str(gap)
    assert not swamp.finds(late.changed(days_covered=gap))
    assert not swamp.finds(late.changed(rain_mm=0.9))


def test_rain_that_is_read_now_and_then_covers_what_it_says(swamp: Swamp) -> None:
    for day in (10, 14, 19):
        swamp.write(swamp.rain(f"2023-07-{day} 09:00+10:00", date(2023, 7, day), 3.0))
    assert not swamp.finds(swamp.rain("2023-07-21 09:00+10:00", date(2023, 7, 21), 6.0))


def test_a_volume_that_the_pump_cannot_have_moved_stops(swamp: Swamp) -> None:
    def found(megalitres: float) -> set[tuple[str, Severity]]:
        return {(f.code, f.severity) for f in swamp.finds(pumped(swamp, megalitres, 1.0))}

    # 24 h x 0.52 ML/h measured, at most 1.2 times that: 14.976 ML.
    assert ("flow-rate", Severity.STOP) in found(15.55)
    assert ("flow-rate", Severity.STOP) not in found(14.9)


def test_a_short_gap_that_nobody_marked_is_a_note(swamp: Swamp) -> None:
    assert "walk-not-closed" in swamp.codes(_walk(swamp, closed=False))
    assert "walk-not-closed" not in swamp.codes(_walk(swamp))


def test_a_walk_that_crosses_itself_in_a_loop_says_so(swamp: Swamp) -> None:
    straight = _walk(swamp)
    rows = list(straight.fixes)
    for number in range(100, 112):  # back along the shore, then on again: a loop of 70 m
        rows[number] = (rows[number][0], *straight.fixes[211 - number][1:])
    rows[105:107] = [(row[0], row[1] + 0.0004, *row[2:]) for row in rows[105:107]]
    looped = straight.changed(fixes=tuple(rows))
    assert "walk-loop" in swamp.codes(looped)
    assert "walk-loop" not in swamp.codes(straight)


@pytest.mark.parametrize(("count", "many"), [(34, False), (40, True)])
def test_a_tenth_of_wild_fixes_asks_for_the_stretch_again(
    swamp: Swamp, count: int, many: bool
) -> None:
    walk = _walk(swamp)
    rows = [
        (*row[:3], 20.0 if number % 8 == 0 and number < 8 * count else 3.0, row[4])
        for number, row in enumerate(walk.fixes)
    ]
    every = swamp.finds(walk.changed(fixes=tuple(rows)))
    (found,) = [each for each in every if each.code == "walk-wild"]
    assert ("again" in found.do) is many


def test_a_tree_scored_far_from_its_tag_is_asked_about(swamp: Swamp) -> None:
    swamp.write(TreeTagged(site=SITE, valid_from=JULY, code="T1", place=place(0, 0)))
    assert swamp.the_alarm(tree(swamp, position=place(40, 0))).code == "point-distance"
    assert not swamp.finds(tree(swamp, position=place(20, 0)))


def test_a_limit_that_no_check_reads_is_asked_about(swamp: Swamp) -> None:
    def judged(name: str) -> set[str]:
        return swamp.codes(Limits(site=SITE, valid_from=JULY, values=((name, 1.0, ""),)))

    assert "limit-unknown" in judged("guage-pair")
    assert not judged("gauge-pair") | judged("not native: willow") | judged("every-rain_reading")


def test_salt_says_nothing_once_the_pump_has_run(swamp: Swamp) -> None:
    swamp.write(swamp.gauge("SG1", MORNING, 0.8), swamp.gauge("SG1", days_later(5), 0.8))
    swamp.write(swamp.hours(days_later(-1), 100.0), swamp.hours(days_later(4), 180.0))
    swamp.write(swamp.water(MORNING, ec_us_cm=1000.0))
    assert "salt-rise" not in swamp.codes(swamp.water(days_later(5), ec_us_cm=1400.0))


def test_two_gauges_agree_within_their_limit_and_their_uncertainty(swamp: Swamp) -> None:
    assert "gauge-pair" not in swamp.codes(pair(swamp, 0.015))
    assert "gauge-pair" in swamp.codes(pair(swamp, 0.040))
    swamp.write(Limits(site=SITE, valid_from=JULY, values=(("gauge-pair", 0.020, ""),)))
    assert "gauge-pair" not in swamp.codes(pair(swamp, 0.0195))
    found = {each.code: each for each in swamp.finds(pair(swamp, 0.0205))}
    assert "zeros" not in found["gauge-pair"].do
    far = {each.code: each for each in swamp.finds(pair(swamp, 0.031))}
    assert "have the zeros levelled" in far["gauge-pair"].do
