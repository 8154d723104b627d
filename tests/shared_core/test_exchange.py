"""Exchange: any number of times, in any order, cut off anywhere."""

from collections.abc import Iterator, Sequence

import pytest

from shared_core import exchange as exchange_module
from shared_core.errors import DamagedError, StrandlineError
from shared_core.exchange import Asking, Exchanged, LogbookPeer, Reply, answer, exchange
from shared_core.logbook import Logbook
from shared_core.logbook_file import PeerPlace
from tests.logbooks import ANA, KIM, counting, logbook, reading

Books = tuple[Logbook, Logbook, Logbook]


@pytest.fixture(name="books")
def _books() -> Iterator[Books]:
    with logbook("tablet 1") as one, logbook("tablet 2") as two, logbook("server") as server:
        yield one, two, server


def meet(tablet: Logbook, server: Logbook) -> Exchanged:
    return exchange(tablet, LogbookPeer(server, name="server", device=tablet.device))


class Broken(LogbookPeer):
    """A line that breaks before or after the other end has taken what was sent."""

    def __init__(self, server: Logbook, device: str, *, after: bool) -> None:
        super().__init__(server, name="server", device=device)
        self._after = after

    def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
        if self._after:
            super().request(lines, after=after, log=log)
        raise StrandlineError("the line broke")


def test_lines_and_corrections_reach_everybody(books: Books) -> None:
    one, two, server = books
    entry = one.write(reading(14.2), ANA)
    assert meet(one, server).sent == 1
    assert meet(two, server).received == 1
    server.write(reading(1.42), KIM, record_id=entry.record)
    meet(one, server)
    meet(two, server)
    for book in books:
        standing = book.standing(entry.record)
        assert standing is not None
        assert standing.record == reading(1.42)
    assert one.digest() == two.digest() == server.digest()


def test_nothing_new_is_one_request(books: Books) -> None:
    one, _, server = books
    one.write(reading(), ANA)
    server.write(reading(), KIM)
    meet(one, server)
    assert meet(one, server) == Exchanged(requests=1)


def test_something_new_both_ways_is_one_request(books: Books) -> None:
    one, _, server = books
    one.write(reading(), ANA)
    server.write(reading(), KIM)
    assert meet(one, server) == Exchanged(sent=1, received=1, requests=1)


def test_a_device_does_not_get_its_own_lines_back(books: Books) -> None:
    one, _, server = books
    one.write(reading(), ANA)
    meet(one, server)
    asking = Asking(device="tablet 1", lines=(), after=0, log="")
    assert answer(server, asking).lines == ()


@pytest.mark.parametrize("after", [False, True])
def test_a_broken_line_loses_and_doubles_nothing(books: Books, after: bool) -> None:
    one, two, server = books
    one.write(reading(), ANA)
    server.write(reading(), KIM)
    with pytest.raises(StrandlineError, match="the line broke"):
        exchange(one, Broken(server, "tablet 1", after=after))
    done = meet(one, server)
    assert (done.sent, done.had) == ((0, 1) if after else (1, 0))
    meet(two, server)
    assert one.digest() == two.digest() == server.digest()
    assert server.quarantined() == []


