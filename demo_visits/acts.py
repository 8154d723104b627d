"""One act of the invented season: what somebody saw at a place and time, and what they typed."""

import random
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Final, Literal

from demo_visits import scenario
from demo_visits.scenario import SITE

Photo = Literal["", "plate", "meter", "view", "plot"]


@dataclass(frozen=True)
class Act:
    """Something one team did at one point; ``planted`` names the error it carries, if any.

    ``kind`` and the keys of ``typed`` are those of the records. ``when`` is the true moment in
    wall-clock offset, ``stamped`` what the device's clock said, and ``written`` the moment of typing
    where that came later. ``typed`` is what arrives; ``true`` is what would have arrived without the
    error. ``position`` is what the receiver said, in local x, y [m]. ``track`` names the walk whose
    fixes belong to the act, ``repeats`` the act that a second observer scored again, and acts with
    the same ``shares_record`` write to one record.
    """

    key: str
    when: datetime
    stamped: datetime
    who: tuple[str, ...]
    device: str
    kind: str
    point: str
    typed: Mapping[str, str]
    true: Mapping[str, str]
    visit: str = ""
    site: str = SITE
    planted: str | None = None
    position: tuple[float, float] | None = None
    photo: Photo = ""
    written: datetime | None = None
    track: str = ""
    repeats: str = ""
    shares_record: str = ""


def slipped(act: Act, planted: str, **true: str) -> Act:
    """Return the act with an error planted: its typed text stays, these fields were really so."""
    kept = {name: text for name, text in act.typed.items() if not _replaced(name, true)}
    return replace(act, planted=planted, true={**kept, **true})


def _replaced(name: str, true: Mapping[str, str]) -> bool:
    return name == "stage_m" and "state" in true


def _places() -> dict[str, tuple[float, float]]:
    places: dict[str, tuple[float, float]] = {}
    for post in (*scenario.GAUGES, scenario.BM1, scenario.BORE):
        places[post.name] = (post.x, post.y)
    for peg in (*scenario.PHOTO_POINTS, *scenario.PLOTS):
        places[peg.name] = (peg.x, peg.y)
    for point in (*scenario.TREES, scenario.RAIN_GAUGE, scenario.LOGGER):
        places[point.name] = (point.x, point.y)
    pump = (scenario.PUMP.x, scenario.PUMP.y)
    gauge = (scenario.SG1.x, scenario.SG1.y)
    gate = (scenario.BM1.x, scenario.BM1.y)
    return {**places, "PU1": pump, "M1": pump, "M2": pump, "WQ1": gauge, SITE: gate}


PLACES: Final[Mapping[str, tuple[float, float]]] = _places()


def seen_at(key: str, place: tuple[float, float], sd_m: float = 2.0) -> tuple[float, float]:
    """Return where a receiver of this error [m] puts a place, the same for the same key."""
    draw = random.Random(key)
    return round(place[0] + draw.gauss(0.0, sd_m), 1), round(place[1] + draw.gauss(0.0, sd_m), 1)


def stage_text(level_m: float, zero_m: float) -> str:
    """Return the stage [m] of a level over a zero as a person reads it, to 5 mm."""
    return f"{round((level_m - zero_m) / 0.005) * 0.005:.3f}"


def gauge_reading(gauge: str, level_m: float | None, zero_m: float) -> dict[str, str]:
    """Return what a person writes at a gauge: a stage on the plate, or the state in its place."""
    post = {post.name: post for post in scenario.GAUGES}[gauge]
    if level_m is None or level_m <= post.ground_level_m:
        return {"state": "dry"}
    if level_m < zero_m + post.plate_low_m:
        return {"state": "below_zero"}
    text = stage_text(level_m, zero_m)
    if float(text) > post.plate_high_m:
        return {"state": "over_plate"}
    return {"stage_m": text}
