"""How fast inbreeding and kinship are, plain and compiled, and how the cost grows with the herd.

Wanted: inbreeding of 2,000 animals in 0.1 s and of 10,000 in 1 s without compiling; 1,000,000 in 8 s and
1 GB, compiled, on two cores; 20 bulls by all females of 10,000 in 50 ms; one mating of 2,000 animals in 2 ms;
a new calf in the time that its ancestors take. Against sgkit it is measured in `tests/oracle`.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import time
from collections.abc import Callable
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture
from sqlalchemy import Connection

from herdbook.husbandry import pedigree_walks
from herdbook.husbandry.kept import KeptInbreeding
from herdbook.husbandry.kinship import (
    coancestry,
    inbreeding,
    known_generations,
    order_parents_first,
    relationship,
    shared_ancestors,
)
from herdbook.husbandry.pedigree_walks import AS_THEY_STAND, compiled
from herdbook.services.book import Book
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.happenings import Weigh
from herdbook.services.pedigree import Pedigree, load_pedigree, read_pedigree
from tests.bench.herds import ON, SMALL, Kept
from tests.oracle.pedigrees import Rows, herd

pytestmark = pytest.mark.bench

SIZES = (10_000, 30_000, 100_000, 300_000, 1_000_000)
MOST_MB = 1_000
kept_herd = cache(herd)


def sexes(animals: int) -> np.ndarray:
    """Return who is male in `herd(animals)`: its first draw."""
    return np.random.default_rng(1).random(animals) < 0.5


@pytest.mark.parametrize("animals", [2_000, 10_000])
def test_inbreeding_plain(benchmark: BenchmarkFixture, animals: int) -> None:
    assert pedigree_walks.walks_for(animals) is AS_THEY_STAND
    assert benchmark(inbreeding, *kept_herd(animals)).max() > 0


def test_inbreeding_compiled(benchmark: BenchmarkFixture) -> None:
    links = kept_herd(100_000)
    inbreeding(*links)
    assert benchmark.pedantic(inbreeding, links, rounds=3).max() > 0


def test_compiled_pays_above_its_threshold(say_figures: Callable[[str], None]) -> None:
    """At the size where compiled walks set in they are the quicker form; the first call is left out."""
    links = kept_herd(pedigree_walks.WORTH_COMPILING)
    inbreeding(*links)
    quick = best(lambda: inbreeding(*links), 3)
    least = pedigree_walks.WORTH_COMPILING
    pedigree_walks.WORTH_COMPILING = 10**9
    try:
        plain = best(lambda: inbreeding(*links), 2)
    finally:
        pedigree_walks.WORTH_COMPILING = least
    say_figures(f"{least:,} animals: compiled {1000 * quick:.0f} ms, plain {1000 * plain:.0f} ms")
    assert quick < plain


def best(work: Callable[[], object], rounds: int) -> float:
    """Return the seconds of the quickest round."""
    taken = []
    for _ in range(rounds):
        began = time.perf_counter()
        work()
        taken.append(time.perf_counter() - began)
    return min(taken)


def in_a_process(animals: int) -> dict[str, float]:
    """Return what `python -m tests.bench.test_bench_kinship` tells of one size."""
    command = [sys.executable, "-m", "tests.bench.test_bench_kinship", str(animals)]
    root = Path(__file__).parents[2]
    done = subprocess.run(command, cwd=root, capture_output=True, text=True, check=True)
    told: dict[str, float] = json.loads(done.stdout)
    return told


def test_growth_to_a_million(say_figures: Callable[[str], None]) -> None:
    """Each size in a process of its own: seconds of the inbreeding, and the most memory that was held."""
    assert compiled() is not None
    inbreeding(*kept_herd(50_000))  # what is compiled is kept on the disk for the others
    told = {animals: in_a_process(animals) for animals in SIZES}
    rows = [
        f"{animals:>9,}  {row['seconds']:7.3f} s  {1e6 * row['seconds'] / animals:6.2f} us an animal"
        f"  known generations {row['known']:.3f} s  order {row['order']:.3f} s"
        f"  {row['mb']:5.0f} MB ({row['before_mb']:.0f} before)"
        for animals, row in told.items()
    ]
    say_figures("\n".join(rows))
    assert all(row["mb"] < MOST_MB for row in told.values())
    assert told[1_000_000]["seconds"] < 100 * told[100_000]["seconds"], "it grows with the square of the size"
    # What stands around it is not what takes long.
    assert told[1_000_000]["known"] + told[1_000_000]["order"] < told[1_000_000]["seconds"]


def test_mating_table(benchmark: BenchmarkFixture) -> None:
    links, male = kept_herd(10_000), sexes(10_000)
    f = inbreeding(*links)
    bulls, females = np.flatnonzero(male)[-20:], np.flatnonzero(~male)
    assert benchmark(coancestry, *links, f, bulls, females).shape == (20, len(females))


def test_one_mating(benchmark: BenchmarkFixture) -> None:
    links, male = kept_herd(2_000), sexes(2_000)
    f = inbreeding(*links)
    pair = np.flatnonzero(male)[-1:], np.flatnonzero(~male)[-1:]
    assert benchmark(coancestry, *links, f, *pair).shape == (1, 1)


def test_relationships_of_three_hundred(benchmark: BenchmarkFixture) -> None:
    links = kept_herd(10_000)
    f = inbreeding(*links)
    assert benchmark(relationship, *links, f, np.arange(9_700, 10_000)).shape == (300, 300)


@pytest.mark.parametrize("animals", [2_000, 10_000])
def test_a_new_calf(benchmark: BenchmarkFixture, animals: int) -> None:
    """Kept inbreeding: one walk over the ancestors of the two parents, and nothing of the herd's size."""
    links, male = kept_herd(animals), sexes(animals)
    kept = KeptInbreeding(*links)
    pair = int(np.flatnonzero(male)[-1]), int(np.flatnonzero(~male)[-1])
    assert benchmark.pedantic(kept.add, pair, rounds=200) == animals + 199


