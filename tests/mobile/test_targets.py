from collections.abc import Callable
from typing import Any

import pytest

from tests.mobile import pilot

SIZES = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
SCALES = pytest.mark.parametrize("scale", [0.9, 1.25])


@SIZES
@SCALES
def test_everything_to_touch_is_at_least_64_dp_high_and_wide(
    measured: Callable[..., Any], size: tuple[int, int], scale: float
) -> None:
    assert measured(size, scale)["too_small"] == {}


@SIZES
@SCALES
def test_nothing_to_touch_lies_over_another(
    measured: Callable[..., Any], size: tuple[int, int], scale: float
) -> None:
    assert measured(size, scale)["on_top_of_another"] == {}
