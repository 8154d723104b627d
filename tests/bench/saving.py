"""A durable save of our own beside a raw SQLite commit, taken in turns on the same disk."""

import sqlite3
import tempfile
import time
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

from shared_core.logbook import Logbook
from tests.bench.figure import Figure
from tests.logbooks import ANA, START, counting, reading, ticking


def raw_file(path: Path) -> sqlite3.Connection:
    """Open a SQLite file with one table, WAL and synchronous=FULL."""
    raw = sqlite3.connect(path, isolation_level=None)
    raw.execute("pragma journal_mode=wal")
    raw.execute("pragma synchronous=full")
    raw.execute("create table line (place integer primary key, line text not null) strict")
    return raw


def timed(call: Callable[[], object]) -> float:
    """Run a call and return how long it took [ms]."""
    start = time.perf_counter()
    call()
    return (time.perf_counter() - start) * 1000.0


def share(times_ms: list[float], part: float) -> float:
    """Return the time that this part of the calls stayed under [ms]."""
    ordered = sorted(times_ms)
    return ordered[min(len(ordered) - 1, int(part * len(ordered)))]


def _commit(raw: sqlite3.Connection, line: str) -> None:
    raw.execute("begin immediate")
    raw.execute("insert into line (line) values (?)", (line,))
    raw.execute("commit")


def save_times(count: int) -> tuple[list[float], list[float]]:
    """Return the times of our saves and of raw commits of a line as long, in turns [ms]."""
    ours, theirs = [], []
    with tempfile.TemporaryDirectory() as folder:
        raw = raw_file(Path(folder) / "raw.sqlite")
        log = Logbook(
            Path(folder) / "ours.sqlite", device="bench", clock=ticking(), new_id=counting("b")
        )
        for number in range(count + 20):
            seen = reading(1.0 + number % 100 / 100, seen_at=START + timedelta(minutes=number))
            ours.append(timed(lambda seen=seen: log.write(seen, ANA)))  # type: ignore[misc] # mypy types no default of a lambda
            (line,) = log.lines_of("bench", number, 1)
            theirs.append(timed(lambda line=line: _commit(raw, line)))  # type: ignore[misc] # the same
        log.close()
        raw.close()
    return ours[20:], theirs[20:]


def saving(count: int) -> list[Figure]:
    """Measure the durable save: check, hash, heads, commit."""
    ours, theirs = save_times(count)
    found = []
    for name, part, goal in (("p50", 0.5, 4.0), ("p99", 0.99, 6.0)):
        mine, other = share(ours, part), share(theirs, part)
        found.append(
            Figure(
                f"durable save, {name} of {count}",
                mine,
                "ms",
                other,
                f"<= {goal:g} x a raw SQLite commit",
                mine <= goal * other,
                f"{mine / other:.2f} x",
            )
        )
    return found
