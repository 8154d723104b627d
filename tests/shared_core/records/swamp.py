"""An invented swamp in an in-memory logbook: set up once, written into story by story.

Levels, gauges, meters and the rating are those of the invented season's scenario; the rating is its
table of the supplied ground model at every 0.05 m.
"""

import itertools
from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final

from shared_core.field_shapes import Position
from shared_core.logbook import Logbook, Said
from shared_core.records import KINDS
from shared_core.records.base import Answer, Finding, Record, Severity
from shared_core.records.bore import BoreDip
from shared_core.records.logger_check import LoggerCheck
from shared_core.records.meter_setup import MeterFitted, Pump
from shared_core.records.photo_point import PhotoTaken
from shared_core.records.plan import Allocation, Licence, WateringPlan
from shared_core.records.points_setup import Bore, PhotoPoint, PlotSet
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Gauge, GaugeZero, Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.vegetation_plot import PlotScore
from shared_core.records.visit import Visit
from shared_core.records.water_quality import WaterSample
from shared_core.records.water_setup import EvaporationTable, RatingTable

SITE: Final = "LRS"
LAT: Final = -36.48006  # the middle of the invented site, in the open sea
LON: Final = 155.45573
M_PER_DEG_LAT: Final = 110_980.0  # at this latitude, good to 1 m over the site
M_PER_DEG_LON: Final = 89_620.0
JULY: Final = datetime(2023, 6, 30, 23, tzinfo=UTC)  # 1 July, 09:00 standard time
# Level [m], area [ha], volume [ML] of the scenario's supplied ground model.
TABLE: Final = """
71.10 0.00 0.0; 71.15 1.77 0.5; 71.20 3.15 1.7; 71.25 4.47 3.6; 71.30 5.77 6.2; 71.35 7.18 9.4
71.40 8.50 13.4; 71.45 9.77 18.0; 71.50 10.89 23.2; 71.55 11.99 28.9; 71.60 12.98 35.1
71.65 13.99 41.9; 71.70 14.96 49.1; 71.75 15.89 56.9; 71.80 16.82 65.1; 71.85 17.73 73.7
71.90 18.66 82.8; 71.95 19.53 92.4; 72.00 20.48 102.4; 72.05 21.43 112.8; 72.10 22.38 123.8
72.15 23.44 135.3; 72.20 24.47 147.2; 72.25 25.52 159.7; 72.30 26.52 172.8; 72.35 27.52 186.3
72.40 28.42 200.3; 72.45 29.32 214.7; 72.50 30.23 229.6; 72.55 31.13 244.9; 72.60 31.93 260.7
"""
# Month means of reference evaporation [mm/day], January first; April to June invented.
MONTHLY_MM: Final = (7.4, 6.4, 4.8, 2.5, 2.5, 2.5, 1.4, 2.1, 3.2, 4.6, 5.9, 7.0)
HERON: Final = ("Priya Okafor", "Tom Lindqvist")
BITTERN: Final = ("Jo Marchetti", "Sam Eweka")
INES: Final = ("Ines Calloway",)


def rating_rows() -> tuple[tuple[float, float, float], ...]:
    """Return the rating's rows in metres, square metres and cubic metres."""
    rows = [row.split() for row in TABLE.replace("\n", ";").split(";") if row.strip()]
    return tuple((float(z), float(a) * 1e4, float(v) * 1e3) for z, a, v in rows)


def place(east_m: float, north_m: float, accuracy_m: float | None = 3.0) -> Position:
    """Return a position so many metres from the middle of the site."""
    return Position(LAT + north_m / M_PER_DEG_LAT, LON + east_m / M_PER_DEG_LON, accuracy_m)


def at(text: str) -> datetime:
    """Read a wall-clock time with its offset."""
    return datetime.fromisoformat(text)


