"""What a thumb has to do, and whether it can: touches, targets, text, contrast; on the real app."""

import itertools
import tempfile
from collections.abc import Callable, Iterable
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.mobile import pilot  # isort: skip - sets Kivy's surroundings before Kivy is imported

from mobile.look import DAY, DUSK, SHAPE_PAIRS, TEXT_PAIRS, contrast
from tests.bench.figure import Figure, not_measured
from tests.mobile.conftest import BEGUN

SIZES = (pilot.WIDE, pilot.TALL)
SCALES = (0.9, 1.0, 1.25)


@contextmanager
def app_of(size: tuple[int, int], **who: Any) -> Any:
    """Start the app in a new folder; *who* is its identity."""
    from mobile.app import Options, StrandlineApp
    from mobile.identity import Identity, keep_identity

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        keep_identity(folder, Identity(device="bench", author="Ada", **who))
        if who.get("role"):
            _farm(folder)
        driver = pilot.Pilot(
            lambda: StrandlineApp(Options(folder=folder), lambda: BEGUN), size=size
        )
        driver.start()
        try:
            yield driver
        finally:
            driver.stop()


def _farm(folder: Path) -> None:
    from shared_core.logbook import Logbook
    from tests.logbooks import counting
    from tests.mobile import farm

    with Logbook(
        folder / "logbook.sqlite", device="office", clock=lambda: BEGUN, new_id=counting("o")
    ) as office:
        farm.set_up(office, BEGUN)


def _counted(driver: Any) -> list[str]:
    touched: list[str] = []
    tap = driver.tap

    def tap_and_count(widget: Any, *more: Any) -> None:
        touched.append(widget.test_id or widget.text)
        tap(widget, *more)

    driver.tap = tap_and_count
    return touched


def gauge_touches(size: tuple[int, int]) -> int:
    """Return the touches for a gauge reading of 0.42 from the visit screen until it is kept."""
    with app_of(size) as driver:
        driver.tap(driver.find(name="practice"))
        driver.tap(driver.find(name="site PRA"))
        touched = _counted(driver)
        driver.tap(driver.find(name="gauge_reading G1"))
        driver.keys(".42")
        driver.tap(driver.find(name="keep"))
        kept = driver.app.tablet.logbook.size()
        assert '"stage_m":0.42' in driver.app.tablet.logbook.lines_of("practice", kept - 1)[0]
        return len(touched)


def landholder_touches(size: tuple[int, int]) -> int:
    """Return the touches for meter, hours, gauge and rain until all four are kept."""
    with app_of(size, role="landholder", token="t") as driver:
        before = driver.app.tablet.logbook.size()
        touched = _counted(driver)
        for code in "012140>124.5>.47>12.5":
            driver.tap(driver.find(name="key next" if code == ">" else f"key {code}"))
        driver.tap(driver.find(name="keep"))
        assert driver.app.tablet.logbook.size() == before + 4
        return len(touched)


def _wrong(size: tuple[int, int], scale: float) -> dict[str, int]:
    from tests.mobile.measures import MEASURES
    from tests.mobile.scenes import SCENES, start_afresh

    found = dict.fromkeys(MEASURES, 0)
    with app_of(size, text_scale=scale) as driver:
        for play in SCENES.values():
            start_afresh(driver)
            play(driver)
            driver.frames(4)
            for name, measure in MEASURES.items():
                found[name] += len(measure(driver))
    return found


def _lowest(pairs: Iterable[tuple[str, str]]) -> float:
    return min(contrast(look[ink], look[ground]) for look in (DAY, DUSK) for ink, ground in pairs)


def _most(call: Callable[[tuple[int, int]], int]) -> float:
    return float(max(call(size) for size in SIZES))


def touching(*, full: bool) -> list[Figure]:
    """Measure touches and contrast; with *full* also every target and text of every scene."""
    gauge, farm = _most(gauge_touches), _most(landholder_touches)
    text, shapes = _lowest(TEXT_PAIRS), _lowest(SHAPE_PAIRS)
    return [
        Figure("touches for a gauge reading of 0.42", gauge, "", None, "<= 5", gauge <= 5),
        Figure(
            "touches for a landholder's whole log",
            farm,
            "",
            None,
            "<= 30",
            farm <= 30,
            "two photos more, two touches each where files are chosen",
        ),
        Figure("lowest contrast of text", text, ": 1", None, ">= 7 : 1", text >= 7.0),
        Figure("lowest contrast of shapes", shapes, ": 1", None, ">= 3 : 1", shapes >= 3.0),
        *(_scenes() if full else _left_out()),
    ]


TARGETS = "targets under 64 dp or over each other"
TEXTS = "texts cut or out of sight"


def _left_out() -> list[Figure]:
    why = "takes minutes: --full; tests/mobile holds the same as tests"
    return [not_measured(name, "", "none", why) for name in (TARGETS, TEXTS)]


def _scenes() -> list[Figure]:
    wrong: dict[str, int] = {}
    for size, scale in itertools.product(SIZES, SCALES):
        for name, count in _wrong(size, scale).items():
            wrong[name] = wrong.get(name, 0) + count
    where = f"all scenes, wide and tall, text at {', '.join(f'{scale:g}' for scale in SCALES)}"
    small = wrong["too_small"] + wrong["on_top_of_another"]
    cut = wrong["cut_text"] + wrong["off_the_window"] + wrong["out_of_place"]
    return [
        Figure(TARGETS, float(small), "", None, "none", small == 0, where),
        Figure(TEXTS, float(cut), "", None, "none", cut == 0, where),
    ]
