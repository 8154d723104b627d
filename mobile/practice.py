"""An invented site to practise on: every name and number here is made up.

It is written into a logbook of its own, which is never exchanged.
"""

from datetime import datetime, timedelta
from typing import Any, Final

from shared_core.field_shapes import Position
from shared_core.logbook import Logbook, Said
from shared_core.records.base import Record
from shared_core.records.bore import BoreDip
from shared_core.records.meter_setup import MeterFitted
from shared_core.records.points_setup import Bore, PhotoPoint, PlotSet, RainGauge, TreeTagged
from shared_core.records.pump_meter import MeterReading
from shared_core.records.site_setup import Gauge, GaugeZero, Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.vegetation_plot import PlotScore
from shared_core.records.water_setup import RatingTable

SITE: Final = "PRA"
AUTHOR: Final = "Practice"
DEVICE: Final = "practice"
_ZERO_M: Final = 50.0
_SHAPE_M2: Final = 60_000.0  # area one metre above the bottom
_POWER: Final = 0.8  # area grows with depth to this power; volume is its integral
_STEPS: Final = 31


def prepare(logbook: Logbook, now: datetime) -> None:
    """Write the site and one earlier visit into an empty logbook; leave another one as it is."""
    if logbook.size():
        return
    said = Said(author=AUTHOR, note="invented, for practice")
    for record in (*_set_up(now - timedelta(days=60)), *_earlier(now - timedelta(days=6))):
        logbook.write(record, said)


def _set_up(start: datetime) -> tuple[Record, ...]:
    common: dict[str, Any] = {"site": SITE, "valid_from": start}
    return (
        Site(
            **common,
            name="Practice Pool (invented)",
            centre=Position(-36.5, 155.5),  # open sea: nobody's wetland
            radius_m=500.0,
            standard_offset_min=600,
            epsg=7856,
            height_datum="invented",
        ),
        Gauge(**common, gauge="G1", plate_from_m=0.0, plate_to_m=1.0),
        GaugeZero(**common, gauge="G1", zero_m=_ZERO_M, method="levelled", uncertainty_m=0.005),
        MeterFitted(
            **common, meter="M1", serial="00000", unit="kL", figures=6, start_display="000120"
        ),
        RainGauge(**common, code="R1"),
        PhotoPoint(
            **common,
            code="P1",
            place=Position(-36.5001, 155.5),
            bearing_deg=45.0,
            north="true",
            focal_35mm=28.0,
        ),
        PlotSet(**common, code="Q1", area_m2=1.0),
        TreeTagged(**common, code="T1"),
        TreeTagged(**common, code="T2"),
        Bore(**common, code="B1", casing_level_m=52.0, stick_up_m=0.4),
        RatingTable(
            **common,
            version="practice",
            origin="power form",
            values=tuple(map(_rung, range(_STEPS))),
        ),
    )


def _rung(step: int) -> tuple[float, float, float]:
    depth_m = step * 0.05
    area_m2 = _SHAPE_M2 * depth_m**_POWER
    volume_m3 = _SHAPE_M2 * depth_m ** (_POWER + 1) / (_POWER + 1)
    return (round(_ZERO_M + depth_m, 3), round(area_m2, 3), round(volume_m3, 3))


def _earlier(then: datetime) -> tuple[Record, ...]:
    head: dict[str, Any] = {
        "site": SITE,
        "visit": "practice-before",
        "seen_at": then,
        "offset_min": 600,
        "time_source": "device",
        "observers": (AUTHOR,),
    }
    return (
        GaugeReading(**head, point="G1", stage_m=0.46, as_typed={"stage_m": "0.46"}),
        MeterReading(**head, point="M1", display="008410", as_typed={"display": "008410"}),
        PlotScore(
            **head,
            point="Q1",
            found=True,
            area_m2=1.0,
            scale="Direct percent",
            species=(
                ("Common reed", "AT", 30.0, "adult", None, True, True),
                ("Spear thistle", "T", 4.0, "flower", 3, False, True),
            ),
            bare_pct=40.0,
            litter_pct=20.0,
            open_water_pct=10.0,
        ),
        BoreDip(**head, point="B1", dip_1_m=3.214, dip_2_m=3.216, mark="casing"),
    )
