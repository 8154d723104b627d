"""A water sample measured on site."""

from collections.abc import Iterator, Mapping
from datetime import date, datetime, timedelta
from typing import ClassVar, Final

from shared_core.fields import day, flag, number, record, text
from shared_core.records.base import Finding, Known, Seen, Severity
from shared_core.records.context import rating_at
from shared_core.records.folding import folded
from shared_core.records.levels_seen import newest_level
from shared_core.records.limits import limits_at
from shared_core.records.places import seen_elsewhere
from shared_core.water_quality import oxygen_percent

EC_US_CM: Final = (20.0, 50_000.0)  # from memory
US_PER_MS: Final = 1000.0
EC_CHANGE: Final = 0.5  # between visits, without inflow (from memory)
# Salt leaves with seepage and never by evaporation; more of it than before means a wrong volume,
# a wrong EC or an inflow (computed).
SALT_RATIO: Final = (0.3, 1.15)
OXYGEN_MG_L: Final = (0.0, 20.0)
LOW_OXYGEN_MG_L: Final = 4.0  # stress if prolonged (NSW Dept of Industry, hypoxic blackwater)
VERY_LOW_OXYGEN_MG_L: Final = 2.0  # the same; deaths at 1.6 to 3.1 (Small et al., PLoS ONE 9, 2014)
SATURATION_PCT: Final = 130.0  # from memory
WATER_C: Final = (2.0, 40.0)  # from memory
READ_WITHIN: Final = timedelta(hours=3)  # the gauge may be read after the sample is taken
LEVEL_HOLDS: Final = timedelta(days=5)


