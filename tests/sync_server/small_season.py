"""A small invented season in a logbook in memory: one pool, one gauge, one meter, two periods.

Numbers are round so that a person can follow them; names hold characters that HTML must escape.
"""

import itertools
import math
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

from shared_core.field_shapes import Position
from shared_core.logbook import Logbook, Said
from shared_core.records import KINDS
from shared_core.records.base import Record
from shared_core.records.meter_setup import MeterFitted, PumpedEstimate
from shared_core.records.plan import Allocation, PlannedVisit, WateringPlan
from shared_core.records.pump_meter import MeterReading
from shared_core.records.rain import RainReading
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.site_setup import Gauge, GaugeZero, Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.visit import Visit
from shared_core.records.water_setup import RatingTable, WeatherSeries

SITE = "GUM"
NAME = 'Gum <b>Hollow</b> & "Sons"'
NASTY = "<script>alert('x')</script> & $5 \U0001f438"
START = datetime(2023, 8, 1, 23, tzinfo=UTC)  # 09:00 on 2 August in UTC+10
WRITTEN_AT = datetime(2023, 10, 1, 2, tzinfo=UTC)
MIDDLE = Position(-36.48, 155.455)
RULES: dict[str, Any] = {"valid_from": START - timedelta(days=30)}


def on(day: float) -> datetime:
    """So many days after the start."""
    return START + timedelta(days=day)


