"""How long the sort takes where not all bulls may be used: on an invented herd's kinship, and on chance."""

from __future__ import annotations

import time
from collections.abc import Callable

import numpy as np
import numpy.typing as npt
import pytest

from herdbook.husbandry.kinship import coancestry, inbreeding
from herdbook.husbandry.sorting import Sorted, Stopped, place
from tests.bench.test_bench_husbandry import herd

pytestmark = pytest.mark.bench

LIMIT = 0.0625
Reals = npt.NDArray[np.float64]


def kinship(females: int, bulls: int, animals: int, crops: int) -> Reals:
    sire, dam, male = herd(animals, crops)
    cows, grown = np.flatnonzero(~male)[-females:], np.flatnonzero(male)[-bulls:]
    return coancestry(sire, dam, inbreeding(sire, dam), grown, cows).T


def timed(
    cost: Reals, capacity: int, *, stop: float | None = None, limit: float | None = LIMIT, **rules: int
) -> tuple[float, Sorted]:
    begun = time.perf_counter()

    def going() -> None:
        if stop is not None and time.perf_counter() - begun > stop:
            raise Stopped

    room = np.full(cost.shape[1], capacity)
    answer = place(cost, np.ones(cost.shape, dtype=bool), room, limit=limit, going=going, **rules)
    return time.perf_counter() - begun, answer


CASES = {
    "12 x 2, both used": (lambda: kinship(12, 2, 300, 10), 8, {}),
    "2,000 x 60, all used": (lambda: kinship(2_000, 60, 10_000, 30), 36, {}),
    "500 x 20, the best 10": (lambda: kinship(500, 20, 3_000, 30), 55, {"most_bulls": 10}),
    "2,000 x 60, the best 30": (lambda: kinship(2_000, 60, 10_000, 30), 80, {"most_bulls": 30}),
    "2,000 x 60, the best 30, tight": (lambda: kinship(2_000, 60, 10_000, 30), 67, {"most_bulls": 30}),
}


@pytest.mark.parametrize("case", CASES)
def test_kinship(case: str, say_figures: Callable[[str], None]) -> None:
    make, capacity, rules = CASES[case]
    seconds, answer = timed(make(), capacity, **rules)
    say_figures(f"{case}: {seconds:.3f} s, proven {answer.proven}, gap {answer.gap:.4%}")
    assert answer.proven


def test_stopped_after_five_seconds(say_figures: Callable[[str], None]) -> None:
    """Whoever stops has an answer within one in a hundred of the best."""
    seconds, answer = timed(kinship(2_000, 60, 10_000, 30), 67, stop=5.0, most_bulls=30)
    say_figures(f"2,000 x 60, the best 30, stopped: {seconds:.3f} s, gap {answer.gap:.4%}")
    assert answer.gap <= 0.01


def test_chance(say_figures: Callable[[str], None]) -> None:
    """Costs by chance alone are the hardest: nothing tells one choice of bulls from another."""
    cost = np.random.default_rng(0).random((500, 20))
    seconds, answer = timed(cost, 55, stop=10.0, limit=None, most_bulls=10)
    say_figures(f"500 x 20 by chance, the best 10: {seconds:.3f} s, gap {answer.gap:.4%}")
    assert answer.gap <= 0.05
