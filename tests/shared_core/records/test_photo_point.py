"""Photos from fixed points (E09, E25 of the invented season)."""

from shared_core.records.base import Severity
from tests.shared_core.records.swamp import Swamp, place

WHEN = "2023-09-26 11:00+10:00"


def test_a_photo_filed_under_the_wrong_peg_names_the_right_one(swamp: Swamp) -> None:
    """E09: filed as PP3, taken at PP2, 510 m away."""
    alarm = swamp.the_alarm(swamp.photo("PP3", WHEN, bearing_deg=5.0, position=place(-30, -250)))
    assert (alarm.code, alarm.suggests) == ("point-distance", "PP2")
    assert "509 m" in alarm.saw or "510 m" in alarm.saw
    right = swamp.photo("PP2", WHEN, bearing_deg=5.0, position=place(-28, -252), focal_35mm=26.0)
    assert swamp.finds(right) == []


def test_a_photo_without_a_bearing_is_asked_about(swamp: Swamp) -> None:
    alarm = swamp.the_alarm(swamp.photo("PP1", WHEN, position=place(-350, 120)))
    assert alarm.code == "bearing-missing"
    assert "110°" in alarm.expected


def test_a_photo_of_another_site_names_it(swamp: Swamp) -> None:
    """E25: one alarm, though peg and bearing do not fit either."""
    alarm = swamp.the_alarm(swamp.photo("PP1", WHEN, bearing_deg=80.0, position=place(3250, 20)))
    assert (alarm.code, alarm.severity, alarm.suggests) == ("site-distance", Severity.STOP, "SBL")


def test_a_bearing_off_by_more_than_ten_degrees_is_asked_about(swamp: Swamp) -> None:
    off = swamp.photo("PP2", WHEN, bearing_deg=354.0, position=place(-30, -250))
    alarm = swamp.the_alarm(off)
    assert alarm.code == "bearing-off"
    assert "11°" in alarm.saw  # 354 to 5 goes through north
    near = swamp.photo("PP2", WHEN, bearing_deg=356.0, position=place(-30, -250))
    assert swamp.finds(near) == []


def test_magnetic_north_is_given_the_declination(swamp: Swamp) -> None:
    magnetic = swamp.photo(
        "PP1", WHEN, bearing_deg=98.0, north="magnetic", position=place(-350, 120)
    )
    assert swamp.finds(magnetic) == []


def test_another_zoom_is_asked_about(swamp: Swamp) -> None:
    zoomed = swamp.photo("PP2", WHEN, bearing_deg=5.0, focal_35mm=52.0, position=place(-30, -250))
    assert swamp.the_alarm(zoomed).code == "focal-length"
