"""Expected inbreeding and kinship where a sire is doubtful, or a parent is an average of several animals.

A row of the relationship matrix may rest on several possible sires, each with his chance (Henderson 1988,
J. Anim. Sci. 66:1614-1621: the average numerator relationship): ``a_ij = sum p (a_sj + a_dj) / 2`` and
``a_ii = 1 + sum p a_sd / 2``. `A` is still ``T D T'``: `T` hands genes down along weighted links, and what
Mendelian sampling and doubt together add is ``D_i = a_ii - w'Aw``, `w` the links of the row; the rule for two
certain parents is the case of two links of one half. So the walks are those of `kinship`, and doubt follows
down the generations by itself. The doubts of different animals are taken to be independent.

A *group* is a row that stands for an average animal: its links add up to 1 and its own ``D`` is 0, so that it
has the mean relationship of its members, as a genetic group has.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.kinship import UNKNOWN

Rows = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]

_CELLS_AT_ONCE = 1_000_000
"""Numbers held at a time in one sweep (8 MB, near the processor): wide tables are cut into strips."""


def _no_rows() -> Rows:
    return np.zeros(0, dtype=np.int64)


def _no_reals() -> Reals:
    return np.zeros(0)


@dataclass(frozen=True)
class Links:
    """Weighted links from rows to other rows: of a child to its possible sires, or of a group to its members.

    Parameters
    ----------
    child, parent : ndarray of int, shape (k,)
        Row numbers.
    weight : ndarray of float, shape (k,)
        Chance of each sire, or each member's part of the group. The chances of one child add up to 1, or to
        less where none of them may be it.
    """

    child: Rows = field(default_factory=_no_rows)
    parent: Rows = field(default_factory=_no_rows)
    weight: Reals = field(default_factory=_no_reals)

    def __len__(self) -> int:
        return len(self.child)


NO_LINKS = Links()


class AverageKinship:
    """Inbreeding and coancestry expected over everything that is doubtful.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, in any order. The sire of a row in `doubtful` is not read.
    doubtful : Links
        The possible sires of the rows that have several.
    groups : Links
        The members of the rows that stand for an average animal; those rows have no parents of their own.

    Attributes
    ----------
    inbreeding : ndarray of float, shape (n,)
        Expected inbreeding of each row; for a group the mean relationship of its members less 1.

    Raises
    ------
    ValueError
        If a row is its own ancestor, or a chance is not between 0 and 1.

    Notes
    -----
    Time grows with rows x possible sires x generations, memory with the rows.
    """

    def __init__(
        self, sire: npt.ArrayLike, dam: npt.ArrayLike, doubtful: Links = NO_LINKS, groups: Links = NO_LINKS
    ) -> None:
        self._sire, self._dam = np.array(sire, dtype=np.int64), np.array(dam, dtype=np.int64)
        self.size = len(self._sire)
        if np.any(doubtful.weight < 0) or np.any(
            np.bincount(doubtful.child, doubtful.weight, self.size) > 1 + 1e-9
        ):
            raise ValueError("The chances of an animal's possible sires lie between 0 and 1 and add up to 1.")
        self._doubtful = doubtful
        self._is_group = np.zeros(self.size, dtype=bool)
        self._is_group[groups.child] = True
        self._sire[doubtful.child] = UNKNOWN
        self._link(groups)
        self._solve()

    @property
    def inbreeding(self) -> Reals:
        """Expected inbreeding of each row."""
        return self._own - 1.0

    @property
    def added(self) -> Reals:
        """``D``: what Mendelian sampling and doubt add in each row to what its links hand down."""
        return self._added.copy()

    def coancestry(self, males: npt.ArrayLike, females: npt.ArrayLike) -> Reals:
        """Return the expected inbreeding of every possible calf of some males and some females.

        Parameters
        ----------
        males, females : array_like of int, shapes (m,) and (k,)

        Returns
        -------
        ndarray of float, shape (m, k)
        """
        one, other = (np.asarray(rows, dtype=np.int64).reshape(-1) for rows in (males, females))
        if len(other) < len(one):
            return np.ascontiguousarray(self.coancestry(other, one).T)
        table = np.zeros((len(one), len(other)))
        last = int(self._depth[other].max(initial=0))
        for start, block in self._whole.strips(one):
            columns = self._whole.columns(block, self._added, last)
            table[start : start + len(block)] = 0.5 * columns[other].T
        return table

    def _link(self, groups: Links) -> None:
        """Put all links in one list and find each row's generation."""
        rows = np.arange(self.size)
        fathers, mothers = self._sire >= 0, self._dam >= 0
        half = np.full(self.size, 0.5)
        parts = (
            (rows[fathers], self._sire[fathers], half[fathers]),
            (rows[mothers], self._dam[mothers], half[mothers]),
            (self._doubtful.child, self._doubtful.parent, 0.5 * self._doubtful.weight),
            (groups.child, groups.parent, groups.weight),
        )
        self._links = Links(*(np.concatenate(columns) for columns in zip(*parts, strict=True)))
        self._depth = depths(self.size, self._links.child, self._links.parent)

    @cached_property
    def _whole(self) -> _Sweeps:
        return _Sweeps(self._depth, self._links)

    # -- inbreeding --

    def _solve(self) -> None:
        """Find `a_ii` and `D_i` of every row, one generation of walked rows after another.

        A row is known once the columns of its possible sires, all of earlier generations, have been walked.
        """
        self._own, self._added = np.ones(self.size), np.ones(self.size)
        self._of_parents = np.zeros(self.size)  # relationship of the parents, over the possible sires
        self._of_sires = np.zeros(self.size)  # mean relationship among the possible sires, over their chances
        walked, read, child, weight, kind = self._asked()
        when = self._depth[walked]
        # Only parents are read: the sweeps leave out what has no offspring, most animals of most books.
        parents, place, inner = self._of_parents_only()
        for here in range(int(self._depth.max(initial=0)) + 1):
            self._finish(np.flatnonzero(self._depth == here))
            now = np.flatnonzero(when == here)
            if not len(now):
                continue
            column_of, column = np.unique(place[walked[now]], return_inverse=True)
            last = int(self._depth[read[now]].max())
            added = self._added[parents]
            for start, block in inner.strips(column_of):
                inside = (column >= start) & (column < start + len(block))
                asked = now[inside]
                columns = inner.columns(block, added, last)
                found = weight[asked] * columns[place[read[asked]], column[inside] - start]
                for target, which in ((self._of_parents, 0), (self._of_sires, 1)):
                    mine = kind[asked] == which
                    np.add.at(target, child[asked[mine]], found[mine])
                groups = kind[asked] == 2
                self._own[child[asked[groups]]] = found[groups]

    def _of_parents_only(self) -> tuple[Rows, Rows, _Sweeps]:
        """Return the rows that have offspring or are groups, their places among themselves, their sweeps."""
        keeps = self._is_group.copy()
        keeps[self._links.parent] = True
        rows = np.flatnonzero(keeps)
        place = np.full(self.size, UNKNOWN)
        place[rows] = np.arange(len(rows))
        of, links = keeps[self._links.child], self._links
        own = Links(place[links.child[of]], place[links.parent[of]], links.weight[of])
        return rows, place, _Sweeps(self._depth[rows], own)

    def _asked(self) -> tuple[Rows, Rows, Rows, Reals, Rows]:
        """Return what must be read: the row walked, the row read, for which child, its weight and its use.

        Uses: 0 relationship of the parents, 1 relationship among possible sires, 2 a group with itself.
        """
        d = self._doubtful
        certain = np.flatnonzero((self._sire >= 0) & (self._dam >= 0))
        with_dam = np.flatnonzero(self._dam[d.child] >= 0)
        first, second = _pairs_within(d.child)
        group = np.flatnonzero(self._is_group)
        parts = (
            (self._sire[certain], self._dam[certain], certain, np.ones(len(certain)), 0),
            (d.parent[with_dam], self._dam[d.child[with_dam]], d.child[with_dam], d.weight[with_dam], 0),
            (d.parent[first], d.parent[second], d.child[first], d.weight[first] * d.weight[second], 1),
            (group, group, group, np.ones(len(group)), 2),
        )
        kinds = np.concatenate([np.full(len(part[0]), part[4]) for part in parts])
        walked, read, child = (np.concatenate([part[k] for part in parts]) for k in range(3))
        return walked, read, child, np.concatenate([part[3] for part in parts]), kinds

    def _finish(self, rows: Rows) -> None:
        """Find `a_ii` and `D_i` of one generation: all that they rest on has been walked."""
        rows = rows[~self._is_group[rows]] if self._is_group.any() else rows
        own = np.append(self._own, 0.0)  # read through row -1: an unknown parent adds nothing
        sires = own[self._sire[rows]] + self._of_sires[rows]
        self._own[rows] = 1.0 + 0.5 * self._of_parents[rows]
        parents = 0.25 * (sires + own[self._dam[rows]]) + 0.5 * self._of_parents[rows]
        self._added[rows] = self._own[rows] - parents
        # A group's links add up to all it is; a founder's to nothing.
        self._added[self._is_group] = 0.0


