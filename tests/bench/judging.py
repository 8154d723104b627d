"""Findings and answers of one reading, with much history and with little."""

import tempfile
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from statistics import median
from typing import Any, Final

from shared_core.logbook import Logbook
from shared_core.records.base import Record, Seen
from shared_core.records.meter_setup import MeterFitted, Pump
from shared_core.records.plan import Allocation, Licence
from shared_core.records.pump_meter import MeterReading
from shared_core.records.pump_run import PumpRun
from shared_core.records.rain import RainReading
from shared_core.records.site_setup import Gauge, GaugeZero
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.water_setup import RatingTable
from tests.bench.figure import Figure
from tests.bench.saving import timed
from tests.logbooks import ANA, START, counting

SITE: Final = "REEDY"
TEN_YEARS: Final = timedelta(days=3652)
MANY, FEW = 10_000, 100  # visits
SEASON: Final = timedelta(days=120)


def _set_up(start: datetime, now: datetime) -> Iterator[Record]:
    """Yield an invented site's gauge, pump, meter and what it may use."""
    common: dict[str, Any] = {"site": SITE, "valid_from": start}
    rungs = tuple((50.0 + n * 0.1, 9000.0 * n + 1.0, 450.0 * n * n + n) for n in range(31))
    yield Gauge(**common, gauge="G1", plate_to_m=2.0)
    yield GaugeZero(**common, gauge="G1", zero_m=50.0, method="levelled", uncertainty_m=0.005)
    yield RatingTable(**common, version="bench", origin="power form", values=rungs)
    yield Pump(**common, pump="P1", nameplate_megalitres_per_hour=0.2)
    yield MeterFitted(
        **common, meter="M1", serial="0", unit="kL", figures=9, start_display="000000000", pump="P1"
    )
    season: dict[str, Any] = {"site": SITE, "valid_from": now - SEASON}
    yield Licence(**season, licence="L1", daily_limit_megalitres=20.0, volume_limit_megalitres=9e3)
    yield Allocation(**season, account="A1", until=now + SEASON, allocated_megalitres=9000.0)


def _visit(number: int, at: datetime) -> Iterator[Seen]:
    """Yield what one invented visit saw; the pump runs two hours between visits."""
    head: dict[str, Any] = {
        "site": SITE, "visit": f"V{number}", "seen_at": at, "offset_min": 600,
        "time_source": "device", "observers": ("Ana Invented",),
    }  # fmt: skip
    yield GaugeReading(**head, point="G1", stage_m=1.0 + number % 20 / 1000)
    yield MeterReading(**head, point="M1", display=f"{number * 400:09d}")
    yield PumpRun(**head, point="P1", hours_reading=number * 2.0)
    yield RainReading(**head, point="R1", rain_mm=0.0, read_on=at.date())


def history_of(visits: int, path: Path) -> Logbook:
    """Return a logbook with that many visits up to START, as far apart as 10,000 in ten years."""
    apart = TEN_YEARS / MANY
    log = Logbook(path, device="bench", clock=lambda: START, new_id=counting("b"))
    log._file.execute("pragma synchronous=off")  # how it was written is not what is measured
    for record in _set_up(START - apart * (visits + 1), START):
        log.write(record, ANA)
    for number in range(visits):
        for seen in _visit(number, START - apart * (visits - number)):
            log.write(seen, ANA)
    return log


def judge(log: Logbook, seen: Record) -> Callable[[], object]:
    """Return a call that finds and tells everything about a record."""

    def call() -> object:
        known = log.known()
        return list(seen.findings(known)), list(seen.tells(known))

    return call


def judging_times(visits: int, turns: int) -> dict[str, float]:
    """Return for each kind how long findings and answers of the next reading take [ms]."""
    with tempfile.TemporaryDirectory() as folder:
        log = history_of(visits, Path(folder) / "log.sqlite")
        found = {}
        for seen in _visit(visits, START):
            call = judge(log, seen)
            call()
            found[seen.kind] = median(timed(call) for _ in range(turns))
        log.close()
    return found


def judging(many: int, turns: int) -> list[Figure]:
    """Measure findings and answers, and whether they grow with history."""
    few, much = judging_times(FEW, turns), judging_times(many, turns)
    found = []
    for kind in ("gauge_reading", "meter_reading"):
        name, ms = kind.replace("_", " "), much[kind]
        found.append(
            Figure(
                f"findings and answers, {name}, {many} visits",
                ms,
                "ms",
                few[kind],
                "<= 5 ms",
                ms <= 5.0,
            )
        )
        ratio = ms / few[kind]
        found.append(
            Figure(
                f"the same against {FEW} visits", ratio, "x", None, "flat: <= 1.5 x", ratio <= 1.5
            )
        )
    return found
