"""The sort: which female goes to which bull, so that the calves are least inbred.

A transport problem, solved in the order in which a keeper would put the aims:

1. place as many females as can be placed (a largest flow);
2. then the least total of expected inbreeding (a linear programme, HiGHS through SciPy);
3. among equally good answers, the bulls evenly full: the least sum of females squared over capacity, and
   between equally even answers more to the first bull;
4. among those, the first female has the first bull in the list that she can have, then the second female,
   and so on: the same herd gets the same answer whatever order its rows came in.

Costs are taken as whole numbers, the largest about 2**44, so that steps 2 to 4 can be proved in exact
arithmetic: an answer is the best one when no round of exchanges between the bulls lowers the total, which
shortest paths over the few bulls decide (Klein 1967, Management Science 14:205-220; from memory). Should the
solver stop short by a rounding error, such rounds finish its work. `Sorted.proven` is the outcome of this
proof and not the solver's word.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Ints = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]
Flags = npt.NDArray[np.bool_]

UNPLACED = -1
NO_PLACE = "no_place"
OVER_LIMIT = "over_limit"
NOT_FIT_FOR_HEIFERS = "not_fit_for_heifers"
OTHER = "other"

_FINE = 44
"""Costs are rounded to whole numbers of at most about 2**44; sums over a hundred bulls fit in 64 bits."""
_FOR_SOLVER = 2.0**-34
"""The solver sees them no larger than about a thousand, where its tolerances are meant to be used."""
_LEAST = np.iinfo(np.int64).min
_NEVER = np.iinfo(np.int64).max // 4
"""The price of an exchange that is not possible; far above any sum of real ones."""


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
        That no answer keeping the hand-made choices places more females, or as many at a lower total.
    reason : tuple of (str or None)
        Why a female has no bull: ``no_place`` (every bull she may have is full), ``over_limit`` (each is too
        closely related), ``not_fit_for_heifers`` (only the rule for heifers bars her), ``other`` (none is
        allowed to her). None for a placed female.
    """

    bull_of: Ints
    cost_total: float
    proven: bool
    reason: tuple[str | None, ...]


def sort_females(
    cost: npt.ArrayLike,
    allowed: npt.ArrayLike,
    capacity: npt.ArrayLike,
    *,
    fixed: Mapping[int, int] | None = None,
    limit: float | None = None,
    heifer_bar: npt.ArrayLike | None = None,
    female_rank: npt.ArrayLike | None = None,
    bull_rank: npt.ArrayLike | None = None,
) -> Sorted:
    """Place as many females with the bulls as can be placed, at the least total cost.

    Parameters
    ----------
    cost : array_like of float, shape (n_females, n_bulls)
        Expected inbreeding of each possible calf; finite, not below 0.
    allowed : array_like of bool, shape (n_females, n_bulls)
        Whether the keeper's rules let this female go to this bull.
    capacity : array_like of int, shape (n_bulls,)
        Most females for each bull.
    fixed : mapping of int to int, optional
        Hand-made choices, female to bull. Kept whatever the limit, the rules or the capacity say, and counted
        against the bull's capacity.
    limit : float, optional
        No pair dearer than this is made; a pair at the limit is.
    heifer_bar : array_like of bool, shape (n_females, n_bulls), optional
        Pairs barred only because she has not calved and he is not marked fit for heifers; apart from
        `allowed` so that the reason can be told.
    female_rank, bull_rank : array_like of int, optional
        Order that settles between equally good answers (tag order, the keeper's order of bulls), no two
        alike; the order of rows and columns when not given.

    Returns
    -------
    Sorted

    Raises
    ------
    ValueError
        If shapes do not agree, a cost is not a number or below 0, a capacity is below 0, a rank is given
        twice, or a hand-made choice names no such row.
    """
    herd = _Herd.read(cost, allowed, capacity, heifer_bar)
    choices = dict(fixed or {})
    _check_choices(choices, herd.cost.shape)
    first_female = _ranked(female_rank, herd.cost.shape[0], "females")
    first_bull = _ranked(bull_rank, herd.cost.shape[1], "bulls")

    under = herd.cost <= (np.inf if limit is None else limit)
    bull_of = np.full(herd.cost.shape[0], UNPLACED, dtype=np.int64)
    for female, bull in choices.items():
        bull_of[female] = bull
    taken = np.bincount(bull_of[bull_of >= 0], minlength=herd.cost.shape[1])
    room = np.maximum(herd.capacity - taken, 0)

    free = np.array([row for row in first_female if row not in choices], dtype=np.int64)
    part = np.ix_(free, first_bull)
    open_pair = herd.allowed & ~herd.bar & under
    placed, proven = _place(
        _whole(herd.cost)[part],
        open_pair[part],
        room[first_bull],
        taken[first_bull],
        herd.capacity[first_bull],
    )
    bull_of[free] = np.where(placed >= 0, first_bull[placed] if len(first_bull) else UNPLACED, UNPLACED)

    with_bull = np.flatnonzero(bull_of >= 0)
    total = math.fsum(herd.cost[with_bull, bull_of[with_bull]].tolist())
    return Sorted(bull_of, total, proven, _reasons(bull_of, herd, under))


