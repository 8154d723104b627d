"""The hazard corpus ``data/hazards.json``: what every store must judge alike, made into lines.

A text that would be long is given as pieces, each with how often it is repeated.
"""

import json
from pathlib import Path
from typing import Any, Final

from shared_core.merge import NO_CHAIN, chain_after

CORPUS: Final = json.loads(
    (Path(__file__).parent / "data" / "hazards.json").read_text(encoding="utf-8")
)
_MEMBERS: Final = {  # an invented line
    "entry": '"0197c1b0-0000-7000-8000-000000000001"',
    "record": '"0197c1b0-0000-7000-8000-000000000002"',
    "kind": '"gauge_reading"',
    "site": '"REEDY"',
    "body": '{"site":"REEDY"}',
    "replaces": "[]",
    "author": '"Invented Officer"',
    "device": '"tablet 1"',
    "seq": "1",
    "written_at": '"2026-03-01T00:00:00.000Z"',
    "offset_min": "600",
    "clock": '{"source":"gnss","error_s":0.1}',
    "note": '""',
    "core": '"0.1"',
}


def spelled(text: str | list[list[Any]]) -> str:
    """Return a text of the corpus in full."""
    return text if isinstance(text, str) else "".join(piece * times for piece, times in text)


def line_with(**changes: Any) -> str:
    """Return a line with some members' JSON texts changed or left out, its chain value right."""
    chain, after, size = (changes.pop(name, None) for name in ("chain", "after", "size"))
    members = {**_MEMBERS, **changes}
    unchained = "{" + ",".join(
        f'"{name}":{spelled(text)}' for name, text in members.items() if text is not None
    )
    if size is not None:
        room = size - len(unchained) - len(',"pad":""') - len(',"chain":""}') - 64
        unchained += ',"pad":"' + "x" * room + '"'
    if chain is None:
        sound = unchained.encode("utf-8", "replace").decode()  # half a character has no bytes
        chain = chain_after(NO_CHAIN, sound)
    end = f',"after":{after}' if after else ""
    return f'{unchained},"chain":"{chain}"{end}}}'


def line_holding(value: str) -> str:
    """Return a line whose body holds a value, given as JSON text."""
    return line_with(body='{"site":"REEDY","x":' + value + "}")
