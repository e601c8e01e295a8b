"""Why each female is where she is, and what would place the others: against every possible answer."""

from __future__ import annotations

import itertools
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import numpy.typing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from herdbook.husbandry import sort_reasons
from herdbook.husbandry.sort_reasons import Explained
from herdbook.husbandry.sorting import Sorted, place

COSTS = (0.0, 0.015625, 0.03125, 0.0625, 0.125, 0.25)
Flags = npt.NDArray[np.bool_]


@st.composite
def herds(draw: st.DrawFn) -> dict[str, Any]:
    """Draw a small herd with too few places, so that some are often left over."""
    females, bulls = draw(st.integers(1, 5)), draw(st.integers(1, 4))

    def grid(of: st.SearchStrategy[Any], kind: type) -> Any:
        return np.array([[draw(of) for _ in range(bulls)] for _ in range(females)], dtype=kind)

    costs = grid(st.sampled_from(COSTS), float)
    heifer = np.array([draw(st.booleans()) for _ in range(females)])
    unfit = np.array([draw(st.booleans()) for _ in range(bulls)])
    pairs = [(a, b) for a in range(bulls) for b in range(a)]
    return {
        "cost": costs,
        "allowed": grid(st.sampled_from([True, True, True, False]), bool),
        "capacity": np.array([draw(st.integers(0, 3)) for _ in range(bulls)]),
        "fixed": draw(st.dictionaries(st.integers(0, females - 1), st.integers(0, bulls - 1), max_size=2)),
        "limit": draw(st.sampled_from([None, 0.0625, 0.02])),
        "figure": draw(st.sampled_from([None, grid(st.sampled_from(COSTS), float)])),
        "heifer_bar": heifer[:, np.newaxis] & unfit,
        "most_bulls": draw(st.sampled_from([None, None, 1, 2])),
        "least_group": draw(st.sampled_from([0, 0, 1, 2])),
        "not_both": draw(st.lists(st.sampled_from(pairs), max_size=1)) if pairs else [],
        "female_rank": draw(st.permutations(range(females))),
        "bull_rank": draw(st.permutations(range(bulls))),
    }


@dataclass
class Every:
    """Every division of a small herd, told apart by the rules that an answer was made under."""

    answer: Sorted

    def __post_init__(self) -> None:
        self.task = self.answer.task
        females, bulls = self.task.cost.shape
        self.bull = np.array(list(itertools.product(range(-1, bulls), repeat=females)), dtype=np.int64)
        self.held = np.array([(self.bull == b).sum(axis=1) for b in range(bulls)]).T
        padded = np.column_stack([self.task.cost, np.zeros(females)])
        self.total = padded[np.arange(females), self.bull].sum(axis=1)
        self.placed = (self.bull >= 0).sum(axis=1)
        present = np.bincount(self.answer.bull_of[self.answer.bull_of >= 0], minlength=bulls)
        self.used = self.answer.used | (present > 0)

    def stand(
        self,
        *,
        limit: float | None = None,
        more: int | None = None,
        fit: int | None = None,
        allow: tuple[int, int] | None = None,
        use: int | None = None,
    ) -> Flags:
        """Return which divisions keep the rules, with one of them changed."""
        task = self.task
        bar, allowed, places = task.bar.copy(), task.allowed.copy(), task.capacity.copy()
        used = self.used.copy()
        highest = np.inf if task.limit is None else task.limit
        if limit is not None:
            highest = limit
        if more is not None:
            places[more] += 1
        if fit is not None:
            bar[:, fit] = False
        if allow is not None:
            allowed[allow] = True
        if use is not None:
            used[use] = True
        may = np.column_stack([allowed & ~bar & (task.figure <= highest), np.ones(len(bar), dtype=bool)])
        good = np.ones(len(self.bull), dtype=bool)
        for female in range(len(bar)):
            if female in task.fixed:
                good &= self.bull[:, female] == task.fixed[female]
            else:
                good &= may[female, self.bull[:, female]]
        taken = task.taken
        # One by hand above the capacity is let stand; nobody else is added to him.
        room = np.where(taken > places, taken, places)
        good &= (self.held <= room).all(axis=1) & ~(self.held[:, ~used] > 0).any(axis=1)
        return np.asarray(good & (self.held[:, used] >= task.least_group).all(axis=1))

    def places(self, female: int) -> Flags:
        """Return which divisions place her and everyone who is placed now."""
        with_bull = [*np.flatnonzero(self.answer.bull_of >= 0).tolist(), female]
        return np.asarray((self.bull[:, with_bull] >= 0).all(axis=1))


