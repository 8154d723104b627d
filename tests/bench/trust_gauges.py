"""Gauge readings of random seasons: how the true ones fare, and the slips made of them."""

import statistics
from collections import Counter, defaultdict
from dataclasses import dataclass, field
from typing import Final

import numpy as np

from shared_core.expect import Window
from shared_core.logbook import Logbook
from shared_core.records.base import Finding, Severity
from shared_core.records.levels_seen import LevelSeen, days_from
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.staff_gauge_scene import Scene, scene_of
from tests.bench.counting import Share, share_figure
from tests.bench.figure import Figure, not_measured
from tests.bench.plain_way import PlainSheet
from tests.bench.season_maker import START, Look, Season, play, retyped
from tests.bench.season_people import SLIPS, Post, Read, slipped

LARGE: Final = ("one-metre", "unit-slip", "wrong-gauge")
SMALL: Final = ("one-tenth", "digit-swap")
STILL_M3: Final = 1.0  # pumped since the last look: less is none


@dataclass
class Tally:
    """What came out, ours and the plain way's."""

    covered: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    half_widths_m: tuple[list[float], list[float]] = field(default_factory=lambda: ([], []))
    large: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    small: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    small_outside: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    suggested: Share = field(default_factory=Share)
    asked: tuple[Share, Share] = field(default_factory=lambda: (Share(), Share()))
    by_slip: dict[str, Share] = field(default_factory=lambda: defaultdict(Share))
    codes: Counter[str] = field(default_factory=Counter)


def asks(found: list[Finding]) -> list[Finding]:
    return [each for each in found if each.severity is not Severity.NOTE]


@dataclass
class _Judge:
    """Plays one season and counts."""

    season: Season
    tally: Tally
    rng: np.random.Generator
    sheet: PlainSheet

    def told(
        self, look: Look, post: Post, seen: Read, record: GaugeReading, logbook: Logbook
    ) -> GaugeReading:
        known = logbook.known()
        found = asks(list(record.findings(known)))
        self.tally.asked[0].add(bool(found))
        self.tally.codes.update(each.code for each in found)
        if seen.text is None:
            self.tally.asked[1].add(False)
            return record
        plain = self.sheet.gauge(post.name)
        stage_m = float(seen.text)
        self.tally.asked[1].add(plain.asks(look.day, stage_m))
        scene = scene_of(record, known)
        first = next(scene.windows(), None)
        if first is not None:
            self._window(look, record, scene, first)
        window = first[0] if first is not None else None
        still = first is not None and self._still(first[1], look)
        for kinds in (LARGE, SMALL):
            self._slip(kinds, (look, post, seen, record), logbook, window, still=still)
        written = self._as_written(look, post, seen, record, logbook)
        plain.keep(look.day, written.stage_m or 0.0)
        return written

    def _still(self, base: LevelSeen, look: Look) -> bool:
        """Whether nothing was pumped since the look that the window starts from."""
        truth = self.season.water
        since = days_from(START, base.at)
        return truth.pumped_by(look.day) - truth.pumped_by(since) < STILL_M3

    def _window(
        self, look: Look, record: GaugeReading, scene: Scene, first: tuple[Window, LevelSeen]
    ) -> None:
        window, base = first
        level_m = (record.stage_m or 0.0) + (scene.zero.zero_m if scene.zero else 0.0)
        inside = window.low_m - 1e-9 <= level_m <= window.high_m + 1e-9
        self.tally.covered[0].add(inside)
        plain = self.sheet.gauge(record.point)
        if plain.day is not None:
            low_m, high_m = plain.window(look.day)
            self.tally.covered[1].add(low_m - 1e-9 <= (record.stage_m or 0.0) <= high_m + 1e-9)
        days = days_from(base.at, record.when)
        if 7.0 <= days <= 14.0 and self._still(base, look):
            self.tally.half_widths_m[0].append((window.high_m - window.low_m) / 2)
            if plain.day is not None:
                low_m, high_m = plain.window(look.day)
                self.tally.half_widths_m[1].append((high_m - low_m) / 2)

    def _slip(
        self,
        kinds: tuple[str, ...],
        typed: tuple[Look, Post, Read, GaugeReading],
        logbook: Logbook,
        window: Window | None,
        *,
        still: bool,
    ) -> None:
        look, post, seen, record = typed
        rates = [row for row in SLIPS if row.slip in kinds]
        odds = np.array([row.per_thousand for row in rates])
        slip = rates[int(self.rng.choice(len(rates), p=odds / odds.sum()))].slip
        made = self._made(slip, look, post, seen)
        if made is None:
            return
        text, point, meant = made
        wrong = retyped(record, text, point)
        found = asks(list(wrong.findings(logbook.known())))
        caught = [each for each in found if each.field in ("stage_m", "point", "state")]
        plain = self.sheet.gauge(point).asks(look.day, float(text))
        outside = _outside(window, float(text), post)
        if slip in LARGE:
            if not outside:
                return
            self.tally.large[0].add(bool(caught))
            self.tally.large[1].add(plain)
        elif still:
            self.tally.small[0].add(bool(caught))
            self.tally.small[1].add(plain)
            if outside:
                self.tally.small_outside[0].add(bool(caught))
                self.tally.small_outside[1].add(plain)
        else:
            return
        self.tally.by_slip[slip].add(bool(caught))
        if caught:
            right = any(_same(each.suggests, meant) for each in caught)
            self.tally.suggested.add(right)
            self.tally.by_slip[f"{slip} suggested"].add(right)

    def _made(self, slip: str, look: Look, post: Post, seen: Read) -> tuple[str, str, str] | None:
        others = [(p, r.text) for p, r in look.reads if p.name != post.name and r.text is not None]
        return slipped(self.rng, slip, seen.text or "", post, others)

    def _as_written(
        self, look: Look, post: Post, seen: Read, record: GaugeReading, logbook: Logbook
    ) -> GaugeReading:
        """Return what ends up in the logbook: a slip now and then, put right where it was asked."""
        for row in SLIPS:
            if self.rng.random() < row.per_thousand / 1000:
                made = self._made(row.slip, look, post, seen)
                if made is not None:
                    wrong = retyped(record, made[0], made[1])
                    return record if asks(list(wrong.findings(logbook.known()))) else wrong
        return record


