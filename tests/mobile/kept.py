"""What a logbook holds after something was saved."""

from typing import Any

from mobile.drafts import Saved
from mobile.field_day import FieldDay


def standing_of(day: FieldDay, saved: Saved | None) -> Any:
    """Return what stands now for a record that was just saved."""
    assert saved is not None, "nothing was saved"
    standing = day.logbook.standing(saved.entry.record)
    assert standing is not None
    return standing


def record_of(day: FieldDay, saved: Saved | None) -> Any:
    """Return the record as it stands."""
    return standing_of(day, saved).record
