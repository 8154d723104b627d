"""Random seasons with a known truth, written through real records as people would type them.

Everything is invented. A season is drawn from one seed; its records go into a logbook in memory in
the order of time, and whoever plays it is told of each reading before it is written.
"""

import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import Any, Final, NamedTuple

import numpy as np

from shared_core.field_shapes import Position
from shared_core.logbook import Logbook, Said
from shared_core.records import KINDS
from shared_core.records.base import Record
from shared_core.records.meter_setup import MeterFitted, Pump
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Gauge, GaugeZero, Site
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_setup import EvaporationTable, RatingTable, WeatherSeries
from tests.bench.season_meter import Counter, MeterLook, counter, looks
from tests.bench.season_people import Observer, Post, Read, knocked, observers, posts, read
from tests.bench.season_shape import bowl
from tests.bench.season_sky import Sky, sky
from tests.bench.season_water import Ground, Water, ground, pumping, water

BUILDING: Final = 1_000  # seeds from here on are looked at while building
REPORTING: Final = 900_000  # and these only for the figures that are published
SITE: Final = "RND"
DAYS: Final = 245
ZONE_MIN: Final = 600
START: Final = datetime(2023, 6, 30, 23, tzinfo=UTC)  # 1 July, 09:00 standard time
FIRST_DAY: Final = date(2023, 7, 2)  # the day that ends after the first
WEATHER_EVERY: Final = 7  # days between weather files, each of the last 30 (common practice)
WITH_DAILY_WEATHER: Final = 0.75  # share of seasons whose tablets get them (from memory)
RAIN_NOT_WRITTEN: Final = 0.1  # days, made up by an accumulation (from memory)


class Look(NamedTuple):
    """One look at the gauges: when, by whom, and what each showed; the truth beside."""

    day: float
    who: Observer
    visit: str
    level_m: float | None
    reads: tuple[tuple[Post, Read], ...]


@dataclass(frozen=True)
class Season:
    """The truth of a season and what people did."""

    seed: int
    sky: Sky
    bed: Ground
    water: Water
    posts: tuple[Post, ...]
    looks: tuple[Look, ...]
    counter: Counter
    meter_looks: tuple[MeterLook, ...]
    daily_weather: bool


def at(day: float) -> datetime:
    """Return the time so many days after the season's first morning."""
    return START + timedelta(seconds=round(day * 86_400))


def season(seed: int, *, with_knock: bool = False) -> Season:
    """Draw a season."""
    rng = np.random.default_rng(seed)
    shape, weather, bed = bowl(rng), sky(rng, DAYS), ground(rng)
    pump = pumping(rng, shape, bed, DAYS)
    truth = water(shape, weather, bed, pump)
    gauges = posts(rng, shape)
    days = list(_visit_days(rng))
    if with_knock:
        gauges = _with_knock(rng, gauges, truth, days)
    people = observers(rng, ("Officer A", "Officer B", "Landholder"))
    face = counter(rng, truth)
    at_meter = tuple(looks(rng, truth, face, days))
    seen = [*_officers(rng, truth, gauges, people[:2], days)]
    seen += _landholder(rng, truth, gauges, people[2], at_meter)
    return Season(
        seed=seed,
        sky=weather,
        bed=bed,
        water=truth,
        posts=gauges,
        looks=tuple(sorted(seen, key=lambda look: look.day)),
        counter=face,
        meter_looks=at_meter,
        daily_weather=bool(rng.random() < WITH_DAILY_WEATHER),
    )


def _visit_days(rng: np.random.Generator) -> Iterator[float]:
    """Yield the times of the officers' visits, 1 to 14 days apart, in daylight."""
    day = int(rng.integers(5, 20))
    longest = int(rng.integers(7, 15))
    while day < DAYS - 2:
        yield day + float(rng.uniform(0.0, 0.3))
        day += int(rng.integers(1, longest + 1))


