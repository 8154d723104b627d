"""What was changed since it was first written: corrections, records set aside, open disputes."""

import dataclasses
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from shared_core.errors import StrandlineError
from shared_core.field_kinds import Field
from shared_core.field_shapes import Rows
from shared_core.fields import fields_of
from shared_core.merge import WITHDRAWN, Entry, changes, joined
from sync_server.report.blocks import Block, Heading, Row, Table, columns, paragraph, row
from sync_server.report.material import Material, clipped, shown, value_of
from sync_server.report.numerals import SiteClock

NOTHING: Final = "–"


@dataclasses.dataclass(frozen=True, kw_only=True)
class Change:
    """One field of a record that somebody changed, and why."""

    record_id: str
    record: str
    field: str
    before: str
    after: str
    by: str
    device: str
    at: datetime
    reason: str


def changes_in(material: Material) -> list[Change]:
    """Return every change to a record of the site, in order of writing."""
    found = [
        (entry.written_at, entry.entry, change)
        for history in material.histories.values()
        for entry in history
        if entry.replaces
        for change in _changes_by(material, entry, history)
    ]
    return [change for _, _, change in sorted(found, key=lambda each: each[:2])]


def anchors_of(made: Iterable[Change]) -> dict[str, str]:
    """Return for each changed record the anchor of its first change."""
    anchors: dict[str, str] = {}
    for change in made:
        anchors.setdefault(change.record_id, f"change-{len(anchors) + 1}")
    return anchors


def _changes_by(material: Material, entry: Entry, history: Sequence[Entry]) -> Iterator[Change]:
    name = material.named(entry.kind, material.last_said(history))
    kind = material.logbook.kinds.get(entry.kind)
    declared = {field.name: field for field in fields_of(kind)} if kind else {}
    changed: Mapping[str, tuple[Any, Any]] = changes(entry, history)
    if entry.body is None:
        lines = [("whole record", "stood", "withdrawn")]
    else:
        lines = [
            (
                declared[name].label if name in declared else name,
                *_before_and_after(declared.get(name), (old, new), material.clock),
            )
            for name, (old, new) in changed.items()
        ]
    for field, before, after in lines:
        yield Change(
            record_id=entry.record,
            record=name,
            field=field,
            before=before,
            after=after,
            by=entry.author,
            device=entry.device,
            at=entry.written_at,
            reason=entry.note,
        )


def _before_and_after(
    field: Field | None, values: tuple[Any, Any], clock: SiteClock
) -> tuple[str, str]:
    """Write both values; of two tables only the rows that differ."""
    old, new = values
    if isinstance(field, Rows) and isinstance(old, list) and isinstance(new, list):
        gone = [line for line in old if line not in new]
        come = [line for line in new if line not in old]
        return _written(field, gone, clock), _written(field, come, clock)
    return _written(field, old, clock), _written(field, new, clock)


def _written(field: Field | None, stored: Any, clock: SiteClock) -> str:  # noqa: ANN401 - a field holds any value
    if stored is None or stored == []:
        return NOTHING
    if field is None:
        return clipped(str(stored))
    try:
        return clipped(shown(field, field.decode(stored), clock))
    except StrandlineError:
        return clipped(str(stored))


def corrections_section(
    material: Material, made: Sequence[Change], anchors: Mapping[str, str]
) -> list[Block]:
    """Return the list of corrections and the list of records set aside."""
    blocks: list[Block] = [Heading(text="Corrections", anchor="corrections")]
    if made:
        seen: set[str] = set()
        rows = []
        for change in made:
            anchor = "" if change.record_id in seen else anchors[change.record_id]
            seen.add(change.record_id)
            rows.append(_change_row(material, change, anchor))
        blocks.append(
            Table(
                caption=f"{len(made)} changes to {len(anchors)} records; the first text of each"
                " is kept in the logbook",
                columns=columns("Record", "Field", "From", "To", "By", "@When", "Reason"),
                rows=tuple(rows),
                small=True,
            )
        )
    else:
        blocks.append(paragraph("No record of this site was changed after it was written."))
    return [*blocks, *_set_aside(material)]


def _change_row(material: Material, change: Change, anchor: str) -> Row:
    return row(
        change.record,
        change.field,
        change.before,
        change.after,
        f"{change.by} ({change.device})",
        material.clock.moment(change.at),
        change.reason or NOTHING,
        anchor=anchor,
    )


def _set_aside(material: Material) -> list[Block]:
    rows = []
    for history in material.histories.values():
        standing = material.logbook.standing(history[0].record)
        if (
            standing is not None
            and standing.record.unused
            and standing.record.site == material.code
        ):
            said = _who_set_aside(history)
            how = "not used"
        elif joined(history).body is None:
            said, how = history[-1], "withdrawn"
        else:
            continue
        record = material.last_said(history)
        rows.append(
            row(
                material.named(said.kind, record),
                value_of(record, material.clock) if record else NOTHING,
                how,
                f"{said.author} ({said.device})",
                material.clock.moment(said.written_at),
                said.note or NOTHING,
            )
        )
    blocks: list[Block] = [Heading(text="Records set aside", anchor="set-aside")]
    if not rows:
        return [*blocks, paragraph("No record was set aside or withdrawn.")]
    table = Table(
        caption="Kept, but not counted",
        columns=columns("Record", "Value", "How", "By", "@When", "Reason"),
        rows=tuple(sorted(rows, key=lambda each: [cell.text for cell in each.cells])),
        small=True,
    )
    return [*blocks, table]


def _who_set_aside(history: Sequence[Entry]) -> Entry:
    graded = [entry for entry in history if (entry.body or {}).get("quality") == "not_used"]
    return graded[0] if graded else history[-1]


def disputes_section(material: Material) -> list[Block]:
    """Return the fields for which two people wrote different values and nobody has settled it."""
    rows = []
    for record_id in material.logbook.disputed(material.code):
        history = material.histories.get(record_id) or material.logbook.history(record_id)
        by_name = {entry.entry: entry for entry in history}
        kind = material.logbook.kinds.get(history[0].kind)
        declared = {field.name: field for field in fields_of(kind)} if kind else {}
        record = material.named(history[0].kind, material.last_said(history))
        for name, said in joined(history).disputed.items():
            rows += [
                _disputed_row(material, record, name, (declared.get(name), value), by_name[entry])
                for entry, value in said
            ]
    blocks: list[Block] = [Heading(text="Disputed and still open", anchor="disputed")]
    if not rows:
        return [*blocks, paragraph("No field is disputed.")]
    table = Table(
        caption="Different values by people who had not read each other; both stand until settled",
        columns=columns("Record", "Field", "Value", "By", "@When"),
        rows=tuple(rows),
    )
    return [*blocks, table]


def _disputed_row(
    material: Material, record: str, name: str, said: tuple[Field | None, object], entry: Entry
) -> Row:
    field, value = said
    words = _standing_word(value) if name == WITHDRAWN else _written(field, value, material.clock)
    return row(
        record,
        _label(name, field),
        words,
        f"{entry.author} ({entry.device})",
        material.clock.moment(entry.written_at),
    )


def _label(name: str, field: Field | None) -> str:
    if name == WITHDRAWN:
        return "whole record"
    return field.label if field else name


def _standing_word(withdrawn: object) -> str:
    return "withdrawn" if withdrawn else "stands"
