"""The quick sort of a small herd: the same placing as the proven one, as far as anybody could tell."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.placing import place_small
from herdbook.husbandry.sorting import place

COSTS = tuple(each / 128 for each in (0, 0, 1, 2, 4, 7, 8, 16, 32))


@given(st.data())
def test_as_many_as_cheap_and_as_even_as_the_sort(data: st.DataObject) -> None:
    females, bulls = data.draw(st.integers(0, 14)), data.draw(st.integers(0, 4))
    chance = np.random.default_rng(data.draw(st.integers(0, 10**6)))
    cost = chance.choice(COSTS, (females, bulls))
    allowed = chance.random((females, bulls)) < 0.8
    capacity = chance.integers(0, 9, bulls)
    limit = data.draw(st.sampled_from([None, 0.0625, 0.02, 0.0]))
    quick = place_small(cost, allowed, capacity, limit)
    proven = place(cost, allowed, capacity, limit=limit)
    assert proven.proven

    placed = np.flatnonzero(quick >= 0)
    assert allowed[placed, quick[placed]].all()
    assert (cost[placed, quick[placed]] <= (1.0 if limit is None else limit)).all()
    held = np.bincount(quick[placed], minlength=bulls)
    assert (held <= capacity).all()

    assert len(placed) == (proven.bull_of >= 0).sum()
    assert cost[placed, quick[placed]].sum() == pytest.approx(proven.cost_total, abs=1e-9)
    wanted = np.bincount(proven.bull_of[proven.bull_of >= 0], minlength=bulls)
    assert _uneven(held, capacity) == pytest.approx(_uneven(wanted, capacity), abs=1e-6)


def _uneven(held: np.ndarray, capacity: np.ndarray) -> float:
    return float((held**2 / np.maximum(capacity, 1)).sum())


def test_no_bull_and_no_place_leave_everybody_over() -> None:
    assert place_small(np.zeros((3, 0)), np.zeros((3, 0), bool), np.zeros(0, int)).tolist() == [-1] * 3
    assert place_small(np.zeros((2, 1)), np.ones((2, 1), bool), np.zeros(1, int)).tolist() == [-1] * 2


def test_a_pair_at_the_limit_is_made() -> None:
    cost, may = np.array([[0.0625]]), np.ones((1, 1), dtype=bool)
    assert place_small(cost, may, np.array([1]), 0.0625).tolist() == [0]
    assert place_small(cost, may, np.array([1]), 0.06).tolist() == [-1]