def _outside(window: Window | None, stage_m: float, post: Post) -> bool:
    if stage_m > post.plate_m + 0.020:
        return True
    level_m = stage_m + post.stated_zero_m
    return window is not None and not window.low_m <= level_m <= window.high_m


def _same(suggests: str | None, meant: str) -> bool:
    if suggests is None:
        return False
    try:
        return abs(float(suggests) - float(meant)) < 1e-6
    except ValueError:
        return suggests == meant


def judge(one: Season, tally: Tally) -> None:
    """Play a season and add to the tally."""
    sheet = PlainSheet({post.name: post.plate_m for post in one.posts})
    judged = _Judge(one, tally, np.random.default_rng(one.seed + 7), sheet)
    play(one, at_gauge=judged.told)


def gauge_figures(tally: Tally) -> list[Figure]:
    """Return the figures about gauge readings."""
    return [
        share_figure("true gauge readings inside the 95 % window", *tally.covered, (93.0, 97.0)),
        _half_width(tally),
        share_figure(
            "one-metre, unit and wrong-gauge slips that leave the window, caught",
            *tally.large,
            (99.0, 100.0),
        ),
        share_figure(
            "0.1 m misreads and digit swaps while holding or falling, caught",
            *tally.small,
            (90.0, 100.0),
            f"of those that leave the window {tally.small_outside[0].words}",
        ),
        share_figure(
            "right value suggested, of the slips caught",
            tally.suggested,
            Share(0, tally.suggested.of),
            (85.0, 100.0),
        ),
        share_figure("true readings that draw a question", *tally.asked, (0.0, 2.0)),
    ]


def _half_width(tally: Tally) -> Figure:
    name, goal = "half-width of the window, holding or falling, 7-14 days: median", "<= 25 mm"
    ours, plain = tally.half_widths_m
    if not ours:
        return not_measured(name, "mm", goal, "no such pair of visits came up")
    median_mm = 1000 * statistics.median(ours)
    beside = round(1000 * statistics.median(plain), 1) if plain else None
    why = f"{len(ours)} readings"
    return Figure(name, round(median_mm, 1), "mm", beside, goal, median_mm <= 25.0, why)
