"""Lantern Reed Swamp, season 2023-24: place, people, kit and plan. Everything here is invented.

The site lies in the open sea on purpose, so that nobody can take it for a real wetland. Local
coordinates x (east) and y (north) are metres from the corner of the ground grid (``ground.py``).
"""

import math
from dataclasses import dataclass
from datetime import date, datetime, timedelta, timezone
from typing import Final

from demo_visits.ground import HALF_LENGTH_M, HALF_WIDTH_M, MIDDLE_X_M, MIDDLE_Y_M

SITE: Final = "LRS"
OTHER_SITE: Final = "SBL"
STANDARD: Final = timezone(timedelta(hours=10), "UTC+10")
DAYLIGHT: Final = timezone(timedelta(hours=11), "UTC+11")
DAYLIGHT_STARTS: Final = datetime(2023, 10, 1, 2, 0, tzinfo=STANDARD)
DAYLIGHT_ENDS: Final = datetime(2024, 4, 7, 3, 0, tzinfo=DAYLIGHT)
SEASON_START: Final = date(2023, 7, 1)
SEASON_END: Final = date(2024, 3, 31)


@dataclass(frozen=True)
class Point:
    """A named place, in local metres from the corner of the ground grid."""

    name: str
    x: float
    y: float


@dataclass(frozen=True)
class Wetland:
    """A site: code, name, middle, and half its length and width [m]."""

    code: str
    name: str
    x: float
    y: float
    half_length_m: float
    half_width_m: float


@dataclass(frozen=True)
class StaffGauge:
    """A plate on a post: its range [m], its zero and the ground at its foot [m above datum]."""

    name: str
    x: float
    y: float
    ground_level_m: float
    plate_low_m: float
    plate_high_m: float
    zero_level_m: float
    levelled_on: date
    misclose_m: float


@dataclass(frozen=True)
class BenchMark:
    """A mark of known height [m above datum]."""

    name: str
    x: float
    y: float
    level_m: float


@dataclass(frozen=True)
class Meter:
    """A pump meter's face: digits, unit, what one count is worth, and its reading when fitted."""

    name: str
    serial: str
    digits: int
    unit: str
    multiplier: int
    fitted: datetime
    start_display: str


@dataclass(frozen=True)
class Pump:
    """The diesel pump: measured rate and nameplate [ML/h], hour meter at the start [h]."""

    name: str
    x: float
    y: float
    rate_megalitres_h: float
    nameplate_megalitres_h: float
    hour_meter_start: float


@dataclass(frozen=True)
class Bore:
    """A bore: ground and top of casing [m above datum], and the height of one over the other [m]."""

    name: str
    x: float
    y: float
    ground_level_m: float
    casing_level_m: float
    stick_up_m: float


@dataclass(frozen=True)
class PhotoPoint:
    """A post for the camera and the true bearing [degrees] it looks along."""

    name: str
    x: float
    y: float
    bearing_deg: int
    lens_height_m: float = 1.50
    focal_length_35mm: int = 26


@dataclass(frozen=True)
class Plot:
    """A pegged square for plants, 1 m by 1 m, and the zone it stands for."""

    name: str
    x: float
    y: float
    zone: str
    area_m2: float = 1.0


@dataclass(frozen=True)
class Licence:
    """What the invented pumping licence allows, and the river stage [m] at which pumping stops."""

    number: str
    rate_l_s: float
    daily_megalitres: float
    stop_below_river_stage_m: float


@dataclass(frozen=True)
class Target:
    """What the water is meant to do: fill to a level [m], fall slowly [mm/day], be dry by a day."""

    level_m: float
    area_ha: float
    fastest_fall_mm_day: float
    dry_by: date


@dataclass(frozen=True)
class Person:
    """Somebody of the story, with the role that decides what their device may do."""

    name: str
    role: str
    team: str


@dataclass(frozen=True)
class Device:
    """A tablet, phone or desk, and the people who carry it."""

    name: str
    what: str
    people: tuple[str, ...]