@dataclass(frozen=True)
class _Herd:
    cost: Reals
    allowed: Flags
    capacity: Ints
    bar: Flags

    @classmethod
    def read(
        cls,
        cost: npt.ArrayLike,
        allowed: npt.ArrayLike,
        capacity: npt.ArrayLike,
        heifer_bar: npt.ArrayLike | None,
    ) -> _Herd:
        """Return the inputs as arrays, refusing what does not fit together."""
        prices = np.asarray(cost, dtype=np.float64)
        if prices.ndim != 2:
            raise ValueError("The costs must be a table of females by bulls.")
        if not np.all(np.isfinite(prices)) or np.any(prices < 0):
            raise ValueError("Every cost must be a number that is not below 0.")
        may = np.asarray(allowed)
        bar = np.zeros(prices.shape, dtype=bool) if heifer_bar is None else np.asarray(heifer_bar)
        if may.shape != prices.shape or bar.shape != prices.shape:
            raise ValueError("The tables of allowed and barred pairs must have the shape of the costs.")
        places = np.asarray(capacity)
        if places.shape != prices.shape[1:]:
            raise ValueError("There must be one capacity for each bull.")
        if len(places) and (places.dtype.kind not in "iu" or places.min() < 0):
            raise ValueError("A capacity is a whole number that is not below 0.")
        return cls(prices, may.astype(bool), places.astype(np.int64), bar.astype(bool))


def _check_choices(choices: Mapping[int, int], shape: tuple[int, ...]) -> None:
    for female, bull in choices.items():
        if not (0 <= female < shape[0] and 0 <= bull < shape[1]):
            raise ValueError("A hand-made choice names a female or bull that is not in the sort.")


def _ranked(rank: npt.ArrayLike | None, count: int, what: str) -> Ints:
    """Return the rows in order of rank."""
    if rank is None:
        return np.arange(count)
    given = np.asarray(rank)
    if given.shape != (count,) or len(np.unique(given)) != count:
        raise ValueError(f"The order of the {what} must give each its own number.")
    return np.argsort(given)


def _whole(cost: Reals) -> Ints:
    """Return the costs as whole numbers; inbreeding, a sum of powers of one half, is not changed by this."""
    largest = float(cost.max(initial=0.0))
    if largest == 0.0:
        return np.zeros(cost.shape, dtype=np.int64)
    return np.rint(np.ldexp(cost, _FINE - math.frexp(largest)[1])).astype(np.int64)


