"""The commands about the water: rating, walk, balance and report."""

import json
import math
from datetime import timedelta
from pathlib import Path

import pyproj
import pytest

from shared_core.logbook import Said
from shared_core.records.site_setup import GaugeZero
from shared_core.records.water_setup import RatingTable
from sync_server.store import Store
from tests.sync_server.commands import data_folder, fine, refused
from tests.sync_server.rooms import SITE, START, Clock, Names, gauge
from tests.sync_server.test_track_files import gpx, point


@pytest.fixture
def data(tmp_path: Path) -> Path:
    return data_folder(tmp_path)


def bowl(tmp_path: Path, cells: int = 103, island_m: float = 0.0) -> Path:
    """A paraboloid in zone 55 (EPSG 7855): ground rises by r**2 / 1000 from 70 m.

    All ground within a distance of its middle may stand at 90 m: an island.
    """
    middle = (cells - 1) / 2
    rows = [
        " ".join(
            f"{90 if 16 * r2 < island_m**2 else 70 + r2 * 16 / 1000:.4f}"
            for column in range(cells)
            for r2 in [(row - middle) ** 2 + (column - middle) ** 2]
        )
        for row in range(cells)
    ]
    head = f"ncols {cells}\nnrows {cells}\nxllcorner 500000\nyllcorner 6200000\ncellsize 4\n"
    path = tmp_path / "bowl.asc"
    path.write_text(head + "\n".join(rows) + "\n")
    return path


def test_rating_prints_the_table_of_the_pool(tmp_path: Path) -> None:
    words = ("--seed", "500206,6200206", "--epsg", "7855", "--step", "0.5", "--highest", "75")
    lines = fine("rating", bowl(tmp_path), *words).splitlines()
    assert lines[0] == "level_m,area_m2,volume_m3"
    level_m, area_m2, _ = map(float, lines[-1].split(","))
    assert level_m == 75.0
    # r**2 = 1000 (z - 70): the area of a circle, pi 5000; counted in cells of 16 m2
    assert area_m2 == pytest.approx(3.14159265 * 5000, rel=0.01)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--epsg", "7855"), "--seed"),
        (("--seed", "500206,6200206"), "--epsg"),
        (("--seed", "here", "--epsg", "7855"), "easting,northing"),
        (("--seed", "1.2.3,4", "--epsg", "7855"), "easting,northing"),
        (("--seed", "1,1", "--epsg", "7855"), "outside the model"),
        (("--seed", "500206,6200206", "--epsg", "4326"), "4326"),
        (("--seed", "500206,6200206", "--epsg", "999999"), "999999"),
        (("--seed", "500206,6200206", "--epsg", "x"), "x"),
        (("--seed", "500206,6200206", "--epsg", "7855", "--step", "0"), "step"),
        (("--seed", "500206,6200206", "--epsg", "7855", "--highest", "60"), "above"),
    ],
)
def test_rating_says_what_it_needs(tmp_path: Path, words: tuple[str, ...], says: str) -> None:
    assert says in refused("rating", bowl(tmp_path), *words)


def ring(tmp_path: Path, radius_m: float = 70.0) -> Path:
    """A GPX walk round the bowl at a distance from its middle."""
    back = pyproj.Transformer.from_crs(7855, 4326, always_xy=True)
    points = []
    for number in range(121):
        angle = 2 * math.pi * number / 120
        lon, lat = back.transform(
            500206 + radius_m * math.cos(angle), 6200206 + radius_m * math.sin(angle)
        )
        time = f"2023-08-21T00:{number // 30:02d}:{number % 30 * 2:02d}Z"
        points.append(point(lat, lon, time))
    path = tmp_path / "walk.gpx"
    path.write_bytes(gpx(*points))
    return path


def test_walk_measures_area_and_the_level_it_implies(tmp_path: Path) -> None:
    words = ("--dem", bowl(tmp_path), "--epsg", 7855, "--level", 74.9, "--sd", 2.0)
    found = json.loads(fine("walk", ring(tmp_path), *words, "--json"))
    # a circle of 70 m on the grid; the grid's scale factor is 0.9996 in the middle of its zone
    assert found["area_m2"] == pytest.approx(3.14159265 * 4900 / 0.9996**2, rel=0.002)
    assert found["area_sd_m2"] > 0
    assert found["implied_level_m"] == pytest.approx(74.9, abs=0.05)
    assert len(found["sectors"]) == 8
    assert abs(found["offset_m"]) < 1.0
    text = fine("walk", ring(tmp_path), *words)
    assert "implied" in text
    assert " NE " in text
    assert fine("walk", ring(tmp_path)).startswith("Area")


