"""Every kind of record, in the order of a visit; adding one is one file and one line here."""

from typing import Final

from shared_core.records.base import Record
from shared_core.records.bore import BoreDip
from shared_core.records.hazard import Hazard
from shared_core.records.logger_check import LoggerCheck, LoggerSeries
from shared_core.records.meter_setup import MeterFitted, Pump, PumpedEstimate
from shared_core.records.photo_point import PhotoTaken
from shared_core.records.plan import Allocation, Licence, PlannedVisit, WateringPlan
from shared_core.records.points_setup import (
    Bore,
    LevelLogger,
    PhotoPoint,
    PlotSet,
    RainGauge,
    TreeTagged,
)
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from shared_core.records.rain import RainReading
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.site_setup import BenchMark, Gauge, GaugeZero, LevelCheck, Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.tree import TreeScore
from shared_core.records.vegetation_plot import PlotScore
from shared_core.records.visit import Visit
from shared_core.records.water_quality import WaterSample
from shared_core.records.water_setup import EvaporationTable, Limits, RatingTable, WeatherSeries

KINDS: Final[tuple[type[Record], ...]] = (
    Visit, GaugeReading, LoggerCheck, MeterReading, PumpRun, RainReading, WaterSample, PhotoTaken,
    ShorelineWalk, PlotScore, TreeScore, BoreDip, Hazard,
    Site, BenchMark, Gauge, GaugeZero, LevelCheck, Pump, MeterFitted, PumpedEstimate, RainGauge,
    LevelLogger, LoggerSeries, Bore, PhotoPoint, PlotSet, TreeTagged, RatingTable,
    EvaporationTable, WeatherSeries, Limits,
    WateringPlan, Allocation, Licence, PlannedVisit,
)  # fmt: skip
