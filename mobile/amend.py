"""A correction of any field of a record by its text, the head included: what a coordinator does.

What was typed first stays among the raw texts; the reason is in the entry.
"""

from collections.abc import Mapping

from shared_core.errors import UnknownError, UnreadableError
from shared_core.fields import fields_of
from shared_core.logbook import Logbook, Said
from shared_core.merge import Entry


def amend(logbook: Logbook, record_id: str, texts: Mapping[str, str], said: Said) -> Entry:
    """Write new values of some fields beside the old ones; an empty text takes a value away.

    Raises:
        UnknownError: if the record is not here.
        UnreadableError: if a text cannot be read, the kind has no such field, or no reason is given.
    """
    standing = logbook.standing(record_id)
    if standing is None:
        raise UnknownError("that record is not in this logbook any more")
    if not said.note.strip():
        raise UnreadableError("a correction needs its reason: what was seen, and where")
    fields = {field.name: field for field in fields_of(type(standing.record))}
    unknown = sorted(set(texts) - set(fields))
    if unknown:
        raise UnreadableError(f"{standing.record.title} has no field called {unknown[0]!r}")
    changed = standing.record.changed(
        **{name: fields[name].read(text) for name, text in texts.items()}
    )
    return logbook.write(changed, said, record_id=record_id, read=standing.heads)
