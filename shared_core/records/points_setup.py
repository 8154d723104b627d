"""Fixed points of a site: photo points, plots, trees, bores, loggers and rain gauges."""

from typing import ClassVar, Final

from shared_core.field_shapes import Position
from shared_core.fields import choice, number, position, record, text
from shared_core.records.base import SetUp

NORTHS: Final = {"true": "True north", "magnetic": "Magnetic north"}


@record
class FixedPoint(SetUp):
    """A place that people come back to."""

    code: str = text("Code", longest=40)
    place: Position | None = position("Position", default=None)
    how_to_find: str | None = text("How to find it", default=None)

    @property
    def where(self) -> str:
        return self.code


@record
class PhotoPoint(FixedPoint):
    """A peg to stand at and a bearing to look along."""

    kind: ClassVar[str] = "photo_point"
    title: ClassVar[str] = "Photo point set"

    bearing_deg: float = number("Bearing", "deg", (0.0, 360.0), decimals=0)
    north: str = choice("Measured from", NORTHS)
    lens_height_m: float | None = number("Lens height", "m", (0.5, 2.5), default=None)
    focal_35mm: float | None = number(
        "Focal length, 35 mm equivalent", "mm", (10.0, 200.0), default=None, decimals=0
    )
    fixed_feature: str | None = text("Fixed feature in the frame", default=None, longest=200)


@record
class PlotSet(FixedPoint):
    """A vegetation plot's peg."""

    kind: ClassVar[str] = "plot_set"
    title: ClassVar[str] = "Plot set"

    zone: str | None = text("Zone", default=None, longest=60)
    area_m2: float | None = number("Plot area", "m2", (0.25, 400.0), default=None)


@record
class TreeTagged(FixedPoint):
    """A tagged tree."""

    kind: ClassVar[str] = "tree_tagged"
    title: ClassVar[str] = "Tree tagged"

    species: str | None = text("Species", default=None, longest=120)


@record
class Bore(FixedPoint):
    """A bore and the mark it is dipped from."""

    kind: ClassVar[str] = "bore"
    title: ClassVar[str] = "Bore set"

    casing_level_m: float = number("Level of the casing's top", "m", (-50.0, 3000.0), decimals=3)
    ground_level_m: float | None = number(
        "Level of the ground", "m", (-50.0, 3000.0), default=None, decimals=3
    )
    stick_up_m: float | None = number(
        "Stick-up of the casing", "m", (0.0, 2.0), default=None, decimals=3
    )


@record
class LevelLogger(FixedPoint):
    """A pressure logger in the water."""

    kind: ClassVar[str] = "level_logger"
    title: ClassVar[str] = "Logger fitted"

    sensor_level_m: float = number("Level of the sensor", "m", (-50.0, 3000.0), decimals=3)
    gauge: str | None = text("Checked against gauge", default=None, longest=40)
    offset_min: float | None = number(
        "Its clock's offset from UTC", "min", (-720.0, 840.0), default=None, decimals=0
    )
    serial: str | None = text("Serial", default=None, longest=60)


@record
class RainGauge(FixedPoint):
    """A rain gauge and how far it stands from the water."""

    kind: ClassVar[str] = "rain_gauge"
    title: ClassVar[str] = "Rain gauge set"

    distance_km: float | None = number(
        "Distance from the wetland", "km", (0.0, 50.0), default=None, decimals=1
    )