def test_the_place_is_kept_only_once_the_data_is_here(
    books: Books, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, _, server = books
    server.write(reading(), KIM)
    monkeypatch.setattr(Logbook, "_refresh", lambda *_: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        meet(one, server)
    monkeypatch.undo()
    assert one.place_with("server") == PeerPlace()
    assert meet(one, server).received == 1


def test_another_end_made_anew_is_filled_again(books: Books) -> None:
    one, two, server = books
    for tablet in (one, two):
        for _ in range(3):
            tablet.write(reading(), ANA)
        meet(tablet, server)
    meet(one, server)
    with logbook("server") as anew:
        # its own name for its log tells that places of the old one mean nothing
        anew._keep_about("log", "made anew")
        anew.write(reading(0.5), KIM)
        for tablet in (one, two, one):
            meet(tablet, anew)
        assert anew.size() == 7
        assert one.digest() == two.digest() == anew.digest()


def test_many_lines_go_in_requests_that_a_slow_line_can_bear(
    books: Books, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two, server = books
    monkeypatch.setattr(exchange_module, "BATCH_BYTES", 3000)
    for _ in range(20):
        one.write(reading(remark="x" * 500), ANA)
    sizes: list[int] = []

    class Counting(LogbookPeer):
        def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
            reply = super().request(lines, after=after, log=log)
            sizes.append(max(sum(map(len, lines)), sum(map(len, reply.lines))))
            return reply

    exchange(one, Counting(server, name="server", device="tablet 1"))
    exchange(two, Counting(server, name="server", device="tablet 2"))
    assert two.digest() == one.digest()
    assert max(sizes) <= 3000
    assert len(sizes) >= 10


def test_a_line_larger_than_a_request_still_goes(
    books: Books, monkeypatch: pytest.MonkeyPatch
) -> None:
    one, two, server = books
    monkeypatch.setattr(exchange_module, "BATCH_BYTES", 10)
    for _ in range(3):
        one.write(reading(), ANA)
    assert meet(one, server).requests == 3
    meet(two, server)
    assert two.size() == 3


def test_more_lines_than_one_batch_all_arrive(books: Books) -> None:
    one, two, server = books
    for number in range(1001):
        one.write(reading(number / 1000), ANA)
    assert meet(one, server) == Exchanged(sent=1001, requests=3)
    assert meet(two, server).received == 1001


def test_quarantine_does_not_block(books: Books) -> None:
    one, two, server = books
    entries = [one.write(reading(number), ANA) for number in range(3)]
    refused = entries[1].entry

    class Strict(LogbookPeer):
        def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
            asking = Asking(device=self._device, lines=lines, after=after, log=log)
            return answer(
                self._logbook, asking, refuse=lambda e: "not yours" if e.entry == refused else ""
            )

    done = exchange(one, Strict(server, name="server", device="tablet 1"))
    assert [verdict.why for verdict in done.quarantined] == ["not yours"]
    assert (server.size(), len(server.quarantined())) == (2, 1)
    assert meet(one, server) == Exchanged(requests=1)  # and it is not sent again and again
    assert meet(two, server).received == 2


def test_a_line_that_cannot_be_taken_here_does_not_block_either(books: Books) -> None:
    one, _, server = books
    server.write(reading(), KIM)
    good = server.write(reading(), KIM)

    class Garbling(LogbookPeer):
        def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
            reply = super().request(lines, after=after, log=log)
            garbled = ("{" + reply.lines[0], *reply.lines[1:])
            return Reply(**{**vars(reply), "lines": garbled})

    done = exchange(one, Garbling(server, name="server", device="tablet 1"))
    assert len(done.held_here) == 1
    assert done.received == 1
    assert one.history(good.record)
    assert meet(one, server).requests == 1


def test_what_a_device_may_not_see_is_passed_over(books: Books) -> None:
    one, _, server = books
    server.write(reading(site="ELSEWHERE"), KIM)
    seen = server.write(reading(), KIM)
    asking = Asking(device="tablet 1", lines=(), after=0, log="")
    reply = answer(server, asking, may_see=lambda entry: entry.site == "REEDY")
    assert reply.lines == (seen.line,)
    assert (reply.place, reply.more) == (2, False)
    one.absorb(reply.lines, source="server")
    assert one.quarantined() == []


def test_an_end_that_takes_nothing_is_named(books: Books) -> None:
    one, _, server = books
    one.write(reading(), ANA)

    class Deaf(LogbookPeer):
        def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
            return super().request(lines[:0], after=after, log=log)

    with pytest.raises(DamagedError, match="server did not take line 1 of this device"):
        exchange(one, Deaf(server, name="server", device="tablet 1"))


def test_an_end_that_promises_more_and_sends_nothing_is_named(books: Books) -> None:
    one, _, server = books

    class Promising(LogbookPeer):
        def request(self, lines: Sequence[str], *, after: int, log: str) -> Reply:
            reply = super().request(lines, after=after, log=log)
            return Reply(**{**vars(reply), "more": True})

    with pytest.raises(DamagedError, match="server says there is more beyond 0"):
        exchange(one, Promising(server, name="server", device="tablet 1"))


def test_a_tablet_set_back_to_an_old_copy_loses_nothing_it_writes_later(books: Books) -> None:
    one, two, server = books
    for _ in range(3):
        one.write(reading(), ANA)
    old = [entry.line for entry in one.since(0)[0]]
    one.write(reading(4.0), ANA)
    meet(one, server)
    with logbook("tablet 1", new_id=counting("later")) as copy:
        copy.absorb(old, source="old copy")
        before = copy.write(reading(5.0), ANA)  # line 4 again: a fork
        copy.keep_sent("server", up_to=3, has=3)
        done = meet(copy, server)
        assert [verdict.entry for verdict in done.quarantined] == [before.entry]
        assert done.missing_here == 0
        copy.write(reading(6.0), ANA)
        meet(copy, server)
    held = [line.line for line in server.quarantined()]
    assert len(held) == 2  # the fork, and the line that follows from it
    assert "forked" in server.quarantined()[0].why
    meet(two, server)
    assert two.size() == server.size() == 4


def test_a_tablet_set_back_that_asks_before_it_writes_counts_on(books: Books) -> None:
    one, _, server = books
    for _ in range(5):
        one.write(reading(), ANA)
    old = [entry.line for entry in one.since(0)[0]][:3]
    meet(one, server)
    with logbook("tablet 1", new_id=counting("later")) as copy:
        copy.absorb(old, source="old copy")
        assert meet(copy, server).missing_here == 2
        written = [copy.write(reading(stage), ANA) for stage in (6.0, 7.0)]
        assert [entry.seq for entry in written] == [6, 7]
        meet(copy, server)
        # the first does not follow from a line that this copy has not; the rest is taken as ever
        assert [held.line for held in server.quarantined()] == [written[0].line]
        assert server.history(written[1].record)


def test_lines_that_nobody_has_any_more_do_not_hold_up_the_others(books: Books) -> None:
    one, _, server = books
    for _ in range(5):
        one.write(reading(), ANA)
    old = [entry.line for entry in one.since(0)[0]][:3]
    meet(one, server)
    with (
        logbook("tablet 1", new_id=counting("later")) as copy,
        logbook("server", new_id=counting("anew")) as anew,
    ):
        copy.absorb(old, source="old copy")
        meet(copy, server)
        for stage_m in (6.0, 7.0):
            copy.write(reading(stage_m), ANA)
        meet(copy, anew)  # lines 4 and 5 were only in the two files that are lost
        assert meet(copy, anew) == Exchanged(requests=1)
        assert anew.digest() == copy.digest()


def test_progress_is_told_after_each_request(books: Books, monkeypatch: pytest.MonkeyPatch) -> None:
    one, _, server = books
    monkeypatch.setattr(exchange_module, "BATCH_BYTES", 10)
    for _ in range(3):
        one.write(reading(), ANA)
    told: list[int] = []
    exchange(
        one,
        LogbookPeer(server, name="server", device="tablet 1"),
        progress=lambda done: told.append(done.sent),
    )
    assert told == [1, 2, 3]
