"""Leaving a site: what is done, what is not and why, what looks odd, the copy, the end. No screen."""

import dataclasses
from datetime import datetime
from typing import Final

from mobile.drafts import UNJUDGED, Saved
from mobile.field_day import FieldDay, Item
from mobile.site_page import LEFT_OUT_BECAUSE, WHOLE_SITE
from mobile.time_words import span_words
from mobile.visiting import (
    end_visit,
    ensure_team,
    moment_in,
    planned_here,
    visit_draft,
    visit_standing,
)
from shared_core.logbook import Logbook
from shared_core.records import KINDS
from shared_core.records.base import Seen, Severity, Standing
from shared_core.records.shoreline_walk import ShorelineWalk
from shared_core.records.staff_gauge import GaugeReading
from shared_core.records.visit_items import WORDS
from shared_core.units import megalitres

WALK: Final = "walk"
VOLUME: Final = "Volume"  # label of the answer that a gauge reading gives
REASONS: Final = LEFT_OUT_BECAUSE
SEEN_KINDS: Final = tuple(kind for kind in KINDS if issubclass(kind, Seen))


@dataclasses.dataclass(frozen=True, kw_only=True)
class Flagged:
    """One record of this visit that has findings."""

    record_id: str
    title: str
    says: tuple[str, ...]
    cannot: bool


@dataclasses.dataclass(frozen=True, kw_only=True)
class LeavingShown:
    """What the review shows."""

    done: tuple[str, ...]
    not_done: tuple[tuple[str, str], ...]  # title and reason of each item left out with a reason
    missing: tuple[str, ...]  # titles of items without a reason yet
    flagged: tuple[Flagged, ...]
    volume: str
    on_site: str
    gauge_again: str  # point of the gauge to read once more after the walk, or empty
    clean: str
    clean_how: str
    copied_to: str
    button: str
    asks: bool  # the button was touched, and something has no reason yet


class Leaving:
    """One check-out."""

    def __init__(self, day: FieldDay) -> None:
        """Take up the visit under way."""
        self._day = day
        self._draft = visit_draft(day)
        ensure_team(day, self._draft)
        self._asking = False

    def text(self, field: str) -> str:
        """Return what a box of the visit holds."""
        return self._draft.typed.get(field, "")

    def type(self, field: str, text: str) -> None:
        """Take what a box of the visit now holds."""
        if text != self.text(field):
            self._draft.type(field, text)

    def choose(self, field: str, word: str) -> None:
        """Take an answer; the same one again takes it back."""
        self._draft.type(field, "" if word == self.text(field) else word)

    def because(self, title: str, reason: str) -> None:
        """Say why an item was not done; an empty reason takes it back."""
        items = self._items(self._day.seen_here(SEEN_KINDS))
        item = next(item for item in items if item.title == title)
        self._day.leave_out(item, reason.strip())
        self._asking = False

    def _items(self, records: list[Standing[Seen]]) -> list[Item]:
        """Return what is due here and what the plan names besides."""
        items, plan = self._day.to_do(), planned_here(self._day)
        if plan is None:
            return items
        named = [*plan.items, *((WALK,) if plan.walk_due else ())]
        extra = [item for name in named if (item := _planned(name, items, records)) is not None]
        titles = {item.title: item for item in extra}
        reasons = self._day.reasons()
        return items + [
            dataclasses.replace(item, because=reasons.get(title, ""))
            for title, item in titles.items()
        ]

    def shown(self) -> LeavingShown:
        """Return what to show now."""
        records = self._day.seen_here(SEEN_KINDS)
        items = self._items(records)
        missing = tuple(_missing(items))
        return LeavingShown(
            done=tuple(item.title for item in items if item.done),
            not_done=tuple((i.title, i.because) for i in items if not i.done and i.because),
            missing=missing,
            flagged=tuple(_flagged(records, self._day.logbook, self._day.here().now)),
            volume=self._volume(records),
            on_site=self._on_site(),
            gauge_again=_gauge_again(records, items),
            clean=self.text("clean_on_leaving"),
            clean_how=self.text("clean_how"),
            copied_to=self.text("copied_to"),
            button=self._button(len(missing)),
            asks=self._asking and bool(missing),
        )

    def _button(self, missing: int) -> str:
        if missing and self._asking:
            return f"Leave {missing} without a reason"
        return f"Look again: {missing} without a reason" if missing else "I am leaving"

    def _on_site(self) -> str:
        arrived = moment_in(self._draft, "arrived")
        if arrived is None:
            return "Arrival was not kept."
        return f"{span_words(self._day.here().now - arrived)} on site"

    def _volume(self, records: list[Standing[Seen]]) -> str:
        readings = [
            s for s in records if isinstance(s.record, GaugeReading) and not s.record.unused
        ]
        for standing in sorted(readings, key=lambda s: s.record.when, reverse=True):
            known = self._day.logbook.known(without=standing.record_id)
            try:
                told = {answer.label: answer for answer in standing.record.tells(known)}
            except UNJUDGED:
                continue
            answer = told.get(VOLUME)
            if answer is not None and answer.value is not None:
                spread = "" if answer.sd is None else f" ± {megalitres(answer.sd):.2f}"
                return f"{megalitres(answer.value):.2f}{spread} ML by gauge {standing.record.point}"
        return ""

    def leave(self) -> Saved | None:
        """Check out, or ask once more for what has no reason; the visit's note goes.

        Raises:
            StrandlineError: if it could not be put on disk; everything stays as it was.
        """
        items = self._items(self._day.seen_here(SEEN_KINDS))
        missing = list(_missing(items))
        if missing and not self._asking:
            self._asking = True
            return None
        left_out = [item for item in items if not item.done]
        self.type("left", self._day.here().now.isoformat())
        self.type("not_done", ", ".join(item.title.replace(",", ";") for item in left_out))
        self.type("not_done_because", _reasons(left_out))
        written = visit_standing(self._day) is not None
        saved = self._draft.save(reason="leaving the site" if written else "", keep_unread=True)
        end_visit(self._day)
        return saved


