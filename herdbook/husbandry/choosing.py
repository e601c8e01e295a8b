"""Which groups to use, and with whom, at the least total price: a search with bounds, in whole numbers.

Every animal with one group; no more groups used than `Choice.most_used`; a used group between its least and
its most; rivals never both used. For a given choice of groups the rest is a transport problem and done
exactly (`transport`). Which groups to choose is bounded from below by giving every animal a price of her own
and letting each group take whom it likes at these prices: Lagrange's relaxation of "every animal once", whose
best bound is that of the linear programme with x_ij <= y_j for every pair (Geoffrion 1974; Cornuejols,
Sridharan & Thizy 1991, on plant location with capacities; from memory). Climbing with the prices also names
the groups worth trying, and shows which must and which cannot be in a better answer; what is left open is
searched branch by branch, the lowest bound first.

The prices are whole numbers, so that a bound is a bound and not a bound up to rounding.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable
from dataclasses import dataclass, field

import numpy as np

from herdbook.husbandry.transport import NEVER, Flags, Ints, Reals, Transport, never_stops

_ROOT_STEPS, _STEPS = 500, 60
"""Steps of the climb at the start and in each branch."""
_PATIENCE, _SHORTER, _SMOOTH = 8, 1.5, 0.6
"""Steps without a better bound before they get shorter; how much; how far a step keeps its direction."""
_ALL_BARRED = np.iinfo(np.int64).max // 4


class Stopped(Exception):
    """Raised by a caller's `going` to stop a search: the best answer found so far is kept."""


@dataclass(frozen=True, eq=False)
class Choice:
    """What there is to choose.

    Attributes
    ----------
    price : ndarray of int, shape (n_animals, n_groups)
        `NEVER` where she may not be. Every animal may be in one of the forced groups at least.
    least, most : ndarray of int, shape (n_groups,)
        Bounds of a group that is used.
    forced : ndarray of bool, shape (n_groups,)
        Groups that are used in any case.
    most_used : int
        Most groups used, the forced ones with them.
    rivals : ndarray of bool, shape (n_groups, n_groups)
        Groups that may not both be used; symmetric.
    bonus : ndarray of int, shape (n_groups,)
        Taken off the total for a group that is used; settles between choices of the same price.
    """

    price: Ints
    least: Ints
    most: Ints
    forced: Flags
    most_used: int
    rivals: Flags
    bonus: Ints


@dataclass
class Found:
    """The best answer found: groups used, the group of each animal, its total, and a bound on any total."""

    used: Flags | None = None
    group: Ints | None = None
    total: int | None = None
    bound: int | None = None

    @property
    def proven(self) -> bool:
        """Whether no other answer has a lower total."""
        return self.total is not None and self.bound is not None and self.bound >= self.total


@dataclass(frozen=True, eq=False)
class _Asked:
    """What the groups take at given prices of the animals: a bound, and the slope of the bound."""

    bound: int
    worth: Ints
    used: Flags
    slope: Ints


@dataclass(order=True)
class _Branch:
    bound: int
    number: int
    inside: Flags = field(compare=False)
    outside: Flags = field(compare=False)
    prices: Reals = field(compare=False)


def choose(
    choice: Choice,
    starts: tuple[Flags, ...],
    prices: Reals,
    going: Callable[[], object] = never_stops,
    floor: int | None = None,
) -> Found:
    """Return the cheapest choice of groups and division of the animals.

    Parameters
    ----------
    choice : Choice
    starts : tuple of ndarray of bool, shape (n_groups,)
        Choices of groups to try first.
    prices : ndarray of float, shape (n_animals,)
        What each animal may be thought to pay: the climb begins there. `all_open` gives good ones.
    going : callable
        Called at every step; `Stopped` raised by it ends the search with the best found so far.
    floor : int, optional
        A total that is known to be the least possible: the search ends where it is reached.

    Returns
    -------
    Found
        Without a total when no choice of groups holds everyone, or when stopped before one was found.
    """
    search = _Search(choice, going, floor)
    try:
        search.run(starts, prices)
    except Stopped:
        search.stop()
    return search.found


def all_open(price: Ints, most: Ints, going: Callable[[], object] = never_stops) -> tuple[Ints, Ints] | None:
    """Return how many each group holds, and what each animal pays, when all groups may be used.

    None where not all the animals find a place.
    """
    free = Transport(price, np.zeros_like(most), most, going)
    if not free.settle():
        return None
    return free.held, price[np.arange(len(price)), free.group]


