"""The proof of a division in whole numbers, and the one among equally good divisions that the rules ask for.

A division is the cheapest one when no round of exchanges between the groups lowers the total, which shortest
ways over the few groups decide (Klein 1967, Management Science 14:205-220; from memory).
"""

from __future__ import annotations

import itertools

import numpy as np

from herdbook.husbandry.transport import NEVER, Flags, Ints

_LEAST = np.iinfo(np.int64).min


class Exchange:
    """Moves between groups that keep every group between its least and its places, in whole numbers.

    The nodes are the groups and, last, the spare places. An arc from one group to another is the cheapest
    open move of a female; an arc to the spare places says that a group has room, one from them that it has
    more than its least. A round trip is an exchange that can be made. `level` holds potentials: no arc climbs
    by more than its price, and an arc that climbs by just its price is level, so that the total stays when
    the moves of a round trip are all level.
    """

    def __init__(self, price: Ints, may: Flags, least: Ints, places: Ints, group: Ints) -> None:
        self.price, self.may, self.group = price, may, group.copy()
        self.least, self.places = least, places
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

    def arcs(self) -> Ints:
        """Return what the cheapest move between each two nodes adds to the total, `NEVER` where none is."""
        arc = np.full((self.spare + 1, self.spare + 1), NEVER, dtype=np.int64)
        extra = self._extra()
        for a in np.unique(self.group):
            arc[a, : self.spare] = extra[self.group == a].min(axis=0)
        held = np.bincount(self.group, minlength=self.spare)
        arc[: self.spare, self.spare] = np.where(held < self.places, 0, NEVER)
        arc[self.spare, : self.spare] = np.where(held > self.least, 0, NEVER)
        arc[self.spare, self.spare] = 0
        return arc

    def _extra(self) -> Ints:
        """Return what moving each female to each group would add to the total."""
        own = self.price[np.arange(len(self.price)), self.group]
        return np.where(self.may, self.price - own[:, np.newaxis], NEVER)

    def _cheaper_round(self) -> list[int]:
        """Return the nodes of a round trip that lowers the total; if none, keep the levels that prove it."""
        count = self.spare + 1
        arc = self.arcs()
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
            wanted &= (held > self.least)[:bulls, np.newaxis] & (held[:bulls] < self.places[:bulls])[
                np.newaxis, :
            ]
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
        leads = np.asarray((ways > 0).any(axis=1))
        held = np.bincount(self.group, minlength=self.spare)
        for female in range(len(self.group)):
            here = int(self.group[female])
            ways[here] -= even[female]  # from now on she stays where this turn puts her
            leads[here] = (ways[here] > 0).any()
            if not even[female, :here].any():
                continue
            onward = _ways_to(here, ways, leads)
            wanted = np.flatnonzero(even[female, :here] & (onward[:here] >= 0))
            if not len(wanted):
                continue
            self._move(female, int(wanted[0]), held)
            for group in self._close_round(female, int(wanted[0]), here, onward, even, ways, held):
                leads[group] = (ways[group] > 0).any()

    def _close_round(
        self, female: int, start: int, end: int, onward: Ints, even: Flags, ways: Ints, held: Ints
    ) -> list[int]:
        """Move one later female along each arc from `start` to `end`; return the groups on the way."""
        a, trip = start, [start]
        while a != end:
            b = int(onward[a])
            later = np.flatnonzero((self.group[female + 1 :] == a) & even[female + 1 :, b])
            mover = female + 1 + int(later[-1])
            ways[a] -= even[mover]
            ways[b] += even[mover]
            self._move(mover, b, held)
            a = b
            trip.append(b)
        return trip

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
        onward = _ways_to(int(goal), arc, np.asarray(arc.any(axis=1)))
        for start in np.flatnonzero(wanted[:, goal] & (onward[: len(wanted)] >= 0)):
            trip = [int(start)]
            while trip[-1] != goal:
                trip.append(int(onward[trip[-1]]))
            return trip
    return []


def _ways_to(goal: int, arc: Flags | Ints, leads: Flags) -> Ints:
    """Return for every node the next one on a shortest way to `goal`, -1 where there is none.

    `arc` has more than 0 where one leads on, and `leads` says of each node whether any does.
    """
    onward = np.full(len(arc), -1, dtype=np.int64)
    onward[goal] = goal
    reached = [goal]
    most = 1 + int(leads.sum()) - int(leads[goal])  # from the others there is no way at all
    for node in reached:  # grows while it is read
        if len(reached) == most:
            break
        fresh = np.flatnonzero((arc[:, node] > 0) & (onward < 0))
        onward[fresh] = node
        reached.extend(fresh.tolist())
    return onward