def solved(herd: dict[str, Any]) -> tuple[Sorted, Explained, Every]:
    answer = place(**herd)
    return answer, Explained(answer), Every(answer)


@given(herds())
def test_what_each_move_costs_equals_the_best_of_all_divisions(herd: dict[str, Any]) -> None:
    answer, told, every = solved(herd)
    good = every.stand() & (every.placed == (answer.bull_of >= 0).sum())
    open_pair = answer.task.open_pair & every.used
    for female in np.flatnonzero(answer.bull_of >= 0).tolist():
        for bull in range(len(every.used)):
            there = good & (every.bull[:, female] == bull)
            rise = told.rise(female, bull)
            if female in answer.task.fixed or not open_pair[female, bull] or not there.any():
                assert rise is None
            else:
                assert rise == every.total[there].min() - answer.cost_total
                assert rise >= 0


@given(herds())
def test_why_not_with_the_bull_that_suits_her_best(herd: dict[str, Any]) -> None:
    answer, told, every = solved(herd)
    task, held = answer.task, np.bincount(answer.bull_of[answer.bull_of >= 0], minlength=len(every.used))
    for female in np.flatnonzero(answer.bull_of >= 0).tolist():
        one = told.placement(female)
        cost = task.cost[female]
        assert one.bull == answer.bull_of[female]
        assert (one.better is None) == (cost[one.bull] == cost.min())
        for beside in filter(None, (one.better, one.next_best)):
            assert beside.bull != one.bull
            at = (female, beside.bull)
            rules = {
                sort_reasons.BY_HAND: female in task.fixed,
                sort_reasons.BARRED: not task.allowed[at],
                sort_reasons.HEIFERS: task.bar[at],
                sort_reasons.OVER_LIMIT: task.limit is not None and task.figure[at] > task.limit,
                sort_reasons.NOT_USED: not every.used[beside.bull],
                sort_reasons.NO_BETTER: task.cost[at] >= one.cost,
                sort_reasons.FULL: held[beside.bull] >= task.capacity[beside.bull],
                sort_reasons.LEAST_GROUP: held[one.bull] <= task.least_group,
            }
            assert beside.code == next(code for code, holds in rules.items() if holds)
        if one.better:
            assert one.better.cost == cost.min()
        others = [b for b in range(len(cost)) if b != one.bull and task.allowed[female, b]]
        others = [b for b in others if not task.bar[female, b]]
        assert (one.next_best is None) == (not others)
        if one.next_best:
            assert one.next_best.cost == min(cost[b] for b in others)


@given(herds())
def test_each_change_that_is_named_is_enough_and_none_is_left_out(herd: dict[str, Any]) -> None:
    answer, told, every = solved(herd)
    task = answer.task
    for female in np.flatnonzero(answer.bull_of < 0).tolist():
        one = told.unplaced(female)
        if answer.clash:
            assert one == sort_reasons.Unplaced(female, "clash", clash=answer.clash)
            continue
        both = every.places(female)
        assert not one.room
        assert not (both & every.stand()).any(), "else she would have been placed"
        higher = sorted({f for f in task.figure.ravel() if task.limit is not None and f > task.limit})
        least = next((f for f in higher if (both & every.stand(limit=f)).any()), None)
        assert one.limit == least
        for bull in range(len(every.used)):
            more = both & every.stand(more=bull)
            assert (bull in one.place_with) == bool(more.any())
            if more.any():
                adds = one.adds[one.place_with.index(bull)]
                assert adds == every.total[more].min() - answer.cost_total
            fit = both & every.stand(fit=bull)
            assert (bull in one.fit_for_heifers) == bool(fit.any())
            allow = both & every.stand(allow=(female, bull))
            assert (bull in one.allow) == bool(allow.any())
            if not every.used[bull] and not task.rivals[bull, every.used].any() and task.least_group < 2:
                use = both & every.stand(use=bull)
                assert (bull in one.use) == bool(use.any())
        assert list(one.adds) == sorted(one.adds)
        assert one.bull_no_closer == task.limit
        assert one.heifer == bool(task.bar[female].any())
        more = one_more_bull(herd, answer, female)
        assert more or one.bull_group > 1 or one.bull_beyond is not None
        assert not (more and one.bull_group > 1)


