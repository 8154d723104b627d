from collections.abc import Callable
from typing import Any

import pytest

from tests.mobile import pilot

SIZES = pytest.mark.parametrize("size", [pilot.WIDE, pilot.TALL], ids=["tablet", "phone"])
SCALES = pytest.mark.parametrize("scale", [1.0, 1.25])


@SIZES
@SCALES
def test_no_text_is_cut(measured: Callable[..., Any], size: tuple[int, int], scale: float) -> None:
    assert measured(size, scale)["cut_text"] == {}


@SIZES
@SCALES
def test_no_text_lies_outside_the_window(
    measured: Callable[..., Any], size: tuple[int, int], scale: float
) -> None:
    assert measured(size, scale)["off_the_window"] == {}


@SIZES
@SCALES
def test_the_number_stands_on_the_waterline_with_room_around_it(
    measured: Callable[..., Any], size: tuple[int, int], scale: float
) -> None:
    assert measured(size, scale)["out_of_place"] == {}