def _planned(name: str, items: list[Item], records: list[Standing[Seen]]) -> Item | None:
    """Return what a plan names, or None if it stands on the list or is for people to read."""
    kinds = [kind for word, kind in WORDS if word in name.casefold()]
    if not kinds or any(item.kind in kinds for item in items):
        return None
    done = any(isinstance(standing.record, tuple(kinds)) for standing in records)
    title = kinds[0].title if kinds[0] is ShorelineWalk else name
    return Item(kind=kinds[0], point=WHOLE_SITE, title=title, done=done)


def _missing(items: list[Item]) -> list[str]:
    return [item.title for item in items if not item.done and not item.because]


def _reasons(left_out: list[Item]) -> str:
    with_reason = [f"{item.title}: {item.because}" for item in left_out if item.because]
    return "; ".join(with_reason)


def _flagged(records: list[Standing[Seen]], logbook: Logbook, now: datetime) -> list[Flagged]:
    found = []
    for standing in records:
        record = standing.record
        if record.unused or record.kind == "visit":
            continue
        known = logbook.known(without=standing.record_id, now=now)
        try:
            findings = [f for f in record.findings(known) if f.severity is not Severity.NOTE]
        except UNJUDGED:
            continue
        if findings:
            found.append(
                Flagged(
                    record_id=standing.record_id,
                    title=f"{record.title} {record.point}",
                    says=tuple(finding.says for finding in findings),
                    cannot=any(f.severity is Severity.STOP for f in findings),
                )
            )
    return found


def _gauge_again(records: list[Standing[Seen]], items: list[Item]) -> str:
    """Return the gauge to read once more: a walk was made, and none was read after it."""
    walks = [s.record.when for s in records if isinstance(s.record, ShorelineWalk)]
    readings = [s.record for s in records if isinstance(s.record, GaugeReading)]
    if not walks or any(reading.when > max(walks) for reading in readings):
        return ""
    points = [reading.point for reading in readings]
    points += [item.point for item in items if item.kind is GaugeReading]
    return points[0] if points else ""
