"""The sort: which female goes to which bull, so that the calves are least inbred.

Solved in the order in which a keeper would put the aims:

1. place as many females as can be placed;
2. then the least total of what the pairs cost: expected inbreeding, and what else the caller prices;
3. where not all bulls may be used, among equally good choices of bulls more of them, and those first in the
   list: each counts twice the number of bulls less his place in the list, and the highest sum is taken;
4. among equally good answers with these bulls, the bulls evenly full: the least sum of females squared over
   capacity, and between equally even answers more to the first bull;
5. among those, the first female has the first bull in the list that she can have, then the second female,
   and so on: the same herd gets the same answer whatever order its rows came in.

Costs are taken as whole numbers, so that this can be proved in exact arithmetic: the largest about 2**44
where all bulls are used; about 2**30 while bulls are chosen, so that choices whose totals differ by less
count as equal. `Sorted.proven` is the outcome of the proof. How it is done: `transport`, `choosing` and
`exchange_rounds`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.choosing import Choice, Stopped, all_open, choose
from herdbook.husbandry.clashes import clashing
from herdbook.husbandry.exchange_rounds import Exchange
from herdbook.husbandry.sort_task import FINE, UNPLACED, Task, read_task, whole_numbers
from herdbook.husbandry.transport import NEVER, Flags, Ints, Transport, never_stops

__all__ = ["UNPLACED", "Sorted", "Stopped", "Task", "place"]

NO_PLACE = "no_place"
OVER_LIMIT = "over_limit"
NOT_FIT_FOR_HEIFERS = "not_fit_for_heifers"
OTHER = "other"
CLASH = "clash"

_COARSE = 30
"""Costs are whole numbers of at most about 2**30 while bulls are chosen, where more is added up."""
_MANY = 1_000_000
"""Pairs from which whoever stops the sort at once does not wait for exchanges among those first placed."""


@dataclass(frozen=True, eq=False)
class Sorted:
    """An answer to the sort.

    Attributes
    ----------
    bull_of : ndarray of int, shape (n_females,)
        Column of each female's bull, -1 where she has none.
    cost_total : float
        Sum of the costs of all placed females, hand-made choices with them.
    proven : bool
        That no answer keeping the hand-made choices and the rules places more females, or as many at a lower
        total.
    reason : tuple of (str or None)
        Why a female has no bull: ``no_place`` (every bull she may have is full or not used), ``over_limit``
        (each is too closely related), ``not_fit_for_heifers`` (only the rule for heifers bars her), ``other``
        (none is allowed to her), ``clash`` (the hand-made choices clash). None for a placed female.
    bound : float
        No answer that places as many costs less than this; `cost_total` when proven.
    most_placed : int
        No answer places more than this.
    used : ndarray of bool, shape (n_bulls,)
        The bulls that were chosen to be used, those of hand-made choices among them.
    clash : tuple of int
        Females whose hand-made choices cannot all stand; without any one of them the others can. Nothing was
        sorted then.
    task : Task
        What was asked, as the explanations need it.
    """

    bull_of: Ints
    cost_total: float
    proven: bool
    reason: tuple[str | None, ...]
    bound: float
    most_placed: int
    used: Flags
    task: Task = field(repr=False)
    clash: tuple[int, ...] = ()

    @property
    def gap(self) -> float:
        """By how much of its total this answer might be too dear: 0 when proven, never above 1."""
        if self.proven or self.cost_total <= 0:
            return 0.0
        return min(max(self.cost_total - self.bound, 0.0) / self.cost_total, 1.0)


def place(
    cost: npt.ArrayLike,
    allowed: npt.ArrayLike,
    capacity: npt.ArrayLike,
    *,
    fixed: Mapping[int, int] | None = None,
    fixed_obey: bool = False,
    limit: float | None = None,
    figure: npt.ArrayLike | None = None,
    heifer_bar: npt.ArrayLike | None = None,
    paddock: npt.ArrayLike | None = None,
    most_bulls: int | None = None,
    least_group: int = 0,
    not_both: Iterable[tuple[int, int]] = (),
    female_rank: npt.ArrayLike | None = None,
    bull_rank: npt.ArrayLike | None = None,
    going: Callable[[], object] = never_stops,
) -> Sorted:
    """Place as many females with the bulls as can be placed, at the least total cost.

    Parameters
    ----------
    cost : array_like of float, shape (n_females, n_bulls)
        What each pair costs: the expected inbreeding of the calf, and what else the caller adds to it;
        finite, not below 0.
    allowed : array_like of bool, shape (n_females, n_bulls)
        Whether the keeper's rules let this female go to this bull.
    capacity : array_like of int, shape (n_bulls,)
        Most females for each bull.
    fixed : mapping of int to int, optional
        Hand-made choices, female to bull. Kept whatever the limit, the rules or the capacity say, and counted
        against the bull's capacity; the number of bulls, the least group and `not_both` bind them too.
    fixed_obey : bool
        Hold the hand-made choices to the limit, the rules and the capacity as well: those that do not fit
        clash.
    limit : float, optional
        No pair whose figure is above this is made; a pair at the limit is.
    figure : array_like of float, shape (n_females, n_bulls), optional
        What the limit is held against; the cost when not given.
    heifer_bar : array_like of bool, shape (n_females, n_bulls), optional
        Pairs barred only because she has not calved and he is not marked fit for heifers; apart from
        `allowed` so that the reason can be told.
    paddock : array_like of int, shape (n_bulls,), optional
        Most females that the paddock of each group holds; the smaller of this and the capacity counts.
    most_bulls : int, optional
        No more bulls than this are used.
    least_group : int
        A bull that is used has at least so many females, hand-made choices counted.
    not_both : iterable of (int, int)
        Pairs of bulls that may not both be used.
    female_rank, bull_rank : array_like of int, optional
        Order that settles between equally good answers (tag order, the keeper's order of bulls), no two
        alike; the order of rows and columns when not given.
    going : callable
        Called all the while. `Stopped` raised by it ends the sort with the best answer found so far, not
        proven and with its bound; anything else that it raises goes through.

    Returns
    -------
    Sorted

    Raises
    ------
    ValueError
        If shapes do not agree, a cost is not a number or below 0, a capacity is below 0, a rank is given
        twice, or a hand-made choice or a pair of bulls names no such row.
    """
    task = read_task(
        cost, allowed, capacity, fixed, fixed_obey, limit, figure, heifer_bar, paddock, most_bulls,
        least_group, not_both, female_rank, bull_rank,
    )  # fmt: skip
    if clash := clashing(task):
        nobody = np.full(len(task.cost), UNPLACED, dtype=np.int64)
        words = tuple(CLASH for _ in nobody)
        none_used = np.zeros(task.cost.shape[1], dtype=bool)
        return Sorted(nobody, 0.0, False, words, 0.0, len(nobody), none_used, task, clash)
    return _answer(task, _Ordered.of(task).solved(going))


@dataclass(frozen=True, eq=False)
class _Solved:
    """An answer in the order of rank: bull of each free female (-1 none), bulls used, how sure."""

    bull_of: Ints
    used: Flags
    proven: bool
    bound: float | None
    most_placed: int


def _answer(task: Task, solved: _Solved) -> Sorted:
    """Return the answer in the order in which the rows and columns came."""
    bull_of = np.full(len(task.cost), UNPLACED, dtype=np.int64)
    for female, bull in task.fixed.items():
        bull_of[female] = bull
    columns = np.append(task.first_bull, UNPLACED)
    bull_of[task.free] = columns[solved.bull_of]
    used = np.zeros(task.cost.shape[1], dtype=bool)
    used[task.first_bull] = solved.used
    by_hand = math.fsum(task.cost[female, bull] for female, bull in task.fixed.items())
    with_bull = np.flatnonzero(bull_of >= 0)
    total = math.fsum(task.cost[with_bull, bull_of[with_bull]].tolist())
    bound = total if solved.proven else by_hand + max(solved.bound or 0.0, _at_least(task, solved))
    return Sorted(
        bull_of,
        total,
        solved.proven,
        _reasons(bull_of, task),
        min(bound, total),
        solved.most_placed + len(task.fixed),
        used,
        task,
    )


def _at_least(task: Task, solved: _Solved) -> float:
    """Return what so many females cost at the least if each had the bull that suits her best."""
    cheapest = np.where(task.open_pair, task.cost, np.inf)[task.free].min(axis=1, initial=np.inf)
    return math.fsum(np.sort(cheapest)[: int((solved.bull_of >= 0).sum())].tolist())


def _one_by_one(price: Ints, places: Ints) -> Ints:
    """Return the bull of each female who has her cheapest among those not full, in order of rank."""
    room = places[:-1].copy()
    bull_of = np.full(len(price), UNPLACED, dtype=np.int64)
    for female, asked in enumerate(price[:, :-1]):
        bull = int(np.where(room > 0, asked, NEVER).argmin())
        if room[bull] > 0 and asked[bull] < NEVER:
            bull_of[female] = bull
            room[bull] -= 1
    return bull_of


def _reasons(bull_of: Ints, task: Task) -> tuple[str | None, ...]:
    """Say why each unplaced female has no bull."""
    may_go = _some(task.allowed)
    can_go = _some(task.open_pair)
    barred_only = _some(task.allowed & task.under) & ~_some(task.allowed & ~task.bar)
    words: list[str | None] = [None] * len(bull_of)
    for female in np.flatnonzero(bull_of < 0).tolist():
        if can_go[female] or not task.cost.shape[1]:
            words[female] = NO_PLACE
        elif not may_go[female]:
            words[female] = OTHER
        else:
            words[female] = NOT_FIT_FOR_HEIFERS if barred_only[female] else OVER_LIMIT
    return tuple(words)


def _some(table: Flags) -> Flags:
    """Return for each female whether any bull is marked."""
    return np.asarray(table.any(axis=1))


@dataclass(frozen=True, eq=False)
class _Ordered:
    """The free females and the bulls in order of rank; "no bull" is one more bull, the last, always used."""

    task: Task
    cost: npt.NDArray[np.float64]
    open_pair: Flags
    room: Ints
    least: Ints
    taken: Ints
    capacity: Ints
    forced: Flags
    rivals: Flags

    @classmethod
    def of(cls, task: Task) -> _Ordered:
        """Return the part of a task that is not decided by hand, in order of rank."""
        part, order = np.ix_(task.free, task.first_bull), task.first_bull
        room = np.maximum(task.capacity - task.taken, 0)[order]
        least = np.maximum(task.least_group - task.taken, 0)[order]
        rivals = np.zeros((len(order) + 1, len(order) + 1), dtype=bool)
        rivals[:-1, :-1] = task.rivals[np.ix_(order, order)]
        return cls(
            task,
            task.cost[part],
            task.open_pair[part],
            np.append(room, 0),
            np.append(least, 0),
            task.taken[order],
            task.capacity[order],
            np.append(task.taken[order] > 0, True),
            rivals,
        )

    def solved(self, going: Callable[[], object]) -> _Solved:
        """Return the best division; when stopped, the best found."""
        count, bulls = self.cost.shape
        every = np.ones(bulls, dtype=bool)
        if not count or not bulls or not self.open_pair.any():
            return _Solved(np.full(count, UNPLACED, dtype=np.int64), self.forced[:-1], True, 0.0, 0)
        try:
            most = self._most(every, going)
            if self._all_may_be_used():
                return self._divided(every, most, going)
            return self._chosen(most, going)
        except Stopped:
            return self._at_once()

    def _all_may_be_used(self) -> bool:
        most = self.task.most_bulls
        enough = most is None or most >= self.cost.shape[1]
        return enough and not self.least.any() and not self.rivals.any()

    def _priced(self, price: Ints, without: int) -> Ints:
        """Return the prices with those of "no bull" behind them, `NEVER` where a pair may not be."""
        alone = np.full(len(price), without, dtype=np.int64)
        return np.column_stack([np.where(self.open_pair, price, NEVER), alone])

    def _places(self, used: Flags, without: int) -> Ints:
        return np.append(np.where(used, self.room[:-1], 0), without)

    def _at_once(self) -> _Solved:
        """Return a division among the bulls with most room: what there is when stopped before any other."""
        count, bulls = self.cost.shape
        whole, _ = whole_numbers(self.cost, _COARSE)
        price = self._priced(whole, (bulls + 2) * (int(whole.max()) + 1))
        order = np.lexsort((np.arange(bulls), -self.room[:-1], ~self.forced[:-1]))
        most = bulls if self.task.most_bulls is None else self.task.most_bulls
        for many in range(min(most, bulls), -1, -1):
            used = self.forced.copy()
            for bull in order[:many]:
                used[bull] |= not self.rivals[bull][used].any()
            places = np.where(used, np.append(self.room[:-1], count), 0)
            least = np.where(used, self.least, 0)
            if price.size > _MANY and not least.any():
                return _Solved(_one_by_one(price, places), used[:-1], False, None, count)
            some = Transport(price, least, places)
            if (places >= least).all() and some.settle():
                break
        bull_of = np.where(some.group < bulls, some.group, UNPLACED)
        return _Solved(bull_of, used[:-1], False, None, count)

    def _most(self, used: Flags, going: Callable[[], object]) -> int:
        """Return how many females can have one of these bulls at all, least groups left aside."""
        count = len(self.cost)
        price = self._priced(np.zeros(self.cost.shape, dtype=np.int64), 1)
        flow = Transport(price, 0 * self.least, self._places(used, count), going)
        flow.settle()
        return count - flow.total

    def _divided(self, used: Flags, most: int, going: Callable[[], object]) -> _Solved:
        """Return the best division among these bulls, `most` females placed."""
        count, bulls = self.cost.shape
        whole, _ = whole_numbers(self.task.cost, FINE)
        price = self._priced(whole[np.ix_(self.task.free, self.task.first_bull)], 0)
        least = np.where(np.append(used, True), self.least, 0)
        places = self._places(used, count - most)
        cheapest = Transport(price, least, places, going)
        cheapest.settle()
        exchange = Exchange(price, price < NEVER, least, places, cheapest.group)
        proven = exchange.finish()
        if proven:
            exchange.even_out(self.taken, self.capacity)
            exchange.put_in_order()
        bull_of = np.where(exchange.group < bulls, exchange.group, UNPLACED)
        return _Solved(bull_of, used, proven, None, most)

    def _chosen(self, most: int, going: Callable[[], object]) -> _Solved:
        """Choose the bulls, first for as many females as can be, then for the least total."""
        count, bulls = self.cost.shape
        value = 2 * bulls - np.arange(bulls + 1)
        value[-1] = 0
        worth = int(value.sum()) + 1
        spare = (2 * count * (bulls + 2) * worth).bit_length()
        whole, power = whole_numbers(self.cost, min(_COARSE, 61 - spare))
        price = self._priced(whole * worth, 0)
        held, paid = self._crowded(price, most, going)
        start = self._fullest(held)

        counting = self._choice(self._priced(np.zeros_like(whole), 1), count, np.zeros_like(value))
        floor = count - min(most, self._room_of_the_largest())
        by_number = choose(counting, (start,), np.ones(count), going, floor)
        if by_number.group is None or by_number.used is None or by_number.total is None:
            raise Stopped
        placed = count - by_number.total
        best_number = count - (by_number.bound or 0)
        costing = self._choice(price, by_number.total, value)
        found = choose(costing, (start, by_number.used), paid.astype(np.float64), going)
        if found.group is None or found.used is None:
            bull_of = np.where(by_number.group < bulls, by_number.group, UNPLACED)
            return _Solved(bull_of, by_number.used[:-1], False, None, best_number)
        bound = None if found.bound is None else math.ldexp((found.bound - worth) / worth - count, -power)
        proven = found.proven and by_number.proven
        try:
            answer = self._divided(found.used[:-1], placed, going)
        except Stopped:
            bull_of = np.where(found.group < bulls, found.group, UNPLACED)
            return _Solved(bull_of, found.used[:-1], False, bound, best_number)
        return replace(answer, proven=answer.proven and proven, bound=bound, most_placed=best_number)

    def _choice(self, price: Ints, without: int, value: Ints) -> Choice:
        bulls = self.cost.shape[1]
        most = bulls if self.task.most_bulls is None else self.task.most_bulls
        places = self._places(np.ones(bulls, dtype=bool), without)
        return Choice(price, self.least, places, self.forced, most + 1, self.rivals, value)

    def _crowded(self, price: Ints, most: int, going: Callable[[], object]) -> tuple[Ints, Ints]:
        """Return how many each bull would have, and what each female costs, if all bulls could be used."""
        everywhere = np.ones(self.cost.shape[1], dtype=bool)
        answer = all_open(price, self._places(everywhere, len(price) - most), going)
        assert answer is not None  # `most` of them can be placed
        return answer

    def _fullest(self, held: Ints) -> Flags:
        """Return the bulls that would have most females, as many as may be used."""
        most = len(held) if self.task.most_bulls is None else self.task.most_bulls + 1
        used = self.forced.copy()
        used[np.lexsort((np.arange(len(held)), -held, ~self.forced))[:most]] = True
        return used

    def _room_of_the_largest(self) -> int:
        most = len(self.room) - 1 if self.task.most_bulls is None else self.task.most_bulls
        forced, others = self.room[self.forced], np.sort(self.room[~self.forced])[::-1]
        return int(forced.sum() + others[: max(most - (len(forced) - 1), 0)].sum())
