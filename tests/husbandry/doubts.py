"""Small pedigrees with doubtful sires, and all that their every assignment says."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt
from hypothesis import strategies as st

from herdbook.husbandry.doubt import Links

Reals = npt.NDArray[np.float64]


@dataclass(frozen=True)
class Doubted:
    """A pedigree whose rows in `sires` have several possible sires with their chances."""

    sire: list[int]
    dam: list[int]
    sires: dict[int, list[tuple[int, float]]]

    @property
    def links(self) -> Links:
        rows = [(child, *each) for child, several in self.sires.items() for each in several]
        child, parent, chance = zip(*rows, strict=True) if rows else ((), (), ())
        return Links(np.array(child, dtype=np.int64), np.array(parent, dtype=np.int64), np.array(chance))

    def assignments(self) -> Iterator[tuple[float, Reals]]:
        """Yield the chance of every assignment of the sires, and all relationships under it."""
        for chosen in itertools.product(*self.sires.values()):
            sire, chance = list(self.sire), 1.0
            for child, (father, part) in zip(self.sires, chosen, strict=True):
                sire[child] = father
                chance *= part
            yield chance, tabular(sire, self.dam)

    def mean(self) -> Reals:
        """Return the relationships expected over every assignment."""
        found: Reals = np.sum([chance * table for chance, table in self.assignments()], axis=0)
        return found

    def most(self) -> Reals:
        """Return the greatest relationship of each pair over every assignment."""
        found: Reals = np.max([table for _, table in self.assignments()], axis=0)
        return found

    def settled(self, sires: dict[int, int]) -> Reals:
        """Return all relationships with these sires, and the first possible ones of other rows."""
        sire = list(self.sire)
        for child, several in self.sires.items():
            sire[child] = sires.get(child, several[0][0])
        return tabular(sire, self.dam)


def tabular(sire: list[int], dam: list[int]) -> Reals:
    """Return all relationships by the tabular method (Emik & Terrill 1949; from memory)."""
    a = np.zeros((len(sire), len(sire)))
    for row, parents in enumerate(zip(sire, dam, strict=True)):
        for parent in parents:
            if parent >= 0:
                a[row, :row] += 0.5 * a[parent, :row]
        a[:row, row] = a[row, :row]
        a[row, row] = 1.0 + (0.5 * a[parents] if min(parents) >= 0 else 0.0)
    return a


@st.composite
def doubted(draw: st.DrawFn, most: int = 10) -> Doubted:
    """Draw a pedigree of any shape in which up to five rows have two or three possible sires."""
    n = draw(st.integers(3, most))
    sire = [draw(st.integers(-1, row - 1)) for row in range(n)]
    dam = [draw(st.integers(-1, row - 1)) for row in range(n)]
    sires = {}
    for row in draw(st.lists(st.integers(2, n - 1), min_size=1, max_size=5, unique=True)):
        fathers = draw(st.lists(st.integers(0, row - 1), min_size=2, max_size=3, unique=True))
        parts = [draw(st.integers(1, 8)) for _ in fathers]
        sires[row] = [(father, part / sum(parts)) for father, part in zip(fathers, parts, strict=True)]
    return Doubted(sire, dam, sires)
