"""The expected level: by hand while falling, by the budget while filling.

The rating and the daily truth are the invented season's (scenario sections 2 and appendix).
"""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.expect import (
    COVERAGE_95,
    Bed,
    Start,
    Volume,
    Weather,
    Window,
    expected_level,
    plain_sd_m,
)
from shared_core.rating import Rating
from tests.shared_core.records.swamp import rating_rows

RATING = Rating.from_rows(rating_rows(), version="ground model 1")
NO_LOSS = Bed(seepage_mm_day=0.0, seepage_sd_mm_day=0.0, uptake_mm=0.0, uptake_sd_mm=0.0)


def _day(evaporation_mm: float = 0.0, days: float = 1.0, rain_mm: float = 0.0) -> Weather:
    return Weather(days=days, evaporation_mm=evaporation_mm, rain_mm=rain_mm)


def _window(window: Window | None) -> Window:
    assert window is not None
    return window


# falling -----------------------------------------------------------------------------------------


def test_a_pool_falls_by_evaporation_and_seepage_and_rises_by_rain() -> None:
    """8 days of 4 mm and 2.25 mm less 9.4 mm of rain: 32 + 18 - 9.4 = 40.6 mm."""
    window = _window(expected_level(Start(level_m=72.399), _day(32.0, 8.0, 9.4)))
    assert window.level_m == pytest.approx(72.399 - 0.0406)


def test_each_uncertainty_is_counted_once() -> None:
    weather = Weather(
        days=8.0, evaporation_mm=32.0, evaporation_sd_mm=3.2, rain_mm=9.4, rain_sd_mm=0.75
    )
    bed = Bed(seepage_mm_day=2.0, seepage_sd_mm_day=1.0)
    window = _window(
        expected_level(Start(level_m=72.4, sd_m=0.006), weather, bed=bed, reading_sd_m=0.005)
    )
    assert window.sd_m == pytest.approx(math.hypot(0.006, 0.005, 0.0032, 0.008, 0.00075))
    assert window.high_m - window.low_m == pytest.approx(2 * COVERAGE_95 * window.sd_m)
    assert set(window.parts_m) == {"start", "reading", "evaporation", "seepage", "rain"}


def test_the_window_widens_with_the_days() -> None:
    widths = [
        _window(expected_level(Start(level_m=72.4), _day(4.0 * days, days))).half_width_m
        for days in (1.0, 7.0, 14.0, 28.0)
    ]
    assert widths == sorted(widths)
    assert widths[1] < 0.025 < widths[3]


def test_a_falling_pool_does_not_fall_below_its_ground() -> None:
    window = _window(expected_level(Start(level_m=71.15), _day(200.0, 30.0), rating=RATING))
    assert window.level_m == window.low_m == RATING.lowest_m


def test_where_evaporation_is_not_known_the_plain_band_holds() -> None:
    """sqrt(10^2 + (3 x 8)^2) = 26 mm, common practice."""
    assert plain_sd_m(8.0) == pytest.approx(0.026)
    window = _window(expected_level(Start(level_m=72.4), Weather(days=8.0)))
    assert window.plain
    assert window.sd_m > 0.026
    assert not _window(expected_level(Start(level_m=72.4), _day(8.0, 8.0))).plain


# filling -----------------------------------------------------------------------------------------


@given(start_m=st.floats(71.15, 72.3), pumped_m3=st.floats(100.0, 50_000.0))
def test_without_losses_all_that_is_pumped_is_stored(start_m: float, pumped_m3: float) -> None:
    window = _window(
        expected_level(
            Start(level_m=start_m), _day(), Volume(m3=pumped_m3), rating=RATING, bed=NO_LOSS
        )
    )
    stored_m3 = RATING.volume_at(window.level_m) - RATING.volume_at(start_m)
    assert stored_m3 == pytest.approx(pumped_m3, abs=1.0)


