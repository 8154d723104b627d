"""Logbooks for tests: a clock that ticks a minute a reading, names that count up, invented people."""

import itertools
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, Final

from shared_core.logbook import Logbook, Said
from shared_core.records import KINDS
from shared_core.records.base import Record
from shared_core.records.staff_gauge import GaugeReading

START: Final = datetime(2026, 3, 1, tzinfo=UTC)
ANA: Final = Said(author="Ana Invented", offset_min=600)
KIM: Final = Said(author="Kim Invented", offset_min=600)


def ticking(start: datetime = START) -> Callable[[], datetime]:
    minutes = itertools.count()
    return lambda: start + timedelta(minutes=next(minutes))


def counting(prefix: str) -> Callable[[], str]:
    numbers = itertools.count(1)
    return lambda: f"{prefix}-{next(numbers):06d}"


def logbook(
    device: str = "tablet 1",
    path: Path | str = ":memory:",
    kinds: Sequence[type[Record]] = KINDS,
    *,
    clock: Callable[[], datetime] | None = None,
    new_id: Callable[[], str] | None = None,
) -> Logbook:
    return Logbook(
        path,
        device=device,
        clock=clock or ticking(),
        new_id=new_id or counting(device),
        kinds=kinds,
    )


def reading(stage_m: float | None = 1.42, **more: Any) -> GaugeReading:
    """Return an invented reading of a staff gauge."""
    values: dict[str, Any] = {
        "site": "REEDY",
        "visit": "V1",
        "point": "G1",
        "seen_at": START,
        "offset_min": 600,
        "time_source": "gnss",
        "observers": ("Ana Invented",),
        "stage_m": stage_m,
    }
    return GaugeReading(**{**values, **more})
