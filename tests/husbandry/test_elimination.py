"""Sums by elimination against the sum over every state, drawn at random."""

from __future__ import annotations

import itertools
import math
from collections.abc import Sequence

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry import elimination
from herdbook.husbandry.elimination import Elimination, Factor, Impossible


@st.composite
def networks(draw: st.DrawFn) -> tuple[list[int], list[Factor]]:
    """Draw a few variables of two or three states, and tables over up to three of them, some with zeros."""
    sizes = draw(st.lists(st.integers(2, 3), min_size=2, max_size=6))
    factors = []
    for _ in range(draw(st.integers(1, 6))):
        scope = tuple(draw(st.lists(st.integers(0, len(sizes) - 1), min_size=1, max_size=3, unique=True)))
        shape = tuple(sizes[v] for v in scope)
        cells = draw(
            st.lists(
                st.sampled_from([0.0, 0.5, 1.0, 3.0]), min_size=math.prod(shape), max_size=math.prod(shape)
            )
        )
        factors.append(Factor(scope, np.array(cells).reshape(shape)))
    return sizes, factors


def counted(sizes: Sequence[int], factors: Sequence[Factor]) -> dict[tuple[int, ...], float]:
    """Return the weight of every joint state."""
    return {
        state: math.prod(float(f.table[tuple(state[v] for v in f.scope)]) for f in factors)
        for state in itertools.product(*(range(size) for size in sizes))
    }


def alone(weights: dict[tuple[int, ...], float], variable: int, size: int) -> list[float]:
    """Return the chances of one variable's states."""
    whole = math.fsum(weights.values())
    return [math.fsum(w for s, w in weights.items() if s[variable] == state) / whole for state in range(size)]


@given(networks())
def test_chances_agree_with_counting(drawn: tuple[list[int], list[Factor]]) -> None:
    sizes, factors = drawn
    weights = counted(sizes, factors)
    sums = Elimination(sizes, factors)
    if not any(weights.values()):
        with pytest.raises(Impossible):
            sums.chances()
        return
    told = sums.chances()
    assert set(told) == {v for f in factors for v in f.scope}
    for variable, chances in told.items():
        assert chances[0].tolist() == pytest.approx(alone(weights, variable, sizes[variable]), abs=1e-12)


@given(networks(), st.integers(1, 50))
def test_many_questions_at_once_are_answered_apart(
    drawn: tuple[list[int], list[Factor]], at_once: int
) -> None:
    """A batch is one question after the other, however it is cut to fit the memory."""
    sizes, factors = drawn
    weights = counted(sizes, factors)
    asked = factors[0].scope[0]
    possible = [s for s in range(sizes[asked]) if any(w for state, w in weights.items() if state[asked] == s)]
    if not possible:
        return
    sums = Elimination(sizes, factors)
    before, elimination._CELLS_AT_ONCE = elimination._CELLS_AT_ONCE, at_once
    try:
        told = sums.chances({asked: np.eye(sizes[asked])[possible]})
    finally:
        elimination._CELLS_AT_ONCE = before
    for row, state in enumerate(possible):
        given_it = {key: weight for key, weight in weights.items() if key[asked] == state}
        for variable, chances in told.items():
            mine = chances[row] if len(chances) > 1 else chances[0]
            assert mine.tolist() == pytest.approx(alone(given_it, variable, sizes[variable]), abs=1e-12)


@given(networks(), st.sampled_from([2, 6, 27]))
def test_bounds_hold_the_sum(drawn: tuple[list[int], list[Factor]], cells: int) -> None:
    """Each question's sum lies between its least and its most, on one scale; wide tables make them meet."""
    sizes, factors = drawn
    weights = counted(sizes, factors)
    if not any(weights.values()):
        return
    asked = factors[0].scope[0]
    sums = [math.fsum(w for s, w in weights.items() if s[asked] == state) for state in range(sizes[asked])]
    least, most = Elimination(sizes, factors).bounds({asked: np.eye(sizes[asked])}, cells)
    free = [v for v in range(len(sizes)) if all(v not in f.scope for f in factors)]
    sums = [each / math.prod(sizes[v] for v in free) for each in sums]
    # The scale is not told; it is that of the bounds themselves, wherever one of them is exact.
    for state, other in itertools.permutations(range(sizes[asked]), 2):
        assert least[state] * sums[other] <= most[other] * sums[state] * (1 + 1e-9) + 1e-12
    exact_least, exact_most = Elimination(sizes, factors).bounds({asked: np.eye(sizes[asked])}, 3**6)
    assert exact_least == pytest.approx(exact_most, abs=1e-12)


def test_nothing_possible_is_said_at_once() -> None:
    """A table without variables that is nil leaves nothing."""
    with pytest.raises(Impossible):
        Elimination([2], [Factor((), np.array(0.0)), Factor((0,), np.ones(2))])
    with pytest.raises(Impossible):
        Elimination([2], [Factor((0,), np.zeros(2))]).bounds({})


def test_a_chain_needs_small_tables_only() -> None:
    """A thousand variables in a row are summed with tables of nine cells."""
    step = Factor((0, 1), np.array([[0.9, 0.1, 0.0], [0.1, 0.8, 0.1], [0.0, 0.1, 0.9]]))
    factors = [Factor((at, at + 1), step.table) for at in range(999)]
    sums = Elimination([3] * 1000, [Factor((0,), np.array([1.0, 0.0, 0.0])), *factors])
    assert sums.widest == 9
    assert sums.chances()[999][0].tolist() == pytest.approx([1 / 3] * 3, abs=1e-3)
