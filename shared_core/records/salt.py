"""The salt that a pool holds at two samples: without inflow there is never more of it than before."""

from collections.abc import Iterator, Mapping
from typing import Final

from shared_core.errors import StrandlineError
from shared_core.records.base import Finding, Known, Severity
from shared_core.records.inflow import inflow_between
from shared_core.records.water_quality import WaterSample, volume_at_m3
from shared_core.water_quality import SALT_RISE_LIMIT, check_salt, ec_at_25, salt_load

EARLIER: Final = 4  # samples looked at for one with a likely conductivity


def salt_findings(
    sample: WaterSample, known: Known, limits: Mapping[str, float]
) -> Iterator[Finding]:
    """Ask about more salt than at the last sample, with nothing pumped in between.

    Salt leaves with seepage and outflow and never by evaporation (conservation of mass), so a
    level, a conductivity or an inflow is wrong. Rain brings next to none.
    """
    earlier = known.before(WaterSample, sample.site, sample.when, point=sample.point, limit=EARLIER)
    last = next((s.record for s in earlier if s.record.has_likely_ec), None)
    if last is None or not sample.has_likely_ec:
        return
    pumped = inflow_between(known, sample.site, last.when, sample.when)
    if pumped.volume_m3 + pumped.possible_m3 > 0:
        return
    then, now = _load(last, known), _load(sample, known)
    if not then or now is None:
        return
    check = check_salt(then, now, rise_limit=limits.get("salt-rise", SALT_RISE_LIMIT))
    if check.contradiction:
        yield Finding(
            code="salt-rise",
            severity=Severity.ASK,
            field="ec_us_cm",
            saw=f"Conductivity times volume is {check.ratio - 1:.0%} more than on"
            f" {last.wall_clock:%-d %B}.",
            expected="Evaporation leaves the salt in the pool, seepage takes some: without inflow it"
            " does not rise.",
            do="Rinse and repeat; look at the gauge reading, and note any inflow.",
        )


def _load(sample: WaterSample, known: Known) -> float | None:
    """Return conductivity at 25 °C times volume; None where level or temperature do not say."""
    volume_m3 = volume_at_m3(known, sample.site, sample.when)
    if not volume_m3 or sample.ec_us_cm is None:
        return None
    if sample.ec_compensated is not False:
        return salt_load(sample.ec_us_cm, volume_m3)
    if sample.water_c is None:
        return None
    try:
        return salt_load(ec_at_25(sample.ec_us_cm, sample.water_c), volume_m3)
    except StrandlineError:  # water too cold or too warm for the compensation
        return None