def test_dry_ground_drinks_before_the_water_stands() -> None:
    """V + 0.150 m x A = 12,000 m3 has its root where the table says."""
    bed = Bed(seepage_mm_day=0.0, seepage_sd_mm_day=0.0)
    window = _window(
        expected_level(Start(level_m=None), _day(), Volume(m3=12_000.0), rating=RATING, bed=bed)
    )
    total_m3 = RATING.volume_at(window.level_m) + 0.150 * RATING.area_at(window.level_m)
    assert total_m3 == pytest.approx(12_000.0, abs=1.0)


# Day, level before and after [m], pumped [m3], evaporation [mm]: the season's daily truth.
@pytest.mark.parametrize(
    ("before_m", "after_m", "pumped_m3", "evaporation_mm"),
    [
        (None, 71.273, 11_960.0, 2.2),  # 6 August, from dry
        (71.273, 71.386, 12_220.0, 2.5),  # 7 August
        (71.629, 71.695, 12_220.0, 2.0),  # 11 August
        (72.076, 72.120, 12_220.0, 1.8),  # 21 August
        (72.206, 72.244, 12_220.0, 5.9),  # 19 October, wetted before
    ],
)
def test_the_true_level_of_the_invented_season_lies_in_the_window(
    before_m: float | None, after_m: float, pumped_m3: float, evaporation_mm: float
) -> None:
    weather = Weather(days=1.0, evaporation_mm=evaporation_mm, evaporation_sd_mm=0.3)
    window = _window(
        expected_level(
            Start(level_m=before_m), weather, Volume(m3=pumped_m3, sd_m3=600.0), rating=RATING
        )
    )
    assert window.low_m < after_m < window.high_m
    assert window.half_width_m < (0.12 if before_m is None else 0.05)


def test_ground_that_drank_already_drinks_no_more() -> None:
    def level_m(wetted_to_m: float | None) -> float:
        return _window(
            expected_level(
                Start(level_m=72.0),
                _day(),
                Volume(m3=20_000.0),
                rating=RATING,
                bed=Bed(wetted_to_m=wetted_to_m),
            )
        ).level_m

    assert level_m(72.4) > level_m(72.05) > level_m(None)


def test_above_the_survey_the_shore_is_taken_for_a_wall() -> None:
    window = _window(
        expected_level(
            Start(level_m=72.55), _day(), Volume(m3=50_000.0), rating=RATING, bed=NO_LOSS
        )
    )
    beyond_m3 = 50_000.0 - (260_700.0 - 244_900.0)
    assert window.level_m == pytest.approx(72.60 + beyond_m3 / 319_300.0)


def test_nothing_is_said_where_nothing_can_be() -> None:
    assert expected_level(Start(level_m=None), _day(), rating=None) is None
    assert expected_level(Start(level_m=72.0), _day(), Volume(m3=5_000.0), rating=None) is None
    assert expected_level(Start(level_m=99.0), _day(), Volume(m3=5_000.0), rating=RATING) is None


# pumping that nobody recorded --------------------------------------------------------------------


def test_unrecorded_pumping_reaches_upwards_only() -> None:
    weather = _day(4.0)
    plain = _window(expected_level(Start(level_m=72.0), weather, rating=RATING))
    may = Volume(possible_m3=13_200.0)
    window = _window(expected_level(Start(level_m=72.0), weather, may, rating=RATING))
    assert (window.level_m, window.low_m) == (plain.level_m, plain.low_m)
    assert window.reach_m == pytest.approx(13_200.0 / 207_000.0, rel=0.06)  # over 20.7 ha
    assert window.misses_by_m(72.03) == 0.0
    assert window.beyond(71.95)
    assert not window.beyond(72.05)
    assert window.beyond(72.10)


def test_without_a_rating_unrecorded_pumping_may_reach_anywhere() -> None:
    may = Volume(possible_m3=13_200.0)
    window = _window(expected_level(Start(level_m=72.0), _day(4.0), may))
    assert not window.beyond(80.0)
    assert window.beyond(71.9)