def one_more_bull(herd: dict[str, Any], answer: Sorted, female: int) -> bool:
    """Return whether one more bull, whom she alone may have, places her and as many others as before."""

    def column(table: Any, hers: float, others: float) -> Any:
        new = np.full((len(table), 1), others, dtype=np.asarray(table).dtype)
        new[female] = hers
        return np.column_stack([table, new])

    limit = herd["limit"] or 0.0
    told = place(
        **herd
        | {
            "cost": column(herd["cost"], limit, limit),
            "allowed": column(herd["allowed"], True, False),
            "capacity": np.append(herd["capacity"], 5),
            "figure": None if herd["figure"] is None else column(herd["figure"], limit, limit),
            "heifer_bar": column(herd["heifer_bar"], False, False),
            "bull_rank": [*herd["bull_rank"], len(herd["bull_rank"])],
        }
    )
    placed = int((told.bull_of >= 0).sum())
    return bool(told.bull_of[female] >= 0) and placed == int((answer.bull_of >= 0).sum()) + 1


def _words(answer: Sorted, female: int) -> list[str]:
    return [str(reason) for reason in Explained(answer).sentences(female, ("7/30", "9/12"))]


def test_in_words() -> None:
    every, room = np.ones((3, 2), dtype=bool), np.array([1, 1])
    cost = [[0.03125, 0.0], [0.0625, 0.0], [0.125, 0.25]]
    answer = place(cost, every, room, limit=0.0625)
    assert answer.bull_of.tolist() == [0, 1, -1]
    assert _words(answer, 0) == [
        "3.1% with 7/30",
        "with 9/12 she would give 0.0%, but he is full: "
        "with her there the figures of all calves would add up to 3.1% more",
    ]
    assert _words(answer, 1) == ["0.0% with 9/12; next best 7/30 with 6.2%"]
    assert _words(answer, 2) == ["one more bull would be enough, no more related to her than 6.25%"]
    wide = place(cost, every, np.array([1, 2]), limit=0.0625)
    assert "a limit of 12.50% would be enough" in _words(wide, 2)


def test_one_more_bull_may_need_a_group_and_leave_to_be_used() -> None:
    """Three females, two places with the one bull: another needs two females and must be let in."""
    answer = place(np.zeros((3, 1)), np.ones((3, 1), dtype=bool), [2], most_bulls=1, least_group=2)
    assert _words(answer, 2) == [
        "one more place with 7/30 would be enough",
        "one more bull would be enough",
        "that bull would need 2 females, the least for a group",
        "beside the bulls that have females he would be one more than the 1 that may be used",
    ]


def test_a_changed_answer_says_that_there_is_room() -> None:
    """As when a keeper moves somebody by hand and does not sort again."""
    answer = place([[0.0, 0.25], [0.0, 0.25]], np.ones((2, 2), dtype=bool), np.array([2, 2]))
    moved = replace(answer, bull_of=np.array([0, 1]), cost_total=0.25)
    assert Explained(moved).placement(1).better == sort_reasons.WhyNot(0, 0.0, 0.0, "room", 0.0)
    assert _words(moved, 1)[1] == "7/30 has a place for her, and she would give 0.0%: sort again"
    out = replace(answer, bull_of=np.array([0, -1]), reason=(None, "no_place"), cost_total=0.0)
    assert Explained(out).unplaced(1).room


def test_who_is_asked_must_be_there() -> None:
    told = Explained(place([[0.0]], [[True]], [0]))
    with pytest.raises(ValueError, match="no bull"):
        told.placement(0)
    told = Explained(place([[0.0]], [[True]], [1]))
    with pytest.raises(ValueError, match="has a bull"):
        told.unplaced(0)