@dataclass(frozen=True)
class PlannedVisit:
    """A visit the coordinator planned; ``visit`` is empty where none was ever received."""

    day: date
    team: str
    purpose: str
    visit: str


LANTERN_REED_SWAMP: Final = Wetland(
    SITE, "Lantern Reed Swamp", MIDDLE_X_M, MIDDLE_Y_M, HALF_LENGTH_M, HALF_WIDTH_M
)
SADDLERS_BOWL: Final = Wetland(
    OTHER_SITE, "Saddler's Bowl", MIDDLE_X_M + 3400.0, MIDDLE_Y_M, 180.0, 140.0
)
RIVER: Final = "Osprin River"
AGENCY: Final = "Osprin Catchment Water Trust"
ACCOUNT: Final = "EW-LRS-2324"
ALLOCATED_MEGALITRES: Final = 400.0
LICENCE: Final = Licence("WL-0417", 160.0, 14.0, 1.20)
TARGET: Final = Target(72.40, 28.5, 20.0, date(2024, 3, 31))

RUTH: Final = "Ruth Ansell-Grey"
PRIYA: Final = "Priya Okafor"
TOM: Final = "Tom Lindqvist"
JO: Final = "Jo Marchetti"
SAM: Final = "Sam Eweka"
INES: Final = "Ines Calloway"
PEOPLE: Final = (
    Person(RUTH, "coordinator", "office"),
    Person(PRIYA, "officer", "Heron"),
    Person(TOM, "officer", "Heron"),
    Person(JO, "officer", "Bittern"),
    Person(SAM, "officer", "Bittern"),
    Person(INES, "landholder", "Dunnock Park"),
)
HERON: Final = (PRIYA, TOM)
BITTERN: Final = (JO, SAM)
HER_1: Final = "HER-1"
BIT_1: Final = "BIT-1"
IC_1: Final = "IC-1"
OFFICE: Final = "OFFICE"
DEVICES: Final = (
    Device(HER_1, "tablet", HERON),
    Device(BIT_1, "tablet", BITTERN),
    Device(IC_1, "phone", (INES,)),
    Device(OFFICE, "desk", (RUTH,)),
)

BM1: Final = BenchMark("BM1", 120.0, 300.0, 74.386)
SG1: Final = StaffGauge(
    "SG1", 520.0, 380.0, 71.105, 0.0, 1.0, 71.300, date(2023, 7, 12), misclose_m=0.002
)
SG2: Final = StaffGauge(
    "SG2", 251.0, 395.0, 71.802, 0.0, 1.0, 71.850, date(2023, 7, 12), misclose_m=0.002
)
GAUGES: Final = (SG1, SG2)
SG2_KNOCKED_ON: Final = date(2023, 11, 3)
SG2_SUNK_M: Final = 0.060
SG2_FIRST_DOUBTFUL: Final = date(2023, 11, 6)
SG2_CHECKED_ON: Final = date(2023, 11, 30)
SG2_CHECKED_ZERO_M: Final = 71.791
SG1_CHECKED_ZERO_M: Final = 71.301
ZERO_AFTER_KNOCK_M: Final = 71.790

PUMP: Final = Pump("PU1", 10.0, 438.0, 0.520, 0.55, 4310.2)
M1: Final = Meter("M1", "LR-20417", 6, "kL", 1, datetime(2023, 8, 5, 9, tzinfo=STANDARD), "871240")
M2: Final = Meter(
    "M2", "LR-31108", 6, "kL", 10, datetime(2023, 10, 22, 9, tzinfo=STANDARD), "000012"
)
METERS: Final = (M1, M2)
RAIN_GAUGE: Final = Point("RG", 930.0, 900.0)
LOGGER: Final = Point("PT1", SG1.x, SG1.y)
BORE: Final = Bore("B1", 160.0, 250.0, 74.062, 74.612, 0.550)

