"""Run a benchmark: python -m tests.bench NAME [--full] [--json]."""

import argparse
import importlib
import importlib.util
import json
import pkgutil
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Protocol, cast

import tests.bench
from tests.bench.figure import Figure, table


class Bench(Protocol):
    """A module of tests/bench that measures something."""

    def figures(self, full: bool) -> list[Figure]:
        """Measures and says its figures; full takes the whole sample, else a quick one."""
        ...


def names() -> list[str]:
    """The benchmarks there are: the modules beside this one that have figures()."""
    found = (each.name for each in pkgutil.iter_modules(tests.bench.__path__))
    return sorted(each for each in found if each not in ("__main__", "figure") and _measures(each))


def _measures(name: str) -> bool:
    source = importlib.util.find_spec(f"tests.bench.{name}")
    if source is None or source.origin is None:
        return False
    return "\ndef figures(" in Path(source.origin).read_text(encoding="utf-8")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one benchmark and print its figures.

    Returns:
        0 when every measured goal holds, 1 when one is missed
    """
    parser = argparse.ArgumentParser(prog="python -m tests.bench", description=__doc__)
    parser.add_argument("name", choices=names(), help="what to measure")
    parser.add_argument("--full", action="store_true", help="the whole sample (takes minutes)")
    parser.add_argument("--json", action="store_true", help="print a list of objects")
    chosen = parser.parse_args(arguments)
    bench = cast("Bench", importlib.import_module(f"tests.bench.{chosen.name}"))
    figures = bench.figures(chosen.full)
    if chosen.json:
        print(json.dumps([each.as_json() for each in figures], indent=1))
    else:
        print(table(figures))
    return 1 if any(each.holds is False for each in figures) else 0


if __name__ == "__main__":
    sys.exit(main())