def test_an_island_nobody_walked_does_not_count_as_an_offset(tmp_path: Path) -> None:
    dem = bowl(tmp_path, island_m=30.0)
    words = ("--dem", dem, "--epsg", 7855, "--level", 74.9, "--json")
    found = json.loads(fine("walk", ring(tmp_path), *words))
    assert found["island_area_m2"] == 0
    # pi 30**2 = 2,827; the shore passes between the last cell of the island and the first of water
    assert found["table_islands_m2"] == pytest.approx(2827, rel=0.1)
    assert abs(found["offset_m"]) < 1.0


def test_a_walk_outside_the_waterline_lies_outside(tmp_path: Path) -> None:
    words = ("--dem", bowl(tmp_path), "--epsg", 7855, "--level", 74.9, "--json")
    found = json.loads(fine("walk", ring(tmp_path, 80.0), *words))
    assert found["offset_m"] == pytest.approx(9.4, abs=1.0)  # (80^2 - 70^2) / (2 * 80)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (("--dem", "DEM"), "--epsg"),
        (("--sd", "0"), "above 0"),
        (("--dem", "DEM", "--epsg", "7855", "--level", "60"), "60.00 m"),
        (("--dem", "DEM", "--epsg", "7850"), "ground model"),
    ],
)
def test_walk_says_what_it_needs(tmp_path: Path, words: tuple[str, ...], says: str) -> None:
    dem = bowl(tmp_path)
    asked = [dem if word == "DEM" else word for word in words]
    assert says in refused("walk", ring(tmp_path), *asked)


def test_walk_refuses_a_file_that_is_no_track(tmp_path: Path) -> None:
    path = tmp_path / "x.gpx"
    assert "no file" in refused("walk", path)
    path.write_text("x")
    assert "neither" in refused("walk", path)


# balance and report -------------------------------------------------------------------------------


def test_balance_and_report_name_an_unknown_site(tmp_path: Path, data: Path) -> None:
    assert SITE in refused("balance", "--data", data, "--site", "NOWHERE")
    assert SITE in refused("balance", "--data", data, "--site", "NOWHERE", "--from", "2023-08-01")
    assert SITE in refused("report", "--data", data, "--site", "NOWHERE", "--out", tmp_path / "r")
    assert "no logbook" in refused("balance", "--data", tmp_path, "--site", SITE)


def test_balance_says_what_is_missing(data: Path) -> None:
    assert "plan" in refused("balance", "--data", data, "--site", SITE)
    span = ("--from", "2023-08-01", "--to", "2023-08-20")
    assert "rating" in refused("balance", "--data", data, "--site", SITE, *span)
    assert "day such as" in refused("balance", "--data", data, "--site", SITE, "--from", "spring")


def test_a_balance_of_a_wet_month(tmp_path: Path, data: Path) -> None:
    """Nothing pumped, level steady: what rain brings is what evaporation and the ground take."""
    store = Store(data, clock=Clock(), new_id=Names(7))
    with store.opened() as logbook:
        said, begin = Said(author="Kim"), START - timedelta(days=40)
        rows = tuple((70.0 + i, 1000.0 * i, 500.0 * i * i) for i in range(6))
        logbook.write(
            RatingTable(
                site=SITE, valid_from=begin, version="1", origin="terrain model", values=rows
            ),
            said,
        )
        logbook.write(
            GaugeZero(site=SITE, valid_from=begin, gauge="SG1", zero_m=71.0, method="levelled"),
            said,
        )
        for day in range(0, 30, 5):
            logbook.write(gauge(1.0, seen_at=START + timedelta(days=day)), said)
    store.close()
    path = tmp_path / "w.csv"
    rows_text = "".join(f"{START.date() + timedelta(days=day)},1.0,2.0\n" for day in range(-5, 40))
    path.write_text("date,rain_mm,eto_mm\n" + rows_text)
    fine("take-in", path, "--data", data)
    words = ("--data", data, "--site", SITE, "--from", "2023-08-22", "--to", "2023-09-11")
    found = json.loads(fine("balance", *words, "--json"))
    terms = found["season"]["terms"]
    assert terms["pumped"]["megalitres"] == 0
    assert terms["storage change"]["megalitres"] == pytest.approx(0, abs=1e-9)
    # 20 days of 2.0 mm times 1.05 on 2,000 m2 at 72 m
    assert terms["evaporation"]["megalitres"] == pytest.approx(20 * 0.0021 * 2000 / 1000, rel=0.06)
    assert terms["residual"]["megalitres"] == pytest.approx(
        terms["rain"]["megalitres"] - terms["evaporation"]["megalitres"]
    )
    text = fine("balance", *words, "--period", "month")
    assert "residual" in text