def test_pedigree_of_an_open_book(herd_of: Kept, tmp_path: Path, say_figures: Callable[[str], None]) -> None:
    """Kept between queries; after a weight it still holds, and after a calf it grows by a row."""
    path = tmp_path / "herd.herdbook"
    shutil.copy(herd_of(SMALL), path)

    def seconds(read: Callable[[Connection], Pedigree]) -> float:
        with book.read() as conn:
            return best(lambda: read(conn).inbreeding, 1)

    with Book.open(path) as book:
        anew = [seconds(read_pedigree) for _ in range(3)]
        seconds(load_pedigree)
        again = seconds(load_pedigree)
        with book.read() as conn:
            pedigree = load_pedigree(conn)
        dam = pedigree.ids[int(pedigree.dam.max())]
        calves = []
        for number in range(4):
            book.do(RecordBirth(dam, ON, (NewCalf(sex="F", tag=f"new {number}"),)))
            calves.append(seconds(load_pedigree))
        book.do(Weigh(dam, ON, kg=300.0))
        weight = seconds(load_pedigree)
    ms = {"anew": min(anew), "again": again, "after a calf": min(calves), "after a weight": weight}
    say_figures("  ".join(f"{what} {1000 * took:.1f} ms" for what, took in ms.items()))
    assert 20 * weight < min(anew)
    assert 4 * min(calves) < min(anew)


def test_why(benchmark: BenchmarkFixture) -> None:
    links = kept_herd(10_000)
    assert benchmark(shared_ancestors, *links, inbreeding(*links), 9_998, 9_999)


def test_known_generations(benchmark: BenchmarkFixture) -> None:
    assert benchmark(known_generations, *kept_herd(10_000)).max() > 3


def mixed(sire: Rows, dam: Rows) -> tuple[Rows, Rows]:
    """Return the same pedigree with its rows in no order."""
    rows = np.random.default_rng(0).permutation(len(sire))
    place = np.append(np.argsort(rows), -1)
    return place[sire[rows]], place[dam[rows]]


def figures(animals: int) -> dict[str, float]:
    """Work out one size in this process; what is compiled is fetched before."""
    from tests.bench.fresh import memory

    pedigree_walks.WORTH_COMPILING = 0
    for work in (inbreeding, known_generations):
        work(*herd(1_000))
    order_parents_first(*mixed(*herd(1_000)))
    links = herd(animals)
    before = memory()["mb"]
    seconds = best(lambda: inbreeding(*links), 1 if animals > 500_000 else 3)
    most = memory()["most_mb"]
    out_of_order = mixed(*links)
    return {
        "seconds": seconds,
        "before_mb": before,
        "mb": most,
        "known": best(lambda: known_generations(*links), 2),
        "order": best(lambda: order_parents_first(*out_of_order), 2),
    }


if __name__ == "__main__":
    print(json.dumps(figures(int(sys.argv[1]))))
