"""What the coordinator writes before the season: the invented site, its points, its plan."""

import csv
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from pathlib import Path
from typing import Final

from demo_visits import scenario
from demo_visits.ground import grid_to_lat_lon
from demo_visits.truth import EXPECTED_PERIODS
from demo_visits.weather import MONTH_MEAN_ETO_MM

Fact = tuple[str, str, dict[str, str]]  # kind, site, field to text as typed
REST_OF_YEAR_MM: Final = 2.5  # April to June, outside the season; invented
_START: Final = datetime.combine(scenario.SEASON_START, time(9), scenario.STANDARD)


def _text(moment: datetime) -> str:
    return moment.isoformat(sep=" ", timespec="minutes")


def _place(x: float, y: float) -> str:
    lat, lon = grid_to_lat_lon(x, y)
    return f"{lat:.7f} {lon:.7f}"


def morning(day: date) -> datetime:
    """Return 09:00 standard time of a day."""
    return datetime.combine(day, time(9), scenario.STANDARD)


def site_facts() -> Iterator[Fact]:
    """Yield the two sites, the bench mark and the gauges with their zeros."""
    for wetland in (scenario.LANTERN_REED_SWAMP, scenario.SADDLERS_BOWL):
        yield (
            "site",
            wetland.code,
            {
                "name": wetland.name,
                "centre": _place(wetland.x, wetland.y),
                "radius_m": f"{wetland.half_length_m * 1.35:.0f}",
                "standard_offset_min": "600",
                "summer_offset_min": "660",
                "summer_from": _text(scenario.DAYLIGHT_STARTS),
                "summer_until": _text(scenario.DAYLIGHT_ENDS),
                "epsg": "7856",
                "height_datum": "one local datum, called AHD in this invented story",
                "access": "Call the landholder first; leave gates as found. Invented site.",
            },
        )
    mark = scenario.BM1
    values = {"mark": mark.name, "level_m": f"{mark.level_m:.3f}", "place": _place(mark.x, mark.y)}
    yield "bench_mark", scenario.SITE, values
    for gauge in scenario.GAUGES:
        yield (
            "gauge",
            scenario.SITE,
            {
                "gauge": gauge.name,
                "plate_from_m": f"{gauge.plate_low_m:.3f}",
                "plate_to_m": f"{gauge.plate_high_m:.3f}",
                "ground_level_m": f"{gauge.ground_level_m:.3f}",
                "place": _place(gauge.x, gauge.y),
            },
        )
        yield (
            "gauge_zero",
            scenario.SITE,
            {
                "gauge": gauge.name,
                "zero_m": f"{gauge.zero_level_m:.3f}",
                "valid_from": _text(_START),
                "method": "levelled",
                "misclose_m": f"{gauge.misclose_m:.3f}",
                "bench_mark": mark.name,
                "remark": f"Levelled {gauge.levelled_on}; holds for the dry weeks before.",
            },
        )


