"""Fields that two people wrote differently without having read each other."""

from collections.abc import Iterator
from typing import Any

from shared_core.errors import StrandlineError
from shared_core.field_kinds import Field
from shared_core.fields import fields_of
from shared_core.records.base import Finding, Record, Severity, Standing


def dispute_findings(standing: Standing[Record]) -> Iterator[Finding]:
    """Yield a finding for each disputed field of a record; a coordinator's entry closes it."""
    fields = {field.name: field for field in fields_of(type(standing.record))}
    for name, values in standing.disputed.items():
        field = fields.get(name)
        label = field.label if field else name
        shown = " and ".join(_shown(field, value) for value in values)
        yield Finding(
            code="disputed",
            severity=Severity.ASK,
            field=name,
            saw=f"{label} was written as {shown}.",
            expected="Neither writer had read the other.",
            do="Compare the evidence and write the one that holds; both stay in the history.",
        )


def _shown(field: Field | None, stored: Any) -> str:  # noqa: ANN401 - as JSON holds it
    if stored is None:
        return "left empty"
    if field is None:
        return str(stored)
    try:
        return field.show(field.decode(stored))
    except StrandlineError:
        return str(stored)
