"""How fast the long calculations are.

Wanted: the sort of 2,000 females to 60 bulls in 2 s. Kinship has a file of its own.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import numpy.typing as npt
import pytest
from pytest_benchmark.fixture import BenchmarkFixture

from herdbook.husbandry.kinship import coancestry, inbreeding
from herdbook.husbandry.paternity import Ran, Served, sire_chances
from herdbook.husbandry.sorting import place

pytestmark = pytest.mark.bench

Rows = npt.NDArray[np.int64]


@cache
def herd(animals: int, crops: int = 60) -> tuple[Rows, Rows, npt.NDArray[np.bool_]]:
    """Return sires, dams and who is male of an invented herd: 25 cows a bull, 1 link in 10 unknown."""
    dice = np.random.default_rng(1)
    male = dice.random(animals) < 0.5
    crop = np.minimum(np.arange(animals) * crops // animals, crops - 1)
    sire, dam = np.full(animals, -1), np.full(animals, -1)
    for year in range(1, crops):
        calves = np.flatnonzero(crop == year)
        bulls = dice.choice(np.flatnonzero(male & (crop < year) & (crop >= year - 5)), 2 + len(calves) // 25)
        cows = np.flatnonzero(~male & (crop < year) & (crop >= year - 9))
        sire[calves] = np.where(dice.random(len(calves)) < 0.9, dice.choice(bulls, len(calves)), -1)
        dam[calves] = np.where(dice.random(len(calves)) < 0.9, dice.choice(cows, len(calves)), -1)
    return sire, dam, male


@pytest.mark.parametrize("case", ["kinship", "level", "tight"])
def test_sort(benchmark: BenchmarkFixture, case: str) -> None:
    sire, dam, male = herd(10_000, 30)
    females, bulls = np.flatnonzero(~male)[-2_000:], np.flatnonzero(male)[-60:]
    cost = coancestry(sire, dam, inbreeding(sire, dam), bulls, females).T
    if case == "level":
        cost = np.zeros_like(cost)
    capacity = np.full(60, 30 if case == "tight" else 36)
    answer = benchmark.pedantic(
        place, (cost, np.ones(cost.shape, dtype=bool), capacity), {"limit": 0.0625}, rounds=2
    )
    assert answer.proven


def test_sire_by_dates(benchmark: BenchmarkFixture) -> None:
    from datetime import date

    seen = [Served("A", date(2026, 5, 20)), Ran(("B", "C"), date(2026, 6, 3), date(2026, 8, 1))]
    assert benchmark(sire_chances, date(2027, 3, 10), seen)
