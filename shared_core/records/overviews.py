"""What only several records together tell: the records, and a finding about them."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from shared_core.records.base import Finding, Severity
from shared_core.records.run_of_values import Value
from shared_core.units import MM_PER_M


@dataclass(frozen=True, kw_only=True)
class Overview:
    """A finding about a run of records over time."""

    record_ids: tuple[str, ...]
    finding: Finding


def overview(code: str, values: Iterable[Value], saw: str, expected: str, do: str) -> Overview:
    """Return a finding that asks the coordinator to look at a run of records."""
    found = Finding(code=code, severity=Severity.ASK, field="", saw=saw, expected=expected, do=do)
    ids = dict.fromkeys(record_id for value in values for record_id in value.record_ids)
    return Overview(record_ids=tuple(ids), finding=found)


def day(at: datetime) -> str:
    """Write a day as people read it (UTC)."""
    return f"{at:%-d %B %Y}"


def mm(metres: float) -> str:
    """Write metres as whole millimetres with their sign."""
    return f"{metres * MM_PER_M:+.0f} mm"
