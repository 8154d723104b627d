from datetime import timedelta
from typing import Any

import pytest

from mobile.entering import REASONS, Mood
from mobile.field_day import FieldDay
from mobile.gauge_entry import GaugeEntry
from mobile.meter_entry import MeterEntry
from shared_core.records.site_setup import Gauge
from shared_core.records.water_setup import RatingTable
from shared_core.units import megalitres
from tests.mobile.kept import record_of


@pytest.fixture
def gauge(day: FieldDay, clock: Any) -> Any:
    return GaugeEntry(day, "G1", clock())


@pytest.fixture
def meter(day: FieldDay, clock: Any) -> Any:
    return MeterEntry(day, "M1", clock())


def press(entry: Any, keys: str) -> Any:
    for key in keys:
        entry.press({"<": "back", "#": "clear"}.get(key, key))
    return entry.shown()


@pytest.mark.parametrize(
    ("keys", "figures"),
    [
        ("", "–.––"),
        ("0", "0.––"),
        (".42", "0.42"),
        ("0.4", "0.4–"),
        ("0..4", "0.4–"),
        ("05", "5.––"),
        ("0.4256", "0.425"),
        ("123", "12.––"),
        ("0.42<<", "0.––"),
        ("0.42#", "–.––"),
    ],
)
def test_keys_make_figures(gauge: GaugeEntry, keys: str, figures: Any) -> None:
    assert press(gauge, keys).figures == figures


def test_up_and_down_start_from_the_last_reading(gauge: GaugeEntry) -> None:
    gauge.press("up")
    assert gauge.shown().figures == "0.47"
    gauge.press("down")
    gauge.press("down")
    assert gauge.shown().figures == "0.45"


def test_the_volume_answers_with_the_last_figure(gauge: GaugeEntry, day: FieldDay) -> None:
    table = day.logbook.known().every(RatingTable, day.site)[0].record
    shown = press(gauge, ".42")
    volume = next(result for result in shown.main if result.label == "Volume")
    assert volume.unit == "ML"
    assert float(volume.figure) == pytest.approx(
        megalitres(table.rating.volume_at(50.42)), abs=0.005
    )


def test_nothing_is_hinted_before_a_figure_is_typed(gauge: GaugeEntry) -> None:
    shown = gauge.shown()
    assert (shown.main, shown.others, shown.seen.lines) == ((), (), ())
    assert shown.seen.button.words == "Type the reading"
    assert gauge.keep() is None


def test_a_reading_that_fits_is_kept_at_one_touch(gauge: GaugeEntry, day: FieldDay) -> None:
    shown = press(gauge, ".42")
    assert (shown.seen.mood, shown.seen.button.tone) == (Mood.FITS, "go")
    assert shown.seen.button.words == "Keep 0.42 m"
    saved: Any = gauge.keep()
    assert saved.entry.note == ""
    assert day.to_do()[0].done


def test_a_reading_off_the_plate_is_asked_about_and_kept_with_the_reason(
    gauge: GaugeEntry, day: FieldDay
) -> None:
    shown = press(gauge, "4.2")
    assert shown.seen.mood is Mood.CANNOT
    assert shown.seen.button.words == "Look again: 4.20 m"
    assert gauge.keep() is None
    assert gauge.shown().seen.button.words == "Seen twice: keep 4.20 m"
    gauge.choose_reason(REASONS[1])
    saved: Any = gauge.keep()
    assert saved.entry.note == REASONS[1]
    assert record_of(day, saved).stage_m == 4.2


def test_another_figure_is_asked_about_anew(gauge: GaugeEntry) -> None:
    press(gauge, "4.2")
    gauge.keep()
    shown = press(gauge, "1")
    assert not shown.seen.asking
    assert shown.seen.button.words.startswith("Look again")


def test_going_back_to_typing_asks_anew(gauge: GaugeEntry) -> None:
    press(gauge, "4.2")
    gauge.keep()
    gauge.again()
    assert not gauge.shown().seen.asking


@pytest.mark.parametrize("state", ["over_plate", "below_zero", "dry"])
def test_a_state_stands_instead_of_a_number(gauge: GaugeEntry, day: FieldDay, state: str) -> None:
    press(gauge, "0.4")
    gauge.choose_state(state)
    shown = gauge.shown()
    assert (shown.state, shown.figures) == (state, "–.––")
    saved: Any = gauge.keep() or gauge.keep()
    reading = record_of(day, saved)
    assert (reading.state, reading.stage_m) == (state, None)


def test_a_figure_typed_after_a_state_takes_its_place(gauge: GaugeEntry) -> None:
    gauge.choose_state("dry")
    assert press(gauge, ".4").state == ""


def test_touching_a_state_again_takes_it_back(gauge: GaugeEntry) -> None:
    gauge.choose_state("dry")
    gauge.choose_state("dry")
    assert gauge.shown().state == ""


def test_not_read_asks_for_a_reason_and_keeps_it(gauge: GaugeEntry, day: FieldDay) -> None:
    gauge.choose_state("not_read")
    asked = [gauge.choosing_reason]
    gauge.choose_because("Danger at the edge")
    asked.append(gauge.choosing_reason)
    assert asked == [True, False]
    saved: Any = gauge.keep() or gauge.keep()
    reading = record_of(day, saved)
    assert (reading.state, reading.not_read_because) == ("not_read", "Danger at the edge")


def test_the_drawn_staff_stays_on_its_plate(gauge: GaugeEntry, day: FieldDay, clock: Any) -> None:
    fitted = day.logbook.known().in_force(Gauge, day.site, clock(), point="G1")
    assert fitted is not None
    plate = fitted.record
    for keys in ("4.2", "#0.5", "#0"):
        assert plate.plate_from_m - 0.1 <= press(gauge, keys).drawn_m <= plate.plate_to_m + 0.1


def test_the_last_reading_is_shown_with_its_day_on_site(gauge: GaugeEntry) -> None:
    assert gauge.shown().last_line == "Last: 0.46 m, 24 Feb 2026"


def test_meter_figures_keep_their_leading_zeros(meter: MeterEntry, day: FieldDay) -> None:
    assert press(meter, "0121").places == ("0", "1", "2", "1", "", "")
    press(meter, "40")
    saved: Any = meter.keep() or meter.keep()
    assert record_of(day, saved).display == "012140"


def test_a_meter_takes_no_more_figures_than_its_face_has(meter: MeterEntry) -> None:
    assert press(meter, "01214099").places == tuple("012140")


def test_yes_and_no_are_taken_back_by_a_second_touch(meter: MeterEntry) -> None:
    meter.choose("rolled", "yes")
    assert meter.shown().rolled == "yes"
    meter.choose("rolled", "no")
    assert meter.shown().rolled == "no"
    meter.choose("rolled", "no")
    assert meter.shown().rolled == ""


def test_a_meter_that_is_not_set_up_keeps_its_figures_all_the_same(
    day: FieldDay, clock: Any
) -> None:
    meter = MeterEntry(day, "M9", clock())
    assert "No meter of this name" in meter.shown().unit_line
    press(meter, "00077")
    assert record_of(day, meter.keep() or meter.keep()).display == "00077"


def test_what_is_left_half_typed_is_there_again(
    gauge: GaugeEntry, day: FieldDay, clock: Any
) -> None:
    press(gauge, "0.4")
    clock.now += timedelta(hours=2)
    assert GaugeEntry(day, "G1", clock()).shown().figures == "0.4–"
