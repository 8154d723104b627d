from collections.abc import Callable, Iterator
from typing import Any

import pytest

from mobile.widgets.boxes import BOX_FOR, Box, box_for
from shared_core.field_kinds import Field, Number
from shared_core.records import KINDS
from shared_core.records.rain import RainReading
from shared_core.records.water_quality import WaterSample
from tests.mobile import pilot
from tests.mobile.pilot import Pilot


def every_kind_of_field(kind: type[Any] = Field) -> Iterator[Any]:
    yield kind
    for below in kind.__subclasses__():
        if below.__module__.startswith("shared_core."):
            yield from every_kind_of_field(below)


@pytest.mark.parametrize("kind", list(every_kind_of_field()), ids=lambda kind: kind.__name__)
def test_every_kind_of_field_has_a_box_of_its_own(kind: type[Any]) -> None:
    assert issubclass(BOX_FOR[kind], Box)


def test_a_kind_of_field_of_tomorrow_gets_the_box_of_the_nearest_above_it() -> None:
    class Weight(Number):
        """A field that this version does not know."""

    assert box_for(Weight(label="Weight")) is BOX_FOR[Number]


def test_every_field_of_every_kind_gets_a_box(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    driver.tap(driver.find(name="site PRA"))
    for kind in KINDS:
        driver.app.router.go("form", kind=kind.kind, point="P1")
        driver.frames(1)
        page = driver.app.root.current_screen
        fields = driver.app.tablet.day.draft(kind, "P1").fields
        assert {box.field.name for box in page.boxes} == {field.name for field in fields}
        assert all(type(box) is box_for(box.field) for box in page.boxes)
        driver.app.router.back()


@pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
def test_a_form_is_filled_in_by_touch_and_kept(
    drive: Callable[..., Pilot], size: tuple[int, int]
) -> None:
    driver = drive(size)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="rain_reading R1"))
    driver.tap(driver.find(name="box rain_mm"))
    driver.keys("12.5")
    assert driver.find(name="keep").text == "Still needed: Day it was read"
    driver.tap(driver.find(name="now read_on"))
    driver.tap(driver.find(name="keep"))
    day = driver.app.tablet.day
    (standing,) = day.logbook.known().every(RainReading, day.site)
    assert standing.record.rain_mm == 12.5
    assert driver.app.router.current == "site"


def test_words_are_typed_on_the_keyboard_and_kept_at_each_letter(
    drive: Callable[..., Pilot],
) -> None:
    driver = drive()
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="water_sample site"))
    driver.tap(driver.find(name="box instrument"))
    driver.type("probe 7")
    day = driver.app.tablet.day
    assert day.draft(WaterSample, "site").typed["instrument"] == "probe 7"


def test_what_cannot_be_read_is_asked_about_and_kept_as_typed(drive: Callable[..., Pilot]) -> None:
    driver = drive()
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="water_sample site"))
    driver.tap(driver.find(name="box calibrated_on"))
    driver.type("last week")
    driver.tap(driver.find(name="box ph"))
    driver.keys("7.1")
    keep = driver.find(name="keep")
    driver.tap(keep)
    driver.tap(keep)
    day = driver.app.tablet.day
    (standing,) = day.logbook.known().every(WaterSample, day.site)
    assert (standing.record.ph, standing.record.calibrated_on) == (7.1, None)
    assert standing.record.as_typed["calibrated_on"] == "last week"


def test_turning_the_tablet_keeps_the_boxes(drive: Callable[..., Pilot]) -> None:
    driver = drive(pilot.WIDE)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="rain_reading R1"))
    driver.tap(driver.find(name="box rain_mm"))
    driver.keys("12")
    driver.turn(pilot.TALL)
    assert driver.find(name="box rain_mm").text == "12"


def test_the_box_that_is_typed_in_stays_in_view_when_the_keypad_comes(
    drive: Callable[..., Pilot],
) -> None:
    driver = drive(pilot.TALL)
    driver.tap(driver.find(name="site PRA"))
    driver.tap(driver.find(name="water_sample site"))
    driver.tap(driver.find(name="box sample_depth_m"))
    driver.frames(6)
    ids = driver.app.root.current_screen.face.ids
    box = driver.find(name="box sample_depth_m")
    foot, head = box.to_window(*box.pos)[1], box.to_window(box.x, box.top)[1]
    assert ids.panel.height > 0
    assert ids.scroll.y <= foot
    assert head <= ids.scroll.top
