import importlib
import json
from typing import Any

import pytest

from tests.bench import __main__ as face
from tests.bench.figure import Figure, not_measured, table

FIGURES = [
    Figure("saves", 2.0, "ms", 1.0, "<= 4 x", True),
    Figure("starts", 900.0, "ms", 400.0, "<= 1.5 x", False, "2.25 x"),
    not_measured("walk", "ms", "<= 10 ms", "no receiver"),
]


def test_the_tablet_has_a_benchmark() -> None:
    assert "tablet" in face.names()
    assert not {"figure", "saving", "__main__"} & set(face.names())


def test_each_figure_says_whether_its_goal_holds() -> None:
    lines = table(FIGURES).splitlines()
    assert [line.split("  ")[0].split()[0] for line in lines] == ["holds", "MISSED", "not"]
    assert "(beside 1)" in lines[0]


@pytest.mark.parametrize(("kept", "status"), [(FIGURES, 1), (FIGURES[::2], 0)])
def test_a_missed_goal_ends_with_status_1(
    monkeypatch: Any, capsys: Any, kept: list[Figure], status: int
) -> None:
    class Bench:
        @staticmethod
        def figures(full: bool) -> list[Figure]:
            del full
            return kept

    monkeypatch.setattr(importlib, "import_module", lambda _: Bench)
    assert face.main(["tablet", "--json"]) == status
    told = json.loads(capsys.readouterr().out)
    assert [set(each) for each in told] == [
        {"figure", "value", "unit", "beside", "goal", "holds", "why"}
    ] * len(kept)
    assert [each["holds"] for each in told] == [figure.holds for figure in kept]
