"""The site and its heights: bench marks, gauges, gauge zeros and check levelling."""

from datetime import datetime
from typing import Any, ClassVar, Final

from shared_core.field_kinds import Number
from shared_core.field_shapes import Position
from shared_core.fields import choice, flag, moment, number, position, record, rows, text, whole
from shared_core.records.base import SetUp

HOW_LEVELLED: Final = {
    "levelled": "Levelled",
    "rtk": "Survey receiver (RTK)",
    "dem": "From the terrain model",
    "other_gauge": "From another gauge",
}
OUTLINE_COLUMNS: Final = (
    Number(label="Latitude", unit="deg", name="lat_deg", decimals=7),
    Number(label="Longitude", unit="deg", name="lon_deg", decimals=7),
)


@record
class Site(SetUp):
    """A wetland that is watered."""

    kind: ClassVar[str] = "site"
    title: ClassVar[str] = "Site"

    name: str = text("Name", longest=120)
    centre: Position = position("Centre")
    radius_m: float = number("Radius that holds the whole site", "m", (50.0, 20_000.0), decimals=0)
    outline: tuple[tuple[Any, ...], ...] = rows("Outline", OUTLINE_COLUMNS, default=())
    standard_offset_min: int = whole("Standard time, offset from UTC", "min", (-720, 840))
    summer_offset_min: int | None = whole(
        "Summer time, offset from UTC", "min", (-720, 840), default=None
    )
    summer_from: datetime | None = moment("Summer time from", default=None)
    summer_until: datetime | None = moment("Summer time until", default=None)
    epsg: int = whole("Grid, EPSG code", "", (1024, 32767))
    height_datum: str = text("Height datum", longest=60)
    access: str | None = text("Access notes", default=None)
    elevation_m: float | None = number("Elevation", "m", (-100.0, 3000.0), default=None, decimals=0)


@record
class BenchMark(SetUp):
    """A fixed mark off the wet ground."""

    kind: ClassVar[str] = "bench_mark"
    title: ClassVar[str] = "Bench mark"

    mark: str = text("Mark", longest=40)
    level_m: float = number("Level", "m", (-50.0, 3000.0), decimals=3)
    place: Position | None = position("Position", default=None)

    @property
    def where(self) -> str:
        return self.mark


@record
class Gauge(SetUp):
    """A staff gauge: one post with its plate."""

    kind: ClassVar[str] = "gauge"
    title: ClassVar[str] = "Staff gauge fitted"

    gauge: str = text("Gauge", longest=40)
    plate_from_m: float = number("Plate starts at", "m", (-1.0, 10.0), default=0.0, decimals=3)
    plate_to_m: float = number("Plate ends at", "m", (0.1, 20.0), default=1.0, decimals=3)
    ground_level_m: float | None = number(
        "Ground at its foot", "m", (-50.0, 3000.0), default=None, decimals=3
    )
    place: Position | None = position("Position", default=None)

    @property
    def where(self) -> str:
        return self.gauge


@record
class GaugeZero(SetUp):
    """The level of a plate's zero mark from a date on; a reading uses the row valid at its time."""

    kind: ClassVar[str] = "gauge_zero"
    title: ClassVar[str] = "Gauge zero"

    gauge: str = text("Gauge", longest=40)
    zero_m: float = number("Level of the zero mark", "m", (-50.0, 3000.0), decimals=3)
    method: str = choice("Method", HOW_LEVELLED)
    misclose_m: float | None = number("Misclose", "m", (-0.02, 0.02), default=None, decimals=3)
    bench_mark: str | None = text("Bench mark", default=None, longest=40)
    uncertainty_m: float | None = number(
        "Uncertainty (1 sd)", "m", (0.0, 0.3), default=None, decimals=3
    )
    doubtful_from: datetime | None = moment(
        "Doubtful from", default=None, help="First time the earlier zero may no longer have held."
    )

    @property
    def where(self) -> str:
        return self.gauge


@record
class LevelCheck(SetUp):
    """Check levelling of a gauge against a bench mark, loop closed."""

    kind: ClassVar[str] = "level_check"
    title: ClassVar[str] = "Level check"

    gauge: str = text("Gauge", longest=40)
    found_zero_m: float = number("Zero found", "m", (-50.0, 3000.0), decimals=3)
    misclose_m: float = number("Misclose", "m", (-0.02, 0.02), decimals=3)
    set_ups: int | None = whole("Set-ups of the instrument", "", (1, 40), default=None)
    bench_mark: str = text("Bench mark", longest=40)
    plate_straight: bool | None = flag("Plate straight", default=None)
    certificate: str | None = text("Licensed surveyor's certificate", default=None, longest=80)

    @property
    def where(self) -> str:
        return self.gauge
