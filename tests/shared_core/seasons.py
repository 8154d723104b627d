"""The invented season as inputs of a balance and as records, and a small invented pan.

The season is that of demo_visits, where all of it is invented. The pan is 10 ha of flat ground at
70.00 m: one millimetre on it is 100 m3, so a balance of it can be worked by hand.
"""

import functools
import itertools
from collections.abc import Sequence
from datetime import UTC, date, datetime, time, timedelta
from typing import Any, Final

from demo_visits import ground, scenario
from demo_visits.season_pump import PUMP_LOG, PumpDay
from demo_visits.truth import EXPECTED_PERIODS, truth_days
from demo_visits.weather import weather
from shared_core.balance import DailyDepths, Inputs, PumpedSpan
from shared_core.field_shapes import Position
from shared_core.logbook import Logbook, Said
from shared_core.rating import Rating
from shared_core.records.base import Known, Record
from shared_core.records.meter_setup import MeterFitted, Pump, PumpedEstimate
from shared_core.records.plan import WateringPlan
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pumping import pumped_between, pumping
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Gauge, GaugeZero, Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_setup import RatingTable, WeatherSeries
from shared_core.stepping import LevelPath, LevelPoint
from sync_server.grids import Terrain
from sync_server.terrain import rating_from_terrain
from tests.logbooks import ANA, KIM, logbook

LEVEL_SD_M: Final = 0.007  # scenario 4: level 7 mm at each end
PAN: Final = "PAN"
PAN_ROWS: Final = ((70.0, 0.0, 0.0), (70.01, 100_000.0, 500.0), (72.0, 100_000.0, 199_500.0))
PAN_START: Final = datetime(2023, 8, 31, 23, tzinfo=UTC)  # 1 September, 09:00 standard time

PAN_LATER: Final = PAN_START + timedelta(days=90)


# --- the invented season ---


def morning(day: date) -> datetime:
    return datetime.combine(day, time(9), scenario.STANDARD)


START: Final = morning(EXPECTED_PERIODS[0].start)
END: Final = morning(EXPECTED_PERIODS[-1].end)
CUTS: Final = tuple((period.name, morning(period.start)) for period in EXPECTED_PERIODS)


@functools.cache
def season_rating() -> Rating:
    terrain = Terrain(
        ground.supplied_terrain()[::-1].copy(),
        ground.CELL_M,
        ground.ORIGIN_EASTING_M,
        ground.ORIGIN_NORTHING_M,
        ground.EPSG,
    )
    seed = (
        ground.ORIGIN_EASTING_M + ground.DEEPEST_X_M,
        ground.ORIGIN_NORTHING_M + ground.DEEPEST_Y_M,
    )
    return Rating.from_rows(rating_from_terrain(terrain, *seed), version="DEM-S")


def to_5_mm(level_m: float) -> float:
    return round(round(level_m / 0.005) * 0.005, 3)


@functools.cache
def daily_levels() -> tuple[tuple[date, float | None], ...]:
    """Return the true level to 5 mm at 09:00 of each day, None while dry."""
    wet = {row.day: row.level_m for row in truth_days() if START < morning(row.day) < END}
    days = [EXPECTED_PERIODS[0].start, *wet, EXPECTED_PERIODS[-1].end]
    levels = ((day, wet.get(day)) for day in days)
    return tuple((day, None if m is None else to_5_mm(m)) for day, m in levels)


def season_points() -> list[LevelPoint]:
    return [
        LevelPoint(at=morning(day), level_m=level_m, sd_m=0.0 if level_m is None else LEVEL_SD_M)
        for day, level_m in daily_levels()
    ]


def _counted_m3(before: PumpDay, after: PumpDay) -> float:
    meter = scenario.M1 if after.meter == "M1" else scenario.M2
    start = before.display if before.meter == after.meter else meter.start_display
    return float((int(after.display) - int(start)) % 10**meter.digits * meter.multiplier)


def season_pumped() -> list[PumpedSpan]:
    """Return what the true log says, and the stuck days by hours times rate (scenario 5)."""
    metered = [
        PumpedSpan(
            start=morning(before.day),
            end=morning(after.day),
            volume_m3=_counted_m3(before, after),
            sd_fraction=0.025,
            source="meter",
        )
        for before, after in itertools.pairwise(PUMP_LOG)
    ]
    stuck = PumpedSpan(
        start=morning(date(2023, 10, 20)),
        end=morning(date(2023, 10, 22)),
        volume_m3=35.5 * 520.0,
        sd_fraction=0.10,
        source="estimate",
        estimated=True,
    )
    return [*metered, stuck]


