"""Animals to groups at the least total price, each group between its least and its most: whole numbers.

The few groups are the nodes of a graph; between two of them leads the cheapest move of a single animal.
Starting from everyone in her cheapest group, what is too many in one group is led along shortest ways to
where there is room (successive shortest paths: Busacker & Gowen 1961; Ahuja, Magnanti & Orlin 1993, "Network
Flows", chapter 9; from memory). Groups may be opened and closed afterwards, which costs only the moves that
this asks for.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

NEVER = np.iinfo(np.int64).max // 4
"""The price of a move that is not possible; far above any sum of real ones, and four of them still fit."""


def never_stops() -> None:
    """Let a calculation go on."""


def _cheapest(price: Ints, most: Ints) -> Ints:
    """Return the cheapest group of each animal; of equally cheap ones the emptiest for its size with room.

    Any of them will do to begin with. In a herd of strangers all are, and everyone in the first would have to
    be led away from there.
    """
    group: Ints = price.argmin(axis=1)
    least = price == price.min(axis=1)[:, np.newaxis]
    several = np.flatnonzero(least.sum(axis=1) > 1)
    held = np.bincount(np.delete(group, several), minlength=price.shape[1])
    size = np.maximum(most, 1)
    for animal in several.tolist():
        ways = np.flatnonzero(least[animal] & (held < most))
        if len(ways):
            group[animal] = ways[((2 * held[ways] + 1) / size[ways]).argmin()]
        held[group[animal]] += 1
    return group


@dataclass(frozen=True)
class _State:
    group: Ints
    held: Ints
    flow: Ints
    least: Ints
    most: Ints
    arc: Ints


class Transport:
    """The cheapest division of the animals among the groups, kept while groups are opened and closed.

    Parameters
    ----------
    price : ndarray of int, shape (n_animals, n_groups)
        Price of each animal in each group; `NEVER` where she may not be, far above all others. Each animal
        may be in one group at least.
    least, most : ndarray of int, shape (n_groups,)
        Bounds of each group; a most of 0 closes it.
    going : callable
        Called between the moves; what it raises goes through, and leaves this object unusable.
    """

    def __init__(
        self, price: Ints, least: Ints, most: Ints, going: Callable[[], object] = never_stops
    ) -> None:
        self.price, self.going = price, going
        self.count, self.last = price.shape
        self.least, self.most = least.copy(), most.copy()
        self.group = _cheapest(price, most)  # closed or not: from there on she is led to where she may be
        self.held: Ints = np.bincount(self.group, minlength=self.last).astype(np.int64)
        # How many of each group are let through to the end of all ways; those held above it must move on.
        self.flow: Ints = np.clip(self.held, least, most)
        self.arc: Ints = np.full((self.last + 1, self.last + 1), NEVER, dtype=np.int64)
        for group in range(self.last):
            self._measure(group)

    @property
    def total(self) -> int:
        """Sum of the prices of the division that stands."""
        return int(self.price[np.arange(self.count), self.group].sum())

    def settle(self) -> bool:
        """Bring every group within its bounds at the least total; return False where that cannot be."""
        while True:
            over = np.append(self.held - self.flow, self.flow.sum() - self.count)
            if not over.any():
                return True
            self.going()
            way = self._shortest(over)
            if not way:
                return False
            self._lead(way, over)

    def change(self, opened: Iterable[int], closed: Iterable[int], least: Ints, most: Ints) -> bool:
        """Open and close groups and settle again; where that cannot be, return False and change nothing."""
        before = self._state()
        for group in opened:
            self.least[group], self.most[group] = least[group], most[group]
            self.flow[group] = most[group]  # filled by name; what nobody fills is given back on a free way
        for group in closed:
            self.least[group] = self.most[group] = self.flow[group] = 0
        if self.settle():
            return True
        self._restore(before)
        return False

    def _state(self) -> _State:
        arrays = (self.group, self.held, self.flow, self.least, self.most, self.arc)
        return _State(*(array.copy() for array in arrays))

    def _restore(self, state: _State) -> None:
        self.group, self.held, self.flow = state.group, state.held, state.flow
        self.least, self.most, self.arc = state.least, state.most, state.arc

    def _measure(self, group: int) -> None:
        """Work out what the cheapest move from this group to each other adds to the total."""
        members = np.flatnonzero(self.group == group)
        if not len(members):
            self.arc[group, : self.last] = NEVER
            return
        prices = self.price[members]
        extra = np.where(prices >= NEVER, NEVER, prices - prices[:, group, np.newaxis])
        self.arc[group, : self.last] = extra.min(axis=0)
        self.arc[group, group] = NEVER

    def _shortest(self, over: Ints) -> list[int]:
        """Return the cheapest way from a node with too many to one with too few (Bellman and Ford)."""
        end = self.last
        arc = self.arc.copy()
        arc[:end, :end][:, self.most == 0] = NEVER
        arc[:end, end] = np.where(self.flow < self.most, 0, NEVER)
        arc[end, :end] = np.where(self.flow > self.least, 0, NEVER)
        far = np.where(over > 0, 0, NEVER)
        before = np.full(end + 1, -1)
        while True:
            through = far[:, np.newaxis] + arc
            nearer = through.min(axis=0)
            better = (nearer < far) & (nearer < NEVER // 2)
            if not better.any():
                break
            before[better] = through[:, better].argmin(axis=0)
            far = np.where(better, nearer, far)
        goals = np.flatnonzero(over < 0)
        goal = int(goals[far[goals].argmin()])
        if far[goal] >= NEVER // 2:
            return []
        way = [goal]
        while before[way[-1]] >= 0:
            way.append(int(before[way[-1]]))
        return way[::-1]

    def _lead(self, way: list[int], over: Ints) -> None:
        """Move as many animals along the way as can go at the same price."""
        end = self.last
        many = int(min(over[way[0]], -over[way[-1]]))
        movers: dict[int, Ints] = {}
        for a, b in itertools.pairwise(way):
            if a == end:
                many = min(many, int(self.flow[b] - self.least[b]))
            elif b == end:
                many = min(many, int(self.most[a] - self.flow[a]))
            else:
                members = np.flatnonzero(self.group == a)
                movers[a] = members[self.price[members, b] - self.price[members, a] == self.arc[a, b]]
                many = min(many, len(movers[a]))
        touched = set()
        for a, b in itertools.pairwise(way):
            if a == end:
                self.flow[b] -= many
            elif b == end:
                self.flow[a] += many
            else:
                self.group[movers[a][:many]] = b
                self.held[a] -= many
                self.held[b] += many
                touched |= {a, b}
        for group in touched:
            self._measure(group)
