"""What a coefficient could be: unknown parents as average animals of the herd instead of founders.

An unknown parent that is left out counts as a founder, kin to nobody: the low end. The high end takes it for
an average animal of the herd at that time. Both are assumptions, and stand beside the figures.

That unknown parents are as near to the herd as those of its animals whose parents are known follows VanRaden
(1992, J. Dairy Sci. 75:3136-3144), who gives animals of unknown parents the mean inbreeding of such
contemporaries; averages of the animals themselves in the place of the parents are our own.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.doubt import NO_LINKS, Links
from herdbook.husbandry.kinship import UNKNOWN

Rows = npt.NDArray[np.int64]

YOUNGEST, OLDEST = 2, 15
"""A parent is so many years older than its calf: common practice, no source."""
FEWEST = 5
"""Animals of which an average says anything: our choice."""


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
    sire: npt.ArrayLike, dam: npt.ArrayLike, year: npt.ArrayLike, doubtful: Links = NO_LINKS
) -> Filled:
    """Put an average animal of the herd at that time in the place of every unknown parent.

    For each year there is one row: the mean of the animals whose parents are both known and that were born
    `OLDEST` to `YOUNGEST` years before. Where these are fewer than `FEWEST` the parents stay founders.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown.
    year : array_like of int, shape (n,)
        Year of birth, 0 where not known: then a year before the first calf, or the last year of all. A year
        that is not before its calf's is taken to be the year before.
    doubtful : Links
        The possible sires of the rows that have several: known parents.

    Returns
    -------
    Filled

    Notes
    -----
    Neither an animal nor what descends from it is ever in the mean that stands for its parents. Animals with
    unknown parents are in none: they would only seem to be kin to nobody. An unknown parent of an animal
    bought in is taken for one of this herd too, which is why this is the high end.
    """
    fathers, mothers = np.array(sire, dtype=np.int64), np.array(dam, dtype=np.int64)
    fathers[doubtful.child] = doubtful.parent
    when = _years(fathers, mothers, np.array(year, dtype=np.int64), doubtful)
    made = _Groups(len(fathers))
    pool = np.flatnonzero((fathers != UNKNOWN) & (mothers != UNKNOWN))
    crops = {born: pool[when[pool] == born] for born in np.unique(when[pool]).tolist()}
    means = {born: made.add(rows, np.full(len(rows), 1.0 / len(rows))) for born, rows in crops.items()}
    unknown = (fathers == UNKNOWN) | (mothers == UNKNOWN)
    for born in np.unique(when[unknown]).tolist():
        near = [y for y in crops if born - OLDEST <= y <= born - YOUNGEST]
        number = np.array([len(crops[y]) for y in near], dtype=np.float64)
        if number.sum() >= FEWEST:
            group = made.add(np.array([means[y] for y in near], dtype=np.int64), number / number.sum())
            for column in (fathers, mothers):
                column[(column == UNKNOWN) & (when == born)] = group
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