def season_inputs(**changes: Any) -> Inputs:
    days = weather()
    given: dict[str, Any] = {
        "site": scenario.SITE,
        "path": LevelPath(season_points(), season_rating()),
        "pumped": season_pumped(),
        "rain": DailyDepths(
            by_day={row.day: row.rain_mm for row in days}, sd_fraction=0.08, source="rain"
        ),
        "evaporation": DailyDepths(
            by_day={row.day: 1.05 * row.eto_mm for row in days}, sd_fraction=0.10, source="evap"
        ),
        "fit_fraction": 0.03,
        "offset_min": 600,
    }
    return Inputs(**{**given, **changes})


# --- records ---


class Book:
    """A logbook with short words to fill it."""

    def __init__(self, device: str = "tablet 1") -> None:
        self.log: Logbook = logbook(device)

    @property
    def known(self) -> Known:
        return self.log.known()

    def write(self, *records: Record) -> str:
        """Write records down and return the name of the last."""
        name = ""
        for record in records:
            name = self.log.write(record, ANA).record
        return name

    def correct(self, name: str, said: Said = ANA, **changes: Any) -> None:
        standing = self.log.standing(name)
        assert standing is not None
        self.log.write(standing.record.changed(**changes), said, record_id=name)

    def take_in(self, other: "Book") -> None:
        entries, _ = other.log.since(0, limit=100_000)
        self.log.absorb([entry.line for entry in entries], source=other.log.device)

    def disputed(self, name: str, here: dict[str, Any], there: dict[str, Any]) -> None:
        """Let two people change one record who have not read each other."""
        other = Book(f"tablet of whoever disputes {name}")
        other.take_in(self)
        other.correct(name, KIM, **there)
        self.correct(name, ANA, **here)
        self.take_in(other)


def seen(site: str, point: str, at: datetime, offset_min: int = 600) -> dict[str, Any]:
    return {
        "site": site,
        "visit": "V1",
        "point": point,
        "seen_at": at.astimezone(UTC),
        "offset_min": offset_min,
        "time_source": "device",
        "observers": ("Ana Invented",),
    }


def gauge_reading(at: datetime, stage_m: float | None = None, **more: Any) -> GaugeReading:
    given = seen(more.pop("site", PAN), more.pop("point", "G1"), at, more.pop("offset_min", 600))
    return GaugeReading(**given, stage_m=stage_m, **more)


def meter_reading(at: datetime, display: str, **more: Any) -> MeterReading:
    given = seen(more.pop("site", PAN), more.pop("point", "M1"), at, more.pop("offset_min", 600))
    return MeterReading(**given, display=display, **more)


def rain_reading(day: date, rain_mm: float, **more: Any) -> RainReading:
    given = seen(more.pop("site", PAN), more.pop("point", "RG"), morning(day))
    return RainReading(**given, rain_mm=rain_mm, read_on=day, **more)


def fitted(at: datetime, start_display: str | None = "000000", **more: Any) -> MeterFitted:
    given = {
        "site": PAN,
        "meter": "M1",
        "serial": "S1",
        "unit": "kL",
        "figures": 6,
        "certificate": "VC-1",
        **more,
    }
    return MeterFitted(valid_from=at.astimezone(UTC), start_display=start_display, **given)


def pump(at: datetime, **more: Any) -> Pump:
    given = {"site": PAN, "pump": "PU1", "nameplate_megalitres_per_hour": 0.55, **more}
    return Pump(valid_from=at.astimezone(UTC), **given)


def estimate(start: datetime, end: datetime, hours: float, **more: Any) -> PumpedEstimate:
    given = {"site": PAN, "meter": "M1", "rate_megalitres_per_hour": 0.5, "basis": "hours", **more}
    return PumpedEstimate(
        valid_from=start.astimezone(UTC), until=end.astimezone(UTC), hours=hours, **given
    )


def site_record(code: str = PAN, offset_min: int = 600) -> Site:
    return Site(
        site=code,
        valid_from=PAN_START - timedelta(days=100),
        name="Invented pan",
        centre=Position(lat_deg=-36.48, lon_deg=155.45),
        radius_m=500.0,
        standard_offset_min=offset_min,
        epsg=7856,
        height_datum="one local datum, invented",
    )


def weather_series(
    first: date, days: int, *, eto_mm: float | None = 5.0, rain_mm: float | None = 0.0, **more: Any
) -> WeatherSeries:
    rows = tuple((first + timedelta(days=n), eto_mm, rain_mm) for n in range(days))
    given = {"site": PAN, "source": "invented", "open_water_factor": 1.0, **more}
    return WeatherSeries(valid_from=morning(first).astimezone(UTC), values=rows, **given)