class _Search:
    def __init__(self, choice: Choice, going: Callable[[], object], floor: int | None) -> None:
        self.choice, self.going = choice, going
        self.found = Found(bound=floor)
        self.floor = floor
        self.count, self.groups = choice.price.shape
        self.tried: dict[bytes, int | None] = {}
        self.transport: Transport | None = None
        self.across: Ints = np.ascontiguousarray(choice.price.T)
        finite = np.where(choice.price < NEVER, choice.price, 0)
        self.steepest = int(np.abs(finite).max(initial=0)) * (self.groups + 1) + 1
        self.above = int(finite.max(axis=1, initial=0).sum()) + 1
        self.branches: list[_Branch] = []
        self.numbers = itertools.count()
        self.worth: Ints = np.zeros(self.groups, dtype=np.int64)
        self.swapped: Flags | None = None
        open_to = (choice.price < NEVER).sum(axis=0)
        self.barred: Flags = ((open_to < choice.least) | (choice.most < choice.least)) & ~choice.forced

    # The search.

    def run(self, starts: tuple[Flags, ...], prices: Reals) -> None:
        """Try the starts, climb, and branch until nothing lower is possible."""
        for used in starts:
            self._try(used)
        first = _Branch(-NEVER, next(self.numbers), self.choice.forced, self.barred.copy(), prices)
        self.branches = [first]
        steps = _ROOT_STEPS
        while self.branches and not self._done():
            branch = heapq.heappop(self.branches)
            if branch.bound >= self._best():
                continue
            self.branches.append(branch)  # until it is done, its bound is one of those that hold
            children = self._open(branch, steps)
            self.branches = [one for one in self.branches if one is not branch and one.bound < self._best()]
            self.branches += children
            heapq.heapify(self.branches)
            steps = _STEPS
        if self.found.total is not None:
            self.found.bound = self.found.total
        self._close()

    def stop(self) -> None:
        """Keep the best answer, and the lowest bound of what was not searched."""
        if self.branches:
            lowest = min(branch.bound for branch in self.branches)
            known = -NEVER if self.floor is None else self.floor
            self.found.bound = max(known, min(lowest, self._best()))
        self._close()

    def _close(self) -> None:
        self.transport = None

    def _done(self) -> bool:
        return self.floor is not None and self.found.total is not None and self.found.total <= self.floor

    def _best(self) -> int:
        return self.above if self.found.total is None else self.found.total

    def _open(self, branch: _Branch, steps: int) -> list[_Branch]:
        """Climb in a branch; return the two that it falls into, none when nothing lower is in it."""
        inside, outside = branch.inside.copy(), branch.outside.copy()
        if not self._follow(inside, outside):
            return []
        if (inside | outside).all():
            self._try(inside)
            return []
        asked, prices, share = self._climb(branch, inside, outside, steps)
        bound = max(asked.bound, branch.bound)
        branch.bound = bound
        if bound < self._best():
            self._improve(asked)
        if (
            bound >= self._best()
            or not self._fix(asked, inside, outside)
            or not self._follow(inside, outside)
        ):
            return []
        free = ~(inside | outside)
        if not free.any():
            self._try(inside)
            return []
        unsure = np.where(free, np.abs(share - 0.5), np.inf)
        group = int(unsure.argmin())
        children = []
        for into, out_of in ((inside, outside), (outside, inside)):
            mark, other = into.copy(), out_of.copy()
            mark[group] = True
            pair = (mark, other) if into is inside else (other, mark)
            children.append(_Branch(bound, next(self.numbers), *pair, prices))
        return children

    def _follow(self, inside: Flags, outside: Flags) -> bool:
        """Mark what follows from what is decided; return False when the rules are broken already."""
        outside |= self.choice.rivals[inside].any(axis=0)
        if inside.sum() >= self.choice.most_used:
            outside |= ~inside
        free = ~(inside | outside)
        plain = not self.choice.least[free].any() and not self.choice.rivals[np.ix_(free, free)].any()
        if plain and inside.sum() + free.sum() <= self.choice.most_used:
            inside |= free  # an open group that nobody needs harms nobody
        return not (inside & outside).any() and int(inside.sum()) <= self.choice.most_used

    # The bound.

    def _climb(
        self, branch: _Branch, inside: Flags, outside: Flags, steps: int
    ) -> tuple[_Asked, Reals, Reals]:
        """Raise the bound step by step; return the best, its prices, and how often each group was used."""
        at = branch.prices
        best, best_at = self._ask(at, inside, outside), at
        share = best.used.astype(np.float64)
        now, direction, length, stalled = best, np.zeros(self.count), 1.0, 0
        for step in range(steps):
            if best.bound >= self._best() or not now.slope.any() or length < 1e-4:
                break
            direction = now.slope + _SMOOTH * direction
            size = float(direction @ direction)
            if size == 0.0:
                break
            at = at + length * max(self._best() - now.bound, 1) / size * direction
            at = np.rint(np.clip(at, -self.steepest, self.steepest))
            now = self._ask(at, inside, outside)
            share = 0.95 * share + 0.05 * now.used
            if now.bound > best.bound:
                best, best_at, stalled = now, at, 0
                branch.bound = max(branch.bound, best.bound)
                if steps == _ROOT_STEPS and step % 5 == 0:
                    self._try(now.used)
            else:
                stalled += 1
                if stalled == _PATIENCE:
                    length, stalled = length / _SHORTER, 0
        return best, best_at, share

    def _ask(self, at: Reals, inside: Flags, outside: Flags) -> _Asked:
        """Let every group take whom it likes best at these prices, and use the best groups."""
        self.going()
        choice = self.choice
        prices = np.rint(at).astype(np.int64)
        extra = self.across - prices
        worth = np.full(self.groups, NEVER, dtype=np.int64)
        taken: dict[int, Ints] = {}
        for group in np.flatnonzero(~outside).tolist():
            taken[group] = likes = _liked(extra[group], int(choice.least[group]), int(choice.most[group]))
            worth[group] = extra[group, likes].sum() - choice.bonus[group]
        used = inside.copy()
        order = np.argsort(np.where(inside | outside, _ALL_BARRED, worth), kind="stable")
        for group in order[: max(choice.most_used - int(inside.sum()), 0)]:
            used[group] |= bool(worth[group] < 0 and not outside[group])
        bound = int(prices.sum()) + int(worth[used].sum())
        everyone = np.concatenate([taken[group] for group in np.flatnonzero(used).tolist()])
        slope = 1 - np.bincount(everyone, minlength=self.count)
        return _Asked(bound, worth, used, slope)

    def _fix(self, asked: _Asked, inside: Flags, outside: Flags) -> bool:
        """Mark the groups that every lower total must use, or cannot; False when no lower total is left."""
        room, free = self._best() - asked.bound, ~(inside | outside)
        mine, others = free & asked.used, free & ~asked.used
        full = int(asked.used.sum()) >= self.choice.most_used
        given_up = int(asked.worth[mine].max()) if full and mine.any() else 0
        instead = min(int(asked.worth[others].min()), 0) if others.any() else 0
        outside |= others & (asked.worth - given_up >= room)
        inside |= mine & (instead - asked.worth >= room)
        return room > 0

    # Answers.

    def _try(self, used: Flags) -> int | None:
        """Divide the animals among these groups; remember the answer if it is the best so far."""
        used = self._within_rules(used)
        key = used.tobytes()
        if key in self.tried:
            return self.tried[key]
        choice = self.choice
        if self.transport is None:
            least, most = np.where(used, choice.least, 0), np.where(used, choice.most, 0)
            fresh = Transport(choice.price, least, most, self.going)
            settled = fresh.settle()
            self.transport = fresh if settled else None
        else:
            settled = self._reopen(self.transport, used)
        total = None
        if settled and self.transport is not None:
            total = self.transport.total - int(choice.bonus[used].sum())
            if self.found.total is None or total < self.found.total:
                self.found.used, self.found.group = used, self.transport.group.copy()
                self.found.total = total
        self.tried[key] = total
        return total

    def _reopen(self, transport: Transport, used: Flags) -> bool:
        now = transport.most > 0
        opened = np.flatnonzero(used & ~now & (self.choice.most > 0)).tolist()
        closed = np.flatnonzero(now & ~used).tolist()
        return transport.change(opened, closed, self.choice.least, self.choice.most)

    def _within_rules(self, used: Flags) -> Flags:
        """Return these groups without rivals of one another; the forced ones and the first stay."""
        kept = self.choice.forced.copy()
        for group in np.flatnonzero(used & ~kept & ~self.barred).tolist():
            if not self.choice.rivals[group][kept].any() and kept.sum() < self.choice.most_used:
                kept[group] = True
        return kept

    def _improve(self, asked: _Asked) -> None:
        """Swap single groups while that lowers the total, the most promising first; once for each answer."""
        base = asked.bound - int(asked.worth[asked.used].sum())
        self._try(asked.used)
        better = self.swapped is not self.found.used
        while better and self.found.used is not None:
            better = False
            used, best = self.found.used, self._best()
            if (asked.worth[used] >= NEVER).any():
                return  # the best answer is not in this branch
            here = base + int(asked.worth[used].sum())
            moves = [
                (int(here - (asked.worth[a] if a >= 0 else 0) + (asked.worth[b] if b >= 0 else 0)), a, b)
                for a in (-1, *np.flatnonzero(used & ~self.choice.forced).tolist())
                for b in (-1, *np.flatnonzero(~used & ~self.barred).tolist())
                if a >= 0 or b >= 0
            ]
            for bound, a, b in sorted(moves)[: 2 * self.groups]:
                if bound >= best:
                    break
                other = used.copy()
                other[[group for group in (a, b) if group >= 0]] ^= True
                total = self._try(other)
                if total is not None and total < best:
                    better = True
                    break
            self.swapped = self.found.used


def _liked(extra: Ints, least: int, most: int) -> Ints:
    """Return the rows that add least: all below nothing, no more than `most`, no fewer than `least`."""
    rows = np.flatnonzero(extra < 0)
    if len(rows) > most:
        return np.asarray(rows[np.argpartition(extra[rows], most - 1)[:most]]) if most else rows[:0]
    if len(rows) < least:
        return np.asarray(np.argpartition(extra, least - 1)[:least])
    return rows
