"""What a coefficient could be: unknown parents as average animals of the herd instead of founders.

An unknown parent that is left out counts as a founder, kin to nobody: the low end. The high end takes it as
an average animal of its sex that the herd held at that time. Both are assumptions, and stand beside the
figures.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.doubt import NO_LINKS, Links
from herdbook.husbandry.kinship import UNKNOWN

Rows = npt.NDArray[np.int64]

YEARS = 15
"""A parent is at most this much older than its calf: common practice, no source."""


@dataclass(frozen=True)
class Filled:
    """A pedigree whose unknown parents are groups, for `doubt.AverageKinship`: the first n rows are the same.

    Parameters
    ----------
    sire, dam : ndarray of int, shape (n + groups,)
    groups : Links
    """

    sire: Rows
    dam: Rows
    groups: Links


def fill_unknown(
    sire: npt.ArrayLike,
    dam: npt.ArrayLike,
    year: npt.ArrayLike,
    male: npt.ArrayLike,
    may_breed: npt.ArrayLike | None = None,
    doubtful: Links = NO_LINKS,
) -> Filled:
    """Put an average animal of the herd at that time in the place of every unknown parent.

    For each year and sex there is one row: the mean of the animals of that sex born in the `YEARS` before.
    Animals born before any other that could be their parent stay founders.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown.
    year : array_like of int, shape (n,)
        Year of birth, 0 where not known: then a year before the first calf, or the last year of all. A year
        that is not before its calf's is taken to be the year before.
    male : array_like of int, shape (n,)
        1 male, 0 female, -1 not known (in no mean).
    may_breed : array_like of bool, shape (n,), optional
        False for what cannot be a parent, as a steer.
    doubtful : Links
        The possible sires of the rows that have several.

    Returns
    -------
    Filled

    Notes
    -----
    The means are genetic groups of equal parts; own method. An unknown parent of an animal bought in is taken
    for one of this herd too, which is why this is the high end.
    """
    fathers, mothers = np.array(sire, dtype=np.int64), np.array(dam, dtype=np.int64)
    size = len(fathers)
    fathers[doubtful.child] = doubtful.parent
    when = _years(fathers, mothers, np.array(year, dtype=np.int64), doubtful)
    sexes = np.asarray(male)
    use = np.ones(size, dtype=bool) if may_breed is None else np.asarray(may_breed, dtype=bool)
    made = _Groups(size)
    for sex, column in ((1, fathers), (0, mothers)):
        pool = np.flatnonzero((sexes == sex) & use)
        years, counts = np.unique(when[pool], return_counts=True)
        crops = {}
        for born, number in zip(years.tolist(), counts.tolist(), strict=True):
            crops[born] = (made.add(pool[when[pool] == born], np.full(number, 1.0 / number)), number)
        missing = np.flatnonzero(column == UNKNOWN)
        for born in np.unique(when[missing]).tolist():
            # A dam is at least two years older, a sire one: younger ones are mishaps.
            near = [crops[y] for y in crops if born - YEARS <= y <= born - (1 if sex else 2)]
            if near:
                weight = np.array([number for _, number in near], dtype=np.float64)
                group = made.add(np.array([row for row, _ in near], dtype=np.int64), weight / weight.sum())
                column[missing[when[missing] == born]] = group
    none = np.full(made.count, UNKNOWN)
    return Filled(np.append(fathers, none), np.append(mothers, none), made.links())


class _Groups:
    """Rows behind the animals, each the mean of some others."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._members: list[tuple[Rows, npt.NDArray[np.float64]]] = []

    @property
    def count(self) -> int:
        return len(self._members)

    def add(self, members: Rows, parts: npt.NDArray[np.float64]) -> int:
        self._members.append((members, parts))
        return self._size + self.count - 1

    def links(self) -> Links:
        if not self._members:
            return NO_LINKS
        child = [np.full(len(each), self._size + n) for n, (each, _) in enumerate(self._members)]
        parent, weight = zip(*self._members, strict=True)
        return Links(np.concatenate(child), np.concatenate(parent), np.concatenate(weight))


def _years(sire: Rows, dam: Rows, year: Rows, doubtful: Links) -> Rows:
    """Return a year for every row, each parent's before its calf's, so that no mean holds its own offspring.

    Raises
    ------
    ValueError
        If an animal is its own ancestor.
    """
    rows = np.arange(len(sire))
    links = ((rows, sire), (rows, dam), (doubtful.child, doubtful.parent))
    child = np.concatenate([one for one, _ in links])
    parent = np.concatenate([other for _, other in links])
    child, parent = child[parent >= 0], parent[parent >= 0]
    last = int(year.max(initial=0))
    when = np.where(year > 0, year, last)
    for _ in range(len(rows) + 1):
        before = when.copy()
        np.minimum.at(when, parent, when[child] - 1)
        if np.array_equal(before, when):
            return when
    raise ValueError("An animal in this pedigree is its own ancestor.")