class SmallSeason:
    """The logbook of the season, and the names of the records that tests ask for."""

    def __init__(self) -> None:
        self.named: dict[str, str] = {}
        self.now = START - timedelta(days=20)
        self.book = self._logbook("OFFICE-1")
        self.other = self._logbook("FIELD-2")
        self._set_up()
        self._observe()
        self._correct()

    def close(self) -> None:
        self.book.close()
        self.other.close()

    def _logbook(self, device: str) -> Logbook:
        return Logbook(
            ":memory:", device=device, clock=self._clock, new_id=_names(device), kinds=KINDS
        )

    def _clock(self) -> datetime:
        self.now += timedelta(milliseconds=1)
        return self.now

    def write(self, record: Record, name: str = "", author: str = "Ruth", note: str = "") -> str:
        """Write a record and keep its id under a name."""
        written = self.book.write(record, Said(author=author, note=note)).record
        self.named[name] = written
        return written

    def change(self, name: str, note: str, **values: Any) -> None:
        """Correct a named record."""
        standing = self.book.standing(self.named[name])
        assert standing is not None
        changed = standing.record.changed(**values)
        said = Said(author="Ruth", note=note)
        self.book.write(changed, said, record_id=self.named[name])

    def _set_up(self) -> None:
        facts: dict[str, Any] = {"site": SITE, **RULES}
        self.write(
            Site(
                **facts, name=NAME, centre=MIDDLE, radius_m=400.0, standard_offset_min=600,
                epsg=7856, height_datum="a local datum",
            )
        )  # fmt: skip
        self.write(Gauge(**facts, gauge="G1", ground_level_m=10.0), "gauge")
        self.write(
            GaugeZero(**facts, gauge="G1", zero_m=10.0, method="levelled", remark=NASTY), "zero"
        )
        rows = ((10.0, 0.0, 0.0), (11.0, 100_000.0, 50_000.0), (12.0, 100_000.0, 150_000.0))
        self.write(
            RatingTable(**facts, version="R1", origin="terrain model", values=rows), "rating"
        )
        days = tuple((START.date() + timedelta(days=n), 4.0, None) for n in range(-3, 40))
        self.write(WeatherSeries(**facts, source="invented", values=days), "weather")
        self.write(
            MeterFitted(
                **{**facts, "valid_from": on(0)}, meter="M1", serial="S<1>", unit="kL",
                multiplier=10.0, figures=6, start_display="999000",
            ),
            "fitted",
        )  # fmt: skip
        self.write(
            PumpedEstimate(
                **{**facts, "valid_from": on(8)}, meter="M1", until=on(10), hours=20.0,
                rate_megalitres_per_hour=0.25, basis="hour meter",
            ),
            "estimate",
        )  # fmt: skip
        self.write(
            WateringPlan(
                **facts, season="2023", until=on(30), target_level_m=11.2,
                periods=(("fill", on(0)), ("hold <i>", on(10))),
            ),
            "plan",
        )  # fmt: skip
        self.write(Allocation(**facts, account="A-1", allocated_megalitres=100.0, until=on(60)))
        for day, team in ((0, "Heron"), (10, "Bittern"), (20, "Heron")):
            when = {**facts, "valid_from": on(day)}
            self.write(PlannedVisit(**when, code=f"{team} {day}", team=team))

    def _observe(self) -> None:
        self.stage(0, None, "start")
        self.stage(5, 0.5, "typed wrong", typed=5.0)
        self.stage(10, 1.2, "full")
        self.stage(10.5, 0.9, "set aside")
        self.stage(20, 1.15, "later")
        self.stage(30, 1.0, "end")
        for day, display, rolled in ((4, "001000", True), (8, "005000", None)):
            self.write(
                MeterReading(**self.head("M1", day), display=display, rolled=rolled), f"meter {day}"
            )
        rain = RainReading(
            **self.head("RG", 15), rain_mm=10.0, read_on=date(2023, 8, 17), remark=NASTY
        )
        self.write(rain, "rain")
        self.write(Visit(**self.head("", 0), team="Heron + landholder"))
        self.write(Visit(**self.head("", 20.4), team="heron"))
        self.write(ShorelineWalk(**self.head("", 20), fixes=square_walk(on(20)), closed=True))

    def stage(
        self, day: float, stage_m: float | None, name: str, typed: float | None = None
    ) -> None:
        """Write a reading of G1, or that it stood dry."""
        state = "dry" if stage_m is None else None
        seen = typed if typed is not None else stage_m
        self.write(GaugeReading(**self.head("G1", day), stage_m=seen, state=state), name, "Priya")

    def head(self, point: str, day: float) -> dict[str, Any]:
        """What all observations share."""
        return {
            "site": SITE, "visit": f"day {day}", "point": point, "seen_at": on(day),
            "offset_min": 600, "time_source": "device", "observers": ("Priya", "Tom & Jo"),
            "as_typed": {},
        }  # fmt: skip

    def _correct(self) -> None:
        self.now = on(40)
        self.change("typed wrong", f"Decimal point: {NASTY}", stage_m=0.5)
        self.change("set aside", "Misread by 0.3 m.", quality="not_used")
        self.exchange()
        for book, who, day in ((self.book, "Ruth", 28), (self.other, "Sam", 29)):
            standing = book.standing(self.named["plan"])
            assert standing is not None
            changed = standing.record.changed(dry_on=date(2023, 9, day))
            book.write(changed, Said(author=who, note="Seen."), record_id=self.named["plan"])
        self.exchange()

    def exchange(self) -> None:
        """Let both logbooks know the same."""
        for giver, taker in ((self.book, self.other), (self.other, self.book)):
            entries, _ = giver.since(0, 10_000)
            taker.absorb([entry.line for entry in entries], source="test")


def _names(device: str) -> Callable[[], str]:
    numbers = itertools.count(1)
    return lambda: f"{device}-{next(numbers):04d}"


def square_walk(start: datetime, side_m: float = 320.0) -> tuple[tuple[Any, ...], ...]:
    """Fixes round a square, walked at 1 m/s, one fix a 10 m."""
    north_deg = 1.0 / 111_000.0
    east_deg = north_deg / math.cos(math.radians(MIDDLE.lat_deg))
    steps = int(side_m / 10)
    corners = [(0, 0, 0, 1), (0, 1, 1, 0), (1, 1, 0, -1), (1, 0, -1, 0)]
    fixes: list[tuple[Any, ...]] = []
    for x0, y0, dx, dy in corners:
        for step in range(steps):
            along = step / steps
            x_m, y_m = side_m * (x0 + dx * along), side_m * (y0 + dy * along)
            time = start + timedelta(seconds=10 * len(fixes))
            lat, lon = MIDDLE.lat_deg + y_m * north_deg, MIDDLE.lon_deg + x_m * east_deg
            fixes.append((time, round(lat, 7), round(lon, 7), 3.0, 1.0))
    return tuple(fixes)
