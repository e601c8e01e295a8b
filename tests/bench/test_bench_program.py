"""The whole program in processes of its own: how soon it is there, and how much memory it holds.

Wanted, on a herd of 2,000: the first paint within twice that of a bare window; the first table filled within
twice a bare window, the import of SQLAlchemy and the opening of the book together; nothing heavy loaded by
then; under 250 MB. On 100,000 animals: under 400 MB. "The opening of the book" is the strict reading: the
quick check of the file, the triggers, and not the import of our own store with its tables, which stands in
the figures as `import_store_s`. Modules are compiled before and kept, as an installed program's are.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.bench.herds import LARGE, SMALL, Kept, Size

pytestmark = pytest.mark.bench
RUNS = 7
TWICE = 2.0

Say = Callable[[str], None]


@pytest.fixture(scope="module")
def home(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a machine folder for these processes."""
    return tmp_path_factory.mktemp("machine")


def measured(home: Path, what: str, *more: object) -> dict[str, Any]:
    """Run one measurement in a fresh process and return its figures."""
    command = [sys.executable, "-m", "tests.bench.fresh"]
    environment = {**os.environ, "HERDBOOK_HOME": str(home), "QT_QPA_PLATFORM": "offscreen"}
    environment["PYTHONPYCACHEPREFIX"] = str(home / "compiled")
    environment.pop("PYTHONDONTWRITEBYTECODE", None)
    began = time.time()
    done = subprocess.run(
        [*command, repr(began), what, *(str(word) for word in more)],
        capture_output=True,
        text=True,
        timeout=300,
        env=environment,
        cwd=Path(__file__).parents[2],
        check=False,
    )
    assert done.stdout, done.stderr
    figures: dict[str, Any] = json.loads(done.stdout)
    return figures


def test_start(benchmark: Any, herd_of: Kept, home: Path, say_figures: Say) -> None:
    """Bare and whole in turn, seven times; the quickest of each counts: other work only makes it slower."""
    path = herd_of(SMALL)
    for what in ("bare", "start"):  # once before: every file is compiled, and in the system's cache
        measured(home, what, path)
    bare: list[dict[str, Any]] = []
    whole: list[dict[str, Any]] = []

    def both() -> None:
        bare.append(measured(home, "bare", path))
        whole.append(measured(home, "start", path))

    benchmark.pedantic(both, rounds=RUNS)

    def least(runs: list[dict[str, Any]], name: str) -> float:
        return min(float(run[name]) for run in runs)

    bare_window = least(bare, "painted")
    sqlalchemy, store, opening = (least(bare, name) for name in ("sqlalchemy", "store", "opening"))
    floor = bare_window + sqlalchemy + opening
    painted, filled = least(whole, "painted"), least(whole, "filled")
    figures = {
        "bare_window_s": bare_window,
        "import_sqlalchemy_s": sqlalchemy,
        "import_store_s": store,
        "opening_s": opening,
        "first_paint_s": painted,
        "first_table_s": filled,
        "paint_ratio": painted / bare_window,
        "table_ratio": filled / floor,
    }
    benchmark.extra_info.update(figures)
    say_figures(", ".join(f"{name} {value:.3f}" for name, value in figures.items()))
    for run in whole:
        assert run["heavy_then"] == run["heavy"] == []
    assert figures["paint_ratio"] <= TWICE
    assert figures["table_ratio"] <= TWICE


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")
@pytest.mark.parametrize(("size", "allowed"), [(SMALL, 250), (LARGE, 400)], ids=["2,000", "100,000"])
def test_memory(
    benchmark: Any, herd_of: Kept, home: Path, say_figures: Say, size: Size, allowed: float
) -> None:
    """What the window holds after Today and the Register have loaded, in MB."""
    path = herd_of(size)
    figures: dict[str, Any] = {}
    benchmark.pedantic(lambda: figures.update(measured(home, "held", path)), rounds=1)
    for page, held in figures.items():
        benchmark.extra_info[page] = held
        say_figures(f"{page}: {held['mb']:.0f} MB, at most {held['most_mb']:.0f} MB")
    assert figures["register"]["mb"] < allowed


@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory is read from /proc")
def test_memory_of_every_page(benchmark: Any, herd_of: Kept, home: Path, say_figures: Say) -> None:
    """What is held when all pages have been open on 2,000 animals; the numbers of the sort come in then."""
    pages = "today,register,chores,calving,butcher,papers,sort"
    figures: dict[str, Any] = {}
    benchmark.pedantic(lambda: figures.update(measured(home, "held", herd_of(SMALL), pages)), rounds=1)
    benchmark.extra_info.update(figures)
    say_figures(", ".join(f"{page} {held['mb']:.0f} MB" for page, held in figures.items()))
    assert set(figures) == set(pages.split(","))