def pan_setup(rows: Sequence[tuple[float, float, float]] = PAN_ROWS) -> list[Record]:
    """Return site, rating, and one gauge with its zero at the ground, from long before."""
    before = PAN_START - timedelta(days=100)
    gauge: dict[str, Any] = {"site": PAN, "valid_from": before, "gauge": "G1"}
    return [
        site_record(),
        Gauge(**gauge, plate_to_m=2.0, ground_level_m=70.0),
        GaugeZero(**gauge, zero_m=70.0, method="levelled"),
        RatingTable(
            site=PAN, valid_from=before, version="pan", origin="terrain model", values=tuple(rows)
        ),
    ]


def season_book() -> Book:
    """Return a logbook with the corrected records of the season, levels daily as gauges show them."""
    book = Book()
    book.write(*_season_setup())
    for day, level_m in daily_levels():
        book.write(*_gauges_on(day, level_m))
    for line in PUMP_LOG:
        if line.logged:
            rolled = True if line.display == "010340" else None
            at = morning(line.day)
            more: dict[str, Any] = {"site": scenario.SITE, "point": line.meter, "rolled": rolled}
            book.write(meter_reading(at, line.display, **more))
    return book


def _season_setup() -> list[Record]:
    site, before = scenario.SITE, morning(date(2023, 7, 1)).astimezone(UTC)
    at: dict[str, Any] = {"site": site, "valid_from": before}
    records: list[Record] = [site_record(site)]
    for gauge in scenario.GAUGES:
        records += [
            Gauge(**at, gauge=gauge.name, ground_level_m=gauge.ground_level_m),
            GaugeZero(**at, gauge=gauge.name, zero_m=gauge.zero_level_m, method="levelled"),
        ]
    sunk = {"zero_m": 71.790, "method": "levelled", "doubtful_from": morning(date(2023, 11, 2))}
    knocked: dict[str, Any] = {"valid_from": morning(date(2023, 11, 6)), **sunk}
    for meter in scenario.METERS:
        more = {"meter": meter.name, "multiplier": float(meter.multiplier), "pump": "PU1"}
        records.append(fitted(meter.fitted, meter.start_display, site=site, **more))
    rows = tuple((r.level_m, r.area_m2, r.volume_m3) for r in season_rating().rows)
    days = tuple((row.day, row.eto_mm, row.rain_mm) for row in weather())
    return [
        *records,
        GaugeZero(site=site, gauge="SG2", **knocked),
        pump(before, site=site),
        estimate(
            morning(date(2023, 10, 20)),
            morning(date(2023, 10, 22)),
            35.5,
            site=site,
            rate_megalitres_per_hour=0.520,
        ),
        RatingTable(**at, version="DEM-S", origin="terrain model", values=rows),
        WeatherSeries(**at, source="invented", values=days),
        WateringPlan(**at, season="2023-24", until=END.astimezone(UTC), periods=CUTS),
    ]


def _gauges_on(day: date, level_m: float | None) -> list[GaugeReading]:
    found = []
    for gauge in scenario.GAUGES:
        more: dict[str, Any] = {"site": scenario.SITE, "point": gauge.name}
        zero_m = scenario.gauge_zero_m(gauge.name, morning(day))
        stage_m = None if level_m is None else round(level_m - zero_m, 3)
        if stage_m is None or (stage_m < 0 and gauge.name == "SG2"):
            more["state"] = "dry"
        elif stage_m < 0:
            more["state"] = "below_zero"
        elif stage_m > gauge.plate_high_m:
            more["state"] = "over_plate"
        else:
            more["stage_m"] = stage_m
        found.append(gauge_reading(morning(day), **more))
    return found


# --- a pump log by the day ---


def pump_book() -> Book:
    """Return a logbook with a site and a pump of 0.55 ML/h from the first day of the pan."""
    book = Book()
    book.write(site_record(), pump(PAN_START))
    return book


def log(book: Book, *displays: str, **more: Any) -> list[str]:
    """Write one reading a day from the day after the first; an empty one is a day not logged."""
    return [
        book.write(meter_reading(PAN_START + timedelta(days=n), display, **more))
        for n, display in enumerate(displays, 1)
        if display
    ]


def total(book: Book, start: datetime = PAN_START, end: datetime = PAN_LATER) -> float:
    return pumped_between(book.known, PAN, start, end).volume_m3


def problems(book: Book, start: datetime = PAN_START, end: datetime = PAN_LATER) -> str:
    return "\n".join(pumping(book.known, PAN, start, end).problems)
