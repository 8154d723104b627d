"""Sets what came out of the season beside what is known of it: findings and megalitres."""

import dataclasses
import json
import textwrap
from collections.abc import Iterator, Sequence
from datetime import datetime
from typing import Any, Final

from demo_visits import scenario
from demo_visits.coordinator import Told
from demo_visits.planted import PlantedError
from demo_visits.play import Season
from demo_visits.season import PLANTED, act_named
from demo_visits.truth import EXPECTED_PERIODS, EXPECTED_SEASON, TRUE_PERIODS, TRUE_SEASON
from shared_core.logbook import Logbook
from shared_core.records.base import Finding
from shared_core.units import M3_PER_MEGALITRE, MM_PER_M, SECONDS_PER_DAY

PERIOD_WITHIN: Final = 0.3  # ML
SEASON_WITHIN: Final = 0.5  # ML
SD_WITHIN: Final = 1.0  # ML
WIDTH: Final = 130  # of a line on the terminal
EXACT: Final = 0.005  # ML, half the last printed digit
# A gap in the log shows on the next reading, a stuck meter on the hours, a double at the second.
SHOWS_ALSO_ON: Final = {
    "E05": ("2023-08-27 meter_reading M1",),
    "E11": ("2023-10-21 pump_run PU1", "2023-10-22 pump_run PU1"),
    "E27": ("V11 rain_reading RG",),
}
# Which findings answer to which error; any other finding on the record does not count.
ANSWERS_TO: Final[dict[str, tuple[str, ...]]] = {
    "E01": ("unit-slip",),
    "E02": ("one-tenth", "gauge-pair"),
    "E03": ("digit-swap",),
    "E04": ("meter-rolled",),
    "E05": ("log-gap",),
    "E06": ("hours-without-water",),
    "E07": ("walk-sector",),
    "E08": ("wrong-gauge",),
    "E09": ("point-distance", "bearing-missing"),
    "E10": ("clock",),
    "E11": ("meter-flat", "hours-without-water"),
    "E12": ("unit-times-ten",),
    "E13": ("meter-start-missing",),
    "E14": ("walk-gap",),
    "E15": ("gauge-pair",),
    "E16": ("one-tenth", "level-expected", "teams"),
    "E17": ("copied",),
    "E18": ("digit-swap",),
    "E19": ("plant-look-alike", "plant-native"),
    "E20": ("plot-not-found",),
    "E21": ("bore-mark",),
    "E22": ("logger-blank",),
    "E23": ("zero-or-below",),
    "E24": ("visit-missing",),
    "E25": ("site-distance",),
    "E26": ("one-metre", "plate-range"),
    "E27": ("rain-neighbour-day",),
    "E28": ("ec-unit",),
    "E29": ("disputed",),
}


@dataclasses.dataclass(frozen=True, kw_only=True)
class Flagged:
    """Whether a planted error was flagged, to whom, and what became of its record."""

    error: PlantedError
    on_the_device: tuple[Finding, ...]
    shown_to: str
    in_the_office: tuple[Finding, ...]
    raw_kept: bool
    corrected: bool

    @property
    def held(self) -> bool:
        """Flagged by somebody, raw text kept, and decided with a reason."""
        return bool(self.on_the_device or self.in_the_office) and self.raw_kept and self.corrected


def flagged(season: Season, central: Logbook) -> list[Flagged]:
    """Return for each planted error what was shown to whom, and whether its raw text is kept."""
    return [_flagged(error, season, central) for error in PLANTED]


def _flagged(error: PlantedError, season: Season, central: Logbook) -> Flagged:
    told = season.told
    codes = ANSWERS_TO[error.id]
    keys = _acts_that_show(error)
    at_the_gauge = [
        (key, finding)
        for key in keys
        for finding in told.at_the_gauge.get(key, [])
        if finding.code in codes
    ]
    in_office = [f for f in told.in_the_office.get(error.id, []) if f.code in codes]
    people = dict.fromkeys(act_named(key).who[0] for key, _ in at_the_gauge)
    devices = dict.fromkeys(act_named(key).device for key, _ in at_the_gauge)
    return Flagged(
        error=error,
        on_the_device=tuple(finding for _, finding in at_the_gauge),
        shown_to=", ".join(people) + (f" ({', '.join(devices)})" if devices else ""),
        in_the_office=tuple(in_office),
        raw_kept=all(_raw_kept(key, told, central) for key in error.acts),
        corrected=all(_decided(error, key, told, central) for key in error.acts),
    )


def _acts_that_show(error: PlantedError) -> Sequence[str]:
    """Return the acts on which an error shows: its own, and those beside it."""
    return (*error.acts, *SHOWS_ALSO_ON.get(error.id, ()))


def _raw_kept(key: str, told: Told, central: Logbook) -> bool:
    """Tell whether the first line about a record still holds every text that was typed."""
    act = act_named(key)
    lines = [
        entry
        for entry in central.history(told.written[key])
        if entry.device == act.device and entry.body is not None
    ]
    if not lines:
        return False
    body: dict[str, Any] = dict(lines[0].body or {})
    kept = body.get("as_typed")
    if kept is not None:
        return all(kept.get(name) == text for name, text in act.typed.items() if text.strip())
    return all(name in body for name, text in act.typed.items() if text.strip())


def _decided(error: PlantedError, key: str, told: Told, central: Logbook) -> bool:
    """Tell whether somebody decided about the record, with a reason, unless there was nothing to do."""
    about = [c for c in error.corrections if key in c.acts]
    if not about:
        return True
    notes = {entry.note for entry in central.history(told.written[key])}
    return all(correction.reason in notes for correction in about)


