"""The transport problem against another solver, and against itself after groups were opened and closed."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linprog

from herdbook.husbandry.transport import NEVER, Ints, Transport


def by_linear_programme(price: Ints, least: Ints, most: Ints) -> int | None:
    """Return the least total by HiGHS, None where the groups cannot hold everyone."""
    animals, groups = price.shape
    animal, group = np.divmod(np.arange(price.size), groups)
    once = (animal[np.newaxis] == np.arange(animals)[:, np.newaxis]).astype(float)
    held = (group[np.newaxis] == np.arange(groups)[:, np.newaxis]).astype(float)
    answer = linprog(
        np.where(price >= NEVER, 0, price).ravel(),
        A_ub=np.vstack([held, -held]),
        b_ub=np.concatenate([most, -least]),
        A_eq=once,
        b_eq=np.ones(animals),
        bounds=[(0, 0 if never else 1) for never in (price >= NEVER).ravel()],
    )
    return None if answer.x is None else round(answer.fun)


@st.composite
def tables(draw: st.DrawFn) -> tuple[Ints, Ints, Ints]:
    animals, groups = draw(st.integers(1, 9)), draw(st.integers(1, 4))
    cells = st.sampled_from([0, 1, 2, 3, 5, 9, 40, NEVER])
    price = np.array([[draw(cells) for _ in range(groups)] for _ in range(animals)])
    price[:, -1] = np.where((price >= NEVER).all(axis=1), 7, price[:, -1])
    most = np.array([draw(st.integers(0, 6)) for _ in range(groups)])
    least = np.minimum(most, [draw(st.integers(0, 3)) for _ in range(groups)])
    return price, least, most


@given(tables())
def test_agrees_with_a_linear_programme(table: tuple[Ints, Ints, Ints]) -> None:
    price, least, most = table
    answer = Transport(price, least, most)
    found = answer.total if answer.settle() else None
    if found is not None:
        found = answer.total
        held = np.bincount(answer.group, minlength=len(most))
        assert np.all((least <= held) & (held <= most))
    assert found == by_linear_programme(price, least, most)


@pytest.mark.parametrize("seed", range(8))
def test_opening_and_closing_costs_nothing_in_exactness(seed: int) -> None:
    dice = np.random.default_rng(seed)
    animals, groups = 40, 7
    price = dice.integers(0, 30 if seed % 2 else 10_000, (animals, groups))
    price[dice.random(price.shape) < 0.2] = NEVER
    price[:, -1] = np.where(price[:, -1] >= NEVER, 20_000, price[:, -1])
    least, most = np.full(groups, seed % 3), dice.integers(8, 14, groups)
    least[-1], most[-1] = 0, 9
    kept = Transport(price, least, most)
    assert kept.settle()
    used = np.ones(groups, dtype=bool)
    refused = 0
    for _ in range(25):
        wanted = dice.random(groups) < 0.7
        wanted[-1] = True
        opened, closed = np.flatnonzero(wanted & ~used), np.flatnonzero(used & ~wanted)
        fresh = Transport(price, np.where(wanted, least, 0), np.where(wanted, most, 0))
        could, before = fresh.settle(), kept.total
        assert kept.change(opened.tolist(), closed.tolist(), least, most) == could
        assert kept.total == (fresh.total if could else before)
        used = wanted if could else used
        refused += not could
    assert refused < 25


def test_equal_prices_are_spread_at_once() -> None:
    """Where all is alike nobody has to be led away: the groups begin filled for their size."""
    price = np.zeros((12, 3), dtype=np.int64)
    price[:2] = [[5, 0, 9], [5, 9, 1]]  # these two have a cheapest group
    spread = Transport(price, np.zeros(3, dtype=np.int64), np.array([3, 6, 3]))
    assert spread.group[:2].tolist() == [1, 2]
    assert spread.held.tolist() == [3, 6, 3]
    full = Transport(price, np.zeros(3, dtype=np.int64), np.array([0, 12, 0]))
    assert full.group[2:].tolist() == [1] * 10
