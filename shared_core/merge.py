"""Entries, and which of them speak for a record: a pure function of the set of entries.

An entry that no other entry replaces is a head. Heads that changed different fields are joined;
a field that was given different values by people who had not read each other is disputed, and
both values stay. The answer is the same on every device in whatever order entries arrive.
"""

import dataclasses
import hashlib
import re
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from typing import Any, Final

from shared_core.errors import DamagedError, UnreadableError
from shared_core.portable import LONGEST_LINE_BYTES, read_json, write_json

WITHDRAWN: Final = "(withdrawn)"  # stands for the whole record in a list of disputed fields
NO_CHAIN: Final = "0" * 64  # before a device's first entry
_CHAIN_MARK: Final = ',"chain":"'
_NEEDED: Final = {
    "entry": str,
    "record": str,
    "kind": str,
    "replaces": list,
    "author": str,
    "device": str,
    "seq": int,
    "written_at": str,
    "offset_min": int,
    "clock": dict,
    "note": str,
    "core": str,
    "chain": str,
}
_LONGEST_NAME: Final = 200  # characters; an index of PostgreSQL holds no text beyond 2,700 bytes
_CHAIN: Final = re.compile("[0-9a-f]{64}")
_MOMENT: Final = re.compile(  # RFC 3339 section 5.6; Pythons differ on an hour 24
    r"\d{4}-\d\d-\d\d[Tt]([01]\d|2[0-3]):\d\d:\d\d(\.\d+)?([Zz]|[+-]\d\d:\d\d)", re.ASCII
)


@dataclasses.dataclass(frozen=True, kw_only=True)
class Entry:
    """One immutable line of the log: this person, on this device, said this about that record."""

    entry: str
    record: str
    kind: str
    site: str | None
    body: Mapping[str, Any] | None  # None withdraws the record
    replaces: tuple[str, ...]
    author: str
    device: str
    seq: int
    written_at: datetime
    offset_min: int = 0
    clock: Mapping[str, Any] = dataclasses.field(default_factory=lambda: dict(UNSURE_CLOCK))
    note: str = ""
    core: str = ""
    chain: str = ""
    line: str = dataclasses.field(default="", repr=False, compare=False)


UNSURE_CLOCK: Final[Mapping[str, Any]] = {"source": "device", "error_s": None}


def written(entry: Entry, previous_chain: str) -> Entry:
    """Return the entry with its exact line and its chain value.

    The chain is SHA-256 over the device's previous chain value (32 bytes) followed by the bytes
    of this line up to, and without, ``,"chain"``.

    Raises:
        UnreadableError: if a value is not portable or the line is longer than 1 MiB.
    """
    moment = entry.written_at.astimezone(UTC).isoformat(timespec="milliseconds")
    members = {
        "entry": entry.entry,
        "record": entry.record,
        "kind": entry.kind,
        "site": entry.site,
        "body": None if entry.body is None else dict(entry.body),
        "replaces": list(entry.replaces),
        "author": entry.author,
        "device": entry.device,
        "seq": entry.seq,
        "written_at": moment.replace("+00:00", "Z"),
        "offset_min": entry.offset_min,
        "clock": dict(entry.clock),
        "note": entry.note,
        "core": entry.core,
    }
    unchained = write_json(members)[:-1]
    chain = chain_after(previous_chain, unchained)
    line = f'{unchained}{_CHAIN_MARK}{chain}"}}'
    _check_size(line)
    return dataclasses.replace(entry, chain=chain, line=line)


def chain_after(previous_chain: str, unchained: str) -> str:
    """Return the chain value of a line, given the text before its chain member."""
    return hashlib.sha256(bytes.fromhex(previous_chain) + unchained.encode()).hexdigest()


def chain_holds(line: str, previous_chain: str) -> bool:
    """Tell whether a line's chain value follows from the device's line before it."""
    unchained, mark, rest = line.rpartition(_CHAIN_MARK)
    return bool(mark) and rest == chain_after(previous_chain, unchained) + '"}'


def chain_of(line: str) -> str:
    """Return the chain value of a stored line; of a damaged one, a value that none follows from."""
    chain = line[-66:-2]
    return chain if _CHAIN.fullmatch(chain) else hashlib.sha256(line.encode()).hexdigest()


def _check_size(line: str) -> None:
    size = len(line.encode("utf-8", "surrogatepass"))
    if size > LONGEST_LINE_BYTES:
        raise UnreadableError(f"an entry of {size:,} bytes; at most {LONGEST_LINE_BYTES:,} fit")


