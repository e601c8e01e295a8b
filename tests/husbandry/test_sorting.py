"""The sort against every possible answer of small herds, and against another solver on larger ones."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from fractions import Fraction

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import linear_sum_assignment

from herdbook.husbandry import sorting
from herdbook.husbandry.sorting import Sorted, place

COSTS = (0.0, 0.015625, 0.03125, 0.0625, 0.125, 0.25)


@st.composite
def herds(draw: st.DrawFn) -> dict[str, object]:
    """Draw a small herd with few different costs, so that equally good answers are common."""
    females, bulls = draw(st.integers(1, 5)), draw(st.integers(1, 3))
    shape = (females, bulls)

    def grid(of: st.SearchStrategy[object]) -> list[list[object]]:
        return [[draw(of) for _ in range(bulls)] for _ in range(females)]

    fixed = draw(st.dictionaries(st.integers(0, females - 1), st.integers(0, bulls - 1), max_size=2))
    return {
        "cost": np.array(grid(st.sampled_from(COSTS)), dtype=float).reshape(shape),
        "allowed": np.array(grid(st.sampled_from([True, True, True, False])), dtype=bool).reshape(shape),
        "heifer_bar": np.array(grid(st.sampled_from([False, False, True])), dtype=bool).reshape(shape),
        "capacity": np.array([draw(st.integers(0, 3)) for _ in range(bulls)]),
        "fixed": fixed,
        "limit": draw(st.sampled_from([None, 0.0625, 0.02])),
        "female_rank": draw(st.permutations(range(females))),
        "bull_rank": draw(st.permutations(range(bulls))),
    }


def best_by_trying_all(herd: dict[str, object]) -> list[int]:
    """Return the answer that the rules ask for, by trying every one."""
    cost, allowed, bar, capacity = (herd[k] for k in ("cost", "allowed", "heifer_bar", "capacity"))
    assert isinstance(cost, np.ndarray)
    assert isinstance(allowed, np.ndarray)
    assert isinstance(bar, np.ndarray)
    females, bulls = cost.shape
    limit = np.inf if herd["limit"] is None else herd["limit"]
    fixed: dict[int, int] = herd["fixed"]  # type: ignore[assignment]
    bull_rank = [*herd["bull_rank"], bulls]  # type: ignore[misc]  # no bull comes last
    turn = sorted(range(females), key=lambda f: herd["female_rank"][f])  # type: ignore[index]
    choices: list[Sequence[int]] = [
        [fixed[f]]
        if f in fixed
        else [-1, *(b for b in range(bulls) if allowed[f, b] and not bar[f, b] and cost[f, b] <= limit)]
        for f in range(females)
    ]
    by_hand = [list(fixed.values()).count(b) for b in range(bulls)]
    found = []
    for answer in itertools.product(*choices):
        held = [answer.count(b) for b in range(bulls)]
        if all(held[b] <= max(capacity[b], by_hand[b]) for b in range(bulls)):  # type: ignore[index]
            total = sum(cost[f, b] for f, b in enumerate(answer) if b >= 0)
            placed = sum(b >= 0 for b in answer)
            uneven = sum(Fraction(held[b] ** 2, max(int(capacity[b]), 1)) for b in range(bulls))  # type: ignore[index]
            first_more = [-held[b] for b in sorted(range(bulls), key=lambda b: bull_rank[b])]
            in_turn = [bull_rank[answer[f]] for f in turn]
            found.append((-placed, total, uneven, first_more, in_turn, answer))
    return list(min(found)[-1])


def solved(herd: dict[str, object]) -> Sorted:
    return place(**herd)  # type: ignore[arg-type]


@given(herds())
def test_equals_the_best_of_all_answers(herd: dict[str, object]) -> None:
    answer = solved(herd)
    assert answer.bull_of.tolist() == best_by_trying_all(herd)
    assert answer.proven
    cost = herd["cost"]
    assert isinstance(cost, np.ndarray)
    assert answer.cost_total == sum(cost[f, b] for f, b in enumerate(answer.bull_of) if b >= 0)


@given(herds(), st.data())
def test_order_of_rows_and_columns_does_not_matter(herd: dict[str, object], data: st.DataObject) -> None:
    females, bulls = herd["cost"].shape  # type: ignore[attr-defined]
    rows = np.array(data.draw(st.permutations(range(females))))
    columns = np.array(data.draw(st.permutations(range(bulls))))
    new_row = {int(old): new for new, old in enumerate(rows)}
    new_column = {int(old): new for new, old in enumerate(columns)}
    mixed = {
        **{k: herd[k][np.ix_(rows, columns)] for k in ("cost", "allowed", "heifer_bar")},  # type: ignore[index]
        "capacity": herd["capacity"][columns],  # type: ignore[index]
        "fixed": {new_row[f]: new_column[b] for f, b in herd["fixed"].items()},  # type: ignore[attr-defined]
        "limit": herd["limit"],
        "female_rank": [herd["female_rank"][f] for f in rows],  # type: ignore[index]
        "bull_rank": [herd["bull_rank"][b] for b in columns],  # type: ignore[index]
    }
    answer, again = solved(herd), solved(mixed)
    for old in range(females):
        bull = int(again.bull_of[new_row[old]])
        assert answer.bull_of[old] == (columns[bull] if bull >= 0 else -1)
        assert answer.reason[old] == again.reason[new_row[old]]
    assert answer.cost_total == again.cost_total


@pytest.mark.parametrize("seed", range(6))
def test_total_of_a_larger_herd_agrees_with_another_solver(seed: int) -> None:
    # As an assignment, each bull repeated for each of his places (Jonker & Volgenant's method).
    dice = np.random.default_rng(seed)
    females, bulls = 60, 6
    cost = dice.choice(np.append(dice.random(20) / 8, 0.0), size=(females, bulls))
    capacity = dice.integers(4, 14, size=bulls)
    limit = 0.11
    allowed = dice.random(cost.shape) < 0.9
    answer = place(cost, allowed, capacity, limit=limit)
    open_pair = allowed & (cost <= limit)
    wide = np.repeat(np.where(open_pair, cost, 1000.0), capacity, axis=1)
    wide = np.column_stack([wide, np.full((females, females), 10.0)])  # dearer to leave out than any placing
    row, column = linear_sum_assignment(wide)
    price = wide[row, column]
    assert answer.proven
    assert int((answer.bull_of >= 0).sum()) == int((price < 1.0).sum())
    assert answer.cost_total == pytest.approx(price[price < 1.0].sum(), abs=1e-12)
    placed = answer.bull_of >= 0
    assert np.all(np.bincount(answer.bull_of[placed], minlength=bulls) <= capacity)
    assert np.all(open_pair[np.flatnonzero(placed), answer.bull_of[placed]])


def test_as_many_as_can_be_placed_before_the_least_total() -> None:
    # The cheapest single pair would leave the second female without a bull.
    answer = place([[0.0, 0.06], [0.01, 0.2]], np.ones((2, 2), dtype=bool), [1, 1], limit=0.0625)
    assert answer.bull_of.tolist() == [1, 0]
    assert answer.cost_total == pytest.approx(0.07)


def test_first_female_has_the_first_bull_among_equals() -> None:
    everyone = np.ones((3, 2), dtype=bool)
    level = np.zeros((3, 2))
    assert place(level, everyone, [2, 2]).bull_of.tolist() == [0, 0, 1]
    assert place(level, everyone, [2, 2], bull_rank=[2, 1]).bull_of.tolist() == [1, 1, 0]
    assert place(level, everyone, [1, 1], female_rank=[3, 2, 1]).bull_of.tolist() == [-1, 1, 0]


def test_bulls_are_not_filled_evenly_at_the_price_of_more_inbreeding() -> None:
    """The second bull suits all three better and has two places: he stays full though the first has room."""
    answer = place([[0.0625, 0.0]] * 3, np.ones((3, 2), dtype=bool), [3, 2])
    assert answer.bull_of.tolist().count(1) == 2
    assert answer.cost_total == 0.0625


def test_hand_made_choices_stand_above_limit_rules_and_capacity() -> None:
    answer = place(
        [[0.25, 0.0], [0.25, 0.0], [0.0, 0.125]],
        [[False, True], [True, True], [True, True]],
        [1, 1],
        fixed={0: 0, 1: 0},
        limit=0.0625,
    )
    assert answer.bull_of.tolist() == [0, 0, -1]  # the first bull is over his number, and takes no more
    assert answer.reason == (None, None, sorting.NO_PLACE)
    assert answer.cost_total == 0.5


def test_limit_is_kept_and_a_pair_at_the_limit_is_made() -> None:
    cost = [[0.0625], [0.0625 + 2**-20]]
    answer = place(cost, np.ones((2, 1), dtype=bool), [5], limit=0.0625)
    assert answer.bull_of.tolist() == [0, -1]
    assert answer.reason == (None, sorting.OVER_LIMIT)


def test_each_reason_is_told_apart() -> None:
    answer = place(
        [[0.0, 0.0], [0.25, 0.25], [0.0, 0.0], [0.0, 0.25], [0.0, 0.0], [0.25, 0.25]],
        [[True, True], [True, True], [True, True], [True, True], [False, False], [True, True]],
        [0, 0],
        limit=0.0625,
        heifer_bar=[[False] * 2, [False] * 2, [True] * 2, [True, False], [False] * 2, [True] * 2],
    )
    assert answer.bull_of.tolist() == [-1] * 6
    assert answer.reason == (
        sorting.NO_PLACE,
        sorting.OVER_LIMIT,
        sorting.NOT_FIT_FOR_HEIFERS,
        sorting.OVER_LIMIT,  # the one bull fit for her is too closely related
        sorting.OTHER,
        sorting.OVER_LIMIT,  # marking a bull fit for heifers would not help her
    )


def test_no_females_or_no_bulls() -> None:
    none = place(np.zeros((0, 2)), np.zeros((0, 2), dtype=bool), [3, 3])
    assert (none.bull_of.tolist(), none.cost_total, none.reason) == ([], 0.0, ())
    alone = place(np.zeros((2, 0)), np.zeros((2, 0), dtype=bool), np.zeros(0, dtype=int))
    assert alone.bull_of.tolist() == [-1, -1]
    assert alone.reason == (sorting.NO_PLACE, sorting.NO_PLACE)


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"cost": [0.0, 0.0]}, "table of females by bulls"),
        ({"cost": [[0.0, float("nan")]]}, "must be a number"),
        ({"cost": [[0.0, -0.1]]}, "not below 0"),
        ({"allowed": [[True]]}, "shape of the costs"),
        ({"heifer_bar": [[True]]}, "shape of the costs"),
        ({"capacity": [1]}, "one capacity for each bull"),
        ({"capacity": [1, -1]}, "whole number"),
        ({"capacity": [1.5, 1.0]}, "whole number"),
        ({"fixed": {1: 0}}, "not in the sort"),
        ({"fixed": {0: 2}}, "not in the sort"),
        ({"bull_rank": [1, 1]}, "its own number"),
        ({"female_rank": [1, 2]}, "its own number"),
    ],
)
def test_what_does_not_fit_together_is_refused(change: dict[str, object], says: str) -> None:
    asked: dict[str, object] = {"cost": [[0.0, 0.0]], "allowed": [[True, True]], "capacity": [1, 1]} | change
    with pytest.raises(ValueError, match=says):
        solved(asked)
