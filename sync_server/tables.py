"""CSV files of daily weather and of level loggers, read by their headings.

Nothing of a file is taken in if one of its rows cannot be read; the sentence names the row as a
spreadsheet counts it.
"""

import csv
import io
import math
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone
from typing import Final

from shared_core.errors import UnreadableError

NOTHING: Final = frozenset(("", "-", "na", "n/a", "nan", "null", "none"))
MOST_ROWS: Final = 500_000
M_PER: Final[Mapping[str, float]] = {"m": 1.0, "cm": 0.01, "mm": 0.001}

_RAIN: Final = re.compile(r"(rain|rainfall|precipitation|precip)(mm)?")
_REFERENCE: Final = re.compile(
    r"(eto|et0|referenceevaporation|referenceevapotranspiration|referenceet|reference)(mm)?"
)
_DEPTH: Final = re.compile(r"(depth|waterdepth|depthoverthesensor)(mm|cm|m)?")
_LEVEL: Final = re.compile(r"(level|waterlevel)(mm|cm|m)?")
_TIME: Final = re.compile(
    r"(time|datetime|timestamp)(local|standard)?(utc((plus|minus)?\d{1,4})?)?"
)
_UTC: Final = re.compile(
    r"utc\s*_?(plus|minus|\+|-|\u2212)_?\s*(\d{1,2})(?::?(\d\d))?", re.IGNORECASE
)


@dataclass(frozen=True, kw_only=True)
class Table:
    """A CSV file: headings as written, and rows with the number of the line each ends on."""

    headings: tuple[str, ...]
    rows: tuple[tuple[int, tuple[str, ...]], ...]
    decimal_comma: bool

    def column(self, wanted: re.Pattern[str]) -> int | None:
        """Return the place of the one column whose heading fits.

        Raises:
            UnreadableError: if several do.
        """
        found = [i for i, name in enumerate(self.headings) if wanted.fullmatch(plain(name))]
        if len(found) > 1:
            both = " and ".join(repr(self.headings[i]) for i in found[:2])
            raise UnreadableError(f"the columns {both} mean the same; keep one of them")
        return found[0] if found else None


@dataclass(frozen=True, kw_only=True)
class Weather:
    """Days with reference evaporation [mm] and rain [mm], as a weather series holds them."""

    days: tuple[tuple[date, float | None, float | None], ...]


@dataclass(frozen=True, kw_only=True)
class Logged:
    """What a logger kept: depth over its sensor [m], or the level [m] if ``is_level``."""

    values: tuple[tuple[datetime, float | None], ...]
    is_level: bool


def plain(heading: str) -> str:
    """Return a heading without what people write differently: case, units' brackets, spaces."""
    return re.sub(r"[\W_]", "", heading.lower())


def read_table(data: bytes) -> Table:
    """Read a CSV file with a row of headings; commas, semicolons or tabs between the values.

    Raises:
        UnreadableError: if it is no text, has no headings, or a row has more or fewer values.
    """
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UnreadableError(
            f"the file is not UTF-8 text (byte {error.start}); save it as CSV UTF-8"
        ) from None
    first = next((line for line in text.splitlines() if line.strip()), "")
    delimiter = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
    rows: list[tuple[int, tuple[str, ...]]] = []
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                rows.append((reader.line_num, tuple(cell.strip() for cell in cells)))
            if len(rows) > MOST_ROWS:
                raise UnreadableError(f"the file has more than {MOST_ROWS:,} rows; split it")
    except csv.Error as error:
        raise UnreadableError(f"row {reader.line_num} cannot be read: {error}") from None
    if not rows:
        raise UnreadableError("the file is empty; a row of headings and rows of values are needed")
    headings = rows[0][1]
    for number, row in rows[1:]:
        if len(row) != len(headings):
            raise UnreadableError(
                f"row {number} has {len(row)} values, the headings are {len(headings)}"
            )
    return Table(headings=headings, rows=tuple(rows[1:]), decimal_comma=delimiter != ",")


def is_weather(table: Table) -> bool:
    """Tell whether a table is daily weather."""
    has_values = table.column(_RAIN) is not None or table.column(_REFERENCE) is not None
    return _day_reader(table) is not None and has_values


def is_logged(table: Table) -> bool:
    """Tell whether a table is a logger's series."""
    has_values = table.column(_DEPTH) is not None or table.column(_LEVEL) is not None
    return table.column(_TIME) is not None and has_values