PHOTO_POINTS: Final = (
    PhotoPoint("PP1", 200.0, 520.0, 110),
    PhotoPoint("PP2", 520.0, 150.0, 5),
    PhotoPoint("PP3", 945.0, 430.0, 265),
    PhotoPoint("PP4", 600.0, 650.0, 190),
)
OTHER_SITE_PHOTO_POINT: Final = PhotoPoint("PP1", SADDLERS_BOWL.x - 150.0, 420.0, 80)
PLOTS: Final = (
    Plot("Q1", 480.0, 420.0, "deep bed"),
    Plot("Q2", 470.0, 370.0, "deep bed"),
    Plot("Q3", 310.0, 290.0, "mid slope"),
    Plot("Q4", 305.0, 315.0, "mid slope"),
    Plot("Q5", 715.0, 580.0, "reed belt"),
    Plot("Q6", 660.0, 600.0, "reed belt"),
    Plot("Q7", 925.0, 430.0, "fringe"),
    Plot("Q8", 930.0, 400.0, "fringe"),
)


def _south_shore_trees(count: int = 10, reach: float = 1.07) -> tuple[Point, ...]:
    """Return trees just outside the rim, evenly along the shaded south shore."""
    directions = [math.radians(-145.0 + 80.0 * number / (count - 1)) for number in range(count)]
    return tuple(
        Point(
            f"T{number:02d}",
            round(MIDDLE_X_M + HALF_LENGTH_M * reach * math.cos(direction), 1),
            round(MIDDLE_Y_M + HALF_WIDTH_M * reach * math.sin(direction), 1),
        )
        for number, direction in enumerate(directions, start=1)
    )


TREES: Final = _south_shore_trees()


def _plan(month: int, day: int, team: str, purpose: str, visit: str) -> PlannedVisit:
    return PlannedVisit(date(2023 if month >= 7 else 2024, month, day), team, purpose, visit)


PLANNED_VISITS: Final = (
    _plan(7, 12, "Heron", "commissioning", "V01"),
    _plan(8, 5, "Heron", "pump start", "V02"),
    _plan(8, 11, "Bittern", "filling", "V03"),
    _plan(8, 21, "Heron", "filling, walk", "V04"),
    _plan(8, 30, "Heron", "pump stop", "V05"),
    _plan(9, 6, "Bittern", "full, walk", "V06"),
    _plan(9, 14, "Heron", "hold", "V07"),
    _plan(9, 26, "Bittern", "hold, plots", "V08"),
    _plan(10, 10, "Heron", "hold", "V09"),
    _plan(10, 17, "Heron", "top-up start", "V10"),
    _plan(10, 24, "Heron", "pump stop", "V12"),
    _plan(10, 26, "Heron", "full, walk", "V13"),
    _plan(11, 6, "Bittern", "fall", "V14"),
    _plan(11, 20, "Heron", "fall", "V15"),
    _plan(11, 20, "Bittern", "fall", "V16"),
    _plan(11, 30, "Heron", "check levelling", "V17"),
    _plan(12, 11, "Bittern", "fall, walk, plots", "V18"),
    _plan(12, 20, "Heron", "fall", "V19"),
    _plan(1, 11, "Bittern", "fall", "V21"),
    _plan(1, 16, "Heron", "fall, walk", "V22"),
    _plan(2, 1, "Bittern", "fall", "V23"),
    _plan(2, 16, "Bittern", "fall, walk", "V24"),
    _plan(2, 23, "Heron", "fall", ""),
    _plan(3, 1, "Heron", "fall", "V25"),
    _plan(3, 12, "Bittern", "drying", "V26"),
    _plan(3, 30, "Heron", "close-out", "V27"),
)


def wall_clock(moment: datetime) -> datetime:
    """Return a moment as the clocks on the wall at the site show it."""
    summer = DAYLIGHT_STARTS <= moment < DAYLIGHT_ENDS
    return moment.astimezone(DAYLIGHT if summer else STANDARD)


def gauge_zero_m(gauge: str, moment: datetime) -> float:
    """Return the true zero [m above datum] of SG1 or SG2 at a moment: SG2 sank on 3 November."""
    if gauge == SG1.name:
        return SG1.zero_level_m
    knocked = moment.astimezone(STANDARD).date() >= SG2_KNOCKED_ON
    return round(SG2.zero_level_m - (SG2_SUNK_M if knocked else 0.0), 3)
