"""How much of a pedigree is known behind every animal: maximum, complete and equivalent generations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.doubt import NO_LINKS, Links, depths
from herdbook.husbandry.trust import Depth

Rows = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Completeness:
    """What is known behind every animal: three arrays of shape (n,), as in `Depth`."""

    maximum: Rows
    complete: Rows
    equivalent: Reals

    def of(self, row: int) -> Depth:
        """Return what is known behind one row."""
        return Depth(int(self.maximum[row]), int(self.complete[row]), float(self.equivalent[row]))


def completeness(sire: npt.ArrayLike, dam: npt.ArrayLike, doubtful: Links = NO_LINKS) -> Completeness:
    """Return the maximum, complete and equivalent complete generations known behind every animal.

    Maignel, Boichard & Verrier 1996, Interbull Bulletin 14:49-54 (from memory). Of several possible sires the
    maximum takes the best known, the complete generations the least known, the equivalent their mean by
    chance.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, in any order. The sire of a row in `doubtful` is not read.
    doubtful : Links
        The possible sires of the rows that have several; -1 among them is a sire whom nobody knows.

    Returns
    -------
    Completeness

    Raises
    ------
    ValueError
        If an animal is its own ancestor.
    """
    mothers = np.asarray(dam, dtype=np.int64)
    size = len(mothers)
    rows = np.arange(size)
    certain = np.ones(size, dtype=bool)
    certain[doubtful.child] = False
    fathers = np.asarray(sire, dtype=np.int64)
    child = np.concatenate([rows[certain], doubtful.child])
    father = np.concatenate([fathers[certain], doubtful.parent])
    chance = np.concatenate([np.ones(int(certain.sum())), doubtful.weight])
    known, with_dam = father >= 0, mothers >= 0
    depth = depths(
        size,
        np.concatenate([child[known], rows[with_dam]]),
        np.concatenate([father[known], mothers[with_dam]]),
    )
    # Row -1 stands for the unknown parent: one generation less than an animal of whom nothing is known.
    best, least = np.zeros(size + 1, dtype=np.int64), np.zeros(size + 1, dtype=np.int64)
    mean = np.zeros(size + 1)
    best[-1] = least[-1] = mean[-1] = -1
    order = np.argsort(child, kind="stable")
    child, father, chance = child[order], father[order], chance[order]
    when = depth[child]
    for here in range(1, int(depth.max(initial=0)) + 1):
        of = np.flatnonzero(when == here)
        young, starts = np.unique(child[of], return_index=True)
        told = chance[of] * (mean[father[of]] + 1)
        mean[young] = 0.5 * (np.add.reduceat(told, starts) + mean[mothers[young]] + 1)
        best[young] = 1 + np.maximum(np.maximum.reduceat(best[father[of]], starts), best[mothers[young]])
        least[young] = 1 + np.minimum(np.minimum.reduceat(least[father[of]], starts), least[mothers[young]])
    return Completeness(best[:-1], least[:-1], mean[:-1])
