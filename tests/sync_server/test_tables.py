"""Weather and logger files: read by heading, refused by row."""

import csv
import io
from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shared_core.errors import StrandlineError, UnreadableError
from sync_server.tables import is_logged, is_weather, logged, read_table, weather


def table(text: str) -> bytes:
    return text.encode()


WEATHER = "date,rain_mm,eto_mm\n2023-08-01,0.0,1.9\n2023-08-02,4.2,\n"
LOGGER = "time,depth_m\n2023-08-06 09:00,0.501\n2023-08-06 10:00,0.502\n"


def test_daily_weather_is_read() -> None:
    found = read_table(table(WEATHER))
    assert is_weather(found)
    assert not is_logged(found)
    assert weather(found).days == (
        (date(2023, 8, 1), 1.9, 0.0),
        (date(2023, 8, 2), None, 4.2),
    )


@pytest.mark.parametrize(
    "text",
    [
        "\ufeffDate;Rain (mm);ETo [mm];Note\n2023-08-01;1,5;2,5;x\n",
        "DATE\tPrecipitation\tReference evaporation (mm)\n2023-08-01\t1.5\t2.5\n",
        "Station,Year,Month,Day,Rainfall,ET0\nZ1,2023,8,1,1.5,2.5\n",
        'day,"Rain, mm",eto_mm\r\n2023-08-01,1.5,2.5\r\n\r\n',
    ],
)
def test_headings_and_separators_may_differ(text: str) -> None:
    assert weather(read_table(table(text))).days == ((date(2023, 8, 1), 2.5, 1.5),)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (WEATHER + "2023-08-03,1.2.3,1\n", "row 4, rain_mm"),
        (WEATHER + "2023-08-03,inf,1\n", "row 4"),
        (WEATHER + "2023-08-03,1_0,1\n", "row 4"),
        (WEATHER + "03/08/2023,1,1\n", "row 4: '03/08/2023'"),
        (WEATHER + "2023-08-32,1,1\n", "row 4"),
        (WEATHER + "2023-08-01,1,1\n", "row 4: 2023-08-01 stands in row 2"),
        (WEATHER + "2023-08-03,-1,1\n", "row 4: rain of -1"),
        (WEATHER + "2023-08-03,1\n", "row 4 has 2 values"),
        (WEATHER + '2023-08-03,"1,1\n', "cannot be read"),
        ("date,rain,rainfall_mm\n2023-08-01,1,1\n", "mean the same"),
        ("date,rain_mm\n", "no day"),
        ("", "empty"),
        ("\n \n", "empty"),
    ],
)
def test_a_broken_row_is_named_as_a_spreadsheet_counts_it(text: str, says: str) -> None:
    with pytest.raises(UnreadableError) as caught:
        weather(read_table(table(text)))
    assert says in str(caught.value)


def test_a_file_that_is_no_text_says_how_to_save_it() -> None:
    with pytest.raises(UnreadableError, match="UTF-8"):
        read_table(b"date,rain_mm\n2023-08-01,\xff\n")


def test_a_loggers_times_are_read_with_its_offset() -> None:
    found = logged(read_table(table(LOGGER)), 600)
    assert found.values[0] == (datetime(2023, 8, 5, 23, tzinfo=UTC), 0.501)
    assert not found.is_level


@pytest.mark.parametrize(
    "heading",
    ["time_utc_plus_10", "Time (UTC+10:00)", "time utc+10"],
)
def test_an_offset_in_the_heading_outranks_the_one_given(heading: str) -> None:
    found = logged(read_table(table(LOGGER.replace("time", heading, 1))), 0)
    assert found.values[0][0] == datetime(2023, 8, 5, 23, tzinfo=UTC)


def test_an_offset_in_the_value_outranks_all() -> None:
    text = "time_utc_plus_10,depth_m\n2023-08-06T09:00+11:00,0.5\n"
    found = logged(read_table(table(text)), 0)
    assert found.values[0][0] == datetime(2023, 8, 5, 22, tzinfo=UTC)


def test_plain_utc_in_the_heading_is_utc() -> None:
    found = logged(read_table(table(LOGGER.replace("time", "time_utc", 1))), 600)
    assert found.values[0][0] == datetime(2023, 8, 6, 9, tzinfo=UTC)


def test_a_time_without_any_offset_is_asked_about() -> None:
    with pytest.raises(UnreadableError, match=r"row 2: .* offset"):
        logged(read_table(table(LOGGER)), None)


@pytest.mark.parametrize(("unit", "value"), [("m", "0.5"), ("cm", "50"), ("mm", "500")])
def test_depths_are_read_in_the_unit_of_the_heading(unit: str, value: str) -> None:
    text = f"time,Water level [{unit}]\n2023-08-06 09:00,{value}\n"
    found = logged(read_table(table(text)), 600)
    assert found.values[0][1] == 0.5
    assert found.is_level


@pytest.mark.parametrize(
    ("row", "says"),
    [
        ("2023-08-06 10:00,0.5", "row 4: .* not after"),
        ("2023-08-06 11:00,wet", "row 4, depth_m: 'wet'"),
        ("yesterday,0.5", "row 4: 'yesterday'"),
    ],
)
def test_a_broken_row_of_a_logger_is_named(row: str, says: str) -> None:
    with pytest.raises(UnreadableError, match=says):
        logged(read_table(table(LOGGER + row + "\n")), 600)


@given(
    st.lists(
        st.tuples(
            st.none() | st.decimals(0, 900, places=1),
            st.none() | st.decimals(-1, 20, places=1),
        ),
        min_size=1,
        max_size=40,
    )
)
def test_what_was_written_is_read_back(values: list[tuple[object, object]]) -> None:
    made = io.StringIO()
    rows = csv.writer(made)
    rows.writerow(("date", "rain_mm", "eto_mm"))
    days = [date(2023, 1, 1) + timedelta(days=number) for number in range(len(values))]
    for day, (rain, reference) in zip(days, values, strict=True):
        rows.writerow((day, "" if rain is None else rain, "" if reference is None else reference))
    found = weather(read_table(made.getvalue().encode())).days
    assert [row[0] for row in found] == days
    for (_, reference, rain), (was_rain, was_reference) in zip(found, values, strict=True):
        assert rain == (None if was_rain is None else float(str(was_rain)))
        assert reference == (None if was_reference is None else float(str(was_reference)))


@given(st.binary(max_size=300))
def test_any_bytes_are_read_or_refused_in_a_sentence(data: bytes) -> None:
    for read in (weather, lambda found: logged(found, 600)):
        try:
            read(read_table(b"date,time,rain_mm,depth_m\n" + data))
        except StrandlineError as error:
            assert str(error)  # noqa: PT017 - every outcome but a crash is right
