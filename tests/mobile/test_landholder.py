from collections.abc import Callable
from typing import Any

import pytest

from mobile.field_day import FieldDay
from mobile.landholder import LandholderLog
from shared_core.logbook import Logbook
from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from tests.mobile import farm

METER, HOURS, GAUGE, RAIN = "meter_reading M1", "pump_run P1", "gauge_reading G1", "rain_reading R1"


@pytest.fixture
def here(
    make_logbook: Callable[..., Logbook], make_day: Callable[..., FieldDay], clock: Any
) -> FieldDay:
    logbook = make_logbook()
    farm.set_up(logbook, clock())
    return make_day(logbook)


def press(log: LandholderLog, keys: str) -> None:
    for key in keys:
        log.press({"<": "back", ">": "next"}.get(key, key))


def line(log: LandholderLog, key: str) -> Any:
    return next(each for each in log.shown().lines if each.key == key)


def test_what_is_logged_stands_in_the_order_of_the_walk(here: FieldDay) -> None:
    keys = [each.key for each in LandholderLog(here).shown().lines]
    assert keys == [METER, HOURS, GAUGE, RAIN]


def test_a_meter_keeps_its_leading_zeros_and_shows_what_it_counts(here: FieldDay) -> None:
    log = LandholderLog(here)
    press(log, "0121")
    assert line(log, METER).places == ("0", "1", "2", "1", "", "")
    assert line(log, METER).unit == "kL"
    assert line(log, METER).hint == "Last: 008410, 24 Feb"


def test_figures_beyond_the_face_are_not_taken(here: FieldDay) -> None:
    log = LandholderLog(here)
    press(log, "01214099")
    assert line(log, METER).text == "012140"


def test_one_touch_keeps_all_that_was_typed_each_as_its_own_record(here: FieldDay) -> None:
    log = LandholderLog(here)
    press(log, "012140>124.5>.47>12")
    shown = log.shown()
    assert shown.button.words == "Keep 4 readings", [each.seen.lines for each in shown.lines]
    saved = log.keep()
    kinds = [each.entry.kind for each in saved]
    assert kinds == ["meter_reading", "pump_run", "gauge_reading", "rain_reading"]
    assert (
        log.shown().done
        == "Kept: Pump meter 012140, Pump hours 124.5 hours, Gauge 0.47 m, Rain 12.0 mm."
    )
    assert all(each.kept for each in log.shown().lines)


def test_the_volume_since_last_time_and_the_shares_used_are_told(here: FieldDay) -> None:
    log = LandholderLog(here)
    press(log, "012140>124.5")
    shown = log.shown()
    # 012140 - 008410 = 3,730 kL. From 000120 to 008410 in 54 days, 44 of them since the licence
    # began: 8,290 x 44 / 54 + 3,730 = 10,485 kL of 20 and of 40 ML.
    assert [(r.figure, r.unit) for r in shown.since] == [("3.73", "ML")]
    assert shown.used == ("52% of A7 used", "26% of L7 used")


def test_a_day_over_the_licence_is_told_and_never_judged(here: FieldDay, clock: Any) -> None:
    log = LandholderLog(here)
    press(log, "025000>200.0")
    says = " ".join(each.says for each in line(log, METER).seen.lines)
    assert "This may exceed the daily limit of 2 ML on licence L7." in says
    assert "coordinator" in says
    assert log.keep() == ()
    assert log.shown().asking
    log.choose_reason("Photo taken")
    saved = log.keep()
    assert saved[0].entry.note == "Photo taken"


def test_what_is_not_asked_about_is_kept_without_a_reason(here: FieldDay) -> None:
    log = LandholderLog(here)
    press(log, "025000>>.47")
    log.keep()
    meter, gauge = log.keep()
    assert (meter.entry.note, gauge.entry.note) == ("Read twice", "")


def test_rain_counts_for_the_day_it_was_read(here: FieldDay) -> None:
    log = LandholderLog(here)
    log.go(RAIN)
    press(log, "4")
    assert str(line(log, RAIN).day) == "2026-03-02"  # 08:00 on site
    log.read_on(RAIN, 1)
    log.cover(RAIN, 3)
    log.keep()
    (rain,) = here.logbook.known().every(RainReading, here.site)
    assert (str(rain.record.read_on), rain.record.days_covered) == ("2026-03-01", 3)


def test_a_gauge_without_a_number_is_as_easy_as_one_with(here: FieldDay) -> None:
    log = LandholderLog(here)
    log.go(GAUGE)
    press(log, ".4")
    log.no_number("Danger at the edge")
    assert line(log, GAUGE).text == "Danger at the edge"
    log.press("4")
    assert line(log, GAUGE).text == "4"
    log.no_number("Dry")
    assert log.keep() == ()  # it stood at 0.46 m six days ago: asked about once
    (saved,) = log.keep()
    assert saved.entry.body is not None
    assert (saved.entry.body["state"], "stage_m" in saved.entry.body) == ("dry", False)


def test_what_was_typed_is_there_again_after_the_app_was_ended(here: FieldDay) -> None:
    press(LandholderLog(here), "0121>12")
    again = LandholderLog(here)
    assert (line(again, METER).text, line(again, HOURS).text) == ("0121", "12")


def test_photos_go_into_the_record_they_show(here: FieldDay) -> None:
    log = LandholderLog(here)
    press(log, "012140")
    log.attach(METER, "a" * 64)
    log.attach(METER, "a" * 64)
    assert line(log, METER).photos == 1
    log.keep()
    readings = here.logbook.known().every(MeterReading, here.site)
    assert readings[-1].record.photos == ("a" * 64,)


def test_without_anything_set_up_the_page_says_what_to_do(
    make_logbook: Callable[..., Logbook], clock: Any, new_id: Any
) -> None:
    from mobile.field_day import Device

    day = FieldDay(
        make_logbook(),
        author="Ada",
        device=lambda: Device(now=clock(), offset_min=600),
        new_id=new_id,
    )
    day.site, day.visit = "XYZ", "V1"
    log = LandholderLog(day)
    press(log, "1>")
    assert "comes with an exchange" in log.shown().empty
    assert log.keep() == ()
