from typing import Any

import pytest

from mobile.router import Router
from shared_core.errors import UnknownError


class Page:
    def __init__(self) -> None:
        self.seen: list[dict[str, str]] = []

    def opened(self, **what: Any) -> None:
        self.seen.append(what)


class Boards:
    def __init__(self) -> None:
        self.pages: dict[str, Any] = {}
        self.shown = ""

    def put(self, name: str, screen: Any) -> None:
        self.pages[name] = screen

    def show(self, name: str) -> None:
        self.shown = name

    def clear(self) -> None:
        self.pages.clear()


@pytest.fixture
def boards() -> Any:
    return Boards()


@pytest.fixture
def router(boards: "Boards") -> Any:
    here = f"{__name__}:Page"
    return Router(boards, routes={"home": here, "site": here, "gauge": here})


def test_a_screen_is_built_on_its_first_visit_only(router: Router, boards: "Boards") -> None:
    router.start("home")
    assert router.built == ("home",)
    router.go("site", site="PRA")
    first = boards.pages["site"]
    router.back()
    router.go("site", site="LRS")
    assert boards.pages["site"] is first
    assert first.seen == [{"site": "PRA"}, {"site": "LRS"}]


def test_back_goes_the_way_it_came_and_never_out(router: Router, boards: "Boards") -> None:
    router.start("home")
    router.go("site", site="PRA")
    router.go("gauge", point="G1")
    assert router.back()
    assert boards.shown == "site"
    assert boards.pages["site"].seen[-1] == {"site": "PRA"}
    assert router.back()
    assert not router.back()
    assert boards.shown == "home"


def test_going_to_the_screen_that_is_shown_does_not_lengthen_the_way(
    router: Router, boards: "Boards"
) -> None:
    router.start("home")
    router.go("site", site="PRA")
    router.go("site", site="LRS")
    router.back()
    assert boards.shown == "home"


def test_a_screen_that_does_not_exist_is_named(router: Router) -> None:
    with pytest.raises(UnknownError, match="moon"):
        router.go("moon")
