"""The sort that chooses its bulls: against every possible answer, its rules, its stop, and its clashes."""

from __future__ import annotations

import itertools
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry import sorting
from herdbook.husbandry.sorting import Sorted, Stopped, place

COSTS = (0.0, 0.015625, 0.03125, 0.0625, 0.125, 0.25)


@st.composite
def herds(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a small herd whose bulls are to be chosen, with few different costs."""
    females, bulls = draw(st.integers(1, 5)), draw(st.integers(2, 4))

    def grid(of: st.SearchStrategy[Any], kind: type) -> Any:
        return np.array([[draw(of) for _ in range(bulls)] for _ in range(females)], dtype=kind)

    pairs = st.tuples(st.integers(0, bulls - 1), st.integers(0, bulls - 1)).filter(lambda p: p[0] != p[1])
    return {
        "cost": grid(st.sampled_from(COSTS), float),
        "allowed": grid(st.sampled_from([True, True, True, False]), bool),
        "capacity": np.array([draw(st.integers(0, 4)) for _ in range(bulls)]),
        "paddock": np.array([draw(st.integers(1, 4)) for _ in range(bulls)]),
        "fixed": draw(st.dictionaries(st.integers(0, females - 1), st.integers(0, bulls - 1), max_size=2)),
        "fixed_obey": draw(st.booleans()),
        "limit": draw(st.sampled_from([None, 0.0625])),
        "figure": grid(st.sampled_from(COSTS), float),
        "most_bulls": draw(st.sampled_from([None, 1, 2, 3])),
        "least_group": draw(st.integers(0, 3)),
        "not_both": draw(st.lists(pairs, max_size=1)),
        "female_rank": draw(st.permutations(range(females))),
        "bull_rank": draw(st.permutations(range(bulls))),
    }


def keeps_the_rules(herd: Mapping[str, Any], answer: tuple[int, ...], fixed: Mapping[int, int]) -> bool:
    """Return whether an answer keeps every rule, with these choices made by hand."""
    bulls = herd["cost"].shape[1]
    held = [answer.count(b) for b in range(bulls)]
    by_hand = [list(fixed.values()).count(b) for b in range(bulls)]
    most = np.minimum(herd["capacity"], herd["paddock"])
    limit = np.inf if herd["limit"] is None else herd["limit"]
    for f, b in enumerate(answer):
        free = f not in fixed
        if not free and b != fixed[f]:
            return False
        bound = (free or herd["fixed_obey"]) and b >= 0
        if bound and (not herd["allowed"][f, b] or herd["figure"][f, b] > limit):
            return False
    over = [0 if herd["fixed_obey"] else by_hand[b] for b in range(bulls)]
    used = [b for b in range(bulls) if held[b]]
    return (
        all(held[b] <= max(most[b], over[b]) for b in range(bulls))
        and all(held[b] >= herd["least_group"] for b in used)
        and (herd["most_bulls"] is None or len(used) <= herd["most_bulls"])
        and not any(one in used and other in used for one, other in herd["not_both"])
    )


def all_answers(herd: Mapping[str, Any], fixed: Mapping[int, int]) -> list[tuple[int, ...]]:
    females, bulls = herd["cost"].shape
    every = itertools.product(range(-1, bulls), repeat=females)
    return [answer for answer in every if keeps_the_rules(herd, answer, fixed)]


def worth(herd: Mapping[str, Any], answer: tuple[int, ...]) -> tuple[int, float]:
    total = sum(herd["cost"][f, b] for f, b in enumerate(answer) if b >= 0)
    return -sum(b >= 0 for b in answer), total


@given(herds())
def test_equals_the_best_of_all_answers(herd: dict[str, Any]) -> None:
    answer = place(**herd)
    possible = all_answers(herd, herd["fixed"])
    assert bool(answer.clash) == (not possible)
    if answer.clash:
        choices = {f: herd["fixed"][f] for f in answer.clash}
        assert not all_answers(herd, choices), "together they cannot stand"
        for f in choices:
            assert all_answers(herd, {g: b for g, b in choices.items() if g != f}), "without any one they can"
        assert answer.bull_of.tolist() == [-1] * len(herd["cost"])
        assert set(answer.reason) == {sorting.CLASH}
        return
    found = tuple(answer.bull_of.tolist())
    assert keeps_the_rules(herd, found, herd["fixed"])
    assert worth(herd, found) == min(worth(herd, one) for one in possible)
    assert answer.proven
    assert answer.gap == 0.0
    assert answer.bound == answer.cost_total
    assert answer.most_placed == sum(b >= 0 for b in found)


@given(herds(), st.data())
def test_order_of_rows_and_columns_does_not_matter(herd: dict[str, Any], data: st.DataObject) -> None:
    females, bulls = herd["cost"].shape
    rows = np.array(data.draw(st.permutations(range(females))))
    columns = np.array(data.draw(st.permutations(range(bulls))))
    new_row = {int(old): new for new, old in enumerate(rows)}
    new_column = {int(old): new for new, old in enumerate(columns)}
    mixed = herd | {
        **{k: herd[k][np.ix_(rows, columns)] for k in ("cost", "allowed", "figure")},
        **{k: herd[k][columns] for k in ("capacity", "paddock")},
        "fixed": {new_row[f]: new_column[b] for f, b in herd["fixed"].items()},
        "not_both": [(new_column[a], new_column[b]) for a, b in herd["not_both"]],
        "female_rank": [herd["female_rank"][f] for f in rows],
        "bull_rank": [herd["bull_rank"][b] for b in columns],
    }
    answer, again = place(**herd), place(**mixed)
    back = np.append(columns, -1)
    assert [int(back[again.bull_of[new_row[old]]]) for old in range(females)] == answer.bull_of.tolist()
    assert {int(rows[f]) for f in again.clash} == set(answer.clash)


def related(females: int, bulls: int, seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return costs of a herd with some families, and a table that allows all."""
    dice = np.random.default_rng(seed)
    family, of_bull = dice.integers(0, 6, females), dice.integers(0, 6, bulls)
    near = (family[:, np.newaxis] == of_bull[np.newaxis]) * 0.125
    cost = near + dice.choice([0.0, 1 / 64, 1 / 32, 1 / 16], (females, bulls))
    return cost, np.ones(cost.shape, dtype=bool)


@pytest.mark.parametrize("seed", range(3))
def test_the_chosen_bulls_are_the_best_of_all_sets(seed: int) -> None:
    """Seven bulls, three used: every set of three is solved by itself."""
    cost, every = related(40, 7, seed)
    capacity = np.full(7, 15)
    totals = {
        chosen: place(cost, every, np.where(np.isin(np.arange(7), chosen), capacity, 0)).cost_total
        for chosen in itertools.combinations(range(7), 3)
    }
    answer = place(cost, every, capacity, most_bulls=3)
    assert answer.proven
    assert answer.cost_total == min(totals.values())
    equal = [chosen for chosen, total in totals.items() if total == answer.cost_total]
    used = tuple(np.flatnonzero(answer.used).tolist())
    assert sum(used) == min(sum(chosen) for chosen in equal), "the first in the list of equal choices"


def test_brothers_do_not_make_the_search_endless() -> None:
    """Twelve bulls in pairs of full brothers: whole families of choices cost the same."""
    cost, every = related(60, 6, 1)
    answer = place(np.repeat(cost, 2, axis=1), np.repeat(every, 2, axis=1), np.full(12, 12), most_bulls=6)
    assert answer.proven


def test_a_least_group_leaves_a_bull_at_home_or_fills_his_group() -> None:
    cost = [[0.0, 0.125], [0.0, 0.125], [0.0, 0.125], [0.0625, 0.0]]
    every = np.ones((4, 2), dtype=bool)
    assert place(cost, every, [4, 4]).bull_of.tolist() == [0, 0, 0, 1]
    assert place(cost, every, [4, 4], least_group=2).bull_of.tolist() == [0, 0, 0, 0]
    assert place(cost, every, [3, 4], least_group=2).bull_of.tolist() == [0, 0, 1, 1]


def test_more_are_placed_before_the_least_cost_when_bulls_are_chosen() -> None:
    cost = [[0.0, 0.125], [0.0, 0.125], [0.0, 0.125]]
    answer = place(cost, np.ones((3, 2), dtype=bool), [2, 3], most_bulls=1)
    assert answer.bull_of.tolist() == [1, 1, 1]
    assert answer.used.tolist() == [False, True]


def test_the_limit_is_held_against_the_figure_and_not_the_price() -> None:
    answer = place([[9.0, 0.0]], [[True, True]], [1, 1], figure=[[0.03, 0.1]], limit=0.0625)
    assert answer.bull_of.tolist() == [0]
    assert answer.cost_total == 9.0


def test_young_and_old_are_not_both_used() -> None:
    cost = [[0.0, 0.125], [0.125, 0.0]]
    answer = place(cost, np.ones((2, 2), dtype=bool), [2, 2], not_both=[(0, 1)])
    assert answer.bull_of.tolist() == [0, 0]


def test_choices_that_clash_are_named_and_no_more() -> None:
    every = np.ones((5, 3), dtype=bool)
    fixed = {0: 0, 1: 0, 3: 1}
    answer = place(np.zeros((5, 3)), every, [5, 5, 5], fixed=fixed, most_bulls=1, female_rank=[4, 3, 2, 1, 0])
    assert answer.clash in ((3, 1), (3, 0)), "two bulls by hand, one may be used; one choice of each suffices"
    obeying = place(np.zeros((5, 3)), every, [1, 5, 5], fixed=fixed, fixed_obey=True)
    assert sorted(obeying.clash) == [0, 1]


class Clock:
    """Stops a sort after so many steps."""

    def __init__(self, steps: int, error: type[Exception] = Stopped) -> None:
        self.left, self.error = steps, error

    def __call__(self) -> None:
        self.left -= 1
        if self.left < 0:
            raise self.error


def hard(going: Callable[[], object], **rules: Any) -> Sorted:
    dice = np.random.default_rng(4)
    cost = dice.random((80, 12))
    return place(cost, np.ones(cost.shape, dtype=bool), np.full(12, 16), going=going, **rules)


@pytest.mark.parametrize("steps", [0, 5, 60, 200, 500, 1000])
def test_stop_keeps_the_best_found_with_its_gap(steps: int) -> None:
    best = hard(lambda: None, most_bulls=6)
    assert best.proven
    stopped = hard(Clock(steps), most_bulls=6)
    placed = stopped.bull_of >= 0
    held = np.bincount(stopped.bull_of[placed], minlength=12)
    assert placed.all(), "a stop leaves nobody out who has a place"
    assert np.all(held <= 16)
    assert int((held > 0).sum()) <= 6
    assert stopped.bound <= best.cost_total <= stopped.cost_total
    assert stopped.proven == (stopped.gap == 0.0)
    assert stopped.most_placed == 80


def test_the_gap_closes_while_it_goes_on() -> None:
    gaps = [hard(Clock(steps), most_bulls=6).gap for steps in (60, 500, 1500)]
    assert gaps[0] > gaps[1] > gaps[2]


def test_stop_where_all_bulls_are_used() -> None:
    stopped = hard(Clock(3))
    assert not stopped.proven
    assert (stopped.bull_of >= 0).all()
    assert stopped.bound <= hard(lambda: None).cost_total <= stopped.cost_total


def test_a_very_large_sort_is_stopped_at_once_within_its_rules() -> None:
    dice = np.random.default_rng(9)
    cost, open_pair = dice.random((9_000, 120)), dice.random((9_000, 120)) < 0.5
    stopped = place(cost, open_pair, np.full(120, 70), going=Clock(2))
    placed = np.flatnonzero(stopped.bull_of >= 0)
    assert len(placed) > 8_000
    assert open_pair[placed, stopped.bull_of[placed]].all()
    assert np.bincount(stopped.bull_of[placed]).max() <= 70
    assert not stopped.proven
    assert stopped.most_placed == 9_000


def test_what_else_going_raises_goes_through() -> None:
    with pytest.raises(KeyError):
        hard(Clock(50, KeyError), most_bulls=6)


@pytest.mark.parametrize(
    ("rules", "says"),
    [
        ({"paddock": [1]}, "one capacity for each bull"),
        ({"most_bulls": -1}, "not below 0"),
        ({"least_group": -1}, "not below 0"),
        ({"not_both": [(0, 0)]}, "two bulls of the sort"),
        ({"not_both": [(0, 5)]}, "two bulls of the sort"),
        ({"figure": [[0.0]]}, "shape of the costs"),
        ({"figure": [[0.0, float("nan")]]}, "figure must be a number"),
    ],
)
def test_rules_that_do_not_fit_are_refused(rules: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        place([[0.0, 0.0]], [[True, True]], [1, 1], **rules)
