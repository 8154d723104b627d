"""The situations around a visit in which screens are looked at and measured."""

import json
from datetime import timedelta
from typing import Any

from mobile.app import new_id
from mobile.courier import Delivery
from mobile.exchange_page import Turn
from shared_core.errors import RefusedError
from shared_core.exchange import Exchanged
from shared_core.field_shapes import Position
from shared_core.logbook import Logbook, Said
from shared_core.records.hazard import Hazard
from shared_core.records.plan import PlannedVisit
from shared_core.records.site_setup import Site
from tests.mobile.pilot import Pilot

CARD = {
    "people": "Ada, Bert",
    "route": "White ute, river road, then the levee track to the north gate",
    "called_if_late": "Ruth, at the depot",
}


def from_another_team(driver: Pilot, *records: Any) -> None:
    """Let records of another team reach the device, as an exchange would."""
    tablet = driver.app.tablet
    name = f"BIT-{tablet.logbook.size()}"  # another team each time: no history of it is here yet
    other = Logbook(":memory:", device=name, clock=lambda: tablet.device().now, new_id=new_id)
    with other:
        for record in records:
            other.write(record, Said(author="Bert", note="invented"))
        lines = [entry.line for entry in other.since(0)[0]]
    tablet.logbook.absorb(lines, source=name)


def a_hazard(driver: Pilot) -> Hazard:
    return Hazard(
        site="PRA", visit="V03", point="site", offset_min=600, time_source="gnss",
        seen_at=driver.app.tablet.device().now - timedelta(days=3), observers=("Bert",),
        position=Position(-36.501, 155.501), hazard="crack", width_m=0.2, keep_out_m=15.0,
        remark="Hidden by grass along the old channel.",
    )  # fmt: skip


def a_plan(driver: Pilot) -> PlannedVisit:
    now = driver.app.tablet.device().now
    return PlannedVisit(
        site="PRA", valid_from=now, code="V07", team="Heron", walk_due=True,
        items=("Gauge G1", "Walk the shoreline", "Photo points"),
    )  # fmt: skip


def at_site(driver: Pilot) -> None:
    driver.tap(driver.find(name="site PRA"))


def trip(driver: Pilot) -> None:
    at_site(driver)
    driver.tap(driver.find(name="visit trip"))


def trip_filled(driver: Pilot) -> None:
    at_site(driver)
    driver.tap(driver.find(name="visit trip"))
    for box, text in CARD.items():
        driver.find(name=f"box {box}").text = text
    driver.tap(driver.find(name="due 6"))


def out(driver: Pilot) -> None:
    trip_filled(driver)
    driver.tap(driver.find(name="keep"))
    driver.app.router.start("home")


def overdue(driver: Pilot) -> None:
    out(driver)
    logbook = driver.app.tablet.logbook
    card = json.loads(logbook.drafts()["out"])
    card["due_back"] = (driver.app.tablet.device().now - timedelta(minutes=65)).isoformat()
    logbook.keep_draft("out", json.dumps(card))
    driver.app.router.start("home")


def arrive(driver: Pilot) -> None:
    from_another_team(driver, a_hazard(driver), a_plan(driver))
    at_site(driver)
    driver.tap(driver.find(name="visit arrive"))


def arrive_clock(driver: Pilot) -> None:
    arrive(driver)
    driver.find(name="box watch").text = "2025-03-02 08:05"
    driver.tap(driver.find(name="take time"))


def leave(driver: Pilot) -> None:
    at_site(driver)
    driver.tap(driver.find(name="gauge_reading G1"))
    driver.keys("4.2")
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(name="keep"))
    driver.tap(driver.find(name="visit leave"))
    driver.tap(driver.find(name="why Rain gauge R1 No time"))
    driver.tap(driver.find(name="why Vegetation plot Q1 Other words"))


def leave_asking(driver: Pilot) -> None:
    at_site(driver)
    driver.tap(driver.find(name="visit leave"))
    driver.tap(driver.find(name="keep"))


def exchange(driver: Pilot) -> None:
    """No exchange yet."""
    driver.tap(driver.find(name="about exchange"))


def exchange_moving(driver: Pilot) -> None:
    tablet = driver.app.tablet
    tablet.turn = Turn(began_at=tablet.logbook.reached())
    tablet.turn.delivery = Delivery(
        entries=Exchanged(sent=41, received=12, requests=3),
        photos=9, photos_there=4, bytes=31_400_000, bytes_there=12_900_000,
    )  # fmt: skip
    exchange(driver)


def exchange_refused(driver: Pilot) -> None:
    tablet = driver.app.tablet
    tablet.turn = Turn(began_at=tablet.logbook.reached())
    from_another_team(driver, a_hazard(driver), a_plan(driver))
    tablet.courier.error = RefusedError("Not let in: this device was revoked")
    tablet.turn.end(
        None,
        "The server does not let this device in (Not let in: this device was revoked). Ask your"
        " coordinator for a new code. Everything stays here. 41 entries kept here, not sent yet.",
    )
    exchange(driver)


def stick(driver: Pilot) -> None:
    driver.tap(driver.find(name="stick"))


def taking_in(driver: Pilot) -> None:
    """No site yet: what another tablet wrote can be taken in."""
    driver.tap(driver.find(name="practice"))
    driver.tap(driver.find(name="take in"))


def notice(driver: Pilot) -> None:
    driver.app.tell(
        "Nothing was kept, the file could not be written (database or disk is full): make room on"
        " the device, or try again; what was kept before is still there"
    )


def many_sites(driver: Pilot) -> None:
    tablet = driver.app.tablet
    known = {standing.record.site for standing in tablet.day.sites()}
    first = next(s.record for s in tablet.day.sites() if s.record.site == "PRA")
    more = [
        first.changed(site=f"P{number:02}", name=f"Invented pool number {number}")
        for number in range(30)
        if f"P{number:02}" not in known
    ]
    from_another_team(driver, *more)
    assert all(isinstance(site, Site) for site in more)
    driver.app.router.start("home")


VISIT_SCENES = (
    trip, trip_filled, out, overdue, arrive, arrive_clock, leave, leave_asking, exchange,
    exchange_moving, exchange_refused, stick, taking_in, notice,
)  # fmt: skip