class _Sweeps:
    """Walks up and down weighted links, one generation a step and many columns at a time."""

    def __init__(self, depth: Rows, links: Links) -> None:
        self._depth = depth
        self._up, self._down = [], []
        generation = depth[links.child]
        for here in range(1, int(depth.max(initial=0)) + 1):
            of = np.flatnonzero(generation == here)
            child, parent, weight = links.child[of], links.parent[of], links.weight[of]
            self._up.append(_sorted_links(parent, child, weight))
            self._down.append(_sorted_links(child, parent, weight))

    def strips(self, rows: Rows) -> Iterator[tuple[int, Rows]]:
        """Cut `rows` into blocks that fit the memory set aside, with where each block starts."""
        width = max(1, _CELLS_AT_ONCE // (len(self._depth) + 1))
        for start in range(0, len(rows), width):
            yield start, rows[start : start + width]

    def columns(self, rows: Rows, added: Reals, last: int) -> Reals:
        """Return the columns of A for `rows`, down to generation `last`: shape (size, len(rows))."""
        line = np.zeros((len(self._depth), len(rows)))
        line[rows, np.arange(len(rows))] = 1.0
        for here in range(int(self._depth[rows].max(initial=0)), 0, -1):
            _hand(line, *self._up[here - 1])
        line *= added[:, np.newaxis]
        for step in self._down[:last]:
            _hand(line, *step)
        return line


def depths(size: int, child: Rows, parent: Rows) -> Rows:
    """Return each row's generation: one more than the latest of its parents', 0 for founders.

    Parameters
    ----------
    size : int
        Number of rows.
    child, parent : ndarray of int, shape (k,)
        Links, in any order.

    Returns
    -------
    ndarray of int, shape (size,)

    Raises
    ------
    ValueError
        If a row is its own ancestor.
    """
    depth = np.zeros(size, dtype=np.int64)
    if not len(child):
        return depth
    order = np.argsort(child, kind="stable")
    ends, children = parent[order], child[order]
    starts = np.flatnonzero(np.append(True, children[1:] != children[:-1]))
    rows = children[starts]
    for _ in range(size + 1):
        found = 1 + np.maximum.reduceat(depth[ends], starts)
        if np.array_equal(found, depth[rows]):
            return depth
        depth[rows] = found
    raise ValueError("An animal in this pedigree is its own ancestor.")


def _sorted_links(target: Rows, source: Rows, weight: Reals) -> tuple[Rows, Rows, Rows, Reals]:
    """Return links sorted by the row that receives: those rows, where each one's start, sources, weights."""
    order = np.argsort(target, kind="stable")
    targets, starts = np.unique(target[order], return_index=True)
    return targets, starts.astype(np.int64), source[order], weight[order, np.newaxis]


def _hand(line: Reals, targets: Rows, starts: Rows, source: Rows, weight: Reals) -> None:
    line[targets] += np.add.reduceat(weight * line[source], starts, axis=0)


def _pairs_within(child: Rows) -> tuple[Rows, Rows]:
    """Return all ordered pairs of links (each with itself too) that belong to the same child."""
    order = np.argsort(child, kind="stable")
    _, starts, counts = np.unique(child[order], return_index=True, return_counts=True)
    first = np.repeat(np.arange(len(child)), np.repeat(counts, counts))
    begin = np.repeat(starts, counts**2)
    block = np.cumsum(counts**2) - counts**2
    second = begin + (np.arange(len(first)) - np.repeat(block, counts**2)) % np.repeat(counts, counts**2)
    return order[first], order[second]