def _reasons(bull_of: Ints, herd: _Herd, under: Flags) -> tuple[str | None, ...]:
    """Say why each unplaced female has no bull."""
    fit = herd.allowed & ~herd.bar
    may_go = _some(herd.allowed)
    can_go = _some(fit & under)
    barred_only = _some(herd.allowed & under) & ~_some(fit)
    words: list[str | None] = [None] * len(bull_of)
    for female in np.flatnonzero(bull_of < 0).tolist():
        if can_go[female] or not herd.cost.shape[1]:
            words[female] = NO_PLACE
        elif not may_go[female]:
            words[female] = OTHER
        else:
            words[female] = NOT_FIT_FOR_HEIFERS if barred_only[female] else OVER_LIMIT
    return tuple(words)


def _some(table: Flags) -> Flags:
    """Return for each female whether any bull is marked."""
    return np.asarray(table.any(axis=1))


def _place(cost: Ints, open_pair: Flags, room: Ints, taken: Ints, capacity: Ints) -> tuple[Ints, bool]:
    """Return the best bull of every female (-1 none), rows and columns in rank order, and whether proven."""
    n_females, n_bulls = cost.shape
    if not n_females or not n_bulls or not open_pair.any():
        return np.full(n_females, UNPLACED, dtype=np.int64), True
    most = _most_placed(open_pair, room)
    # "No bull" becomes one more bull, free of cost, with just as many places as must stay empty.
    price = np.column_stack([cost, np.zeros(n_females, dtype=np.int64)])
    may = np.column_stack([open_pair, np.ones(n_females, dtype=bool)])
    places = np.append(room, n_females - most)
    exchange = _Exchange(price, may, places, _cheapest(price, may, places))
    proven = exchange.finish()
    if proven:
        exchange.even_out(taken, capacity)
        exchange.put_in_order()
    return np.where(exchange.group < n_bulls, exchange.group, UNPLACED), proven