def weather(table: Table) -> Weather:
    """Read daily weather; a value that is missing stays missing.

    Raises:
        UnreadableError: naming the row, if a day or a value cannot be read or a day stands twice.
    """
    read_day = _day_reader(table)
    rain, reference = table.column(_RAIN), table.column(_REFERENCE)
    if read_day is None or (rain is None and reference is None):
        raise UnreadableError(no_columns(table))
    seen: dict[date, int] = {}
    days = []
    for number, cells in table.rows:
        day = read_day(number, cells)
        if day in seen:
            raise UnreadableError(f"row {number}: {day} stands in row {seen[day]} already")
        seen[day] = number
        fallen = _value(table, number, cells, rain)
        if fallen is not None and fallen < 0:
            raise UnreadableError(f"row {number}: rain of {fallen:g} mm; 0 or more is needed")
        days.append((day, _value(table, number, cells, reference), fallen))
    if not days:
        raise UnreadableError("the file has headings but no day")
    return Weather(days=tuple(sorted(days, key=lambda row: row[0])))


def _day_reader(table: Table) -> Callable[[int, tuple[str, ...]], date] | None:
    whole = table.column(re.compile(r"date|day|dayending0?900"))
    parts = [table.column(re.compile(word)) for word in ("year", "month", "day")]
    year, month, day = parts
    if year is not None and month is not None and day is not None:
        places = (year, month, day)
        return lambda number, cells: _day(number, "-".join(cells[i].zfill(2) for i in places))
    if whole is None:
        return None
    place = whole
    return lambda number, cells: _day(number, cells[place])


def _day(number: int, text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise UnreadableError(
            f"row {number}: {text[:40]!r} is no date such as 2023-08-21"
        ) from None


def logged(table: Table, offset_min: float | None) -> Logged:
    """Read a logger's series.

    Args:
        table: the file.
        offset_min: the logger's clock against UTC [min], for times that do not say it themselves.

    Raises:
        UnreadableError: naming the row, if a time or value cannot be read or times do not rise.
    """
    time, depth, level = (table.column(wanted) for wanted in (_TIME, _DEPTH, _LEVEL))
    values_in = depth if depth is not None else level
    if time is None or values_in is None:
        raise UnreadableError(no_columns(table))
    factor = _metres_per_unit(table.headings[values_in])
    zone = _zone(table.headings[time], offset_min)
    found: list[tuple[datetime, float | None]] = []
    for number, cells in table.rows:
        moment = _moment(number, cells[time], zone)
        if found and moment <= found[-1][0]:
            raise UnreadableError(f"row {number}: {cells[time]} is not after the row before it")
        value = _value(table, number, cells, values_in)
        found.append((moment, None if value is None else round(value * factor, 6)))
    if not found:
        raise UnreadableError("the file has headings but no value")
    return Logged(values=tuple(found), is_level=depth is None)


def _metres_per_unit(heading: str) -> float:
    match = _DEPTH.fullmatch(plain(heading)) or _LEVEL.fullmatch(plain(heading))
    return M_PER[match[2] or "m"] if match else 1.0


def _zone(heading: str, offset_min: float | None) -> timezone | None:
    match = _UTC.search(heading)
    if match:
        minutes = int(match[2]) * 60 + int(match[3] or 0)
        offset_min = float(minutes if match[1] in ("plus", "+") else -minutes)
    elif "utc" in heading.lower():
        return timezone(timedelta(0))
    return None if offset_min is None else timezone(timedelta(minutes=offset_min))


def _moment(number: int, text: str, zone: timezone | None) -> datetime:
    try:
        moment = datetime.fromisoformat(text)
    except ValueError:
        raise UnreadableError(
            f"row {number}: {text[:40]!r} is no time such as 2023-08-21 10:00"
        ) from None
    if moment.tzinfo is None:
        if zone is None:
            raise UnreadableError(
                f"row {number}: {text} lacks its offset; say how far the logger's clock is from"
                " UTC in minutes"
            )
        moment = moment.replace(tzinfo=zone)
    return moment.astimezone(UTC)


def _value(table: Table, number: int, cells: Sequence[str], place: int | None) -> float | None:
    if place is None or cells[place].lower() in NOTHING:
        return None
    text = cells[place].replace("\u2212", "-")
    if table.decimal_comma:
        text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        value = math.nan
    if not math.isfinite(value) or "_" in text:
        raise UnreadableError(
            f"row {number}, {table.headings[place]}: {cells[place][:40]!r} is no number"
        )
    return value


def no_columns(table: Table) -> str:
    """Say which headings are needed, and which the file has."""
    return (
        "the headings needed are date with rain_mm or eto_mm, or time with depth_m or level_m;"
        f" this file has {', '.join(table.headings)[:200]}"
    )
