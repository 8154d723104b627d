from tests.mobile import pilot  # isort: skip - sets Kivy's surroundings before Kivy is imported


import functools
import itertools
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from mobile import practice
from mobile.field_day import Device, FieldDay
from shared_core.identity import uuid7
from shared_core.logbook import Logbook

BEGUN = datetime(2026, 3, 1, 22, 0, tzinfo=UTC)


class Hands:
    """A clock that a test turns by hand."""

    def __init__(self) -> None:
        self.now = BEGUN

    def __call__(self) -> Any:
        return self.now


@pytest.fixture
def clock() -> Any:
    return Hands()


@pytest.fixture
def new_id() -> Any:
    numbers = itertools.count(1)
    return lambda: uuid7(int(BEGUN.timestamp() * 1000), next(numbers))


@pytest.fixture
def make_logbook(clock: Any, new_id: Callable[[], str]) -> Iterator[Any]:
    """make_logbook(path, device) -> an open logbook, closed at the end"""
    opened = []

    def make(path: Path | str = ":memory:", device: Any = "HER-1") -> Any:
        opened.append(Logbook(path, device=device, clock=clock, new_id=new_id))
        return opened[-1]

    yield make
    for logbook in opened:
        logbook.close()


@pytest.fixture
def make_day(clock: Any, new_id: Callable[[], str]) -> Any:
    """make_day(logbook, author) -> a field day at the practice site"""

    def make(logbook: Any, author: Any = "Ada") -> Any:
        practice.prepare(logbook, clock())
        day = FieldDay(
            logbook,
            author=author,
            device=lambda: Device(now=clock(), offset_min=600),
            new_id=new_id,
        )
        day.arrive(practice.SITE, [author])
        return day

    return make


@pytest.fixture
def day(make_logbook: Callable[..., Logbook], make_day: Callable[..., FieldDay]) -> Any:
    return make_day(make_logbook())


@pytest.fixture
def drive(tmp_path: Path, clock: Any) -> Iterator[Any]:
    """drive(size, scale, folder) -> the app, started and driven; stopped at the end"""
    from mobile.app import Options, StrandlineApp
    from mobile.identity import Identity, keep_identity

    started = []

    def start(
        size: tuple[int, int] = pilot.WIDE,
        *,
        scale: float = 1.0,
        folder: Any = None,
        practising: Any = True,
        **options: Any,
    ) -> Any:
        folder = folder or tmp_path / "tablet"
        if not (folder / "identity.json").exists():
            keep_identity(folder, Identity(device="HER-1", author="Ada", text_scale=scale))
        driver = pilot.Pilot(
            lambda: StrandlineApp(Options(folder=folder, **options), clock), size=size
        )
        started.append(driver)
        driver.start()
        if practising:
            driver.tap(driver.find(name="practice"))
        return driver

    yield start
    for driver in reversed(started):
        driver.stop()


@pytest.fixture(scope="session")
def measured(tmp_path_factory: Any) -> Any:
    """measured(size, scale) -> measure to scene to what is wrong; each pair is walked once"""
    from mobile.app import Options, StrandlineApp
    from mobile.identity import Identity, keep_identity
    from tests.mobile.measures import MEASURES
    from tests.mobile.scenes import SCENES, start_afresh

    @functools.cache
    def walk(size: tuple[int, int], scale: float) -> Any:
        folder = tmp_path_factory.mktemp("measured")
        keep_identity(folder, Identity(device="HER-1", author="Ada", text_scale=scale))
        app = StrandlineApp(Options(folder=folder), lambda: BEGUN)
        driver = pilot.Pilot(lambda: app, size=size).start()
        found: dict[str, dict[str, Any]] = {name: {} for name in MEASURES}
        try:
            for scene, play in SCENES.items():
                start_afresh(driver)
                play(driver)
                driver.frames(4)
                for name, measure in MEASURES.items():
                    wrong = measure(driver)
                    if wrong:
                        found[name][scene] = wrong
        finally:
            driver.stop()
        return found

    return walk
