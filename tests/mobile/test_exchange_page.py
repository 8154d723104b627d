from collections.abc import Callable
from datetime import timedelta
from typing import Any

from mobile.courier import Delivery, NoWayError, StoppedError
from mobile.exchange_page import Turn, exchange_shown, failure_words
from mobile.field_day import FieldDay
from shared_core.errors import DamagedError, RefusedError, StrandlineError, UnreadableError
from shared_core.exchange import Exchanged
from shared_core.logbook import Logbook, Said
from shared_core.records.hazard import Hazard
from shared_core.records.plan import PlannedVisit


def shown(day: FieldDay, turn: Turn | None, *, busy: Any = False, news: int = 0) -> Any:
    return exchange_shown(turn, day.logbook, enrolled=True, busy=busy, state="Nothing.", news=news)


def test_each_way_of_failing_says_who_can_do_something() -> None:
    said = {
        StoppedError("Stopped."): "it goes on from here next time",
        RefusedError("Not let in"): "Ask your coordinator for a new code",
        DamagedError("it did not take line 3"): "cannot be right (it did not take line 3). Tell",
        UnreadableError("no answer"): "cannot be right (no answer)",
        NoWayError("No way to http://x now: Timeout."): "No way to http://x now: Timeout.",
        StrandlineError("a fault."): "a fault. Try again",
    }
    for error, words in said.items():
        assert words in failure_words(error, str(error))


def test_progress_counts_entries_then_photos_and_their_bytes(day: FieldDay) -> None:
    turn = Turn(began_at=day.logbook.reached())
    turn.delivery = Delivery(
        entries=Exchanged(sent=41, received=1, requests=1),
        photos=9, photos_there=4, bytes=2_000_000, bytes_there=500_000,
    )  # fmt: skip
    found = shown(day, turn, busy=True)
    assert found.main == "Stop"
    assert found.entries == "Entries: 41 sent, 1 received in 1 request."
    assert found.photos == "Photos, after the entries: 4 of 9 there, 500.0 kB of 2.0 MB."
    assert found.share == 0.25


def test_what_was_cut_off_goes_on_and_what_ended_begins_anew(day: FieldDay) -> None:
    turn = Turn(began_at=day.logbook.reached())
    assert shown(day, None).main == "Exchange now"
    turn.end(None, "Stopped.")
    assert shown(day, turn).main == "Go on"
    turn.end(Delivery(), "Exchanged: 0 sent.")
    assert shown(day, turn).main == "Exchange now"
    assert shown(day, turn).last == "Exchanged: 0 sent."


def test_hazards_and_plans_of_others_came_back_and_own_ones_did_not(
    day: FieldDay, make_logbook: Callable[..., Logbook], clock: Any
) -> None:
    office = make_logbook(device="OFFICE")
    turn = Turn(began_at=day.logbook.reached())
    head: dict[str, Any] = {
        "visit": "V3", "point": "site", "seen_at": clock() - timedelta(days=1), "offset_min": 600,
        "time_source": "gnss", "observers": ("Bert",),
    }  # fmt: skip
    soft = Hazard(site="PRA", hazard="soft", keep_out_m=20.0, **head)
    plan = PlannedVisit(site="PRA", valid_from=clock(), code="V7", team="Heron")
    day.logbook.write(soft.changed(hazard="bank"), Said(author="Ada"))
    for record in (soft, plan):
        office.write(record, Said(author="Ruth"))
    day.logbook.absorb([entry.line for entry in office.since(0)[0]], source="server")
    turn.end(Delivery(), "Exchanged.")
    found = shown(day, turn, news=2)
    assert found.hazards == ("PRA: Soft mud, keep away by 20 m",)
    assert found.plans == ("PRA: V7, Heron, Sun 1 Mar",)
    assert found.news == "2 corrections by others"


def test_nothing_came_back_before_anything_was_exchanged(day: FieldDay) -> None:
    found = shown(day, None)
    assert (found.entries, found.hazards, found.plans, found.news) == ("", (), (), "")