def _most_placed(open_pair: Flags, room: Ints) -> int:
    """Return how many females can have a bull at all: a largest flow through the open pairs."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import maximum_flow

    n_females, n_bulls = open_pair.shape
    female, bull = np.nonzero(open_pair)
    source, sink = n_females + n_bulls, n_females + n_bulls + 1
    begin = np.concatenate([np.full(n_females, source), female, n_females + np.arange(n_bulls)])
    end = np.concatenate([np.arange(n_females), n_females + bull, np.full(n_bulls, sink)])
    width = np.concatenate([np.ones(n_females + len(female)), np.minimum(room, n_females)]).astype(np.int32)
    links = coo_array((width, (begin, end)), shape=(sink + 1, sink + 1)).tocsr()
    return int(maximum_flow(links, source, sink).flow_value)


def _cheapest(price: Ints, may: Flags, places: Ints) -> Ints:
    """Return the group of each female at the least total price, by HiGHS.

    The matrix is that of a transport problem: every corner of its answers is in whole numbers, and both
    methods end in a corner.
    """
    from scipy.optimize import linprog
    from scipy.sparse import coo_array

    female, group = np.nonzero(may)
    pair, one = np.arange(len(female)), np.ones(len(female))
    for method in ("highs-ipm", "highs-ds"):  # interior point with crossover is far faster on wide herds
        answer = linprog(
            price[female, group] * _FOR_SOLVER,
            A_ub=coo_array((one, (group, pair)), shape=(len(places), len(pair))).tocsr(),
            b_ub=places,
            A_eq=coo_array((one, (female, pair)), shape=(len(price), len(pair))).tocsr(),
            b_eq=np.ones(len(price)),
            bounds=(0.0, None),
            method=method,
        )
        chosen = np.zeros(len(pair), dtype=bool) if answer.x is None else answer.x > 0.5
        found: Ints = group[chosen]
        if np.array_equal(female[chosen], np.arange(len(price))) and np.all(
            np.bincount(found, minlength=len(places)) <= places
        ):
            return found
    raise RuntimeError("The solver found no answer to the sort in whole animals.")


class _Exchange:
    """Moves between groups that keep every group within its places, in whole numbers.

    The nodes are the groups and, last, the spare places. An arc from one group to another is the cheapest
    open move of a female; an arc to the spare places says that a group has room. A round trip is an exchange
    that can be made. `level` holds potentials: no arc climbs by more than its price, and an arc that climbs
    by just its price is level, so that the total stays when the moves of a round trip are all level.
    """

    def __init__(self, price: Ints, may: Flags, places: Ints, group: Ints) -> None:
        self.price, self.may, self.places, self.group = price, may, places, group.copy()
        self.spare = len(places)
        self.level: Ints = np.zeros(self.spare + 1, dtype=np.int64)

    def finish(self) -> bool:
        """Make every exchange that lowers the total; return whether it is proven that none is left."""
        for _ in range(10 * len(self.price)):
            trip = self._cheaper_round()
            if not trip:
                return True
            extra, before = self._extra(), self.group.copy()
            for a, b in zip(trip, trip[1:] + trip[:1], strict=True):
                if self.spare not in (a, b):
                    members = np.flatnonzero(before == a)
                    self.group[members[np.argmin(extra[members, b])]] = b
        return False

    def _extra(self) -> Ints:
        """Return what moving each female to each group would add to the total."""
        own = self.price[np.arange(len(self.price)), self.group]
        return np.where(self.may, self.price - own[:, np.newaxis], _NEVER)

    def _cheaper_round(self) -> list[int]:
        """Return the nodes of a round trip that lowers the total; if none, keep the levels that prove it."""
        count = self.spare + 1
        arc = np.full((count, count), _NEVER, dtype=np.int64)
        extra = self._extra()
        for a in np.unique(self.group):
            arc[a, : self.spare] = extra[self.group == a].min(axis=0)
        held = np.bincount(self.group, minlength=self.spare)
        arc[: self.spare, self.spare] = np.where(held < self.places, 0, _NEVER)
        arc[self.spare, :] = 0
        level, before = np.zeros(count, dtype=np.int64), np.full(count, -1)
        better = np.zeros(count, dtype=bool)
        for _ in range(count):  # Bellman and Ford, from everywhere at once
            through = level[:, np.newaxis] + arc
            better = through.min(axis=0) < level
            if not better.any():
                self.level = level
                return []
            before[better] = through.argmin(axis=0)[better]
            level = np.minimum(level, through.min(axis=0))
        node = int(np.argmax(better))
        for _ in range(count):
            node = int(before[node])
        trip = [node]
        while (previous := int(before[trip[-1]])) != node:
            trip.append(previous)
        return trip[::-1]

    def _level_moves(self) -> Flags:
        """Return to which groups each female may go along level arcs, which alone keep the total."""
        own = self.price[np.arange(len(self.price)), self.group] - self.level[self.group]
        return np.asarray(self.may & (self.price - self.level[:-1] == own[:, np.newaxis]))

    def even_out(self, taken: Ints, capacity: Ints) -> None:
        """Among all answers of the same total, fill the bulls evenly; the last group is no bull.

        One female more to bull b and one less to bull a changes the sum of squares over capacity by
        ``(2 h_b + 1) / c_b - (2 h_a - 1) / c_a``, compared here in whole numbers. The sum is convex in each
        bull, so no better answer is left when no single shift along level arcs lowers it.
        """
        even, bulls = self._level_moves(), self.spare - 1
        held = np.bincount(self.group, minlength=self.spare)
        ways = self._ways(even)
        room = np.maximum(capacity, 1)
        earlier = np.arange(bulls)[np.newaxis, :] < np.arange(bulls)[:, np.newaxis]
        # A shift is no round trip: it keeps the total only between bulls on the same level.
        same = self.level[:bulls, np.newaxis] == self.level[np.newaxis, :bulls]
        while True:
            after, before = 2 * (held[:bulls] + taken) + 1, 2 * (held[:bulls] + taken) - 1
            gain = before[:, np.newaxis] * room[np.newaxis, :] - after[np.newaxis, :] * room[:, np.newaxis]
            wanted = same & ((gain > 0) | ((gain == 0) & earlier))
            wanted &= (held[:bulls] > 0)[:, np.newaxis] & (held[:bulls] < self.places[:bulls])[np.newaxis, :]
            trip = _straight(wanted & (ways[:bulls, :bulls] > 0), gain) or _roundabout(wanted, ways > 0)
            if not trip:
                return
            self._shift(trip, even, ways, held)

    def _ways(self, even: Flags) -> Ints:
        """Return how many females of each group may go to each other group."""
        ways = np.zeros((self.spare, self.spare), dtype=np.int64)
        np.add.at(ways, self.group, even.astype(np.int64))
        return ways

    def _shift(self, trip: list[int], even: Flags, ways: Ints, held: Ints) -> None:
        """Move one female along each arc of `trip`; nobody moves twice."""
        movers = [int(np.flatnonzero((self.group == a) & even[:, b])[0]) for a, b in itertools.pairwise(trip)]
        for mover, (a, b) in zip(movers, itertools.pairwise(trip), strict=True):
            ways[a] -= even[mover]
            ways[b] += even[mover]
            self._move(mover, b, held)

    def put_in_order(self) -> None:
        """Among all answers of the same total, take the one that serves the first females and groups first.

        Each group keeps its number. Each female in turn goes to the first group that she can have while
        those before her stay and those after her close the round.
        """
        even = self._level_moves()
        ways = self._ways(even)
        held = np.bincount(self.group, minlength=self.spare)
        for female in range(len(self.group)):
            here = int(self.group[female])
            ways[here] -= even[female]  # from now on she stays where this turn puts her
            if not even[female, :here].any():
                continue
            onward = _ways_to(here, ways > 0)
            wanted = np.flatnonzero(even[female, :here] & (onward[:here] >= 0))
            if not len(wanted):
                continue
            self._move(female, int(wanted[0]), held)
            self._close_round(female, int(wanted[0]), here, onward, even, ways, held)

    def _close_round(
        self, female: int, start: int, end: int, onward: Ints, even: Flags, ways: Ints, held: Ints
    ) -> None:
        """Move one later female along each arc from `start` to `end`."""
        a = start
        while a != end:
            b = int(onward[a])
            later = np.flatnonzero((self.group[female + 1 :] == a) & even[female + 1 :, b])
            mover = female + 1 + int(later[-1])
            ways[a] -= even[mover]
            ways[b] += even[mover]
            self._move(mover, b, held)
            a = b

    def _move(self, female: int, to: int, held: Ints) -> None:
        held[self.group[female]] -= 1
        held[to] += 1
        self.group[female] = to


def _straight(open_pair: Flags, gain: Ints) -> list[int]:
    """Return the two bulls of the one move that evens most, none where no female may move."""
    if not open_pair.any():
        return []
    best = int(np.where(open_pair, gain, _LEAST).argmax())
    return [best // len(gain), best % len(gain)]


def _roundabout(wanted: Flags, arc: Flags) -> list[int]:
    """Return the groups of a wanted shift that leads over others, none where there is no way."""
    for goal in np.flatnonzero(wanted.any(axis=0)):
        onward = _ways_to(int(goal), arc)
        for start in np.flatnonzero(wanted[:, goal] & (onward[: len(wanted)] >= 0)):
            trip = [int(start)]
            while trip[-1] != goal:
                trip.append(int(onward[trip[-1]]))
            return trip
    return []


def _ways_to(goal: int, arc: Flags) -> Ints:
    """Return for every node the next one on a shortest way to `goal`, -1 where there is none."""
    onward = np.full(len(arc), -1, dtype=np.int64)
    onward[goal] = goal
    reached = [goal]
    most = 1 + int(np.delete(arc.any(axis=1), goal).sum())  # from the others there is no way at all
    for node in reached:  # grows while it is read
        if len(reached) == most:
            break
        fresh = np.flatnonzero(arc[:, node] & (onward < 0))
        onward[fresh] = node
        reached.extend(fresh.tolist())
    return onward
