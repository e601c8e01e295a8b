"""The most inbred that a calf can be, over all possible sires of all its doubtful ancestors.

The expected coancestry of two animals is linear in the chances of each doubtful ancestor's sires, so its
greatest value stands where every doubt is settled one way. A bound comes from the tabular recursion, the
younger of a pair expanded first, with the best sire at each step:
``W(i, j) = max over sires s of i of (W(s, j) + W(d, j)) / 2`` and
``W(i, i) = 1/2 + max over s of W(s, d) / 2``. It lets one ancestor have different sires in different pairs;
where the best choices agree it is reached and exact. Where they do not, branch and bound settles the youngest
ancestor on which they differ each way, best bound first (Land & Doig 1960, Econometrica 28:497-520, from
memory). Own method, checked against enumerating every assignment.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import count

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.doubt import Links, depths
from herdbook.husbandry.kinship import UNKNOWN

Rows = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]

SQUARE = 3_000
"""Most ancestors of bulls taken together in one square table (72 MB); more bulls go by groups."""
_MALES_AT_ONCE = 200
_ROUNDING = 1e-15
STEPS_FOR_ONE = 60_000
"""Most rows of tables made to settle one pair: about half a second on an ordinary machine."""
STEPS_FOR_TABLE = 20_000
"""The same for all the pairs of one table together."""


@dataclass(frozen=True)
class Settled:
    """The worst case of one pair.

    Parameters
    ----------
    value : float
        The greatest coancestry; when not `exact`, no more than this.
    exact : bool
        Whether an assignment of sires reaches it; False only where the search was cut short.
    sires : mapping of row to row
        The sires that reach it (when not `exact`, the worst found), of the doubtful ancestors that matter.
    steps : int
        Rows of tables that were made.
    """

    value: float
    exact: bool
    sires: Mapping[int, int] = field(default_factory=dict)
    steps: int = 0


class WorstKinship:
    """The greatest coancestry of pairs over every assignment of the possible sires.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents (possible sires too) before offspring. The sire of a
        row in `doubtful` is not read.
    doubtful : Links
        The possible sires that count; chances are not read, a child's first one wins a tie.

    Raises
    ------
    ValueError
        If a parent does not stand before its offspring.
    """

    def __init__(self, sire: npt.ArrayLike, dam: npt.ArrayLike, doubtful: Links) -> None:
        self._dam = np.array(dam, dtype=np.int64)
        self.size = len(self._dam)
        first = np.array(sire, dtype=np.int64)
        self._several: dict[int, list[int]] = {}
        for child, parent in zip(doubtful.child.tolist(), doubtful.parent.tolist(), strict=True):
            self._several.setdefault(child, []).append(parent)
        first[list(self._several)] = [each[0] for each in self._several.values()]
        own = np.arange(self.size)
        if np.any(first >= own) or np.any(self._dam >= own) or np.any(doubtful.parent >= doubtful.child):
            raise ValueError("Parents must stand before their offspring.")
        self._first = first

    def bound(self, males: Sequence[int], females: Sequence[int]) -> Reals:
        """Return an upper bound of each pair's worst coancestry, exact for most: shape (males, females).

        Memory is the square of the bulls' ancestors, at most `SQUARE` at a time, and relatives x bulls.
        """
        table = np.zeros((len(males), len(females)))
        for places, kin in self._groups(males):
            bulls = np.array([males[place] for place in places], dtype=np.int64)
            square = _Near(kin, self._first, self._dam, self._several).square({})
            table[places] = self._down_to(kin, square, bulls, np.asarray(females, dtype=np.int64)).T
        return table

    def table(
        self,
        males: Sequence[int],
        females: Sequence[int],
        expected: Reals,
        limit: float | None = None,
        most: int = STEPS_FOR_TABLE,
    ) -> tuple[Reals, npt.NDArray[np.bool_]]:
        """Return the worst coancestry of each pair, and whether it is exact or only no more than that.

        Parameters
        ----------
        males, females : sequence of int, shapes (m,) and (k,)
        expected : ndarray of float, shape (m, k)
            Expected coancestry; a bound that is no higher is exact.
        limit : float, optional
            Pairs whose expected and worst values it parts are settled first, then the widest apart.
        most : int
            Work spent on settling, in rows of tables; small herds are settled whole.

        Returns
        -------
        worst : ndarray of float, shape (m, k)
        exact : ndarray of bool, shape (m, k)
        """
        worst = np.maximum(self.bound(males, females), expected)
        exact = worst <= expected + _ROUNDING
        pairs = [(males[one], females[other]) for one, other in np.argwhere(~exact)]
        settled, certain = self._settle_each(pairs, expected[~exact], worst[~exact], limit, most)
        worst[~exact] = settled
        exact[~exact] = certain
        return worst, exact

    def own(self, rows: Sequence[int] | Rows, expected: Reals, most: int = STEPS_FOR_TABLE) -> Reals:
        """Return the inbreeding of some rows in the worst case, or no less than it: shape (rows,).

        `expected` is their expected inbreeding; every row has a dam.
        """
        pairs: list[tuple[int, int]] = []
        whose: list[int] = []
        for at, row in enumerate(np.asarray(rows).tolist()):
            for father in self._several.get(row, [int(self._first[row])]):
                if father >= 0:
                    pairs.append((father, int(self._dam[row])))
                    whose.append(at)
        found = np.array(expected)
        if pairs:
            bound = self._bound_of_pairs(pairs)
            least = found[whose]
            np.maximum.at(found, whose, self._settle_each(pairs, least, bound, None, most)[0])
        return found

    def _bound_of_pairs(self, pairs: Sequence[tuple[int, int]]) -> Reals:
        """Return `bound` of single pairs, a few hundred males at a time."""
        ends = np.array(pairs, dtype=np.int64)
        fathers, father = np.unique(ends[:, 0], return_inverse=True)
        found = np.zeros(len(pairs))
        for start in range(0, len(fathers), _MALES_AT_ONCE):
            here = np.flatnonzero((father >= start) & (father < start + _MALES_AT_ONCE))
            mothers, mother = np.unique(ends[here, 1], return_inverse=True)
            table = self.bound(fathers[start : start + _MALES_AT_ONCE].tolist(), mothers.tolist())
            found[here] = table[father[here] - start, mother]
        return found

    def _settle_each(
        self,
        pairs: Sequence[tuple[int, int]],
        expected: Reals,
        bound: Reals,
        limit: float | None,
        most: int,
    ) -> tuple[Reals, npt.NDArray[np.bool_]]:
        """Settle pairs exactly while the work lasts, what matters most first; the others keep `bound`."""
        worst = np.array(bound)
        exact = worst <= expected + _ROUNDING
        matters = np.zeros(len(worst), dtype=bool)
        if limit is not None:
            matters = (expected <= limit) & (worst > limit)
        order = np.lexsort((expected - worst, ~matters))
        left = most
        for at in order[~exact[order]].tolist():
            if left <= 0:
                break
            one, other = pairs[at]
            found = self.settle(one, other, min(left, STEPS_FOR_ONE))
            left -= found.steps
            worst[at], exact[at] = min(found.value, bound[at]), found.exact
        return worst, exact

    def settle(self, one: int, other: int, most: int = STEPS_FOR_ONE) -> Settled:
        """Return the worst case of one pair, exactly unless the search grows beyond `most` steps."""
        near = _Near(self.ancestors([one, other]), self._first, self._dam, self._several)
        ends = (near.place[one], near.place[other])
        serial, steps = count(), len(near.rows)
        table = near.square({})
        waiting: list[tuple[float, int, dict[int, int]]] = [(-float(table[ends]), next(serial), {})]
        while True:
            bound, _, fixed = heapq.heappop(waiting)
            if fixed:
                table = near.square(fixed)
                steps += len(near.rows)
            picks = near.picks(table, fixed, ends)
            torn = max((at for at, each in picks.items() if len(each) > 1), default=None)
            if torn is None or steps > most:
                chosen = fixed | {at: each[0] for at, each in picks.items()}
                sires = {int(near.rows[at]): int(near.rows[s]) for at, s in chosen.items()}
                return Settled(-bound, torn is None, sires, steps)
            for option in near.choices[torn]:
                settled = fixed | {torn: option}
                worth = float(near.square(settled, table, torn)[ends])
                steps += len(near.rows) - torn
                heapq.heappush(waiting, (-worth, next(serial), settled))

    def ancestors(self, rows: Sequence[int] | Rows) -> Rows:
        """Return these rows and everything that may be an ancestor of them, ascending."""
        seen: set[int] = set()
        todo = [int(row) for row in rows]
        while todo:
            row = todo.pop()
            if row in seen or row == UNKNOWN:
                continue
            seen.add(row)
            todo += [int(self._dam[row]), *self._several.get(row, (int(self._first[row]),))]
        return np.array(sorted(seen), dtype=np.int64)

    # -- tables --

    def _groups(self, males: Sequence[int]) -> Iterator[tuple[list[int], Rows]]:
        """Yield the places of the males taken together, with their ancestors: all at once where they fit."""
        kin = self.ancestors(males)
        if len(kin) <= SQUARE:
            yield list(range(len(males))), kin
            return
        places: list[int] = []
        together: set[int] = set()
        for place, male in enumerate(males):
            own = set(self.ancestors([male]).tolist())
            if places and len(together | own) > SQUARE:
                yield places, np.array(sorted(together), dtype=np.int64)
                places, together = [], set()
            places.append(place)
            together |= own
        yield places, np.array(sorted(together), dtype=np.int64)

    def _down_to(self, kin: Rows, square: Reals, bulls: Rows, females: Rows) -> Reals:
        """Return `W` of the females with the bulls, row by row below the bulls' ancestors `kin`.

        None of those rows is an ancestor of a bull, so that each may be expanded whatever its age.
        """
        place = np.full(self.size + 1, UNKNOWN)
        place[kin] = np.arange(len(kin))
        below = self.ancestors(females)
        below = below[place[below] < 0]
        place[below] = len(kin) + np.arange(len(below))
        place[place < 0] = len(kin) + len(below)  # the unknown parent: a last row of zeros
        place[-1] = len(kin) + len(below)
        table = np.zeros((len(kin) + len(below) + 1, len(bulls)))
        table[: len(kin)] = square[:-1, place[bulls]]
        for rows in self._generations(below):
            best = table[place[self._first[rows]]]
            torn = [at for at, row in enumerate(rows.tolist()) if row in self._several]
            most = max((len(self._several[int(rows[at])]) for at in torn), default=1)
            for option in range(1, most):
                each = [at for at in torn if len(self._several[int(rows[at])]) > option]
                others = [self._several[int(rows[at])][option] for at in each]
                best[each] = np.maximum(best[each], table[place[others]])
            table[place[rows]] = 0.5 * (best + table[place[self._dam[rows]]])
        asked: Reals = table[place[females]]
        return asked

    def _generations(self, rows: Rows) -> Iterator[Rows]:
        """Yield rows (which hold all their descendants' lines among themselves) parents before offspring."""
        if not len(rows):
            return
        child, parent = [], []
        for row in rows.tolist():
            for one in (int(self._dam[row]), *self._several.get(row, (int(self._first[row]),))):
                if one >= 0:
                    child.append(row)
                    parent.append(one)
        depth = depths(self.size, np.array(child, dtype=np.int64), np.array(parent, dtype=np.int64))[rows]
        for here in range(int(depth.max()) + 1):
            yield rows[depth == here]


class _Near:
    """Some rows with all their possible ancestors, by their places among one another; -1 is unknown."""

    def __init__(self, rows: Rows, first: Rows, dam: Rows, several: Mapping[int, list[int]]) -> None:
        self.rows = rows
        names = rows.tolist()
        self.place = {row: at for at, row in enumerate(names)} | {UNKNOWN: UNKNOWN}
        self.first = [self.place[row] for row in first[rows].tolist()]
        self.dam = [self.place[row] for row in dam[rows].tolist()]
        self.choices = {
            at: [self.place[sire] for sire in several[row]] for at, row in enumerate(names) if row in several
        }

    def square(self, fixed: Mapping[int, int], before: Reals | None = None, start: int = 0) -> Reals:
        """Return `W` among the rows, with a last row and column of zeros for unknown parents.

        `fixed` has the sires settled already; the rows above `start` are taken from `before`.
        """
        size = len(self.rows)
        table = np.zeros((size + 1, size + 1))
        if before is not None:
            table[:start, :start] = before[:start, :start]
        for at in range(start, size):
            dam, above = self.dam[at], table[:, :at]
            several = None if at in fixed else self.choices.get(at)
            if several is None:
                father = fixed.get(at, self.first[at])
                line, own = above[father] + above[dam], table[father, dam]
            else:
                line, own = above[several].max(axis=0) + above[dam], table[several, dam].max()
            line *= 0.5
            table[at, :at] = line
            table[:at, at] = line
            table[at, at] = 0.5 * (1.0 + own)
        return table

    def picks(self, table: Reals, fixed: Mapping[int, int], ends: tuple[int, int]) -> dict[int, list[int]]:
        """Return the sires that the bound of a pair rests on, by doubtful row; two of one row contradict.

        Pairs that bring nothing are not followed: no choice there can bring anything.
        """
        found: dict[int, list[int]] = {}
        seen: set[tuple[int, int]] = set()
        todo = [(max(ends), min(ends))]
        while todo:
            pair = todo.pop()
            if pair in seen or pair[1] < 0 or table[pair] <= 0:
                continue
            seen.add(pair)
            young, old = pair
            dam = self.dam[young]
            partner = dam if old == young else old
            father = fixed.get(young, self.first[young])
            if young in self.choices and young not in fixed:
                worth = [float(table[option, partner]) for option in self.choices[young]]
                father = self._best(young, worth, found)
            todo.append((max(father, partner), min(father, partner)))
            if old != young:
                todo.append((max(dam, old), min(dam, old)))
        return found

    def _best(self, young: int, worth: list[float], found: dict[int, list[int]]) -> int:
        """Return the sire worth most; of equals one that was chosen before, else the first."""
        best = max(worth)
        options = self.choices[young]
        if best <= 0:
            return options[0]
        chosen = found.setdefault(young, [])
        ties = [sire for sire, each in zip(options, worth, strict=True) if each == best]
        father = next((sire for sire in chosen if sire in ties), ties[0])
        if father not in chosen:
            chosen.append(father)
        return father
