"""Arriving at a site: clock check, weather, clean-down, hazards, the plan, what is owed. No screen.

The record of the visit is written here; leaving corrects it.
"""

import dataclasses
from datetime import timedelta
from typing import Final

from mobile.drafts import Saved
from mobile.field_day import FieldDay
from mobile.hazards_near import HazardLine, hazards_near
from mobile.owed import Owed, owed
from mobile.time_words import clock_words, span_words, typed_time
from mobile.trip import shift
from mobile.visiting import (
    ensure_team,
    keep_clock,
    moment_in,
    note,
    note_of,
    planned_here,
    take_time,
    visit_draft,
    visit_standing,
)
from shared_core.errors import UnreadableError
from shared_core.records.base import Finding
from shared_core.records.visit import CLOCK_NOTE_MIN, WEATHER

# Wind by what it does on land, as metres a second in the middle of the step (Beaufort scale on
# land, forces 0, 2, 3, 4 and 6; WMO Guide to Instruments and Methods of Observation, from memory).
WINDS: Final = {
    "0": "Calm",
    "2": "Leaves rustle",
    "4": "Twigs move",
    "7": "Branches move",
    "12": "Big branches move",
}
CLEANED: Final = ("Brushed dry", "Washed", "Washed and disinfected")
YES_NO: Final = {"yes": "Yes", "no": "No"}
AGREES_S: Final = 60.0  # a time typed from a watch is known to the minute


@dataclasses.dataclass(frozen=True, kw_only=True)
class ClockShown:
    """The device's clock beside another."""

    device: str
    other: str  # empty while there is none
    difference: str
    mood: str  # empty, fits or look
    can_take: bool
    taken: bool
    has_fix: bool
    wrong: str  # what is wrong with the time that was typed


@dataclasses.dataclass(frozen=True, kw_only=True)
class ArrivalShown:
    """What the arrival screen shows."""

    clock: ClockShown
    weather: str
    wind: str
    clean: str
    clean_how: str
    hazards: tuple[HazardLine, ...]
    access: str
    plan: tuple[str, ...]
    owed: tuple[Owed, ...]
    findings: tuple[Finding, ...]
    button: str
    here_already: str


class Arrival:
    """One arrival."""

    def __init__(self, day: FieldDay, *, corrections: int = 0) -> None:
        """Take up the visit under way; *corrections* by others have not been read yet."""
        self._day = day
        self._draft = visit_draft(day)
        ensure_team(day, self._draft)
        self._corrections = corrections
        self.watch = ""
        self._wrong = ""

    # the clock -------------------------------------------------------------------------------

    def type_watch(self, text: str) -> None:
        """Take the time that a watch or a receiver in the hand shows, as it is typed."""
        self.watch, self._wrong = text, ""
        device = self._day.clock_shows()
        try:
            other = typed_time(text, device.now, device.offset_min)
        except UnreadableError as error:
            self._wrong = str(error) if text.strip() else ""
        else:
            self._compare(other.isoformat(), "network")

    def use_fix(self) -> None:
        """Take the time of the satellite fix."""
        satellite = self._day.clock_shows().satellite
        if satellite is not None:
            self._compare(satellite.isoformat(), "gnss")

    def _compare(self, other: str, source: str) -> None:
        self._draft.type("clock_shows", self._day.clock_shows().now.isoformat())
        self._draft.type("satellite_time", other)
        note(self._day, checked_with=source)

    @property
    def ahead(self) -> timedelta | None:
        """How far the device's clock is ahead of the other one, if they were compared."""
        shown, other = (
            moment_in(self._draft, "clock_shows"),
            moment_in(self._draft, "satellite_time"),
        )
        return None if shown is None or other is None else shown - other

    def take_other_time(self) -> None:
        """Stamp this visit with the other clock's time; the hours of the trip card move along."""
        if self.ahead is None or self._day.time_from:
            return
        self._move_due(-self.ahead)
        take_time(self._day, self.ahead, str(note_of(self._day).get("checked_with", "network")))

    def take_own_time(self) -> None:
        """Go back to the device's own clock."""
        if self._day.time_from:
            self._move_due(self._day.clock_ahead)
            keep_clock(self._day)

    def _move_due(self, change: timedelta) -> None:
        due = moment_in(self._draft, "due_back")
        if due is not None:
            self._draft.type("due_back", (due + change).isoformat())
        shift(self._day.logbook, change)

    def clock(self) -> ClockShown:
        """Return what the clock check shows now."""
        device, ahead = self._day.clock_shows(), self.ahead
        other, says, mood, can_take = "", "", "", False
        if ahead is not None:
            then = device.now - ahead
            other = clock_words(then, device.now, device.offset_min)
            agrees = abs(ahead).total_seconds() < AGREES_S
            way = "ahead of" if ahead > timedelta(0) else "behind"
            says = f"This device's clock is {span_words(ahead)} {way} the other."
            says = "Both show the same, within a minute." if agrees else says
            can_take = abs(ahead) > timedelta(minutes=CLOCK_NOTE_MIN)
            mood = "look" if can_take and not self._day.time_from else "fits"
        if self._day.time_from:
            says += " This visit keeps the other time."
        return ClockShown(
            device=clock_words(device.now, device.now, device.offset_min),
            other=other,
            difference=says,
            mood=mood,
            can_take=can_take,
            taken=bool(self._day.time_from),
            has_fix=device.satellite is not None,
            wrong=self._wrong,
        )

    # the rest --------------------------------------------------------------------------------

    def choose(self, field: str, word: str) -> None:
        """Take an answer; the same one again takes it back."""
        self._draft.type(field, "" if word == self.text(field) else word)

    def text(self, field: str) -> str:
        """Return what a box of the visit holds."""
        return self._draft.typed.get(field, "")

    def shown(self) -> ArrivalShown:
        """Return what to show now."""
        day = self._day
        plan = planned_here(day)
        items = () if plan is None else (f"{plan.code}: {plan.team}", *plan.items)
        arrived = visit_standing(day)
        sites = [s.record for s in day.sites() if s.record.site == day.site]
        here = ""
        if arrived is not None and arrived.record.arrived is not None:
            device = day.here()
            when = clock_words(arrived.record.arrived, device.now, device.offset_min)
            here = f"Arrived at {when}."
        return ArrivalShown(
            clock=self.clock(),
            weather=WEATHER.get(self.text("weather"), ""),
            wind=_whole(self.text("wind_m_s")),
            clean=self.text("clean_on_arrival"),
            clean_how=self.text("clean_how"),
            hazards=tuple(hazards_near(day)),
            access=sites[0].access or "",
            plan=items,
            owed=tuple(owed(day, self._corrections)),
            findings=tuple(self._draft.findings()),
            button="Keep the changes" if here else "I have arrived",
            here_already=here,
        )

    def arrive(self) -> Saved:
        """Write the visit down.

        Raises:
            StrandlineError: if it could not be put on disk; the draft stays.
        """
        written = visit_standing(self._day) is not None
        if not self.text("arrived"):
            self._draft.type("arrived", self._day.here().now.isoformat())
        return self._draft.save(reason="changed on site" if written else "", keep_unread=True)


def _whole(text: str) -> str:
    return text.removesuffix(".0")
