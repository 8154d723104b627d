"""A landholder's tablet for tests: an invented site with a pump, and what it may use."""

from datetime import datetime, timedelta
from typing import Any

from mobile import practice
from shared_core.logbook import Logbook, Said
from shared_core.records.meter_setup import MeterFitted, Pump
from shared_core.records.plan import Allocation, Licence
from shared_core.records.pump_run import PumpRun

OFFICE = Said(author="Ruth", note="invented, for tests")


def set_up(logbook: Logbook, now: datetime) -> None:
    """Write the practice site with its pump, licence and allocation, and an earlier look at it."""
    practice.prepare(logbook, now)
    before: dict[str, Any] = {"site": practice.SITE, "valid_from": now - timedelta(days=50)}
    pump = Pump(**before, pump="P1", nameplate_megalitres_per_hour=0.15)
    logbook.write(pump, OFFICE)
    (meter,) = logbook.known().every(MeterFitted, practice.SITE)
    logbook.write(meter.record.changed(pump="P1"), OFFICE, record_id=meter.record_id)
    logbook.write(
        Licence(**before, licence="L7", daily_limit_megalitres=2.0, volume_limit_megalitres=40.0),
        OFFICE,
    )
    logbook.write(
        Allocation(
            **before, account="A7", until=now + timedelta(days=100), allocated_megalitres=20.0
        ),
        OFFICE,
    )
    logbook.write(
        PumpRun(
            site=practice.SITE,
            visit="practice-before",
            point="P1",
            seen_at=now - timedelta(days=6),
            offset_min=600,
            time_source="device",
            observers=("Ruth",),
            hours_reading=100.0,
        ),
        OFFICE,
    )
