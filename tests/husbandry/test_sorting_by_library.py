"""The sort that chooses its bulls, against the integer program of a library (HiGHS through SciPy).

The program is the tight one: a pair may be used only where its bull is (x <= y for every pair).
"""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import coo_array, csr_array, hstack, identity, kron

from herdbook.husbandry.sorting import place

Reals = npt.NDArray[np.float64]


def by_library(
    cost: Reals, open_pair: npt.NDArray[np.bool_], room: npt.NDArray[np.int64], most: int, least: int
) -> tuple[int, float]:
    """Return how many can be placed with at most so many bulls, and the least cost of placing so many."""
    females, bulls = cost.shape
    pairs = females * bulls
    of_female = hstack([kron(identity(females), np.ones((1, bulls))), coo_array((females, bulls))])
    of_bull = kron(np.ones((1, females)), identity(bulls))
    used = np.concatenate([np.zeros(pairs), np.ones(bulls)])
    pair_used = hstack([identity(pairs), -kron(np.ones((females, 1)), identity(bulls))])
    rules = [
        LinearConstraint(csr_array(of_female), -np.inf, 1),
        LinearConstraint(csr_array(hstack([of_bull, -np.diag(room)])), -np.inf, 0),
        LinearConstraint(csr_array(hstack([of_bull, -least * np.eye(bulls)])), 0, np.inf),
        LinearConstraint(csr_array(pair_used), -np.inf, 0),
        LinearConstraint(used[np.newaxis], -np.inf, most),
    ]
    bounds = Bounds(0, np.concatenate([open_pair.ravel().astype(float), np.ones(bulls)]))

    def least_of(price: Reals, more: list[Any]) -> float:
        found = milp(price, integrality=np.ones(len(price)), bounds=bounds, constraints=rules + more)
        assert found.status == 0
        return float(found.fun)

    each = np.concatenate([np.ones(pairs), np.zeros(bulls)])
    placed = round(-least_of(-each, []))
    whole = np.concatenate([cost.ravel(), np.zeros(bulls)])
    return placed, least_of(whole, [LinearConstraint(each[np.newaxis], placed, placed)])


@pytest.mark.parametrize("seed", range(8))
def test_no_integer_program_finds_a_better_sort(seed: int) -> None:
    """Multiples of 1/256, as inbreeding is: the totals are exact, and equal to the last digit."""
    dice = np.random.default_rng(seed)
    females, bulls = int(dice.integers(25, 60)), int(dice.integers(5, 10))
    cost = dice.integers(0, 64, (females, bulls)) / 256
    open_pair = dice.random(cost.shape) < 0.8
    room = dice.integers(4, 16, bulls)
    most, least = int(dice.integers(2, bulls)), int(dice.integers(0, 5))
    answer = place(cost, open_pair, room, most_bulls=most, least_group=least)
    placed, total = by_library(cost, open_pair, room, most, least)
    assert answer.proven
    assert int((answer.bull_of >= 0).sum()) == placed
    assert round(256 * answer.cost_total) == round(256 * total)
