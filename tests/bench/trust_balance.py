"""Balances of random seasons: does the stated interval of the residual cover the truth."""

import itertools
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

import numpy as np

from shared_core.errors import StrandlineError
from shared_core.records.meter_setup import PumpedEstimate
from shared_core.site_balance import balance_of
from tests.bench.counting import Z_95, Share, share_figure
from tests.bench.figure import Figure
from tests.bench.season_maker import DAYS, SITE, Look, Season, at, play, weather_file, write

WITH_WEATHER_FILE: Final = 0.85  # share of seasons whose server has the station's file at the end
SHORT_BY_H: Final = (
    2.0  # of pumping that the meter fell short by, before anybody writes an estimate
)


@dataclass
class BalanceTally:
    """What came out, ours and the plain way's."""

    covered: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    none: int = 0
    scores: list[float] = field(default_factory=list)


def judge(one: Season, tally: BalanceTally) -> None:
    """Play a season, balance it from its first to its last look, and add to the tally."""
    logbook = play(one)
    write(logbook, *_estimates(one))
    if np.random.default_rng(one.seed + 13).random() < WITH_WEATHER_FILE:
        write(logbook, weather_file(one, 0, DAYS))
    visits = [look for look in one.looks if look.visit.startswith("V")]
    pumped_from = float(np.nonzero(one.water.pumping.hours > 0)[0][0])
    first = max(look.day for look in visits if look.day < pumped_from)
    last = max(look.day for look in visits if _is_told(look))
    start, end = at(first), at(last)
    try:
        season = balance_of(logbook.known(), SITE, start=start, end=end, period="month")
    except StrandlineError:
        tally.none += 1
        return
    found = season.season.residual.volume_m3
    truth_m3 = one.water.bed_took_by(_days(end)) - one.water.bed_took_by(_days(start))
    miss_m3 = found.value - truth_m3
    tally.covered[0].add(abs(miss_m3) <= Z_95 * found.sd)
    plain_m3 = 1000.0 * season.sd_as_if_independent_megalitres()
    tally.covered[1].add(abs(miss_m3) <= Z_95 * plain_m3)
    tally.scores.append(miss_m3 / found.sd)


def _is_told(look: Look) -> bool:
    """Whether a look tells the level: a number, or the lowest gauge dry."""
    numbers = any(seen.text is not None for _, seen in look.reads)
    return numbers or all(seen.state == "dry" for _, seen in look.reads)


def _estimates(one: Season) -> Iterator[PumpedEstimate]:
    """Yield what the coordinator writes where the meter stuck: hours times the measured rate.

    The finding about it names the looks between which the figures stood still or fell short.
    """
    if one.counter.stuck is None:
        return
    lost_from, lost_to = one.counter.stuck
    rate_m3_h = one.water.pumping.measured_m3_h
    for last, look in itertools.pairwise(one.meter_looks):
        if last.day >= lost_to or look.day <= lost_from:
            continue
        counted_m3 = (look.counts - last.counts) * one.counter.m3_per_count
        hours = look.hours - last.hours - counted_m3 / rate_m3_h
        if hours > SHORT_BY_H:
            yield PumpedEstimate(
                site=SITE,
                valid_from=at(last.day),
                until=at(look.day),
                meter="M1",
                hours=round(hours, 1),
                rate_megalitres_per_hour=round(rate_m3_h / 1000, 4),
                basis="hour meter less what the meter counted",
            )


def _days(moment: datetime) -> float:
    return (moment - at(0.0)).total_seconds() / 86_400


def balance_figures(tally: BalanceTally) -> list[Figure]:
    """Return the figure about balances."""
    why = f"{tally.none} seasons without a balance; the plain way takes periods as independent"
    return [
        share_figure(
            "balance: stated 95 % interval of the season's residual covers the truth",
            *tally.covered,
            (93.0, 97.0),
            why,
        )
    ]
