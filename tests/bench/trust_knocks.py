"""A gauge knocked while two are wet: is it found, and dated to the right interval of visits."""

from dataclasses import dataclass, field
from typing import Final

from shared_core.records.pair_history import pair_steps
from tests.bench.counting import Share, share_figure
from tests.bench.figure import Figure
from tests.bench.plain_way import PAIR_M
from tests.bench.season_maker import SITE, Look, Season, at, play

PAIRS_AFTER: Final = 2  # a knock that nobody could have seen twice is not asked for


@dataclass
class KnockTally:
    """What came out, ours and the plain way's."""

    dated: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    found: Share = field(default_factory=Share)
    false: Share = field(default_factory=Share)  # steps told of pairs that nothing moved
    missed: list[str] = field(default_factory=list)


def _both(look: Look, names: tuple[str, str]) -> list[float] | None:
    """Return the levels that two gauges showed in a look, None unless both showed a number."""
    shown = {
        post.name: float(seen.text) + post.stated_zero_m
        for post, seen in look.reads
        if seen.text is not None
    }
    return [shown[name] for name in names] if all(name in shown for name in names) else None


def judge(one: Season, tally: KnockTally) -> None:
    """Play a season and add to the tally."""
    moved = next((post for post in one.posts if post.knocked_on is not None), None)
    known = play(one).known()
    steps = pair_steps(known, SITE)
    names = [post.name for post in one.posts]
    for k, first in enumerate(names):
        for second in names[k + 1 :]:
            pair = (first, second)
            told = [each for each in steps if each.gauges == pair]
            if moved is None or moved.name not in pair:
                tally.false.add(bool(told))
                continue
            day = moved.knocked_on or 0.0
            looks = [look for look in one.looks if _both(look, pair) is not None]
            before = [look for look in looks if look.day < day]
            after = [look for look in looks if look.day >= day]
            if len(before) < PAIRS_AFTER or len(after) < PAIRS_AFTER:
                continue
            tally.found.add(bool(told))
            begins, ends = at(before[-1].day - 0.1), at(after[0].day + 0.1)
            right = any(
                begins <= each.step.last_before.at and each.step.first_after.at <= ends
                for each in told
            )
            tally.dated[0].add(right)
            tally.dated[1].add(_plainly(looks, pair, after[0]))
            if not right:
                when = [(s.step.last_before.at, s.step.first_after.at, s.step) for s in told]
                tally.missed.append(
                    f"{one.seed} {pair} {moved.knocked_m:.3f} m {begins:%m-%d} {len(before)}"
                    f" {len(after)}: {when}"
                )


def _plainly(looks: list[Look], pair: tuple[str, str], first_after: Look) -> bool:
    """Whether the first look whose two levels differ by more than a fixed limit is the right one."""
    for look in looks:
        levels = _both(look, pair)
        if levels is not None and abs(levels[0] - levels[1]) > PAIR_M:
            return look is first_after
    return False


def knock_figures(tally: KnockTally) -> list[Figure]:
    """Return the figure about knocked gauges."""
    why = f"found at all {tally.found.words}; steps told of unmoved pairs {tally.false.words}"
    return [
        share_figure(
            "gauge knocked by 30 mm or more, two wet: found and dated to the visit interval",
            *tally.dated,
            (95.0, 100.0),
            why,
        )
    ]
