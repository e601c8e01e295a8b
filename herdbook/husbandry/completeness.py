"""How much of a pedigree is known, and how far a coefficient that rests on it can be trusted.

An inbreeding of nil from an empty pedigree is arithmetic, not knowledge: so each coefficient is shown with
the generations known behind it and a short word.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.doubt import NO_LINKS, Links, depths

Rows = npt.NDArray[np.int64]
Reals = npt.NDArray[np.float64]


class Trust(Enum):
    """How far a coefficient can be trusted, the least first; the value is the word in English."""

    NOTHING = "nothing known"
    LITTLE = "little known"
    PARENTS = "parents only"
    TWO = "two generations"
    WELL = "well known"


@dataclass(frozen=True)
class Depth:
    """What is known behind one animal.

    Parameters
    ----------
    maximum : int
        Generations to the furthest known ancestor.
    complete : int
        Generations in which every ancestor is known.
    equivalent : float
        Equivalent complete generations: the sum over known ancestors of ``(1/2)**n``.
    """

    maximum: int
    complete: int
    equivalent: float

    @property
    def trust(self) -> Trust:
        """The word for it.

        Nothing known: no parent. Little: not both parents. Parents only: both, and less than two generations
        in all. Well known: all great-grandparents, or all grandparents and as many ancestors as four whole
        generations. Common practice, no source: the bounds are ours.
        """
        if self.equivalent <= 0:
            return Trust.NOTHING
        if not self.complete:
            return Trust.LITTLE
        if self.complete >= 3 or (self.complete >= 2 and self.equivalent >= 4):
            return Trust.WELL
        return Trust.TWO if self.complete >= 2 or self.equivalent >= 2 else Trust.PARENTS


@dataclass(frozen=True)
class Completeness:
    """What is known behind every animal: three arrays of shape (n,), as in `Depth`."""

    maximum: Rows
    complete: Rows
    equivalent: Reals

    def of(self, row: int) -> Depth:
        """Return what is known behind one row."""
        return Depth(int(self.maximum[row]), int(self.complete[row]), float(self.equivalent[row]))


def weaker(sides: Iterable[Trust]) -> Trust:
    """Return the least of some words: a mating is known no better than its weaker side."""
    order = list(Trust)
    return min(sides, key=order.index)


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


def closeness(inbreeding: float, close_from: float = 0.0625, very_close_from: float = 0.125) -> str:
    """Return "very close", "close" or "" for a calf's inbreeding.

    1/16 is the calf of first cousins, 1/8 that of half sibs; that they are warned of is common practice, no
    source.
    """
    if inbreeding >= very_close_from:
        return "very close"
    return "close" if inbreeding >= close_from else ""