class Swamp:
    """A site, its logbook, and short ways to write what a story needs."""

    def __init__(self) -> None:
        ticks, names = itertools.count(), itertools.count(1)
        self.logbook = Logbook(
            ":memory:",
            device="HER-1",
            clock=lambda: JULY + timedelta(milliseconds=next(ticks)),
            new_id=lambda: f"00000000-0000-7000-8000-{next(names):012x}",
            kinds=KINDS,
        )

    # asking ------------------------------------------------------------------------------------

    def write(self, *records: Record, author: str = "somebody") -> str:
        """Write records down; return the id of the last one."""
        entry = [self.logbook.write(record, Said(author=author)) for record in records][-1]
        return entry.record

    def finds(
        self, record: Record, *, without: str = "", now: datetime | None = None
    ) -> list[Finding]:
        """Return what is odd about a record, given what has been written."""
        return list(record.findings(self.logbook.known(without=without, now=now)))

    def alarms(self, record: Record, *, now: datetime | None = None) -> list[Finding]:
        """Return the findings that ask something of a person."""
        return [f for f in self.finds(record, now=now) if f.severity is not Severity.NOTE]

    def the_alarm(self, record: Record, *, now: datetime | None = None) -> Finding:
        """Return the one alarm that a record raises."""
        alarms = self.alarms(record, now=now)
        assert len(alarms) == 1, [f"{a.code}: {a.says}" for a in alarms]
        return alarms[0]

    def codes(self, record: Record) -> set[str]:
        """Return the codes of all findings, notes too."""
        return {finding.code for finding in self.finds(record)}

    def told(self, record: Record) -> dict[str, Answer]:
        """Return what a record tells at once, by label."""
        return {answer.label: answer for answer in record.tells(self.logbook.known())}

    # set-up ------------------------------------------------------------------------------------

    def set_up(self) -> None:
        """Write down the site with everything that stands there."""
        self.write(*_site_facts(), *_water_facts(), *_point_facts(), author="Ruth Ansell-Grey")

    # observations ------------------------------------------------------------------------------

    def head(self, when: str, visit: str, who: tuple[str, ...]) -> dict[str, Any]:
        moment = at(when)
        offset = moment.utcoffset()
        assert offset is not None
        return {
            "site": SITE,
            "visit": visit or f"{who[0]} {moment:%j}",
            "seen_at": moment.astimezone(UTC),
            "offset_min": int(offset.total_seconds() // 60),
            "time_source": "device",
            "observers": who,
        }

    def gauge(
        self,
        gauge: str,
        when: str,
        stage_m: float | None = None,
        *,
        visit: str = "",
        who: tuple[str, ...] = HERON,
        **more: Any,
    ) -> GaugeReading:
        head = self.head(when, visit, who)
        return GaugeReading(**{**head, "point": gauge, "stage_m": stage_m, **more})

    def meter(self, meter: str, when: str, display: str, **more: Any) -> MeterReading:
        return MeterReading(
            **{**self.head(when, "", INES), "point": meter, "display": display, **more}
        )

    def hours(self, when: str, reading: float | None, **more: Any) -> PumpRun:
        head = self.head(when, "", INES)
        return PumpRun(**{**head, "point": "PU1", "hours_reading": reading, **more})

    def rain(self, when: str, read_on: date, mm: float, **more: Any) -> RainReading:
        head = self.head(when, "", INES)
        return RainReading(**{**head, "point": "RG", "rain_mm": mm, "read_on": read_on, **more})

    def visit(self, when: str, **more: Any) -> Visit:
        head = self.head(when, "V", HERON)
        return Visit(**{**head, "point": SITE, "team": "Heron", **more})

    def photo(self, point: str, when: str, **more: Any) -> PhotoTaken:
        head = self.head(when, "V", BITTERN)
        return PhotoTaken(**{**head, "point": point, "sha256": "0" * 64, "north": "true", **more})

    def plot(self, plot: str, when: str, species: Any = (), **more: Any) -> PlotScore:
        head = self.head(when, "V", BITTERN)
        rest = {"point": plot, "found": True, "area_m2": 1.0, "scale": "direct percent"}
        return PlotScore(**{**head, **rest, "species": tuple(species), **more})

    def water(self, when: str, **more: Any) -> WaterSample:
        return WaterSample(**{**self.head(when, "V", HERON), "point": "WQ1", **more})

    def dip(self, when: str, dip_m: float, apart_m: float = 0.002, **more: Any) -> BoreDip:
        head = self.head(when, "V", HERON)
        dips = {"dip_1_m": dip_m, "dip_2_m": dip_m + apart_m, "mark": "casing"}
        return BoreDip(**{**head, "point": "B1", **dips, **more})

    def logger(
        self, when: str, logged_m: float | None, staff_m: float | None, **more: Any
    ) -> LoggerCheck:
        values = {"logged_level_m": logged_m, "staff_level_m": staff_m}
        return LoggerCheck(**{**self.head(when, "V", HERON), "point": "PT1", **values, **more})

    # stories that several tests begin with -------------------------------------------------------

    def pump_log(self, *days: tuple[int, str, float]) -> None:
        """Write meter and hours at 09:00 and 09:03 of days in August 2023."""
        for day, display, hours in days:
            self.write(self.meter("M1", f"2023-08-{day:02d} 09:00+10:00", display))
            self.write(self.hours(f"2023-08-{day:02d} 09:03+10:00", hours))


def _site_facts() -> Iterator[Record]:
    yield Site(
        site=SITE,
        valid_from=JULY,
        name="Lantern Reed Swamp",
        centre=place(0, 0),
        radius_m=530.0,
        standard_offset_min=600,
        summer_offset_min=660,
        summer_from=at("2023-10-01 02:00+10:00"),
        summer_until=at("2024-04-07 03:00+11:00"),
        epsg=7856,
        height_datum="one local datum",
    )
    yield Site(
        site="SBL",
        valid_from=JULY,
        name="Saddler's Bowl",
        centre=place(3400, 0),
        radius_m=250.0,
        standard_offset_min=600,
        epsg=7856,
        height_datum="one local datum",
    )
    for gauge, zero_m, ground_m, where in (
        ("SG1", 71.300, 71.105, place(-30, -20)),
        ("SG2", 71.850, 71.802, place(-299, -5)),
    ):
        yield Gauge(site=SITE, valid_from=JULY, gauge=gauge, ground_level_m=ground_m, place=where)
        yield GaugeZero(site=SITE, valid_from=JULY, gauge=gauge, zero_m=zero_m, method="levelled")


def _water_facts() -> Iterator[Record]:
    yield RatingTable(
        site=SITE,
        valid_from=JULY,
        version="ground model 1",
        origin="terrain model",
        values=rating_rows(),
    )
    yield EvaporationTable(
        site=SITE, valid_from=JULY, monthly_mm_per_day=tuple((mm,) for mm in MONTHLY_MM)
    )
    yield Pump(
        site=SITE,
        valid_from=JULY,
        pump="PU1",
        nameplate_megalitres_per_hour=0.55,
        measured_megalitres_per_hour=0.52,
    )
    yield meter_m1()
    yield Allocation(
        site=SITE,
        valid_from=JULY,
        account="EW-LRS-2324",
        allocated_megalitres=400.0,
        until=at("2024-03-31 09:00+10:00"),
    )
    yield Licence(site=SITE, valid_from=JULY, licence="WL-0417", daily_limit_megalitres=14.0)
    yield WateringPlan(
        site=SITE,
        valid_from=JULY,
        season="2023-24",
        target_level_m=72.40,
        until=at("2024-03-31 09:00+10:00"),
    )


def meter_m1(**more: Any) -> MeterFitted:
    """Return the first meter: kilolitres, six figures, 871240 when fitted."""
    facts: dict[str, Any] = {
        "site": SITE,
        "valid_from": at("2023-08-05 09:00+10:00"),
        "meter": "M1",
        "serial": "LR-20417",
        "unit": "kL",
        "figures": 6,
        "start_display": "871240",
        "pump": "PU1",
    }
    return MeterFitted(**{**facts, **more})


def _point_facts() -> Iterator[Record]:
    for code, east_m, north_m, bearing in (
        ("PP1", -350, 120, 110),
        ("PP2", -30, -250, 5),
        ("PP3", 395, 30, 265),
    ):
        yield PhotoPoint(
            site=SITE,
            valid_from=JULY,
            code=code,
            place=place(east_m, north_m),
            bearing_deg=float(bearing),
            north="true",
            focal_35mm=26.0,
        )
    for code, east_m, north_m in (("Q4", -245, -85), ("Q5", 165, 180), ("Q6", 110, 200)):
        yield PlotSet(site=SITE, valid_from=JULY, code=code, place=place(east_m, north_m))
    yield Bore(
        site=SITE,
        valid_from=JULY,
        code="B1",
        casing_level_m=74.612,
        ground_level_m=74.062,
        stick_up_m=0.550,
    )
