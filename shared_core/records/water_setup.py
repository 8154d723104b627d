"""What turns levels into water: rating table, evaporation, weather, limits of the checks."""

import difflib
import functools
from collections.abc import Iterator
from typing import Any, ClassVar, Final

from shared_core.field_kinds import Day, Number, Text
from shared_core.fields import choice, number, record, rows, text
from shared_core.rating import Rating
from shared_core.records.base import Finding, Known, SetUp, Severity
from shared_core.records.checks import LIMITS, is_limit

RATING_COLUMNS: Final = (
    Number(label="Level", unit="m", name="level_m", decimals=3),
    Number(label="Area", unit="m2", name="area_m2", decimals=0),
    Number(label="Volume", unit="m3", name="volume_m3", decimals=0),
)
WEATHER_COLUMNS: Final = (
    Day(label="Day ending 09:00", name="day"),
    Number(
        label="Reference evaporation", unit="mm", name="reference_mm", decimals=1, required=False
    ),
    Number(label="Rain", unit="mm", name="rain_mm", decimals=1, required=False),
)
LIMIT_COLUMNS: Final = (
    Text(label="Check", name="check", longest=60),
    Number(label="Limit", name="limit", decimals=3),
    Text(label="Why", name="why", longest=300, required=False),
)
ORIGINS: Final = {"terrain model": "Terrain model", "walks": "Walks", "power form": "Power form"}


@record
class RatingTable(SetUp):
    """Level, area and volume of a site, one version."""

    kind: ClassVar[str] = "rating_table"
    title: ClassVar[str] = "Rating table"

    version: str = text("Version", longest=60)
    origin: str = choice("Made from", ORIGINS)
    values: tuple[tuple[Any, ...], ...] = rows("Values", RATING_COLUMNS)
    bias_sd_m: float = number(
        "Bias of the ground model (1 sd)", "m", (0.0, 0.3), default=0.0, decimals=3
    )
    fit_fraction: float = number(
        "Uncertainty of a storage change (1 sd, share)", "", (0.0, 0.3), default=0.03, decimals=3
    )

    @property
    def rating(self) -> Rating:
        """The table as something that answers.

        Raises:
            UnreadableError: if its rows do not rise.
        """
        return _rating(self.values, f"{self.version}", self.origin)


@functools.lru_cache(maxsize=32)
def _rating(values: tuple[tuple[float, ...], ...], version: str, origin: str) -> Rating:
    return Rating.from_rows(values, version=version, origin=origin)


@record
class EvaporationTable(SetUp):
    """Mean reference evaporation by month, for use where there is no daily weather."""

    kind: ClassVar[str] = "evaporation_table"
    title: ClassVar[str] = "Evaporation by month"

    monthly_mm_per_day: tuple[tuple[Any, ...], ...] = rows(
        "January to December",
        (Number(label="Reference evaporation", unit="mm/day", name="reference_mm", decimals=1),),
    )
    open_water_factor: float = number("Open water to reference", "", (0.5, 1.4), default=1.05)
    sd_fraction: float = number("Uncertainty (1 sd, share)", "", (0.0, 0.5), default=0.20)


@record
class WeatherSeries(SetUp):
    """Daily weather as taken in from a file."""

    kind: ClassVar[str] = "weather_series"
    title: ClassVar[str] = "Daily weather"

    source: str = text("Source", longest=200)
    file_sha256: str | None = text("Fingerprint of the file", default=None, longest=64)
    values: tuple[tuple[Any, ...], ...] = rows("Days", WEATHER_COLUMNS)
    open_water_factor: float = number("Open water to reference", "", (0.5, 1.4), default=1.05)
    sd_fraction: float = number("Uncertainty (1 sd, share)", "", (0.0, 0.5), default=0.10)


@record
class Limits(SetUp):
    """Limits of the checks at this site, where they differ from the defaults."""

    kind: ClassVar[str] = "limits"
    title: ClassVar[str] = "Limits of the checks"

    values: tuple[tuple[Any, ...], ...] = rows("Limits", LIMIT_COLUMNS)

    def findings(self, known: Known) -> Iterator[Finding]:
        yield from super().findings(known)
        for name, _, _ in self.values:
            if is_limit(str(name).casefold()):
                continue
            near = difflib.get_close_matches(str(name).casefold(), LIMITS, n=1)
            yield Finding(
                code="limit-unknown",
                severity=Severity.ASK,
                field="values",
                saw=f"No check reads a limit named '{name}'.",
                expected=f"'{near[0]}' is one." if near else "",
                do="Write the name as it stands in the table of checks.",
            )
