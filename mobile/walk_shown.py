"""A walk in words: figures, how the receiver is, how far the start is, and which keys there are."""

import dataclasses
from typing import Final

from mobile.device.receivers import SAYS, State
from mobile.entering import Button, Line, Mood, Result, Seen
from mobile.walk_live import closing_words
from mobile.walk_track import Stretch
from mobile.walking import REASONS, Phase, Walking
from shared_core.records.shoreline_walk import STRETCH_COLUMNS
from shared_core.track import POOR_ACCURACY_M
from shared_core.units import hectares

HOW: Final = {"outside": "Outside the water", "inside": "In the water", "not_walked": "Not walked"}
METRES: Final = ("1", "2", "3", "5", "10", "20")
OFF_BY: Final = STRETCH_COLUMNS[2].label
NO_RECEIVER: Final = (
    "No receiver found. Plug one in, start gpsd, or put a GPX or NMEA file into the folder"
    " “tracks” beside the logbook."
)
READ_GAUGE: Final = "Read the gauge first: the walk is then held against the rating."
READ_AFTER: Final = "Read the gauge again now, then keep the walk."


@dataclasses.dataclass(frozen=True, kw_only=True)
class KeyShown:
    """One key under the walk."""

    send: str
    words: str
    chosen: bool = False


@dataclasses.dataclass(frozen=True, kw_only=True)
class WalkShown:
    """What the walk screen shows beside the drawn track."""

    sub: str
    results: tuple[Result, ...]
    receiver: Line
    lines: str
    question: str
    keys: tuple[KeyShown, ...]
    button: Button
    seen: Seen | None  # of a walk that is finished


def walk_shown(walking: Walking) -> WalkShown:
    """Return what to show of a walk now."""
    seen = walking.seen()
    question, keys = _keys(walking, seen)
    return WalkShown(
        sub=_sub(walking),
        results=_results(walking),
        receiver=_receiver(walking),
        lines="\n".join(line for line in _lines(walking) if line),
        question=question,
        keys=keys,
        button=seen.button if seen else walking.button(),
        seen=seen,
    )


def _sub(walking: Walking) -> str:
    level_m, _ = walking.rated()
    level = "no level read yet" if level_m is None else f"level {level_m:.3f} m"
    return f"{walking.site}, {level}"


def _results(walking: Walking) -> tuple[Result, ...]:
    measure, (_, rated_m2) = walking.live.measure, walking.rated()
    if measure is None:
        return ()
    area = Result(
        label="Area so far" if measure.closing.needs_mark else "Area",
        figure=f"{hectares(measure.area_m2):.2f}",
        unit="ha",
        spread=f"± {hectares(measure.area_sd_m2):.2f}",
    )
    if not rated_m2:
        return (area, Result(label="Of the rating", says="No rating at this level"))
    rating = Result(
        label="Of the rating",
        figure=f"{measure.area_m2 / rated_m2:.2f}",
        unit=f"of {hectares(rated_m2):.2f} ha",
    )
    return (area, rating)


# the receiver --------------------------------------------------------------------------------


def _receiver(walking: Walking) -> Line:
    if walking.fault:
        return Line(mood=Mood.CANNOT, says=walking.fault)
    if walking.phase is Phase.FINISHED:
        return Line(mood=Mood.NOTE, says="Recording has ended. Every fix is on disk.")
    if walking.phase is Phase.READY:
        return Line(mood=Mood.NOTE, says=_before(walking))
    if walking.phase is Phase.PAUSED:
        return Line(mood=Mood.NOTE, says="Paused: nothing is recorded.")
    state = walking.state()
    bad = walking.source.bad if walking.source else 0
    unread = f" {bad} lines could not be read." if bad else ""
    if state is not State.FIX:
        mood = Mood.NOTE if state is State.ENDED else Mood.LOOK
        return Line(mood=mood, says=f"{SAYS[state]}.{unread}")
    return _received(walking, unread)


def _before(walking: Walking) -> str:
    level_m, _ = walking.rated()
    return READ_GAUGE if level_m is None else "Boots at the edge of standing water all the way."


def _received(walking: Walking, unread: str) -> Line:
    accuracy_m = walking.newest.accuracy_m if walking.newest else None
    every_s = walking.track.every_s
    pace = "" if every_s is None else f", a fix every {every_s:.1f} s"
    if accuracy_m is None:
        return Line(mood=Mood.FITS, says=f"Receiving{pace}.{unread}")
    if accuracy_m > POOR_ACCURACY_M:
        says = f"± {accuracy_m:.0f} m is poor{pace}. Wait for a better fix.{unread}"
        return Line(mood=Mood.LOOK, says=says)
    return Line(mood=Mood.FITS, says=f"± {accuracy_m:.0f} m{pace}.{unread}")