def read_entry(line: str) -> Entry:
    """Read one line of the log, keeping its exact text.

    Raises:
        UnreadableError: if the line is too long, no JSON, not portable, or lacks a member.
        DamagedError: if the chain value is not the line's last member.
    """
    _check_size(line)
    if "\n" in line or "\r" in line:
        raise UnreadableError("an entry is one line; this one holds a line break")
    members = read_json(line)
    if not isinstance(members, dict):
        raise UnreadableError("an entry is a JSON object")
    for name, needed in _NEEDED.items():
        value = members.get(name)
        if not isinstance(value, needed) or isinstance(value, bool):
            raise UnreadableError(f"the entry's {name!r} is missing or is not a {needed.__name__}")
    _check_shapes(members)
    if not line.endswith(f'{_CHAIN_MARK}{members["chain"]}"}}'):
        raise DamagedError("the chain value is not the last member of the line")
    known = {field.name for field in dataclasses.fields(Entry)} - {"line"}
    values = {name: value for name, value in members.items() if name in known}
    values["replaces"] = tuple(members["replaces"])
    values["written_at"] = _moment(members["written_at"])
    return Entry(**values, line=line)


def _check_shapes(members: Mapping[str, Any]) -> None:
    if not isinstance(members.get("site", 0), str | None):
        raise UnreadableError("the entry's 'site' is neither a code nor null")
    if not isinstance(members.get("body", 0), dict | None):  # left out is not withdrawn
        raise UnreadableError("the entry's 'body' is neither an object nor null")
    if not all(isinstance(name, str) for name in members["replaces"]):
        raise UnreadableError("the entry's 'replaces' is not a list of entry names")
    for name in ("entry", "record", "kind", "device", "author", "site"):
        if len(members.get(name) or "") > _LONGEST_NAME:
            raise UnreadableError(f"the entry's {name!r} is longer than {_LONGEST_NAME} characters")
    if not _CHAIN.fullmatch(members["chain"]):
        raise UnreadableError("the entry's 'chain' is not 64 figures of base sixteen")
    if members["seq"] < 1:
        raise UnreadableError("the entry's 'seq' counts from 1")


def _moment(text: str) -> datetime:
    wrong = UnreadableError(f"the entry's 'written_at' is no time with its offset: {text[:40]!r}")
    if not _MOMENT.fullmatch(text):
        raise wrong
    try:
        return datetime.fromisoformat(text.upper()).astimezone(UTC)
    except (ValueError, OverflowError):
        raise wrong from None


@dataclasses.dataclass(frozen=True, kw_only=True)
class Joined:
    """What the heads of a record say together."""

    heads: tuple[Entry, ...]
    body: Mapping[str, Any] | None  # None: withdrawn
    disputed: Mapping[str, tuple[tuple[str, Any], ...]]  # field to (entry, value), two or more


def heads(entries: Iterable[Entry]) -> tuple[Entry, ...]:
    """Return the entries about one record that no other of them replaces, in order of name."""
    unique = {entry.entry: entry for entry in entries}
    parents = _parents(unique)
    replaced = {name for names in parents.values() for name in names}
    return tuple(unique[name] for name in sorted(unique) if name not in replaced)


def joined(entries: Iterable[Entry]) -> Joined:
    """Join all that was said about one record.

    For each field the values that nobody has replaced are kept, with the entry that set them. One
    value, or equal values: it stands. Different values: the field is disputed, and the value
    whose entry has the smallest name stands for display only.

    Raises:
        ValueError: if there are no entries.
    """
    unique = {entry.entry: entry for entry in entries}
    if not unique:
        raise ValueError("nothing was said about this record")
    if len(unique) == 1:  # as nearly always: nothing to join
        return _alone(*unique.values())
    parents = _parents(unique)
    origins: dict[str, dict[str, frozenset[str]]] = {}
    ancestors: dict[str, frozenset[str]] = {}
    for name in _in_order(parents):
        above = parents[name]
        ancestors[name] = frozenset(above).union(*(ancestors[parent] for parent in above))
        origins[name] = _origins(unique[name], above, origins, ancestors, unique)
    standing = heads(unique.values())
    fields = _united([origins[entry.entry] for entry in standing], ancestors)
    said = {
        field: [(name, _value(unique[name], field)) for name in sorted(names)]
        for field, names in fields.items()
        if field != WITHDRAWN
    }
    disputed = {
        field: tuple(pairs)
        for field, pairs in said.items()
        if len({_same(value) for _, value in pairs}) > 1
    }
    gone = [entry.body is None for entry in standing]
    if all(gone):
        return Joined(heads=standing, body=None, disputed={})
    if any(gone):  # withdrawn by one, while another who had not read that wrote on
        disputed[WITHDRAWN] = tuple((entry.entry, entry.body is None) for entry in standing)
    body = {field: pairs[0][1] for field, pairs in said.items() if pairs[0][1] is not None}
    return Joined(heads=standing, body=body, disputed=disputed)


