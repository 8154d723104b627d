from collections.abc import Callable
from datetime import timedelta
from typing import Any

import pytest

from mobile.arrival import Arrival
from mobile.field_day import Device, FieldDay
from mobile.hazards_near import hazards_near
from mobile.trip import Trip, out_shown
from mobile.visiting import visit_standing
from shared_core.field_shapes import Position
from shared_core.geodesy import distance_m
from shared_core.logbook import Logbook, Said
from shared_core.records.hazard import Hazard
from shared_core.records.plan import PlannedVisit
from shared_core.records.rain import RainReading
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.visit import WEATHER
from tests.mobile.kept import record_of


def test_a_visit_is_written_with_its_own_code_and_its_records_share_it(day: FieldDay) -> None:
    arrival = Arrival(day)
    arrival.choose("weather", "cloud")
    arrival.choose("wind_m_s", "4")
    arrival.choose("clean_on_arrival", "yes")
    arrival.choose("clean_how", "Washed")
    visit = record_of(day, arrival.arrive())
    rain = record_of(day, day.record(RainReading, "R1", {"rain_mm": "3", "read_on": "2026-03-02"}))
    assert visit.visit == rain.visit == day.visit
    assert (visit.weather, visit.wind_m_s, visit.clean_how) == ("cloud", 4.0, "Washed")
    assert visit.clean_on_arrival is True
    assert visit.arrived == day.here().now


def test_the_same_answer_again_takes_it_back(day: FieldDay) -> None:
    arrival = Arrival(day)
    word = next(iter(WEATHER))
    arrival.choose("weather", word)
    arrival.choose("weather", word)
    assert arrival.text("weather") == ""


def test_arriving_twice_corrects_the_one_visit(day: FieldDay, clock: Any) -> None:
    first = Arrival(day).arrive()
    clock.now += timedelta(minutes=5)
    again = Arrival(day)
    assert again.shown().here_already == "Arrived at 08:00."
    again.choose("weather", "fog")
    second = again.arrive()
    assert first.entry.record == second.entry.record
    assert record_of(day, second).arrived == clock.now - timedelta(minutes=5)


def test_the_difference_of_two_clocks_is_said_in_words(day: FieldDay) -> None:
    arrival = Arrival(day)
    arrival.type_watch("07:57")
    assert arrival.clock().difference == "This device's clock is 3 min ahead of the other."
    assert arrival.clock().can_take
    arrival.type_watch("08:00:20")
    assert arrival.clock().difference == "Both show the same, within a minute."
    assert not arrival.clock().can_take
    arrival.type_watch("eight")
    assert "no time" in arrival.clock().wrong


def test_the_other_time_is_taken_for_the_whole_visit(day: FieldDay, clock: Any) -> None:
    wrong_by = timedelta(days=365)
    clock.now += wrong_by
    day.take_up("PRA")
    trip = Trip(day)
    trip.due_in(6)
    trip.go()
    arrival = Arrival(day)
    right = clock.now - wrong_by
    arrival.type_watch(f"{right + timedelta(hours=10):%Y-%m-%d %H:%M}")
    arrival.take_other_time()
    visit = record_of(day, arrival.arrive())
    reading = record_of(day, day.record(GaugeReading, "G1", {"stage_m": "0.42"}))
    assert visit.seen_at == reading.seen_at == right
    assert visit.clock_error == wrong_by
    assert (visit.time_source, reading.time_source) == ("network", "network")
    assert visit.due_back == right + timedelta(hours=6)
    out = out_shown(day.logbook, day.here())
    assert out is not None
    assert out.title == "Out since 08:00, due back 14:00"
    assert [item.title for item in day.to_do() if item.done] == ["Staff gauge G1"]


def test_the_time_that_was_taken_outlasts_a_kill(
    day: FieldDay, make_day: Callable[..., FieldDay]
) -> None:
    day.take_up("PRA")
    arrival = Arrival(day)
    arrival.type_watch("07:00")
    arrival.take_other_time()
    again = make_day(day.logbook)
    again.take_up("PRA")
    assert (again.here().now, again.here().time_source) == (day.here().now, "network")
    assert again.here().clock_error_s == 3600.0
    again.take_up("PRA", code="another")
    assert again.here().now == again.clock_shows().now


