"""A whole season at once: tablets and a server that must agree in the end, on the right answer.

Three tablets with clocks that are off and one server write, correct, withdraw, exchange over lines
that break, crash, and are set back to old copies. The same files then exchange unbroken, and must
hold the same lines and the same current rows (agreement). At every step what somebody just wrote
is what he sees, until somebody who had read it wrote otherwise (meaning).
``shared_core/test_merge_machine.py`` plays it, and plants the faults it must find.
"""

import contextlib
import itertools
import shutil
import tempfile
from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, rule

from shared_core import exchange as exchange_module
from shared_core.errors import StrandlineError
from shared_core.exchange import LogbookPeer, Reply, exchange
from shared_core.logbook import Logbook, Said
from shared_core.logbook_file import PeerPlace
from shared_core.merge import WITHDRAWN, Entry, read_entry
from shared_core.records.base import Standing
from shared_core.records.staff_gauge import GaugeReading
from tests.logbooks import START, reading

TABLETS = ("tablet 1", "tablet 2", "tablet 3")
EVERYBODY = (*TABLETS, "server")
CLOCKS_OFF = {"tablet 1": 0, "tablet 2": 525_600, "tablet 3": -525_600, "server": 1}  # minutes
FIELDS = ("stage_m", "remark", "waves")

devices = st.sampled_from(EVERYBODY)
tablets = st.sampled_from(TABLETS)
picks = st.integers(0, 99)
edits = st.fixed_dictionaries(
    {},
    optional={
        "stage_m": st.sampled_from([0.5, 1.4, 1.42, 14.2]),
        "remark": st.sampled_from(["calm", "gate open", None]),
        "waves": st.sampled_from(["calm", "ripples", None]),
    },
)


class LineBrokeError(StrandlineError):
    """The connection was lost."""


class Line(LogbookPeer):
    """A line to the server that breaks at one request, before or after the server took the lines."""

    before_request: Callable[[], None] = staticmethod(lambda: None)

    def __init__(self, server: Logbook, device: str, breaks: tuple[int, str] | None) -> None:
        super().__init__(server, name="server", device=device)
        self._breaks = breaks
        self._number = itertools.count()

    def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
        number = next(self._number)
        self.before_request()
        if self._breaks == (number, "before"):
            raise LineBrokeError
        reply = super().request(lines, after=after, log=log)
        if self._breaks == (number, "after"):
            raise LineBrokeError
        return reply


