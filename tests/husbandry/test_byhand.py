"""The sort by pencil and paper: its two ways on small herds, and never better than the exact sort."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry.byhand import Outcome, alphabetical, least_related, outcome
from herdbook.husbandry.sorting import place


def test_the_list_is_cut_into_even_pieces() -> None:
    assert alphabetical(6, [5, 5]).tolist() == [0, 0, 0, 1, 1, 1]
    assert alphabetical(7, [5, 5]).tolist() == [0, 0, 0, 0, 1, 1, 1]


def test_a_piece_is_no_longer_than_a_bull_has_places() -> None:
    assert alphabetical(9, [2, 0, 9]).tolist() == [0, 0, 2, 2, 2, 2, 2, 2, 2]
    assert alphabetical(4, [1, 2]).tolist() == [0, 1, 1, -1]
    assert alphabetical(2, []).tolist() == [-1, -1]
    assert alphabetical(0, [3]).tolist() == []


def test_each_goes_to_her_least_related_bull_until_he_is_full() -> None:
    figure = [[0.25, 0.0], [0.125, 0.0625], [0.0, 0.0]]
    every = np.ones((3, 2), dtype=bool)
    assert least_related(figure, every, [2, 1]).tolist() == [1, 0, 0]
    assert least_related(figure, every, [1, 1]).tolist() == [1, 0, -1]
    assert least_related(figure, every, [3, 3]).tolist() == [1, 1, 0], "of equal bulls the first"


def test_the_keepers_rules_are_kept_and_no_limit_is() -> None:
    figure = [[0.25, 0.0], [0.5, 0.0]]
    assert least_related(figure, [[True, False], [False, False]], [5, 5]).tolist() == [0, -1]
    assert least_related(np.zeros((1, 0)), np.ones((1, 0)), []).tolist() == [-1]


def test_what_a_division_gives() -> None:
    figure, allowed = [[0.25, 0.0], [0.125, 0.0], [0.0, 0.0]], [[True, True], [False, True], [True, True]]
    assert outcome(np.array([0, 0, -1]), figure, allowed, 0.125) == Outcome(2, 0.1875, 0.25, 1, 1)
    assert outcome(np.array([1, 1, 0]), figure, allowed, None) == Outcome(3, 0.0, 0.0, 0, 0)
    assert outcome(np.array([-1, -1, -1]), figure, allowed, 0.0) == Outcome(0, 0.0, 0.0, 0, 0)


@given(st.integers(1, 12), st.lists(st.integers(0, 5), min_size=1, max_size=4), st.randoms())
def test_neither_way_places_more_or_as_many_at_less(females: int, places: list[int], dice: object) -> None:
    chance = np.random.default_rng(dice.randrange(2**32))  # type: ignore[attr-defined]
    figure = chance.choice([0.0, 0.03125, 0.0625, 0.125, 0.25], (females, len(places)))
    every = np.ones(figure.shape, dtype=bool)
    best = outcome(place(figure, every, np.array(places)).bull_of, figure, every, None)
    for bull_of in (alphabetical(females, places), least_related(figure, every, places)):
        assert (np.bincount(bull_of + 1, minlength=len(places) + 1)[1:] <= places).all()
        mine = outcome(bull_of, figure, every, None)
        assert mine.placed == best.placed
        assert mine.mean >= best.mean - 1e-15