def _with_knock(
    rng: np.random.Generator, gauges: tuple[Post, ...], truth: Water, days: list[float]
) -> tuple[Post, ...]:
    """Return the gauges, one of them moved while two are wet, with visits enough on both sides."""
    wet = [day for day in days if sum(_shows(post, truth.level_m(day), day) for post in gauges) > 1]
    if len(wet) < 6:
        return gauges
    day = wet[int(rng.integers(3, len(wet) - 2))] - float(rng.uniform(0.1, 0.9))
    showing = [p for p in gauges if _shows(p, truth.level_m(day), day)]
    moved = showing[int(rng.integers(len(showing)))] if showing else gauges[0]
    return tuple(knocked(rng, post, day) if post is moved else post for post in gauges)


def _shows(post: Post, level_m: float | None, day: float) -> bool:
    stage_m = (level_m if level_m is not None else -1e9) - post.true_zero_m(day)
    return 0.02 < stage_m < post.plate_m - 0.02


def _officers(
    rng: np.random.Generator,
    truth: Water,
    gauges: tuple[Post, ...],
    people: tuple[Observer, ...],
    days: list[float],
) -> Iterator[Look]:
    for number, day in enumerate(days):
        who = people[int(rng.integers(len(people)))]
        level_m = truth.level_m(day)
        reads = tuple((post, read(rng, who, post, level_m, day)) for post in gauges)
        yield Look(day, who, f"V{number:03d}", level_m, reads)


def _landholder(
    rng: np.random.Generator,
    truth: Water,
    gauges: tuple[Post, ...],
    who: Observer,
    at_meter: tuple[MeterLook, ...],
) -> Iterator[Look]:
    """Yield the landholder's looks after the meter was read: one gauge that shows a number."""
    keen = rng.uniform(0.3, 0.95)
    for morning in (each.day + 0.01 for each in at_meter if each.who == who.name):
        level_m = truth.level_m(morning)
        showing = [post for post in gauges if _shows(post, level_m, morning)]
        if showing and rng.random() < keen:
            reads = ((showing[0], read(rng, who, showing[0], level_m, morning)),)
            yield Look(morning, who, f"L{morning:05.1f}", level_m, reads)


# --- into records ---------------------------------------------------------------------------------

Told = Callable[[Look, Post, Read, GaugeReading, Logbook], GaugeReading]
MeterTold = Callable[[MeterLook, list[str], Logbook], None]


def new_logbook() -> Logbook:
    ticks, names = itertools.count(), itertools.count(1)
    return Logbook(
        ":memory:",
        device="RND-1",
        clock=lambda: START + timedelta(milliseconds=next(ticks)),
        new_id=lambda: f"00000000-0000-7000-8000-{next(names):012x}",
        kinds=KINDS,
    )


def write(logbook: Logbook, *records: Record) -> list[str]:
    """Write records; return their ids."""
    return [logbook.write(record, Said(author="somebody")).record for record in records]


def rewrite(logbook: Logbook, record: Record, record_id: str) -> None:
    """Write a record anew over one that stands."""
    logbook.write(record, Said(author="somebody", note="copied again"), record_id=record_id)


def gauge_reading(look: Look, post: Post, seen: Read) -> GaugeReading:
    """Return the record of one gauge as it is typed."""
    minutes = 2.0 * (int(post.name[2:]) - 1)
    return GaugeReading(
        **head(look.day + minutes / 1440, look.visit, post.name, look.who.name),
        stage_m=None if seen.text is None else float(seen.text),
        state=seen.state,
        waves=seen.surface,
        as_typed={} if seen.text is None else {"stage_m": seen.text},
    )


def retyped(reading: GaugeReading, text: str, point: str) -> GaugeReading:
    """Return a reading with other figures, or on another gauge."""
    return reading.changed(stage_m=float(text), point=point, as_typed={"stage_m": text})


def head(day: float, visit: str, point: str, who: str) -> dict[str, Any]:
    """Return what all observations share."""
    return {
        "site": SITE,
        "visit": visit,
        "point": point,
        "seen_at": at(day),
        "offset_min": ZONE_MIN,
        "time_source": "device",
        "observers": (who,),
    }