class Teams(RuleBasedStateMachine):
    """The whole team over a season."""

    place_kept_first = False  # planted below

    def __init__(self) -> None:
        super().__init__()
        self.folder = Path(tempfile.mkdtemp(prefix="teams"))
        self.folders = itertools.count()
        self.minutes = itertools.count()
        self.names = itertools.count(1)
        self.at = {device: self.new_folder() for device in EVERYBODY}
        self.books = {device: self.opened(device) for device in EVERYBODY}
        self.entries: dict[str, Entry] = {}  # all that was ever written
        self.gone: set[str] = set()  # written, never handed on, and lost with the set-back file
        self.copies: dict[str, Path] = {}
        self.set_back: set[str] = set()
        self.form: dict[str, Standing[Any]] = {}
        self.batch_bytes, exchange_module.BATCH_BYTES = exchange_module.BATCH_BYTES, 900

    # the parts ------------------------------------------------------------------------------

    def new_folder(self) -> Path:
        folder = self.folder / str(next(self.folders))
        folder.mkdir()
        return folder

    def new_name(self) -> str:
        # names are drawn at random in life: their order must say nothing about time
        return f"{next(self.names) * 7919 % 100_003:05d}"

    def opened(self, device: str) -> Logbook:
        def clock() -> datetime:
            return START + timedelta(minutes=next(self.minutes) + CLOCKS_OFF[device])

        book = Logbook(
            self.at[device] / "a.logbook",
            device=device,
            clock=clock,
            new_id=self.new_name,
            kinds=(GaugeReading,),
        )
        for pragma in ("synchronous=off", "cache_size=-200"):  # the disk is not what is tried here
            list(book.rows(f"pragma {pragma}"))
        return book

    def copied(self, device: str) -> Path:
        """Return a copy of a device's files as they are now, open as they are."""
        target = self.new_folder()
        shutil.copytree(self.at[device], target, dirs_exist_ok=True)
        return target

    def put_back(self, device: str, folder: Path) -> None:
        self.books[device].close()
        self.at[device] = folder
        self.books[device] = self.opened(device)

    def some_record(self, device: str, pick: int) -> Standing[GaugeReading] | None:
        known = self.books[device].known().every(GaugeReading)
        return known[pick % len(known)] if known else None

    def lines_at(self, device: str) -> dict[str, Entry]:
        rows = self.books[device].rows("select line from entry")
        return {entry.entry: entry for entry in (read_entry(line) for (line,) in rows)}

    # what may happen ------------------------------------------------------------------------

    @rule(device=devices, edit=edits)
    def write(self, device: str, edit: dict[str, Any]) -> None:
        record = reading(**{"stage_m": 1.0, **edit})
        entry = self.books[device].write(record, Said(author=device))
        self.entries[entry.entry] = entry
        self.see_what_was_written(device, entry, record)

    @rule(device=devices, pick=picks, edit=edits)
    def correct(self, device: str, pick: int, edit: dict[str, Any]) -> None:
        found = self.some_record(device, pick)
        if found:
            record = found.record.changed(**edit)
            entry = self.books[device].write(record, Said(author=device), record_id=found.record_id)
            self.entries[entry.entry] = entry
            self.see_what_was_written(device, entry, record)

    @rule(device=devices, pick=picks)
    def open_form(self, device: str, pick: int) -> None:
        found = self.some_record(device, pick)
        if found:
            self.form[device] = found

    @rule(device=devices, edit=edits)
    def save_form(self, device: str, edit: dict[str, Any]) -> None:
        found = self.form.pop(device, None)
        if found:
            entry = self.books[device].write(
                found.record.changed(**edit),
                Said(author=device),
                record_id=found.record_id,
                read=found.heads,
            )
            self.entries[entry.entry] = entry
            self.nobody_is_overruled_unread(device)

    @rule(device=devices, pick=picks)
    def withdraw(self, device: str, pick: int) -> None:
        found = self.some_record(device, pick)
        if found:
            entry = self.books[device].withdraw(found.record_id, Said(author=device))
            self.entries[entry.entry] = entry
            assert self.books[device].standing(found.record_id) is None

    @rule(
        device=tablets,
        breaks=st.none() | st.tuples(st.integers(0, 3), st.sampled_from(["before", "after"])),
    )
    def meet(self, device: str, breaks: tuple[int, str] | None) -> None:
        line = Line(self.books["server"], device, breaks)
        if self.place_kept_first:
            line.before_request = lambda: self.books[device].keep_place(
                "server",
                PeerPlace(
                    log=self.books["server"].log, fetched=self.books["server"].since(0, 10**6)[1]
                ),
            )
        with contextlib.suppress(LineBrokeError):
            exchange(self.books[device], line)
        self.nobody_is_overruled_unread(device)
        self.nobody_is_overruled_unread("server")

    @rule(device=devices)
    def crash(self, device: str) -> None:
        """Nothing was closed: go on from the files as they lie on disk."""
        self.put_back(device, self.copied(device))

    @rule(device=tablets)
    def copy_away(self, device: str) -> None:
        self.copies[device] = self.copied(device)

    @rule(device=tablets)
    def set_back_to_old_copy(self, device: str) -> None:
        folder = self.copies.pop(device, None)
        if folder:
            before = set(self.lines_at(device))
            self.form.pop(device, None)
            self.put_back(device, folder)
            self.set_back.add(device)
            elsewhere = {name for other in EVERYBODY for name in self.lines_at(other)}
            self.gone |= before - elsewhere - self.held_at_server()

    @rule(device=tablets, edit=edits, asks_first=st.booleans())
    def lose_a_week(self, device: str, edit: dict[str, Any], asks_first: bool) -> None:
        """The whole story at once, which chance alone would seldom tell."""
        self.copies[device] = self.copied(device)
        self.write(device, edit)
        self.meet(device, None)
        self.set_back_to_old_copy(device)
        if asks_first:
            self.meet(device, None)
        self.write(device, edit)

    # what must hold -------------------------------------------------------------------------

    def see_what_was_written(self, device: str, entry: Entry, record: GaugeReading) -> None:
        """What I just wrote, having read all there is here, is what I see."""
        standing = self.books[device].standing(entry.record)
        assert standing is not None
        assert standing.record == record
        assert standing.disputed == {}
        assert standing.heads == (entry.entry,)

    def nobody_is_overruled_unread(self, device: str) -> None:
        """A value stands, or is named in a dispute, until one who had read it wrote otherwise."""
        by_record: dict[str, dict[str, Entry]] = {}
        for name, entry in self.lines_at(device).items():
            by_record.setdefault(entry.record, {})[name] = entry
        for record_id, entries in by_record.items():
            standing = self.books[device].standing(record_id)
            read_by = {name: behind(name, entries) for name in entries}
            last = [n for n in entries if not any(n in read for read in read_by.values())]
            if standing is None:
                assert all(entries[name].body is None for name in last)
                continue
            assert set(standing.heads) == set(last)
            for name in last:
                self.word_is_kept(entries[name], entries, standing)

    def word_is_kept(
        self,
        entry: Entry,
        entries: dict[str, Entry],
        standing: Standing[Any],
    ) -> None:
        if entry.body is None:
            assert WITHDRAWN in standing.disputed
            return
        for field in FIELDS:
            value = entry.body.get(field)
            heads_read = [entries[name] for name in entry.replaces if name in entries]
            before = [(head.body or {}).get(field) for head in heads_read] or [None]
            if value in before:
                continue  # left as it was, or never filled in: this author said nothing about it
            shown = standing.disputed.get(field, (standing.record.encoded().get(field),))
            assert value in shown, (entry.entry, field)

    def held_at_server(self) -> set[str]:
        held = set()
        for line in self.books["server"].quarantined():
            with contextlib.suppress(StrandlineError):
                held.add(read_entry(line.line).entry)
        return held

    def teardown(self) -> None:
        try:
            for _ in range(2):
                for device in TABLETS:
                    exchange(self.books[device], Line(self.books["server"], device, None))
            self.all_agree()
        finally:
            exchange_module.BATCH_BYTES = self.batch_bytes
            for book in self.books.values():
                book.close()
            shutil.rmtree(self.folder)

    def all_agree(self) -> None:
        sound = [self.books[device] for device in EVERYBODY if device not in self.set_back]
        assert len({book.digest() for book in sound}) == 1
        rows = [sorted(book.rows("select * from current"), key=repr) for book in sound]
        assert all(found == rows[0] for found in rows)
        taken, held = set(self.lines_at("server")), self.held_at_server()
        assert taken | held == set(self.entries) - self.gone
        assert not taken & held
        for device in EVERYBODY:
            self.nobody_is_overruled_unread(device)
            assert device == "server" or not self.books[device].quarantined()
        if not self.set_back:
            assert not self.books["server"].quarantined()
        for line in self.books["server"].quarantined():
            assert line.device in self.set_back


def behind(name: str, entries: dict[str, Entry]) -> set[str]:
    """Return the entries that the author of one had read, found here apart from the merge."""
    found: set[str] = set()
    waiting = [name]
    while waiting:
        for above in entries[waiting.pop()].replaces:
            if above in entries and above not in found:
                found.add(above)
                waiting.append(above)
    return found
