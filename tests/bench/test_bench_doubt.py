"""What doubtful sires cost: 2,000 females by 60 bulls in a book where every calf is doubtful.

Wanted: the expected and the worst table each well under 1 s; the table of a book without doubt stands beside
them in the same run.
"""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from herdbook.husbandry.averageparents import fill_unknown
from herdbook.husbandry.doubt import AverageKinship, Links
from herdbook.husbandry.kinship import coancestry, inbreeding
from herdbook.husbandry.worstcase import WorstKinship
from tests.bench.test_bench_husbandry import Rows, herd

pytestmark = pytest.mark.bench

ANIMALS, CROPS = 6_000, 12
"""Some twelve years of a herd of 2,000 females."""


@cache
def doubted() -> tuple[Rows, Rows, Links, Rows, Rows]:
    """Return a herd in which every calf with a known sire may be his or another's, or a third's."""
    sire, dam, male = herd(ANIMALS, CROPS)
    dice = np.random.default_rng(2)
    crop = np.minimum(np.arange(ANIMALS) * CROPS // ANIMALS, CROPS - 1)
    child, parent, chance = [], [], []
    for year in range(CROPS):
        calves = np.flatnonzero((crop == year) & (sire >= 0))
        bulls = np.unique(sire[calves])
        for calf in calves.tolist():
            others = bulls[bulls != sire[calf]]
            beside = dice.choice(others, min(len(others), int(dice.integers(1, 3))), replace=False).tolist()
            parts = dice.dirichlet(np.ones(1 + len(beside)))
            child += [calf] * len(parts)
            parent += [int(sire[calf]), *beside]
            chance += np.sort(parts)[::-1].tolist()
    links = Links(np.array(child, dtype=np.int64), np.array(parent, dtype=np.int64), np.array(chance))
    return sire, dam, links, np.flatnonzero(male)[-60:], np.flatnonzero(~male)[-2_000:]


def test_certain_table(benchmark: BenchmarkFixture) -> None:
    sire, dam, _, bulls, females = doubted()

    def table() -> Any:
        return coancestry(sire, dam, inbreeding(sire, dam), bulls, females)

    assert benchmark.pedantic(table, rounds=5).shape == (60, 2_000)


def test_expected_table(benchmark: BenchmarkFixture) -> None:
    sire, dam, links, bulls, females = doubted()

    def table() -> Any:
        return AverageKinship(sire, dam, links).coancestry(bulls, females)

    assert benchmark.pedantic(table, rounds=3).max() > 0


def test_worst_bounds(benchmark: BenchmarkFixture) -> None:
    sire, dam, links, bulls, females = doubted()

    def table() -> Any:
        return WorstKinship(sire, dam, links).bound(bulls.tolist(), females.tolist())

    assert benchmark.pedantic(table, rounds=3).max() > 0


def test_worst_table(benchmark: BenchmarkFixture) -> None:
    """The bounds, and as many pairs settled exactly as the work set aside lasts for."""
    sire, dam, links, bulls, females = doubted()
    expected = AverageKinship(sire, dam, links).coancestry(bulls, females)

    def table() -> Any:
        return WorstKinship(sire, dam, links).table(bulls.tolist(), females.tolist(), expected, 0.0625)

    worst, exact = benchmark.pedantic(table, rounds=3)
    assert np.all(worst >= expected)
    benchmark.extra_info["exact"] = float(exact.mean())


def test_range_table(benchmark: BenchmarkFixture) -> None:
    """The high end: average animals in the place of the unknown parents."""
    sire, dam, links, bulls, females = doubted()
    year = 2000 + np.minimum(np.arange(ANIMALS) * CROPS // ANIMALS, CROPS - 1)

    def table() -> Any:
        full = fill_unknown(sire, dam, year, links)
        return AverageKinship(full.sire, full.dam, links, full.groups).coancestry(bulls, females)

    assert benchmark.pedantic(table, rounds=3).max() > 0