def point_facts() -> Iterator[Fact]:
    """Yield pump, rain gauge, logger, bore, photo points, plots and trees."""
    site = scenario.SITE
    pump = scenario.PUMP
    yield (
        "pump",
        site,
        {
            "pump": pump.name,
            "nameplate_megalitres_per_hour": f"{pump.nameplate_megalitres_h:.3f}",
            "measured_megalitres_per_hour": f"{pump.rate_megalitres_h:.3f}",
        },
    )
    rain = scenario.RAIN_GAUGE
    yield "rain_gauge", site, {"code": rain.name, "place": _place(rain.x, rain.y)}
    logger = scenario.LOGGER
    yield (
        "level_logger",
        site,
        {
            "code": logger.name,
            "place": _place(logger.x, logger.y),
            "sensor_level_m": "71.150",
            "gauge": scenario.SG1.name,
            "offset_min": "600",
        },
    )
    bore = scenario.BORE
    yield (
        "bore",
        site,
        {
            "code": bore.name,
            "place": _place(bore.x, bore.y),
            "casing_level_m": f"{bore.casing_level_m:.3f}",
            "ground_level_m": f"{bore.ground_level_m:.3f}",
            "stick_up_m": f"{bore.stick_up_m:.3f}",
        },
    )
    pegs = [(site, peg) for peg in scenario.PHOTO_POINTS]
    for where, peg in [*pegs, (scenario.OTHER_SITE, scenario.OTHER_SITE_PHOTO_POINT)]:
        yield (
            "photo_point",
            where,
            {
                "code": peg.name,
                "place": _place(peg.x, peg.y),
                "bearing_deg": f"{peg.bearing_deg}",
                "north": "true",
                "lens_height_m": f"{peg.lens_height_m:.2f}",
                "focal_35mm": f"{peg.focal_length_35mm}",
            },
        )
    for plot in scenario.PLOTS:
        values = {"code": plot.name, "place": _place(plot.x, plot.y), "zone": plot.zone}
        yield "plot_set", site, {**values, "area_m2": f"{plot.area_m2:g}"}
    for tree in scenario.TREES:
        yield "tree_tagged", site, {"code": tree.name, "place": _place(tree.x, tree.y)}


def plan_facts() -> Iterator[Fact]:
    """Yield the watering plan, the allocation, the licence, the visits and the monthly table."""
    site = scenario.SITE
    yield (
        "watering_plan",
        site,
        {
            "season": "2023-24",
            "aim": "Fill to 72.40 m, hold, one top-up in October, dry slowly. Invented.",
            "target_level_m": f"{scenario.TARGET.level_m:.2f}",
            "slowest_fall_mm_day": f"{scenario.TARGET.fastest_fall_mm_day:.0f}",
            "until": _text(morning(EXPECTED_PERIODS[-1].end)),
            "periods": "\n".join(
                f"{period.name}; {_text(morning(period.start))}" for period in EXPECTED_PERIODS
            ),
        },
    )
    yield (
        "allocation",
        site,
        {
            "account": scenario.ACCOUNT,
            "allocated_megalitres": f"{scenario.ALLOCATED_MEGALITRES:g}",
            "until": _text(morning(scenario.SEASON_END)),
            "funder": scenario.AGENCY,
        },
    )
    licence = scenario.LICENCE
    yield (
        "licence",
        site,
        {
            "licence": licence.number,
            "daily_limit_megalitres": f"{licence.daily_megalitres:g}",
            "rate_limit_l_s": f"{licence.rate_l_s:g}",
            "river_at_least_m": f"{licence.stop_below_river_stage_m:.2f}",
            "meter_rule": "at start, every week and at stop",
        },
    )
    means = {month: mean for (_, month), mean in MONTH_MEAN_ETO_MM.items()}
    months = "\n".join(f"{means.get(month, REST_OF_YEAR_MM):g}" for month in range(1, 13))
    yield "evaporation_table", site, {"monthly_mm_per_day": months}
    for visit in scenario.PLANNED_VISITS:
        yield (
            "planned_visit",
            site,
            {
                "code": f"{visit.team} {visit.day}",
                "team": visit.team,
                "items": visit.purpose,
                "valid_from": _text(morning(visit.day)),
            },
        )


def rating_fact(table: Path, terrain: str) -> Fact:
    """Return the rating table record of a table that the server's rating command wrote."""
    with table.open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    values = "\n".join(f"{row['level_m']}; {row['area_m2']}; {row['volume_m3']}" for row in rows)
    made = {"version": f"{terrain}, 1 cm steps", "origin": "terrain model", "values": values}
    return "rating_table", scenario.SITE, made


def first_day() -> datetime:
    """Return the moment at which the office writes the set-up: the day before the season."""
    return _START - timedelta(days=1)


def in_force_from() -> str:
    """Return the moment from which the set-up holds, as typed."""
    return _text(_START)