def play(
    one: Season, *, at_gauge: Told | None = None, at_meter: MeterTold | None = None
) -> Logbook:
    """Write a season into a new logbook, in the order of time.

    Args:
        one: The season.
        at_gauge: Told of each gauge reading before it is written; returns what is to be written.
        at_meter: Told of each look at the meter, its figures and hours being written.
    """
    logbook = new_logbook()
    write(logbook, *_set_up(one))
    events: list[tuple[float, int, Any]] = [(look.day, 2, look) for look in one.looks]
    events += [(look.day, 1, look) for look in one.meter_looks]
    events += [(day, 0, record) for day, record in _weather(one)]
    for _, _, event in sorted(events, key=lambda each: each[:2]):
        if isinstance(event, Look):
            _gauges(event, logbook, at_gauge)
        elif isinstance(event, MeterLook):
            ids = write(logbook, *meter_records(event))
            if at_meter is not None:
                at_meter(event, ids, logbook)
        else:
            write(logbook, event)
    return logbook


def _gauges(look: Look, logbook: Logbook, told: Told | None) -> None:
    for post, seen in look.reads:
        record = gauge_reading(look, post, seen)
        if told is not None:
            record = told(look, post, seen, record, logbook)
        write(logbook, record)


def meter_records(look: MeterLook) -> tuple[Record, ...]:
    """Return what the landholder writes: the figures, and the hours beside them."""
    return look.records(head(look.day, look.visit, "M1", look.who), at)


def _set_up(one: Season) -> Iterator[Record]:
    begin = START - timedelta(days=30)
    bowl_ = one.water.bowl
    yield Site(
        site=SITE,
        valid_from=begin,
        name="An invented bowl",
        centre=Position(-36.48, 155.45, 3.0),
        radius_m=900.0,
        standard_offset_min=ZONE_MIN,
        epsg=7856,
        height_datum="one local datum",
    )
    for post in one.posts:
        yield Gauge(
            site=SITE,
            valid_from=begin,
            gauge=post.name,
            ground_level_m=post.ground_m,
            plate_to_m=post.plate_m,
        )
        yield GaugeZero(
            site=SITE,
            valid_from=begin,
            gauge=post.name,
            zero_m=post.stated_zero_m,
            method=post.method,
        )
    yield RatingTable(
        site=SITE, valid_from=begin, version="1", origin="terrain model", values=bowl_.rating
    )
    yield EvaporationTable(
        site=SITE, valid_from=begin, monthly_mm_per_day=tuple((mm,) for mm in one.sky.monthly_mm)
    )
    pump = one.water.pumping
    yield Pump(
        site=SITE,
        valid_from=begin,
        pump="PU1",
        nameplate_megalitres_per_hour=round(pump.plate_m3_h / 1000, 4),
        measured_megalitres_per_hour=round(pump.measured_m3_h / 1000, 4),
    )
    yield fitted(one.counter)


def fitted(face: Counter, **more: Any) -> MeterFitted:
    return MeterFitted(
        **{
            "site": SITE,
            "valid_from": at(face.fitted_on),
            "meter": "M1",
            "serial": "X-1",
            "unit": face.unit,
            "multiplier": face.multiplier,
            "figures": face.figures,
            "start_display": face.shown_at(face.fitted_on),
            "pump": "PU1",
            "certificate": "seen" if face.certified else None,
            **more,
        }
    )


def weather_file(one: Season, first: int, last: int) -> WeatherSeries:
    """Return the station's file of some days."""
    days = range(max(0, first), min(last, DAYS))
    return WeatherSeries(
        site=SITE,
        valid_from=at(days[0]),
        source="invented station",
        values=tuple(
            (FIRST_DAY + timedelta(days=d), float(one.sky.reference_mm[d]), None) for d in days
        ),
    )


def _weather(one: Season) -> Iterator[tuple[float, Record]]:
    if one.daily_weather:
        for last in range(WEATHER_EVERY, DAYS, WEATHER_EVERY):
            yield last + 0.4, weather_file(one, last - 30, last)
    rng = np.random.default_rng(one.seed + 1)
    total, days = 0.0, 0
    for day in range(DAYS):
        total, days = total + float(one.sky.gauge_mm[day]), days + 1
        if rng.random() < RAIN_NOT_WRITTEN:
            continue
        if total > 0 or (day % 30 == 0):
            label = FIRST_DAY + timedelta(days=day)
            yield (
                day + 1.003,
                RainReading(
                    **head(day + 1.003, f"R{day:03d}", "RG", "Landholder"),
                    rain_mm=round(total, 1),
                    days_covered=days,
                    read_on=label,
                ),
            )
        total, days = 0.0, 0