@record
class WaterSample(Seen):
    """Conductivity, temperature, oxygen and what goes with them."""

    kind: ClassVar[str] = "water_sample"
    title: ClassVar[str] = "Water quality"

    ec_us_cm: float | None = number("Conductivity", "uS/cm", default=None, decimals=0)
    ec_compensated: bool | None = flag("Compensated to 25 °C", default=None)
    water_c: float | None = number("Water temperature", "°C", default=None, decimals=1)
    oxygen_mg_l: float | None = number("Dissolved oxygen", "mg/L", default=None, decimals=1)
    oxygen_pct: float | None = number("Oxygen saturation", "%", default=None, decimals=0)
    ph: float | None = number("pH", "", (4.0, 11.0), default=None, decimals=1)
    turbidity_ntu: float | None = number(
        "Turbidity", "NTU", (0.0, 2000.0), default=None, decimals=0
    )
    sample_depth_m: float | None = number("Sample depth", "m", (0.0, 5.0), default=None)
    instrument: str | None = text("Instrument", default=None, longest=80)
    calibrated_on: date | None = day("Calibrated on", default=None)

    def findings(self, known: Known) -> Iterator[Finding]:
        from shared_core.records.salt import salt_findings  # noqa: PLC0415 - it needs this class

        limits = limits_at(known, self.site, self.when)
        checks = (
            *super().findings(known),
            *seen_elsewhere(self, known, {}, limits),
            *self._conductivity(limits),
            *self._conductivity_change(known, limits),
            *salt_findings(self, known, limits),
            *self._oxygen(limits),
            *self._temperature(limits),
        )
        yield from folded(checks, ("ec-unit", "ec-range", "ec-change", "salt-rise", "oxygen-range"))

    def _conductivity(self, limits: Mapping[str, float]) -> Iterator[Finding]:
        if self.ec_us_cm is None:
            return
        low = limits.get("ec-lowest", EC_US_CM[0])
        high = limits.get("ec-highest", EC_US_CM[1])
        if low <= self.ec_us_cm <= high:
            return
        meant = self.ec_us_cm * US_PER_MS
        if low <= meant <= high:
            yield Finding(
                code="ec-unit",
                severity=Severity.ASK,
                field="ec_us_cm",
                saw=f"{self.ec_us_cm:g} µS/cm is nearly distilled water.",
                expected=f"{self.ec_us_cm:g} mS/cm would be {meant:.0f} µS/cm.",
                do="Look at the unit on the instrument.",
                suggests=f"{meant:.0f}",
            )
            return
        yield Finding(
            code="ec-range",
            severity=Severity.ASK,
            field="ec_us_cm",
            saw=f"{self.ec_us_cm:g} µS/cm.",
            expected=f"Wetland water has {low:.0f} to {high:.0f}.",
            do="Rinse, repeat, and look at the unit.",
        )

    def _conductivity_change(self, known: Known, limits: Mapping[str, float]) -> Iterator[Finding]:
        earlier = known.before(WaterSample, self.site, self.when, point=self.point, limit=4)
        last = next((s.record for s in earlier if s.record.has_likely_ec), None)
        if last is None or not self.has_likely_ec:
            return
        ratio = (self.ec_us_cm or 0.0) / (last.ec_us_cm or 1.0)
        share = limits.get("ec-change", EC_CHANGE)
        if 1 / (1 + share) <= ratio <= 1 + share:
            return
        salt = self._salt_ratio(known, last, ratio)
        if salt is not None and SALT_RATIO[0] <= salt <= SALT_RATIO[1]:
            return  # evaporation alone does this: the water has shrunk as the salt has thickened
        yield Finding(
            code="ec-change",
            severity=Severity.ASK,
            field="ec_us_cm",
            saw=f"{ratio:.1f} times the {last.ec_us_cm:.0f} µS/cm of {last.wall_clock:%-d %B}.",
            expected="The fall in volume does not account for it."
            if salt is not None
            else "Without inflow it seldom changes by half.",
            do="Rinse and repeat; note any inflow.",
        )

    @property
    def has_likely_ec(self) -> bool:
        """Whether there is a conductivity that can be one of wetland water."""
        return self.ec_us_cm is not None and EC_US_CM[0] <= self.ec_us_cm <= EC_US_CM[1]

    def _salt_ratio(self, known: Known, last: "WaterSample", ratio: float) -> float | None:
        """Return the salt held now as a share of that held at the last sample."""
        then = volume_at_m3(known, self.site, last.when)
        now = volume_at_m3(known, self.site, self.when)
        return ratio * now / then if then and now else None

    def _oxygen(self, limits: Mapping[str, float]) -> Iterator[Finding]:
        oxygen = self.oxygen_mg_l
        if oxygen is None:
            return
        if not OXYGEN_MG_L[0] <= oxygen <= OXYGEN_MG_L[1]:
            yield Finding(
                code="oxygen-range",
                severity=Severity.ASK,
                field="oxygen_mg_l",
                saw=f"{oxygen:g} mg/L of oxygen.",
                expected="Water holds 0 to 20 mg/L.",
                do="Is it the percentage? Repeat.",
            )
        elif oxygen < limits.get("oxygen-low", LOW_OXYGEN_MG_L):
            very = oxygen < limits.get("oxygen-very-low", VERY_LOW_OXYGEN_MG_L)
            yield Finding(
                code="oxygen-very-low" if very else "oxygen-low",
                severity=Severity.ASK if very else Severity.NOTE,
                field="oxygen_mg_l",
                saw=f"Oxygen is {oxygen:g} mg/L.",
                expected="Below 2 few fish live." if very else "Below 4 fish are under stress.",
                do="Repeat, look for gasping fish, and tell the coordinator when in coverage.",
            )
        yield from self._saturation(oxygen)

    def _saturation(self, oxygen_mg_l: float) -> Iterator[Finding]:
        percent = self.oxygen_pct
        if (
            percent is None
            and self.water_c is not None
            and WATER_C[0] <= self.water_c <= WATER_C[1]
        ):
            percent = oxygen_percent(max(0.0, oxygen_mg_l), self.water_c)
        if percent is not None and percent > SATURATION_PCT:
            yield Finding(
                code="oxygen-saturation",
                severity=Severity.ASK,
                field="oxygen_pct",
                saw=f"{percent:.0f} % of saturation.",
                expected=f"More than {SATURATION_PCT:.0f} % is rare, even among algae in the sun.",
                do="Shake bubbles off the probe and repeat.",
            )

    def _temperature(self, limits: Mapping[str, float]) -> Iterator[Finding]:
        low = limits.get("water-coldest", WATER_C[0])
        high = limits.get("water-warmest", WATER_C[1])
        if self.water_c is not None and not low <= self.water_c <= high:
            yield Finding(
                code="water-temperature",
                severity=Severity.ASK,
                field="water_c",
                saw=f"{self.water_c:g} °C.",
                expected=f"Water here has {low:g} to {high:g} °C.",
                do="Wait until the probe settles and repeat.",
            )


def volume_at_m3(known: Known, site: str, at: datetime) -> float | None:
    """Return the water held about a time [m3], from the level read on that visit."""
    level = newest_level(known, site, at + READ_WITHIN)
    table = rating_at(known, site, at)
    if level is None or level.level_m is None or table is None or at - level.at > LEVEL_HOLDS:
        return None
    rating = table.rating
    return rating.volume_at(level.level_m) if rating.contains(level.level_m) else None