def test_going_back_to_the_own_clock_undoes_it(day: FieldDay) -> None:
    trip = Trip(day)
    trip.due_in(2)
    arrival = Arrival(day)
    due = arrival.text("due_back")
    arrival.type_watch("07:00")
    arrival.take_other_time()
    assert arrival.text("due_back") != due
    arrival.take_own_time()
    assert arrival.text("due_back") == due
    assert day.here() == day.clock_shows()


def test_a_satellite_fix_is_better_than_a_watch(make_logbook: Any, clock: Any, new_id: Any) -> None:
    from mobile import practice

    logbook = make_logbook()
    practice.prepare(logbook, clock())
    device = Device(now=clock(), offset_min=600, satellite=clock() - timedelta(minutes=61))
    day = FieldDay(logbook, author="Ada", device=lambda: device, new_id=new_id)
    day.take_up("PRA")
    arrival = Arrival(day)
    assert arrival.clock().has_fix
    arrival.use_fix()
    assert arrival.clock().difference == "This device's clock is 1 h 1 min ahead of the other."
    arrival.take_other_time()
    assert day.here().time_source == "gnss"


@pytest.fixture
def bert(make_logbook: Callable[..., Logbook]) -> Any:
    return make_logbook(device="BIT-1")


def pin(day: FieldDay, bert: Logbook, **more: Any) -> Hazard:
    head: dict[str, Any] = {
        "site": "PRA", "visit": "V03", "point": "site", "offset_min": 600, "time_source": "gnss",
        "seen_at": day.here().now - timedelta(days=3), "observers": ("Bert",), "hazard": "crack",
    }  # fmt: skip
    hazard = Hazard(**{**head, **more})
    bert.write(hazard, Said(author="Bert"))
    day.logbook.absorb([entry.line for entry in bert.since(0)[0]], source="BIT-1")
    return hazard


def test_a_hazard_of_another_team_says_how_far_and_how_near_one_may_go(
    day: FieldDay, bert: Logbook
) -> None:
    pin(day, bert, position=Position(-36.501, 155.5), keep_out_m=15.0)
    (line,) = hazards_near(day)
    away = distance_m(-36.5, 155.5, -36.501, 155.5)  # 0.001 degrees of latitude: 111 m
    assert line.title == "Crack in the ground"
    assert line.says == (
        f"{away:.0f} m to the south from the middle of the site. Keep away by 15 m."
        " Pinned by Bert, 3 days ago."
    )
    assert line.distance_m == pytest.approx(111, abs=0.5)


def test_own_hazards_are_not_others(day: FieldDay) -> None:
    day.record(RainReading, "R1", {"rain_mm": "3", "read_on": "2026-03-02"})
    draft = day.draft(Hazard, "site")
    draft.type("hazard", "soft")
    draft.save()
    assert hazards_near(day) == []


def test_one_who_is_too_near_is_told(
    make_logbook: Callable[..., Logbook], bert: Logbook, clock: Any, new_id: Any
) -> None:
    from mobile import practice

    logbook = make_logbook()
    practice.prepare(logbook, clock())
    here = Device(now=clock(), offset_min=600, position=(-36.50001, 155.5, 5.0))
    day = FieldDay(logbook, author="Ada", device=lambda: here, new_id=new_id)
    day.take_up("PRA")
    pin(day, bert, position=Position(-36.5, 155.5), keep_out_m=15.0)
    (line,) = hazards_near(day)
    assert line.within
    assert "You are nearer than that." in line.says
    assert "from here" in line.says


def test_a_hazard_without_a_place_comes_last(day: FieldDay, bert: Logbook) -> None:
    pin(day, bert)
    pin(day, bert, hazard="soft", position=Position(-36.501, 155.5))
    assert [line.title for line in hazards_near(day)] == ["Soft mud", "Crack in the ground"]
    assert "No distance was stated." in hazards_near(day)[0].says


def test_the_plan_of_the_day_is_shown_and_names_the_team(day: FieldDay, clock: Any) -> None:
    plan = PlannedVisit(
        site="PRA", valid_from=clock.now, code="V7", team="Heron", items=("Gauge G1", "Photos")
    )
    day.logbook.write(plan, Said(author="Ruth"))
    day.take_up("PRA", code="V7")
    arrival = Arrival(day)
    assert arrival.shown().plan == ("V7: Heron", "Gauge G1", "Photos")
    assert arrival.text("team") == "Heron"
    assert visit_standing(day) is None