def flagged_lines(found: Sequence[Flagged]) -> Iterator[str]:
    """Yield the list of planted errors as a person reads it."""
    for flag in found:
        mark = "ok" if flag.held else "MISSED"
        yield f"{flag.error.id} {mark:<6} {flag.error.what}"
        if flag.on_the_device:
            yield from _wrapped(f"{flag.shown_to} was shown: {flag.on_the_device[0].says}")
        if flag.in_the_office:
            yield from _wrapped(f"the coordinator's list: {flag.in_the_office[0].says}")


def _wrapped(says: str) -> list[str]:
    return textwrap.wrap(says, WIDTH, initial_indent=" " * 11, subsequent_indent=" " * 13)


# the balance -----------------------------------------------------------------------------------


@dataclasses.dataclass(frozen=True, kw_only=True)
class Compared:
    """One figure of the balance beside what it should be [ML]."""

    what: str
    got: float
    should_be: float
    within: float

    @property
    def held(self) -> bool:
        """Whether it is near enough."""
        return abs(self.got - self.should_be) <= self.within


def compared(balance: dict[str, Any]) -> list[Compared]:
    """Compare a balance, as the server's command prints it, with the scenario's expectation."""
    periods = {period["name"]: period for period in balance["periods"]}
    found = [
        Compared(
            what=f"{expected.name} residual",
            got=_megalitres(periods.get(expected.name), "residual"),
            should_be=expected.residual,
            within=PERIOD_WITHIN,
        )
        for expected in EXPECTED_PERIODS
    ]
    season = balance["season"]
    should = EXPECTED_SEASON
    estimated = season["estimated_megalitres"]
    metered = _megalitres(season, "pumped") - estimated
    figures = (
        ("season residual", _megalitres(season, "residual"), should.residual, SEASON_WITHIN),
        ("season uncertainty", _sd(season, "residual"), should.residual_sd, SD_WITHIN),
        ("metered", metered, should.metered, EXACT),
        ("estimated", estimated, should.estimated, EXACT),
    )
    return found + [Compared(what=w, got=g, should_be=s, within=d) for w, g, s, d in figures]


def _megalitres(period: dict[str, Any] | None, term: str) -> float:
    return float("nan") if period is None else float(period["terms"][term]["megalitres"])


def _sd(period: dict[str, Any], term: str) -> float:
    return float(period["terms"][term]["sd_megalitres"])


def balance_lines(balance: dict[str, Any]) -> Iterator[str]:
    """Yield the balance by period beside the scenario's two tables."""
    yield "            pumped   rain    evap  storage   residual ± sd   mm/day | expected      | truth: soaked"
    expected = {row.name: (row.residual, row.residual_sd) for row in EXPECTED_PERIODS}
    expected["season"] = (EXPECTED_SEASON.residual, EXPECTED_SEASON.residual_sd)
    truth = {row.name: row.seepage + row.uptake for row in (*TRUE_PERIODS, TRUE_SEASON)}
    truth["season"] = TRUE_SEASON.seepage + TRUE_SEASON.uptake
    for row in [*balance["periods"], balance["season"]]:
        name = row["name"]
        should, should_sd = expected.get(name, (float("nan"), float("nan")))
        yield (
            f"{name:<8} {_megalitres(row, 'pumped'):9.2f} {_megalitres(row, 'rain'):6.2f}"
            f" {_megalitres(row, 'evaporation'):7.2f} {round(_megalitres(row, 'storage change'), 2) + 0.0:8.2f}"
            f" {_megalitres(row, 'residual'):8.2f} ± {_sd(row, 'residual'):5.2f}"
            f" {_mm_day(row):8.1f} | {should:6.1f} ± {should_sd:4.1f} | {truth[name]:8.2f}"
        )


def _mm_day(row: dict[str, Any]) -> float:
    span = datetime.fromisoformat(row["end"]) - datetime.fromisoformat(row["start"])
    covered = row["mean_area_m2"] * span.total_seconds() / SECONDS_PER_DAY
    return _megalitres(row, "residual") * M3_PER_MEGALITRE * MM_PER_M / covered if covered else 0.0


def summary_lines(balance: dict[str, Any]) -> Iterator[str]:
    """Yield the season in words."""
    season = balance["season"]
    pumped = _megalitres(season, "pumped")
    estimated = season["estimated_megalitres"]
    yield (
        f"Pumped {pumped:.2f} ML ({100 * pumped / scenario.ALLOCATED_MEGALITRES:.1f} % of the"
        f" {scenario.ALLOCATED_MEGALITRES:.0f} ML allocated): metered {pumped - estimated:.2f},"
        f" estimated {estimated:.2f}."
    )
    shares = balance["shares_pct"]
    yield (
        f"Of all inputs: pumped {shares['pumped']:.1f} %, rain {shares['rain']:.1f} %;"
        f" evaporated {shares['evaporation']:.1f} %, soaked away and taken up"
        f" {shares['residual']:.1f} %."
    )


def as_json(found: Sequence[Flagged], figures: Sequence[Compared], digest: str, broke: int) -> str:
    """Return what was compared, for a machine."""
    return json.dumps(
        {
            "digest": digest,
            "broke": broke,
            "planted": {flag.error.id: flag.held for flag in found},
            "figures": [dataclasses.asdict(figure) | {"held": figure.held} for figure in figures],
        },
        indent=1,
    )
