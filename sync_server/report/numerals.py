"""How the report writes quantities and times."""

from datetime import datetime, timedelta, timezone
from typing import Final

from shared_core.uncertainty import Uncertain

MINUS: Final = "\u2212"
TIED: Final = "\u00a0"  # a blank at which no line breaks
NOTHING: Final = 6  # decimals at which a sum that cancels is nothing
FINE_SD: Final = 0.95  # above it a second decimal says nothing (GUM 7.2.6: two figures at most)


def plain(value: float, decimals: int, *, sign: bool = False) -> str:
    """Write a number with a true minus sign and no minus before zero."""
    text = f"{value:+.{decimals}f}" if sign else f"{value:.{decimals}f}"
    if float(text) == 0:
        return text.lstrip("+-")
    return text.replace("-", MINUS)


def measured(value: float, sd: float, *, decimals: int | None = None, sign: bool = False) -> str:
    """Write a value ± one standard uncertainty; a value that is exactly nothing is 0."""
    if round(value, NOTHING) == 0 and round(sd, NOTHING) == 0:
        return "0"
    places = (1 if sd >= FINE_SD else 2) if decimals is None else decimals
    return f"{plain(value, places, sign=sign)}{TIED}±{TIED}{plain(sd, places)}"


def uncertain(value: Uncertain, *, decimals: int) -> str:
    """Write an uncertain value with fixed decimals."""
    return measured(value.value, value.sd, decimals=decimals)


def counted(number: int, word: str) -> str:
    """Write how many there are of something."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def percent(part: float, whole: float, decimals: int = 1) -> str:
    """Write a part as percent of a whole, a dash where there is no whole."""
    return f"{plain(100.0 * part / whole, decimals)}{TIED}%" if whole else "–"


class SiteClock:
    """Writes times as the site's standard time shows them."""

    def __init__(self, offset_min: int) -> None:
        self.offset_min = offset_min
        self._zone = timezone(timedelta(minutes=offset_min))

    @property
    def name(self) -> str:
        """The offset, such as UTC+10:00."""
        hours, minutes = divmod(abs(self.offset_min), 60)
        return f"UTC{'-' if self.offset_min < 0 else '+'}{hours:02d}:{minutes:02d}"

    def local(self, at: datetime) -> datetime:
        """Return a time in site standard time."""
        return at.astimezone(self._zone)

    def moment(self, at: datetime) -> str:
        """Write date and time."""
        return f"{self.local(at):%Y-%m-%d %H:%M}"

    def span(self, start: datetime, end: datetime) -> str:
        """Write first and last day on two lines."""
        return f"{self.day(start)} –\n{self.day(end)}"

    def day(self, at: datetime) -> str:
        """Write the date."""
        return f"{self.local(at):%Y-%m-%d}"
