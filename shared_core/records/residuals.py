"""Whether what is left over in a period's balance can be seepage.

A residual below zero by more than its doubt says that an input is missing or evaporation too high;
one above 15 mm/day, with the first wetting behind, that water left or a level is wrong.
"""

from collections.abc import Iterator
from typing import Final, NamedTuple

from shared_core.records.base import Finding, Severity
from shared_core.records.overviews import Overview

BELOW_SDS: Final = 2.0  # computed
FASTEST_MM_DAY: Final = 15.0  # from memory; storages of clay 0.5 to 4 (Tavakkoli 2011)


class PeriodRate(NamedTuple):
    """The residual of one period as a rate over the mean wet area."""

    name: str
    rate_mm_day: float
    sd_mm_day: float
    wets_first: bool  # ground was covered for the first time in it, or water was pumped on dry bed
    too_short: bool
    record_ids: tuple[str, ...] = ()


def residual_overviews(
    periods: list[PeriodRate],
    *,
    below_sds: float = BELOW_SDS,
    fastest_mm_day: float = FASTEST_MM_DAY,
) -> Iterator[Overview]:
    """Yield the periods whose residual cannot be seepage; one too short for a rate says nothing.

    Args:
        periods: The periods of a balance.
        below_sds: How many of its sd a residual may lie below zero.
        fastest_mm_day: The fastest seepage [mm/day] that nobody is asked about.
    """
    for period in periods:
        if period.too_short:
            continue
        if period.rate_mm_day < -below_sds * period.sd_mm_day:
            yield _noted(
                "residual-negative",
                period,
                "More water is there than came in: an input is missed, or evaporation is too high.",
            )
        elif not period.wets_first and period.rate_mm_day > fastest_mm_day:
            yield _noted(
                "residual-fast",
                period,
                f"Clay takes 0.5 to 4 mm/day; above {fastest_mm_day:g} there is an outlet, a leak or"
                " a wrong level.",
            )


def _noted(code: str, period: PeriodRate, expected: str) -> Overview:
    return Overview(
        record_ids=period.record_ids,
        finding=Finding(
            code=code,
            severity=Severity.NOTE,
            field="",
            saw=f"{period.name}: {period.rate_mm_day:.1f} ± {period.sd_mm_day:.1f} mm/day are left"
            " over.",
            expected=expected,
            do="Look at the levels at both ends, the pump's hours and the rain of that period.",
        ),
    )
