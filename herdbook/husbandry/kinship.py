"""Inbreeding and kinship from a pedigree held as two arrays of row numbers.

A pedigree is `sire` and `dam`: row numbers of each animal's parents, -1 where unknown. Everything except
`order_parents_first` and `find_loops` wants parents before their offspring. All results are sums of powers of
one half and are exact in a double while twice the depth of the pedigree stays within 53 bits.

One idea carries the module. The relationship matrix is ``A = T D T'`` (Henderson 1976, Biometrics 32:69-83):
`T` hands genes down the pedigree and `D` is what Mendelian sampling adds in each animal. A column of `A` is
then one walk up the pedigree and one walk down (Colleau 2002, Genet. Sel. Evol. 34:409-421), many columns at
a time, one generation a step; `A` itself is never formed. From memory: both papers; checked against the slow
tabular form.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.pedigree_faults import PedigreeRefused, pedigree_faults
from herdbook.husbandry.pedigree_walks import AS_THEY_STAND, Walks, walks_for

Rows = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]

UNKNOWN = -1
_STRIP = 512
"""Ancestors whose meetings are solved for together."""
_CELLS_AT_ONCE = 4_000_000
"""Numbers held at a time in one sweep (32 MB): wide tables are cut into strips of this size."""


@dataclass(frozen=True)
class Shared:
    """An ancestor at which two pedigrees meet, and what meeting there adds to the inbreeding."""

    ancestor: int
    share: float


def order_parents_first(sire: npt.ArrayLike, dam: npt.ArrayLike) -> Rows:
    """Return an order of the rows in which every parent stands before its offspring.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown.

    Returns
    -------
    ndarray of int, shape (n,)
        Row numbers in the new order; rows already in order keep their places.

    Raises
    ------
    PedigreeRefused
        If an animal is its own ancestor, or a parent's row is not in the pedigree; it names all of them.
    """
    fathers, mothers = _parents(sire, dam)
    if _in_order(fathers, mothers):
        return np.arange(len(fathers))
    return np.argsort(generations(fathers, mothers), kind="stable")


def generations(sire: npt.ArrayLike, dam: npt.ArrayLike) -> Rows:
    """Return the generation of each row: 0 for founders, for others one more than the deeper parent.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, in any order.

    Returns
    -------
    ndarray of int, shape (n,)

    Raises
    ------
    PedigreeRefused
        If an animal is its own ancestor, or a parent's row is not in the pedigree; it names all of them.
    """
    fathers, mothers = _parents(sire, dam)
    if _in_order(fathers, mothers):
        return _generations(fathers, mothers, walks_for(len(fathers)))
    depth, placed = _peel(fathers, mothers)
    if placed < len(depth):
        raise PedigreeRefused(pedigree_faults(fathers, mothers))
    return depth


def find_loops(sire: npt.ArrayLike, dam: npt.ArrayLike) -> list[list[int]]:
    """Return the animals of each loop: those that are their own ancestors through one another.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, in any order.

    Returns
    -------
    list of list of int
        One ascending list of row numbers for each group of animals that descend from one another; empty if
        sound.
    """
    fathers, mothers = _parents(sire, dam)
    if _in_order(fathers, mothers):
        return []
    depth, placed = _peel(fathers, mothers)
    if placed == len(depth):
        return []
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    stuck = np.flatnonzero(depth < 0)  # in a loop, or below one
    place = np.full(len(fathers) + 1, UNKNOWN)
    place[stuck] = np.arange(len(stuck))
    child = np.concatenate([np.arange(len(stuck))] * 2)
    parent = np.concatenate([place[fathers[stuck]], place[mothers[stuck]]])
    known = parent >= 0
    ends = (child[known], parent[known])
    links = coo_array((np.ones(len(ends[0]), dtype=np.int8), ends), shape=(len(stuck), len(stuck))).tocsr()
    count, label = connected_components(links, directed=True, connection="strong")
    groups: list[list[int]] = [[] for _ in range(count)]
    for row, group in zip(stuck.tolist(), label.tolist(), strict=True):
        groups[group].append(row)
    return sorted(rows for rows in groups if len(rows) > 1 or rows[0] in (fathers[rows[0]], mothers[rows[0]]))


def inbreeding(sire: npt.ArrayLike, dam: npt.ArrayLike) -> Reals:
    """Return the inbreeding coefficient of every animal.

    Animals with an unknown parent have 0. For the others F is half the relationship of the parents. The sires
    of one generation are swept together: a walk over their ancestors needs only inbreeding found in earlier
    generations and gives the relationship to all their mates at once, so full sibs and repeated matings cost
    nothing.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.

    Returns
    -------
    ndarray of float, shape (n,)

    Raises
    ------
    PedigreeRefused
        If a parent does not stand before its offspring, or is not in the pedigree; it names all of them.

    Notes
    -----
    The same numbers as Meuwissen & Luo (1992, Genet. Sel. Evol. 24:305-313), by Colleau's indirect method.
    Time grows with animals x sires. Very large herds go by `sweeps`, which meets ancestors only, where the
    extra `large` is installed.
    """
    fathers, mothers = _ordered_parents(sire, dam)
    walk = walks_for(len(fathers))
    if walk is not AS_THEY_STAND:
        from herdbook.husbandry.sweeps import inbreeding_by_blocks

        return inbreeding_by_blocks(fathers, mothers, _generations(fathers, mothers, walk), walk)
    pedigree = _Pedigree(fathers, mothers)
    found = np.zeros(pedigree.size)
    both = np.flatnonzero((pedigree.sire >= 0) & (pedigree.dam >= 0))
    if not len(both):
        return found
    walked, mates = pedigree.sire[both], pedigree.dam[both]
    if len(np.unique(mates)) < len(np.unique(walked)):
        walked, mates = mates, walked
    depth = pedigree.depth[walked]
    for generation in np.unique(depth):
        here = both[depth == generation]
        mine, theirs = walked[depth == generation], mates[depth == generation]
        column_of, column = np.unique(mine, return_inverse=True)
        variance = pedigree.sampling(found)
        last = int(pedigree.depth[theirs].max())
        for start, block in pedigree.strips(column_of):
            inside = (column >= start) & (column < start + len(block))
            related = pedigree.relationship(block, variance, last)
            found[here[inside]] = 0.5 * related[theirs[inside], column[inside] - start]
    return found


def coancestry(
    sire: npt.ArrayLike, dam: npt.ArrayLike, f: npt.ArrayLike, males: npt.ArrayLike, females: npt.ArrayLike
) -> Reals:
    """Return the expected inbreeding of every possible calf of some males and some females.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.
    f : array_like of float, shape (n,)
        Inbreeding of every animal, from `inbreeding`.
    males, females : array_like of int, shapes (m,) and (k,)
        Row numbers of the possible parents.

    Returns
    -------
    ndarray of float, shape (m, k)
        Coancestry of each male with each female. Nothing known of the ancestors gives 0, which is not the
        same as unrelated: show `known_generations` beside it.
    """
    pedigree = _Pedigree(sire, dam)
    variance = pedigree.sampling(np.asarray(f, dtype=np.float64))
    one, other = pedigree.rows(males), pedigree.rows(females)
    if len(other) < len(one):
        return np.ascontiguousarray(pedigree.half_related(other, one, variance).T)
    return pedigree.half_related(one, other, variance)


def relationship(sire: npt.ArrayLike, dam: npt.ArrayLike, f: npt.ArrayLike, rows: npt.ArrayLike) -> Reals:
    """Return the relationships of some animals: the part of the matrix A that belongs to them.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.
    f : array_like of float, shape (n,)
        Inbreeding of every animal, from `inbreeding`.
    rows : array_like of int, shape (m,)
        Row numbers of the animals: a few hundred, since m x m numbers come back.

    Returns
    -------
    ndarray of float, shape (m, m)
        Twice their coancestry; on the diagonal 1 + F.
    """
    chosen = np.asarray(rows)
    return 2.0 * coancestry(sire, dam, f, chosen, chosen)


def shared_ancestors(
    sire: npt.ArrayLike, dam: npt.ArrayLike, f: npt.ArrayLike, father: int, mother: int
) -> list[Shared]:
    """Return the ancestors that two animals share, with the part of their coancestry that each brings.

    The inbreeding of a calf is a sum over pairs of paths, one from each parent, that meet in one common
    ancestor and nowhere below it, of ``(1/2)**(links + 1) * (1 + F_ancestor)`` (Wright 1922, Am. Nat.
    56:330-338). Here the paths are grouped by that ancestor, so the shares add up to the coancestry.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.
    f : array_like of float, shape (n,)
        Inbreeding of every animal.
    father, mother : int
        Row numbers of the two animals; one may be an ancestor of the other.

    Returns
    -------
    list of Shared
        Largest share first; equal shares by row number. Empty if nothing is shared.

    Notes
    -----
    Paths are not counted one by one, since there can be millions. The chance that two separate lines of
    descent, drawn upwards from the two parents, both pass through an animal is the product of their
    contributions. It is also the sum, over the youngest animal in which the lines first met, of the chance of
    meeting there and of then both passing on upwards: solved for the meeting chances from the youngest animal
    up.
    """
    pedigree = _Pedigree(sire, dam)
    inbred = np.asarray(f, dtype=np.float64)
    common, mine = _common(pedigree, int(father), int(mother))
    if not len(common):
        return []
    meeting = _meetings(pedigree, common, mine[0][common] * mine[1][common])
    shares = [
        Shared(int(common[here]), 0.5 * float(meeting[here]) * (1.0 + float(inbred[common[here]])))
        for here in np.flatnonzero(meeting)
    ]
    return sorted(shares, key=lambda part: (-part.share, part.ancestor))


def known_generations(sire: npt.ArrayLike, dam: npt.ArrayLike) -> Reals:
    """Return how much of each animal's pedigree is known, in equivalent complete generations.

    The sum over all known ancestors of ``(1/2)**n``, n the generations between (Maignel, Boichard & Verrier
    1996, Interbull Bulletin 14:49-54; from memory). Both parents known and nothing beyond: 1. Nothing known:
    0.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.

    Returns
    -------
    ndarray of float, shape (n,)
    """
    fathers, mothers = _ordered_parents(sire, dam)
    walk = walks_for(len(fathers))
    known = walk.column(_with_unknown(np.zeros(len(fathers))))
    walk.generations_known(walk.column(fathers), walk.column(mothers), known)
    return np.asarray(known[:-1], dtype=np.float64)


class _Pedigree:
    """Rows sorted into generations, with the walks up and down that everything above is made of.

    Work arrays have one row more than there are animals: row -1, always zero, stands for the unknown parent.
    """

    def __init__(self, sire: npt.ArrayLike, dam: npt.ArrayLike) -> None:
        self.sire, self.dam = _ordered_parents(sire, dam)
        self.size = len(self.sire)
        self.depth = _generations(self.sire, self.dam, walks_for(self.size))
        order = np.argsort(self.depth, kind="stable")
        ends = np.cumsum(np.bincount(self.depth)) if self.size else np.zeros(0, dtype=np.int64)
        self.generations: list[Rows] = np.split(order, ends[:-1]) if self.size else []
        self._links = [self._upward(rows) for rows in self.generations]

    def _upward(self, rows: Rows) -> tuple[Rows, Rows, Rows]:
        """Return one generation's rows sorted by parent, where each parent's rows start, and the parents."""
        child = np.concatenate([rows, rows])
        parent = np.concatenate([self.sire[rows], self.dam[rows]])
        child, parent = child[parent >= 0], parent[parent >= 0]
        by_parent = np.argsort(parent, kind="stable")
        parents, starts = np.unique(parent[by_parent], return_index=True)
        return child[by_parent], starts.astype(np.int64), parents

    def rows(self, rows: npt.ArrayLike) -> Rows:
        """Return `rows` as an array of row numbers, refusing any that are not in the pedigree."""
        asked = np.asarray(rows, dtype=np.int64).reshape(-1)
        if len(asked) and (asked.min() < 0 or asked.max() >= self.size):
            raise ValueError("A row number lies outside the pedigree.")
        return asked

    def sampling(self, f: Reals) -> Reals:
        """Return the Mendelian sampling variance of every animal: 1, 3/4 - F/4 or 1/2 - (F_s + F_d)/4."""
        if f.shape != (self.size,):
            raise ValueError("There must be one inbreeding coefficient for each animal.")
        parent = np.append(f, -1.0)  # an unknown parent counts as F = -1, which makes the three rules one
        variance: Reals = 0.5 - 0.25 * (parent[self.sire] + parent[self.dam])
        return variance

    def strips(self, rows: Rows) -> Iterator[tuple[int, Rows]]:
        """Cut `rows` into blocks that fit the memory set aside, with where each block starts."""
        width = max(1, _CELLS_AT_ONCE // (self.size + 1))
        for start in range(0, len(rows), width):
            yield start, rows[start : start + width]

    def relationship(self, rows: Rows, variance: Reals, last: int | None = None) -> Reals:
        """Return the columns of A for `rows`, down to generation `last`: shape (size + 1, len(rows))."""
        line = np.zeros((self.size + 1, len(rows)))
        line[rows, np.arange(len(rows))] = 1.0
        top = int(self.depth[rows].max(initial=0))
        for generation in range(top, 0, -1):
            child, starts, parents = self._links[generation]
            line[parents] += 0.5 * np.add.reduceat(line[child], starts, axis=0)
        line[:-1] *= variance[:, np.newaxis]
        for here in self.generations[1 : None if last is None else last + 1]:
            line[here] += 0.5 * (line[self.sire[here]] + line[self.dam[here]])
        return line

    def half_related(self, few: Rows, many: Rows, variance: Reals) -> Reals:
        """Return half the relationship of each of `few` (one column of A each) to each of `many`."""
        table = np.zeros((len(few), len(many)))
        if len(many):
            last = int(self.depth[many].max())
            for start, block in self.strips(few):
                table[start : start + len(block)] = 0.5 * self.relationship(block, variance, last)[many].T
        return table

    def ancestry(self, row: int) -> Reals:
        """Return what each animal has handed to `row`: 1 for itself, 1/2 a parent, summed over all lines."""
        share = np.zeros(self.size + 1)
        share[row] = 1.0
        for generation in range(int(self.depth[row]), 0, -1):
            child, starts, parents = self._links[generation]
            share[parents] += 0.5 * np.add.reduceat(share[child], starts)
        return share[:-1]


def _meetings(pedigree: _Pedigree, common: Rows, passing: Reals) -> Reals:
    """Return the chances of first meeting in each of `common`, from those of both lines passing it.

    `common` holds all ancestors of those in it. What each handed to the younger ones is worked out a strip of
    ancestors at a time, so that thousands of them need no square table.
    """
    size = len(common)
    place = np.full(pedigree.size + 1, size)
    place[common] = np.arange(size)
    fathers, mothers = place[pedigree.sire[common]].tolist(), place[pedigree.dam[common]].tolist()
    meeting = np.zeros(size)
    for end in range(size, 0, -_STRIP):
        start = max(0, end - _STRIP)
        received = np.zeros((size + 1, end - start))
        for here in range(start, size):
            received[here] = 0.5 * (received[fathers[here]] + received[mothers[here]])
            if here < end:
                received[here, here - start] = 1.0
        squares = received[start:size] ** 2
        left = passing[start:end] - meeting[end:] @ squares[end - start :]
        for here in range(end - start - 1, -1, -1):
            if (
                left[here] > 2.0**-52
            ):  # else what is left of rounding in pedigrees deeper than a double is exact
                meeting[start + here] = left[here]
                left[:here] -= left[here] * squares[here, :here]
    return meeting


def _common(pedigree: _Pedigree, father: int, mother: int) -> tuple[Rows, tuple[Reals, Reals]]:
    """Return the rows that both animals descend from (or are), ascending, and what each handed to the two."""
    pedigree.rows([father, mother])
    mine = (pedigree.ancestry(father), pedigree.ancestry(mother))
    return np.flatnonzero((mine[0] > 0) & (mine[1] > 0)), mine


def _parents(sire: npt.ArrayLike, dam: npt.ArrayLike, in_order: bool = False) -> tuple[Rows, Rows]:
    """Return both parent columns as arrays of row numbers, refusing what cannot be a pedigree."""
    columns = [np.asarray(column) for column in (sire, dam)]
    for column in columns:
        if column.ndim != 1 or column.shape != columns[0].shape:
            raise ValueError("Sires and dams must be two columns of the same length.")
        if len(column) and column.dtype.kind not in "iu":
            raise ValueError("Parents must be row numbers.")
        if len(column) and (column.min() < UNKNOWN or column.max() >= len(column)):
            raise PedigreeRefused(pedigree_faults(sire, dam, in_order=in_order))
    return columns[0].astype(np.int64), columns[1].astype(np.int64)


def _in_order(sire: Rows, dam: Rows) -> bool:
    own = np.arange(len(sire))
    return bool(np.all(sire < own) and np.all(dam < own))


def _ordered_parents(sire: npt.ArrayLike, dam: npt.ArrayLike) -> tuple[Rows, Rows]:
    """Return both parent columns, refusing those in which a parent does not stand before its offspring."""
    fathers, mothers = _parents(sire, dam, in_order=True)
    if not _in_order(fathers, mothers):
        raise PedigreeRefused(pedigree_faults(fathers, mothers, in_order=True))
    return fathers, mothers


def _with_unknown(column: npt.NDArray[np.generic]) -> npt.NDArray[np.generic]:
    """Add the cell, -1, that is read through row -1 and stands for the unknown parent."""
    return np.append(column, np.array([-1], dtype=column.dtype))


def _generations(sire: Rows, dam: Rows, walk: Walks) -> Rows:
    """Return each row's generation, parents standing before their offspring."""
    depth = walk.column(_with_unknown(np.zeros(len(sire), dtype=np.int64)))
    walk.depths(walk.column(sire), walk.column(dam), depth)
    return np.asarray(depth[:-1], dtype=np.int64)


def _peel(sire: Rows, dam: Rows) -> tuple[Rows, int]:
    """Return each row's generation (-1 in or below a loop) and how many rows have one, whatever the order."""
    size = len(sire)
    walk = walks_for(size)
    parent = np.concatenate([sire, dam])
    by_parent = np.argsort(parent, kind="stable")
    by_parent = by_parent[np.searchsorted(parent[by_parent], 0) :]
    first = np.searchsorted(parent[by_parent], np.arange(size + 1))
    links = [sire, dam, first, by_parent % max(1, size)]
    space = [np.zeros(size, dtype=np.int64), np.zeros(size, dtype=np.int64)]
    depth = walk.column(np.full(size + 1, UNKNOWN))
    placed = walk.peel(*(walk.column(column) for column in (*links, *space)), depth)
    return np.asarray(depth[:-1], dtype=np.int64), int(placed)
