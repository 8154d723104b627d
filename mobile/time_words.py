"""Times and spans as a person says them, and times as a person types them."""

import re
from datetime import date, datetime, time, timedelta, timezone
from typing import Final

from shared_core.errors import UnreadableError

_TYPED: Final = re.compile(
    r"(?:(?P<day>\d{4}-\d{2}-\d{2})[ T])?(?P<hour>\d{1,2})[:.](?P<minute>\d{2})(?::(?P<second>\d{2}))?"
)
_HALF_DAY: Final = timedelta(hours=12)


def local(moment: datetime, offset_min: int) -> datetime:
    """Return a moment as the clock on site shows it."""
    return moment.astimezone(timezone(timedelta(minutes=offset_min)))


def clock_words(moment: datetime, now: datetime, offset_min: int) -> str:
    """Say a moment as a clock on site shows it, with the day unless it is today."""
    here = local(moment, offset_min)
    away = (here.date() - local(now, offset_min).date()).days
    day = {0: "", 1: " tomorrow", -1: " yesterday"}.get(away, f" on {_day(here.date())}")
    return f"{here:%H:%M}{day}"


def _day(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b %Y}"


def span_words(span: timedelta) -> str:
    """Say how long something is, in the two units that matter."""
    seconds = round(abs(span).total_seconds())
    if seconds < 60:
        return f"{seconds} s"
    minutes = round(seconds / 60)
    if minutes < 60:
        return f"{minutes} min"
    hours, minutes = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    days = round(hours / 24)
    return f"{days} days" if days < 400 else f"{days} days ({days / 365.25:.1f} years)"


def typed_time(text: str, now: datetime, offset_min: int, *, ahead: bool = False) -> datetime:
    """Read a time of day as typed on site, such as 17:30, or one with its date before it.

    Args:
        text: what was typed.
        now: time now; a time without a date is taken on the day that brings it nearest.
        offset_min: of the clock on site [min].
        ahead: take the next such time instead of the nearest.

    Raises:
        UnreadableError: if it is no time.
    """
    found = _TYPED.fullmatch(text.strip())
    wanted = f"{text.strip()!r} is no time; type it as 17:30, or as 2026-03-02 17:30"
    if found is None:
        raise UnreadableError(wanted)
    here = local(now, offset_min)
    try:
        day = date.fromisoformat(found["day"]) if found["day"] else here.date()
        time_of_day = time(int(found["hour"]), int(found["minute"]), int(found["second"] or 0))
        moment = datetime.combine(day, time_of_day, here.tzinfo)
    except ValueError:
        raise UnreadableError(wanted) from None
    if found["day"]:
        return moment
    if ahead:
        return moment if moment > here else moment + timedelta(days=1)
    if moment - here > _HALF_DAY:
        return moment - timedelta(days=1)
    return moment + timedelta(days=1) if here - moment > _HALF_DAY else moment
