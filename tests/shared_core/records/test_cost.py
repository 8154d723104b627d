"""What one judgement costs: the rows it reads do not grow with the seasons written before.

Only the share of an allocation that is used needs all meter readings since the allocation began.
"""

from collections.abc import Sequence
from datetime import date, datetime, timedelta
from typing import Any

import pytest

from shared_core.logbook import Said
from shared_core.records.base import Known, R, Record, Standing
from tests.shared_core.records.limit_cases import days_later, tree
from tests.shared_core.records.swamp import Swamp, at

TODAY = "2023-08-30 09:00+10:00"
MOST_ROWS = 450  # of one judgement, set-up and a season's weather file taken apart


class Counting:
    """What is known, counting the rows that are asked for."""

    def __init__(self, known: Known) -> None:
        self._known = known
        self.rows = 0
        self.asked = 0

    @property
    def now(self) -> datetime | None:
        return self._known.now

    def _counted(self, found: Sequence[Standing[R]]) -> Sequence[Standing[R]]:
        self.rows += len(found)
        self.asked += 1
        return found

    def before(self, kind: type[R], site: str, at: datetime, **more: Any) -> Sequence[Standing[R]]:
        return self._counted(self._known.before(kind, site, at, **more))

    def after(self, kind: type[R], site: str, at: datetime, **more: Any) -> Sequence[Standing[R]]:
        return self._counted(self._known.after(kind, site, at, **more))

    def between(
        self, kind: type[R], site: str, start: datetime, end: datetime, **more: Any
    ) -> Sequence[Standing[R]]:
        return self._counted(self._known.between(kind, site, start, end, **more))

    def every(self, kind: type[R], site: str | None = None) -> Sequence[Standing[R]]:
        return self._counted(self._known.every(kind, site))

    def in_force(
        self, kind: type[R], site: str, at: datetime, *, point: str | None = None
    ) -> Standing[R] | None:
        found = self._known.in_force(kind, site, at, point=point)
        self.rows += found is not None
        self.asked += 1
        return found


def a_visit(swamp: Swamp, when: str, number: int) -> list[Record]:
    """Return what a visit writes, alike each time but for the slow fall of the water."""
    stage_m = 0.9 - 0.004 * (number % 100)
    read_on = at(when).date()
    visit = f"V{number}"
    return [
        swamp.visit(when, visit=visit),
        swamp.gauge("SG1", when, round(stage_m, 3), visit=visit),
        swamp.gauge("SG2", when, round(stage_m - 0.55, 3), visit=visit),
        swamp.rain(when, read_on, 0.0),
        swamp.water(when, ec_us_cm=900.0, oxygen_mg_l=8.0, visit=visit),
        swamp.dip(when, 6.0, visit=visit),
        swamp.logger(when, 71.3 + stage_m, 71.3 + stage_m, visit=visit),
        swamp.meter("M1", when, f"{871240 + number % 1000:06d}"),
        swamp.hours(when, 100.0 + number, stopped_because="not needed"),
        swamp.photo("PP1", when, bearing_deg=110.0, visit=visit),
        swamp.plot("Q4", when, (("Sedge", "AT", 30.0, None, None, True, True),), visit=visit),
        tree(swamp, when, extent_pct=40.0, visit=visit),
    ]


def grown(swamp: Swamp, visits: int) -> None:
    """Write a visit a day, up to the day before today; most of them before this allocation."""
    for number in range(visits):
        days = float(number - visits)
        for record in a_visit(swamp, days_later(days, TODAY), number):
            swamp.logbook.write(record, Said(author="Tom Lindqvist"))


def rows_read(swamp: Swamp, record: Record) -> int:
    known = Counting(swamp.logbook.known(now=at(TODAY) + timedelta(hours=1)))
    list(record.findings(known))
    list(record.tells(known))
    assert known.asked > 0
    return known.rows


@pytest.mark.parametrize("number", range(12))
def test_the_rows_read_do_not_grow_with_the_visits_before(number: int) -> None:
    read = []
    for visits in (100, 300):
        swamp = Swamp()
        swamp.set_up()
        grown(swamp, visits)
        read.append(rows_read(swamp, a_visit(swamp, TODAY, visits)[number]))
        swamp.logbook.close()
    few, many = read
    assert many <= few
    assert few <= MOST_ROWS


def test_the_counter_counts(swamp: Swamp) -> None:
    swamp.write(swamp.rain(TODAY, date(2023, 8, 30), 1.0))
    known = Counting(swamp.logbook.known())
    kind = type(swamp.rain(TODAY, date(2023, 8, 30), 1.0))
    assert len(known.every(kind)) == known.rows == 1