def _alone(entry: Entry) -> Joined:
    """Return what the only entry about a record says."""
    body = entry.body
    if body is not None:
        body = {field: value for field, value in body.items() if value is not None}
    return Joined(heads=(entry,), body=body, disputed={})


def as_read(entries: Iterable[Entry], names: Iterable[str]) -> list[Entry]:
    """Return the entries that somebody had read who had read those named."""
    unique = {entry.entry: entry for entry in entries}
    return _reachable([unique[name] for name in names if name in unique], unique)


def changes(entry: Entry, others: Iterable[Entry]) -> dict[str, tuple[Any, Any]]:
    """Return the fields an entry changed against what it replaces: field to (old, new)."""
    unique = {other.entry: other for other in others}
    replaced = [unique[name] for name in entry.replaces if name in unique]
    if not replaced:
        return {field: (None, value) for field, value in (entry.body or {}).items()}
    known = _reachable(replaced, unique)
    before = joined(known).body or {}
    after = entry.body or {}
    return {
        field: (before.get(field), after.get(field))
        for field in [*after, *(field for field in before if field not in after)]
        if _same(before.get(field)) != _same(after.get(field))
    }


def _reachable(starts: Sequence[Entry], unique: Mapping[str, Entry]) -> list[Entry]:
    found: dict[str, Entry] = {}
    waiting = list(starts)
    while waiting:
        entry = waiting.pop()
        if entry.entry not in found:
            found[entry.entry] = entry
            waiting.extend(unique[name] for name in entry.replaces if name in unique)
    return list(found.values())


def _parents(unique: Mapping[str, Entry]) -> dict[str, tuple[str, ...]]:
    """Return who replaces whom among the entries at hand.

    Entries that replace each other in a circle replace nobody in it; what was written after
    reading them all replaces them as ever, so that a person can close such a dispute.
    """
    parents = {
        name: tuple(sorted({p for p in entry.replaces if p in unique and p != name}))
        for name, entry in unique.items()
    }
    stuck = set(parents) - set(_in_order(parents))
    children = {name: tuple(child for child in stuck if name in parents[child]) for name in stuck}
    circling = stuck - set(_in_order(children))
    return {
        name: tuple(p for p in above if p not in circling) if name in circling else above
        for name, above in parents.items()
    }


def _in_order(parents: Mapping[str, tuple[str, ...]]) -> list[str]:
    """Return names with every parent before its children; names in a circle are left out."""
    children: dict[str, list[str]] = {}
    missing = {name: len(above) for name, above in parents.items()}
    for name, above in parents.items():
        for parent in above:
            children.setdefault(parent, []).append(name)
    ready = sorted((name for name, count in missing.items() if count == 0), reverse=True)
    ordered = []
    while ready:
        name = ready.pop()
        ordered.append(name)
        for child in children.get(name, ()):
            missing[child] -= 1
            if missing[child] == 0:
                ready.append(child)
    return ordered


def _origins(
    entry: Entry,
    above: Sequence[str],
    origins: Mapping[str, Mapping[str, frozenset[str]]],
    ancestors: Mapping[str, frozenset[str]],
    unique: Mapping[str, Entry],
) -> dict[str, frozenset[str]]:
    """Return for each field the entries that last set it, as seen from one entry."""
    inherited = _united([origins[parent] for parent in above], ancestors)
    if entry.body is None:
        return {**inherited, WITHDRAWN: frozenset({entry.entry})}
    found = {}
    for field in dict.fromkeys((*entry.body, *inherited, WITHDRAWN)):  # a set has no order
        names = inherited.get(field, frozenset())
        values = {_same(_value(unique[name], field)) for name in names}
        kept = values == {_same(_value(entry, field))}
        found[field] = names if kept else frozenset({entry.entry})
    return found


def _united(
    maps: Sequence[Mapping[str, frozenset[str]]], ancestors: Mapping[str, frozenset[str]]
) -> dict[str, frozenset[str]]:
    """Unite origins, leaving out those that another origin of the field has read and replaced."""
    united: dict[str, set[str]] = {}
    for found in maps:
        for field, names in found.items():
            united.setdefault(field, set()).update(names)
    return {
        field: frozenset(
            name for name in names if not any(name in ancestors[other] for other in names)
        )
        for field, names in united.items()
    }


def _value(entry: Entry, field: str) -> Any:  # noqa: ANN401 - a field holds any portable value
    if field == WITHDRAWN:
        return entry.body is None
    return None if entry.body is None else entry.body.get(field)


def _same(value: object) -> str:
    """Return a text that is equal for equal values only: 1, 1.0 and true all differ."""
    if isinstance(value, dict):
        value = dict(sorted(value.items()))
    return write_json(value)
