"""Positions out of NMEA 0183 sentences: RMC for time, place and speed, GGA for the accuracy."""

import math
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import Final

from shared_core.errors import UnreadableError
from shared_core.track import Fix

M_S_PER_KNOT: Final = 1852.0 / 3600.0  # exact, international nautical mile
# Horizontal dilution times a receiver's range error is the radial error; common practice for a
# handheld under open sky.
RANGE_ERROR_M: Final = 3.0
LONGEST_SENTENCE: Final = 200  # characters; the standard has 82, receivers write more


@dataclass(frozen=True, kw_only=True)
class Sentences:
    """The fixes of a file, and the numbers of the lines that could not be used."""

    fixes: tuple[Fix, ...]
    bad_lines: tuple[int, ...]
    without_fix: int  # sentences that say the receiver had no position


class Assembler:
    """Joins the RMC and the GGA of one moment into a fix, whichever of the two comes first."""

    def __init__(self) -> None:
        self.without_fix = 0  # sentences that say the receiver has no position
        self._accuracy: tuple[str, float | None] = ("", None)  # clock of the newest GGA, metres
        self._held: tuple[str, Fix] | None = None  # a fix whose GGA has not come yet

    def feed(self, line: str) -> tuple[Fix, ...]:
        """Take one sentence; return the fixes that are whole now.

        Raises:
            UnreadableError: if the form or the checksum is wrong.
        """
        fields = sentence(line.strip())
        try:
            kind = fields[0][-3:]
            if kind == "GGA":
                return self._take_accuracy(fields[1], _accuracy_m(fields))
            return self._take_place(fields) if kind == "RMC" else ()
        except UnreadableError:
            raise
        except (ValueError, IndexError):
            raise UnreadableError(f"a {fields[0]} sentence with fields missing or odd") from None

    def flush(self) -> tuple[Fix, ...]:
        """Return the fix that still waited for its accuracy."""
        held, self._held = self._held, None
        return (held[1],) if held else ()

    def _take_accuracy(self, clock: str, accuracy_m: float | None) -> tuple[Fix, ...]:
        self._accuracy = (clock, accuracy_m)
        if self._held and self._held[0] == clock:
            return tuple(replace(fix, accuracy_m=accuracy_m) for fix in self.flush())
        return ()

    def _take_place(self, fields: list[str]) -> tuple[Fix, ...]:
        if fields[2] != "A":
            self.without_fix += 1
            return self.flush()
        fix = _fix(fields)
        before = self.flush()
        clock, accuracy_m = self._accuracy
        if clock == fields[1]:
            return (*before, replace(fix, accuracy_m=accuracy_m))
        self._held = (fields[1], fix)
        return before


def read_nmea(data: bytes) -> Sentences:
    """Read a receiver's sentences; lines with a wrong checksum or form are counted, not used.

    Raises:
        UnreadableError: if no RMC sentence holds a position.
    """
    assembler = Assembler()
    fixes: list[Fix] = []
    bad: list[int] = []
    for number, raw in enumerate(data.splitlines(), 1):
        if not raw.strip():
            continue
        try:
            fixes += assembler.feed(raw.decode("ascii", "replace"))
        except UnreadableError:
            bad.append(number)
    fixes += assembler.flush()
    if not fixes:
        raise UnreadableError(
            "no RMC sentence of this file holds a position; a walk needs them for time and date"
        )
    return Sentences(fixes=tuple(fixes), bad_lines=tuple(bad), without_fix=assembler.without_fix)


def sentence(line: str) -> list[str]:
    """Return the fields of a sentence whose checksum holds.

    Raises:
        UnreadableError: if the form or the checksum is wrong.
    """
    body, star, check = line[1:].rpartition("*")
    if line[:1] != "$" or not star or len(line) > LONGEST_SENTENCE or len(check) != 2:
        raise UnreadableError("a sentence is $, fields, * and two hexadecimal digits")
    total = 0
    for character in body.encode("ascii", "replace"):
        total ^= character
    if f"{total:02X}" != check.upper():
        raise UnreadableError(f"the checksum is {total:02X}, the line says {check}")
    return body.split(",")


def _fix(fields: list[str]) -> Fix:
    clock, day = fields[1].partition(".")[0], fields[9]
    if not (len(clock) == len(day) == 6 and (clock + day).isdecimal()):
        raise UnreadableError("time or date has not six digits")
    century = 1900 if int(day[4:]) >= 80 else 2000  # the satellites began in 1980
    fraction = float("0." + (fields[1].partition(".")[2] or "0"))
    time = datetime(
        century + int(day[4:]), int(day[2:4]), int(day[:2]),
        int(clock[:2]), int(clock[2:4]), int(clock[4:]), int(fraction * 1e6), tzinfo=UTC,
    )  # fmt: skip
    speed = float(fields[7]) * M_S_PER_KNOT if fields[7] else None
    if speed is not None and not math.isfinite(speed):
        raise UnreadableError("the speed is no number")
    lat, lon = _degrees(fields[3], fields[4], "NS", 90), _degrees(fields[5], fields[6], "EW", 180)
    return Fix(time=time, lat=lat, lon=lon, speed_m_s=speed)


def _degrees(text: str, side: str, sides: str, most: int) -> float:
    point = text.index(".") if "." in text else len(text)
    minutes = float(text[point - 2 :])
    degrees = int(text[: point - 2]) + minutes / 60.0
    if side not in sides or not side or minutes >= 60 or not 0 <= degrees <= most:
        raise UnreadableError(f"{text} {side} is no position")
    return -degrees if side == sides[1] else degrees


def _accuracy_m(fields: list[str]) -> float | None:
    if fields[6] in ("", "0") or not fields[8]:
        return None
    accuracy_m = round(float(fields[8]) * RANGE_ERROR_M, 2)
    return accuracy_m if math.isfinite(accuracy_m) else None
