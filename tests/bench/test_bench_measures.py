"""How fast the herd measures are: a herd of 2,000 well under a second, 100,000 animals in seconds.

Each prints its time from 2,000 to 100,000 animals; the memory that they hold at once is held to a bound by
the animal, so that none of them ever holds anything of the size of all pairs.
"""

from __future__ import annotations

import tracemalloc
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from herdbook.husbandry.founders import ancestor_shares, carriers, founder_shares
from herdbook.husbandry.kinship import inbreeding
from herdbook.husbandry.measures import by_birth_year, mean_kinship
from herdbook.services.book import Book
from herdbook.services.queries.bloodlines import bloodlines
from tests.bench.herds import ON, SMALL, Kept
from tests.bench.test_bench_husbandry import herd

pytestmark = pytest.mark.bench

CROPS = 60
BYTES_AN_ANIMAL = 1_000
MEASURES: dict[str, Callable[[Any, Any, Any, Any], object]] = {
    "mean kinship": mean_kinship,
    "ancestors": lambda sire, dam, _f, group: ancestor_shares(sire, dam, group),
    "carriers": lambda sire, dam, _f, group: carriers(
        sire, dam, [each.row for each in founder_shares(sire, dam, group)], group
    ),
    "by year": lambda sire, dam, f, _group: by_birth_year(
        sire, dam, f, (np.arange(len(sire)) * CROPS // len(sire)).tolist()
    ),
}


@pytest.mark.parametrize("animals", [2_000, 10_000, 100_000])
@pytest.mark.parametrize("name", MEASURES)
def test_measure(benchmark: Any, name: str, animals: int) -> None:
    sire, dam, _ = herd(animals, CROPS)
    f = inbreeding(sire, dam) if animals <= 10_000 else np.zeros(animals)  # the same work with any F
    group = np.arange(animals * 4 // 5, animals)
    benchmark.pedantic(MEASURES[name], (sire, dam, f, group), rounds=1 if animals > 10_000 else 5)


@pytest.mark.parametrize("name", MEASURES)
def test_memory_grows_with_the_animals(name: str) -> None:
    sire, dam, _ = herd(10_000, CROPS)
    f, group = inbreeding(sire, dam), np.arange(8_000, 10_000)
    MEASURES[name](sire, dam, f, group)  # what is imported late does not count
    tracemalloc.start()
    try:
        MEASURES[name](sire, dam, f, group)
        assert tracemalloc.get_traced_memory()[1] < BYTES_AN_ANIMAL * len(sire)
    finally:
        tracemalloc.stop()


def test_bloodlines_of_2000(benchmark: Any, herd_of: Kept) -> None:
    """The whole page: reading the book, every founder, ancestor, line and measure."""
    with Book.open(herd_of(SMALL), read_only=True) as book:

        def read() -> int:
            with book.read() as conn:
                return len(bloodlines(conn, ON).founders)

        assert benchmark.pedantic(read, rounds=5, warmup_rounds=1) > 0