# the way -------------------------------------------------------------------------------------


def _lines(walking: Walking) -> list[str]:
    track = walking.track
    lines = []
    if track.count and walking.phase is not Phase.FINISHED:
        what = "island" if track.on_island else "walk"
        lines += [closing_words(track.line, what), _counted(walking)]
    if track.open_stretch:
        lines.append(f"Now off the waterline: {_stretch_words(track.open_stretch)}.")
    if walking.phase is Phase.FINISHED:
        lines.append(_gauge_after(walking))
    if walking.unread:
        lines.append(f"{walking.unread} lines of the walk's file could not be read.")
    return lines


def _counted(walking: Walking) -> str:
    track = walking.track
    islands = len(track.islands)
    walked = "" if not islands else f", {islands} island{'s' if islands > 1 else ''} walked"
    seen = "" if not track.seen_only else f", {track.seen_only} seen and not walked"
    poor = "" if not track.poor else f", {track.poor} worse than 10 m"
    return f"{track.count} fixes{poor}, {track.shore.length_m:.0f} m{walked}{seen}."


def _stretch_words(stretch: Stretch) -> str:
    how = HOW[stretch.how].lower()
    return how if stretch.offset_m is None else f"{how}, {stretch.offset_m:g} m"


def _gauge_after(walking: Walking) -> str:
    begun = walking.track.begun
    if begun is None or begun.gauge is None or walking.gauge_read_after:
        return ""
    return READ_AFTER


# keys ----------------------------------------------------------------------------------------


def _keys(walking: Walking, seen: Seen | None) -> tuple[str, tuple[KeyShown, ...]]:
    if walking.asking:
        return _asked(walking)
    if walking.phase is Phase.READY:
        return _choices(walking)
    if seen is not None:
        return _finished(walking, seen)
    return "", _walking(walking)


def _asked(walking: Walking) -> tuple[str, tuple[KeyShown, ...]]:
    cancel = KeyShown(send="cancel", words="Back")
    if walking.asking == "discard":
        yes = KeyShown(send="discard!", words="Yes, throw it away")
        question = f"Throw this walk away? Its {walking.track.count} fixes are then gone."
        return question, (KeyShown(send="cancel", words="No, keep it"), yes)
    if walking.asking == "metres":
        metres = tuple(KeyShown(send=f"metres {each}", words=f"{each} m") for each in METRES)
        return f"{OFF_BY}", (*metres, KeyShown(send="metres", words="Not known"), cancel)
    hows = tuple(KeyShown(send=f"how {how}", words=words) for how, words in HOW.items())
    return "How do you walk from here on?", (*hows, cancel)


def _choices(walking: Walking) -> tuple[str, tuple[KeyShown, ...]]:
    found = tuple(
        KeyShown(send=f"receiver {each.name}", words=each.says, chosen=each.name == walking.chosen)
        for each in walking.choices
    )
    look = KeyShown(send="look", words="Look again")
    return ("Which receiver?" if found else NO_RECEIVER), (*found, look)


def _walking(walking: Walking) -> tuple[KeyShown, ...]:
    track = walking.track
    if walking.phase is Phase.PAUSED:
        return (
            KeyShown(send="on", words="Go on", chosen=True),
            KeyShown(send="discard", words="Throw away"),
        )
    pause = KeyShown(send="pause", words="Pause")
    if track.on_island:
        return (pause, KeyShown(send="shore", words="Back on the shore", chosen=True))
    off = (
        KeyShown(send="back", words="Back at the waterline", chosen=True)
        if track.open_stretch
        else KeyShown(send="off", words="Off the waterline")
    )
    island = KeyShown(send="island", words="Walk an island")
    seen = KeyShown(send="seen 1", words="Island seen, not walked")
    return (pause, off, island, seen)


def _finished(walking: Walking, seen: Seen) -> tuple[str, tuple[KeyShown, ...]]:
    on = KeyShown(send="on", words="Walk on")
    if seen.asking:
        reasons = tuple(
            KeyShown(send=f"reason {reason}", words=reason, chosen=reason == seen.reason)
            for reason in REASONS
        )
        return "Keep it because", (*reasons, on)
    side = walking.track.water_side
    sides = tuple(
        KeyShown(send=f"side {each}", words=f"On my {each}", chosen=each == side)
        for each in ("left", "right")
    )
    fewer = (KeyShown(send="seen -1", words="No island seen"),) if walking.track.seen_only else ()
    return "As you walked, the water was", (
        *sides,
        *fewer,
        on,
        KeyShown(send="discard", words="Throw away"),
    )
