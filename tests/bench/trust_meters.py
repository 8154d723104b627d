"""Meter figures of random seasons: slips that must be caught, and true ones that must not be refused."""

from dataclasses import dataclass, field
from typing import Any, Final

import numpy as np

from shared_core.logbook import Logbook
from shared_core.records.base import Finding, Severity
from shared_core.slips import swapped
from tests.bench.counting import Share, share_figure
from tests.bench.figure import Figure
from tests.bench.plain_way import meter_asks
from tests.bench.season_maker import Season, at, head, play, rewrite
from tests.bench.season_meter import MeterLook

DAY_H: Final = 24.0
SWAP_SHARE: Final = 0.3  # of the expected volume; a smaller swap is no slip that counts
GAP_DAYS: Final = 2.0
LEAST_DAYS: Final = 0.2  # a look sooner after the last is no look of its own
LEAST_HOURS: Final = 2.0  # of pumping between two looks: with less nothing is at stake

Case = tuple[MeterLook, MeterLook, list[str], Logbook]


@dataclass
class MeterTally:
    """What came out, ours and the plain way's."""

    ten: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    swap: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    stuck: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    rolled: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    gap: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    true: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    missed: list[str] = field(default_factory=list)


class _Judge:
    """Plays one season and counts."""

    def __init__(self, season: Season, tally: MeterTally) -> None:
        self.season, self.tally = season, tally
        self.rng = np.random.default_rng(season.seed + 11)
        self.last: MeterLook | None = None

    def told(self, look: MeterLook, ids: list[str], logbook: Logbook) -> None:
        last, self.last = self.last, look
        if last is None or look.day - last.day < LEAST_DAYS:
            return
        face, water = self.season.counter, self.season.water
        counts = look.counts - last.counts
        hours = DAY_H * (look.day - last.day)
        pumped_m3 = water.pumped_by(look.day) - water.pumped_by(last.day)
        stuck = face.stuck is not None and last.day < face.stuck[1] and look.day > face.stuck[0]
        if pumped_m3 < LEAST_HOURS * water.pumping.rate_m3_h or stuck:
            return
        found = self._found(look, look.display, ids, logbook)
        shown_m3 = (int(look.display) - int(last.display)) * face.m3_per_count
        refused = _refused(found)
        self.tally.true[0].add(any(_asks(each) for each in found) and not look.rolled)
        self.tally.true[1].add(meter_asks(shown_m3, hours, water.pumping.plate_m3_h))
        if look.rolled:
            self._refusal(self.tally.rolled, refused, shown_m3, hours)
        if look.day - last.day > GAP_DAYS:
            self._refusal(self.tally.gap, refused, shown_m3, hours)
        case = (last, look, ids, logbook)
        for times in (10.0, 0.1):
            self._made(self.tally.ten, case, round(counts * times))
        self._swapped(case, pumped_m3)
        if look.hours - last.hours > DAY_H:
            self._made(self.tally.stuck, case, 0)
        rewrite(logbook, look.reading(_about(look)), ids[0])

    def _found(
        self, look: MeterLook, display: str, ids: list[str], logbook: Logbook
    ) -> list[Finding]:
        """Return what is found about the figures and the hours, both being written."""
        figures, run = look.records(_about(look), at)
        figures = figures.changed(display=display)
        rewrite(logbook, figures, ids[0])
        found = list(figures.findings(logbook.known(without=ids[0])))
        return found + list(run.findings(logbook.known(without=ids[1])))

    def _refusal(
        self, shares: tuple[Share, Share], refused: bool, shown_m3: float, hours: float
    ) -> None:
        shares[0].add(refused)
        shares[1].add(meter_asks(shown_m3, hours, self.season.water.pumping.plate_m3_h))

    def _made(self, shares: tuple[Share, Share], case: Case, counts: int) -> None:
        last, look, ids, logbook = case
        face = self.season.counter
        display = face.shown(last.counts + counts)
        found = self._found(look, display, ids, logbook)
        caught = any(_asks(each) for each in found)
        shares[0].add(caught)
        hours = DAY_H * (look.day - last.day)
        shown_m3 = (int(display) - int(last.display)) * face.m3_per_count
        shares[1].add(meter_asks(shown_m3, hours, self.season.water.pumping.plate_m3_h))
        if not caught:
            codes = [(each.code, each.severity.name) for each in found]
            self.tally.missed.append(
                f"{self.season.seed} {look.day:.2f} {last.display} {look.display} {display} {codes}"
            )

    def _swapped(self, case: Case, pumped_m3: float) -> None:
        last, look, _, _ = case
        face, true = self.season.counter, look.display
        far = [
            each
            for each in swapped(true)
            if abs(int(each) - int(true)) * face.m3_per_count > SWAP_SHARE * pumped_m3
        ]
        if far:
            display = far[int(self.rng.integers(len(far)))]
            self._made(self.tally.swap, case, int(display) - int(true) + look.counts - last.counts)


def _about(look: MeterLook) -> dict[str, Any]:
    return head(look.day, look.visit, "M1", look.who)


def _asks(finding: Finding) -> bool:
    return finding.severity is not Severity.NOTE and finding.code not in ("log-gap", "used-up")


def _refused(found: list[Finding]) -> bool:
    """Whether a true reading was called impossible, or anything but a gap or a turn was asked."""
    return any(
        each.severity is Severity.STOP or (_asks(each) and each.code != "meter-rolled")
        for each in found
    )


def judge(one: Season, tally: MeterTally) -> None:
    """Play a season and add to the tally."""
    judged = _Judge(one, tally)
    play(one, at_meter=judged.told)


def meter_figures(tally: MeterTally) -> list[Figure]:
    """Return the figures about meters."""
    caught = (98.0, 100.0)
    return [
        share_figure("meter: unit ten times too large or small, caught", *tally.ten, caught),
        share_figure(
            "meter: digit swap over 30 % of the expected volume, caught", *tally.swap, caught
        ),
        share_figure("meter: stuck over a day of pumping, caught", *tally.stuck, caught),
        share_figure("meter: rollover falsely refused", *tally.rolled, (0.0, 0.0)),
        share_figure("meter: reading after a log gap falsely refused", *tally.gap, (0.0, 0.0)),
    ]
