from datetime import UTC, date, datetime, timedelta

import pytest

from shared_core.records.water_setup import WeatherSeries
from shared_core.records.weather import Sky, days_between, rain_by_day, weather_between
from tests.shared_core.records.swamp import JULY, SITE, Swamp, at


def _sky(swamp: Swamp, start: str, end: str) -> Sky:
    return weather_between(swamp.logbook.known(), SITE, at(start), at(end))


def test_a_rain_day_ends_at_nine_standard_time() -> None:
    shares = list(
        days_between(
            at("2023-10-22 10:00+11:00"), at("2023-10-23 22:00+11:00"), timedelta(hours=10)
        )
    )
    assert shares == [(date(2023, 10, 23), 1.0), (date(2023, 10, 24), 0.5)]


def test_by_month_the_open_water_loses_its_mean(swamp: Swamp) -> None:
    """August 2.1, September 3.2 mm/day times 1.05; the day that ends on 1 September is its own."""
    sky = _sky(swamp, "2023-08-30 09:00+10:00", "2023-09-02 09:00+10:00")
    assert sky.evaporation_mm == pytest.approx(1.05 * (2.1 + 3.2 + 3.2))
    assert sky.evaporation_sd_mm == pytest.approx(0.2 * 1.05 * 8.5)
    assert (sky.days, sky.evaporation_from) == (3.0, "monthly")


def _series(days: int) -> WeatherSeries:
    first = date(2023, 8, 31)
    values = tuple((first + timedelta(days=n), 4.0, 1.0 if n == 1 else 0.0) for n in range(days))
    return WeatherSeries(site=SITE, valid_from=JULY, source="station", values=values)


def test_daily_weather_speaks_before_the_month(swamp: Swamp) -> None:
    swamp.write(_series(3))
    sky = _sky(swamp, "2023-08-30 09:00+10:00", "2023-09-02 09:00+10:00")
    assert sky.evaporation_mm == pytest.approx(1.05 * 12.0)
    assert sky.evaporation_sd_mm == pytest.approx(0.1 * 1.05 * 12.0)
    assert (sky.rain_mm, sky.rain_from) == (1.0, "series")


def test_missing_days_go_by_the_month(swamp: Swamp) -> None:
    swamp.write(_series(2))
    sky = _sky(swamp, "2023-08-30 09:00+10:00", "2023-09-02 09:00+10:00")
    assert sky.evaporation_mm == pytest.approx(1.05 * (4.0 + 4.0 + 3.2))


def test_the_site_s_own_gauge_speaks_before_the_station(swamp: Swamp) -> None:
    swamp.write(_series(3))
    swamp.write(swamp.rain("2023-09-01 09:05+10:00", date(2023, 9, 1), 6.0))
    sky = _sky(swamp, "2023-08-30 09:00+10:00", "2023-09-02 09:00+10:00")
    assert (sky.rain_mm, sky.rain_from) == (6.0, "gauge")


def test_a_sum_is_spread_over_its_days(swamp: Swamp) -> None:
    swamp.write(swamp.rain("2023-09-03 09:05+10:00", date(2023, 9, 3), 9.0, days_covered=3))
    known = swamp.logbook.known()
    assert rain_by_day(known, SITE, date(2023, 9, 1), date(2023, 9, 2)) == {
        date(2023, 9, 1): 3.0,
        date(2023, 9, 2): 3.0,
    }


def test_no_entry_is_no_rain_only_where_rain_is_being_read(swamp: Swamp) -> None:
    unread = _sky(swamp, "2023-09-10 09:00+10:00", "2023-09-18 09:00+10:00")
    assert unread.rain_from == ""
    assert unread.rain_sd_mm > 5.0
    swamp.write(swamp.rain("2023-09-07 09:05+10:00", date(2023, 9, 7), 2.2))
    read = _sky(swamp, "2023-09-10 09:00+10:00", "2023-09-18 09:00+10:00")
    assert (read.rain_mm, read.rain_sd_mm) == (0.0, 0.0)


def test_where_nothing_is_set_up_evaporation_is_not_known() -> None:
    swamp = Swamp()
    start = datetime(2023, 8, 1, tzinfo=UTC)
    sky = weather_between(swamp.logbook.known(), SITE, start, start + timedelta(days=2))
    assert sky.evaporation_mm is None
    swamp.logbook.close()
