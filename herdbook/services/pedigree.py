"""The book's pedigree as arrays, and what follows from it: how related, how sure, and known from how far.

Where a sire is doubtful there are two figures: the *expected* one, over the chances of the possible sires of
the parents and of all their ancestors, and the *worst* one, if each of these doubts fell out badly. The book
says which of them a limit is held against.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from herdbook.husbandry.trust import Depth, Trust, weaker
from herdbook.services.settings import load_settings
from herdbook.services.sires import (
    EARLIEST_BIRTH,
    GESTATION_SD,
    HELD_FROM,
    LATEST_BIRTH,
    LISTED_FROM,
    SireChance,
    possible_sires,
    sires_of,
    sires_of_each,
)
from herdbook.store import tables as t

if TYPE_CHECKING:
    import numpy.typing as npt

    from herdbook.husbandry.completeness import Completeness
    from herdbook.husbandry.doubt import AverageKinship, Links
    from herdbook.husbandry.worstcase import WorstKinship

__all__ = [
    "EARLIEST_BIRTH",
    "GESTATION_SD",
    "HELD_FROM",
    "LATEST_BIRTH",
    "LISTED_FROM",
    "Pedigree",
    "Range",
    "SireChance",
    "load_pedigree",
    "sires_of",
    "sires_of_each",
]


@dataclass(frozen=True)
class Range:
    """What a calf's expected inbreeding could be, by what is assumed of the parents that nobody knows.

    Parameters
    ----------
    low : float
        Unknown parents are founders, kin to nobody.
    high : float
        Unknown parents are average animals of the herd at that time, of those whose own parents are known;
        never below `low`. See `husbandry.averageparents`.
    """

    low: float
    high: float


@dataclass
class Pedigree:
    """All animals of the book, parents (possible sires too) before offspring.

    Parameters
    ----------
    ids : list of int
        Animal id of each row.
    sire, dam : ndarray of int, shape (n,)
        Row of each parent, -1 unknown; of several possible sires the likeliest.
    sires : dict
        Possible sires by animal id, likeliest first.
    loops : list of list of int
        Ids of animals that were their own ancestors; their parent links are left out.
    years : ndarray of int, shape (n,), optional
        Year of birth, 0 not known.
    unnamed : frozenset of int
        Ids of the placeholders: bulls of whom nobody knows who they are.
    hold : {"worst", "expected"}
        Which figure a limit is held against.
    """

    ids: list[int]
    sire: npt.NDArray[Any]
    dam: npt.NDArray[Any]
    sires: dict[int, tuple[SireChance, ...]]
    loops: list[list[int]] = field(default_factory=list)
    years: npt.NDArray[Any] | None = None
    unnamed: frozenset[int] = frozenset()
    hold: str = "worst"

    @cached_property
    def row(self) -> dict[int, int]:
        """Row of each animal id."""
        return {animal: row for row, animal in enumerate(self.ids)}

    # -- doubt --

    def doubtful(self, animal: int) -> bool:
        """Whether more than one sire is possible."""
        return len(self._held(animal)) > 1

    def doubt_behind(self, animal: int) -> bool:
        """Whether more than one sire is possible of the animal or of any of its ancestors."""
        return bool(self._shadowed[self.row[animal]])

    def _held(self, animal: int) -> tuple[SireChance, ...]:
        """Return the possible sires that count, likeliest first."""
        return tuple(sire for sire in self.sires.get(animal, ()) if sire.chance >= HELD_FROM)

    @cached_property
    def links(self) -> Links:
        """The possible sires, with their chances, of the rows that have several."""
        import numpy as np

        from herdbook.husbandry.doubt import Links

        child, parent, weight = [], [], []
        for animal in self.sires:
            held = self._held(animal)
            if len(held) > 1:
                whole = sum(each.chance for each in held)
                child += [self.row[animal]] * len(held)
                parent += [self.row[each.sire] for each in held]
                weight += [each.chance / whole for each in held]
        return Links(np.array(child, dtype=np.int64), np.array(parent, dtype=np.int64), np.array(weight))

    @cached_property
    def _shadowed(self) -> npt.NDArray[Any]:
        """Whether each row or an ancestor of it has more than one possible sire."""
        import numpy as np

        doubtful = np.zeros(len(self.ids) + 1, dtype=bool)
        doubtful[self.links.child] = True
        if len(self.links):
            several = set(self.links.child.tolist())
            for row, (sire, dam) in enumerate(zip(self.sire.tolist(), self.dam.tolist(), strict=True)):
                doubtful[row] = row in several or doubtful[sire] or doubtful[dam]
        return doubtful[:-1]

    # -- figures --

    @cached_property
    def inbreeding(self) -> npt.NDArray[Any]:
        """Inbreeding of each row, expected where a sire is doubtful."""
        from herdbook.husbandry.kinship import inbreeding

        return self._average.inbreeding if len(self.links) else inbreeding(self.sire, self.dam)

    @property
    def added(self) -> npt.NDArray[Any] | None:
        """What Mendelian sampling and doubt add in each row; None where every sire is certain."""
        return self._average.added if len(self.links) else None

    @cached_property
    def _average(self) -> AverageKinship:
        from herdbook.husbandry.doubt import AverageKinship

        return AverageKinship(self.sire, self.dam, self.links)

    @cached_property
    def _worst(self) -> WorstKinship:
        from herdbook.husbandry.worstcase import WorstKinship

        return WorstKinship(self.sire, self.dam, self.links)

    def expected(self, females: Sequence[int], bulls: Sequence[int]) -> npt.NDArray[Any]:
        """Return the expected inbreeding of every possible calf: shape (len(females), len(bulls))."""
        return self._expected([self.row[a] for a in females], [self.row[a] for a in bulls])

    def _expected(self, females: Sequence[int], bulls: Sequence[int]) -> npt.NDArray[Any]:
        from herdbook.husbandry.kinship import coancestry

        if len(self.links):
            return self._average.coancestry(bulls, females).T
        return coancestry(self.sire, self.dam, self.inbreeding, bulls, females).T

    def worst(self, females: Sequence[int], bulls: Sequence[int]) -> npt.NDArray[Any]:
        """Return the inbreeding of every possible calf if every doubt about a sire falls out worst.

        Returns
        -------
        ndarray of float, shape (len(females), len(bulls))
            Exact for herds of ordinary size; in large tables some are upper bounds (`worst_known` says
            which).
        """
        return self.worst_known(females, bulls)[0]

    def worst_known(
        self, females: Sequence[int], bulls: Sequence[int], limit: float | None = None
    ) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
        """Return `worst`, and for each whether it is exact or only no more than that.

        Pairs that a `limit` would part are settled exactly before the others.
        """
        return self.figures(females, bulls, limit)[1:]

    def figures(
        self, females: Sequence[int], bulls: Sequence[int], limit: float | None = None
    ) -> tuple[npt.NDArray[Any], npt.NDArray[Any], npt.NDArray[Any]]:
        """Return `expected`, `worst`, and whether each worst figure is exact: three tables."""
        import numpy as np

        rows_f, rows_b = [self.row[a] for a in females], [self.row[a] for a in bulls]
        expected = self._expected(rows_f, rows_b)
        if not len(self.links) or not expected.size:
            return expected, expected, np.ones(expected.shape, dtype=bool)
        worst, exact = self._worst.table(rows_b, rows_f, expected.T, limit)
        return expected, worst.T, exact.T

    def calves(
        self, females: Sequence[int], bulls: Sequence[int], limit: float | None = None
    ) -> npt.NDArray[Any]:
        """Return the inbreeding of every possible calf as a limit is held against it: worst or expected.

        Returns
        -------
        ndarray of float, shape (len(females), len(bulls))
        """
        if self.hold == "expected":
            return self.expected(females, bulls)
        return self.worst_known(females, bulls, limit)[0]

    def worst_pair(self, dam: int, sire: int) -> tuple[Pedigree, int, int]:
        """Return the pedigree in which the calf of a pair is the most inbred, and the rows of dam and sire.

        All doubts that bear on the pair are settled in it; the rows are the pair's own.
        """
        mother, father = self.row[dam], self.row[sire]
        if not len(self.links):
            return self, mother, father
        return self.settled(self._worst.settle(father, mother).sires), mother, father

    def settled(self, sires: Mapping[int, int]) -> Pedigree:
        """Return this pedigree with a sire (row) chosen for some rows, and the likeliest for all others."""
        sire = self.sire.copy()
        sire[list(sires)] = list(sires.values())
        certain = {animal: each[:1] for animal, each in self.sires.items()}
        return replace(self, sire=sire, sires=certain)

    @cached_property
    def worst_inbreeding(self) -> npt.NDArray[Any]:
        """Inbreeding of each row if every doubt about a sire falls out worst; no more than that."""
        import numpy as np

        rows = np.flatnonzero(self._shadowed & (self.dam >= 0))
        found = self.inbreeding.copy()
        if len(rows):
            found[rows] = np.maximum(found[rows], self._worst.own(rows, found[rows]))
        return found

    def worst_of(self, animal: int) -> float:
        """Return one animal's inbreeding if every doubt about a sire, its own too, falls out worst."""
        row = self.row[animal]
        found = float(self.inbreeding[row])
        if self.dam[row] < 0 or not self._shadowed[row]:
            return found
        return max(found, float(self._worst.own([row], self.inbreeding[[row]])[0]))

    # -- how sure --

    @cached_property
    def known(self) -> Completeness:
        """What is known behind each row; the bulls of whom nobody knows who they are count as not known."""
        import numpy as np

        from herdbook.husbandry.completeness import completeness
        from herdbook.husbandry.doubt import Links

        if not self.unnamed:
            return completeness(self.sire, self.dam, self.links)
        nobody = np.zeros(len(self.ids) + 1, dtype=bool)
        nobody[[self.row[animal] for animal in self.unnamed]] = True
        parent = np.where(nobody[self.links.parent], -1, self.links.parent)
        links = Links(self.links.child, parent, self.links.weight)
        return completeness(np.where(nobody[self.sire], -1, self.sire), self.dam, links)

    @property
    def known_generations(self) -> npt.NDArray[Any]:
        """Equivalent complete generations of each row."""
        return self.known.equivalent

    def depth(self, animal: int) -> Depth:
        """Return the generations known behind an animal: maximum, complete, equivalent, and a word."""
        row = self.row[animal]
        known = self.known.of(row)
        return replace(known, fault=True) if self._at_fault[row] else known

    @cached_property
    def _at_fault(self) -> npt.NDArray[Any]:
        """Whether each row, or an ancestor that it may have, stood in a loop and was left without parents."""
        import numpy as np

        fault = np.zeros(len(self.ids) + 1, dtype=bool)
        if self.loops:
            fault[[self.row[animal] for loop in self.loops for animal in loop]] = True
            sires: dict[int, list[int]] = {}
            for child, sire in zip(self.links.child.tolist(), self.links.parent.tolist(), strict=True):
                sires.setdefault(child, []).append(sire)
            for row, (sire, dam) in enumerate(zip(self.sire.tolist(), self.dam.tolist(), strict=True)):
                fault[row] = fault[row] or fault[dam] or fault[sires.get(row, [sire])].any()
        return fault[:-1]

    def trust(self, dam: int, sire: int) -> Trust:
        """Return how far the coefficient of a pair can be trusted: the word of its weaker side."""
        return weaker((self.depth(dam).trust, self.depth(sire).trust))

    def range_of(self, dam: int, sire: int) -> Range:
        """Return what the expected inbreeding of a pair's calf could be, by two assumptions."""
        low = float(self.expected([dam], [sire])[0, 0])
        high = float(self._filled.coancestry([self.row[sire]], [self.row[dam]])[0, 0])
        return Range(low, max(low, high))

    @cached_property
    def _filled(self) -> AverageKinship:
        """The kinship with average animals of the herd in the place of the unknown parents."""
        import numpy as np

        from herdbook.husbandry.averageparents import fill_unknown
        from herdbook.husbandry.doubt import AverageKinship

        years = np.zeros(len(self.ids), dtype=np.int64) if self.years is None else self.years
        full = fill_unknown(self.sire, self.dam, years, self.links)
        return AverageKinship(full.sire, full.dam, self.links, full.groups)


def load_pedigree(conn: Connection) -> Pedigree:
    """Return the whole pedigree, kept from the last query where nothing changed that bears on it.

    Loops are taken apart and named, never followed.
    """
    from herdbook.services.kept import kept_pedigree

    return kept_pedigree(conn, read_pedigree)


def read_pedigree(conn: Connection) -> Pedigree:
    """Read the whole pedigree anew."""
    import numpy as np

    rows = pedigree_rows(conn)
    ids = [row[0] for row in rows]
    row_of = {animal: row for row, animal in enumerate(ids)}
    sires = possible_sires(conn, [tuple(row[:5]) for row in rows])
    dam = np.array([row_of[r[1]] if r[1] else -1 for r in rows], dtype=np.int64)
    sire = np.array(
        [row_of.get(sires[animal][0].sire, -1) if animal in sires else -1 for animal in ids], dtype=np.int64
    )
    others = {row_of[a]: [row_of[s.sire] for s in each[1:]] for a, each in sires.items() if len(each) > 1}
    loops, order = _in_order(sire, dam, others)
    for loop in loops:
        sire[loop] = dam[loop] = -1
        for row in loop:
            sires.pop(ids[row], None)
    place = np.empty(len(ids) + 1, dtype=np.int64)
    place[order] = np.arange(len(ids))
    place[-1] = -1
    return Pedigree(
        ids=[ids[row] for row in order],
        sire=place[sire[order]],
        dam=place[dam[order]],
        sires=sires,
        loops=[[ids[row] for row in loop] for loop in loops],
        years=years_of([rows[row] for row in order]),
        unnamed=unnamed_of(rows),
        hold=load_settings(conn).inbreeding_held,
    )


def pedigree_rows(conn: Connection, only: Sequence[int] | None = None) -> Sequence[Any]:
    """Return what a pedigree reads of all animals, or of a few.

    Columns: id, dam, birth dam, born, its precision, whether it is a placeholder.
    """
    a = t.Animal
    columns = (a.id, a.dam_id, a.birth_dam_id, a.born, a.born_precision, a.placeholder)
    query = select(*columns).order_by(a.id)
    return conn.execute(query if only is None else query.where(a.id.in_(only))).all()


def years_of(rows: Sequence[Any]) -> npt.NDArray[Any]:
    """Return the years of birth of such rows, 0 not known."""
    import numpy as np

    return np.array([row[3].year if row[3] else 0 for row in rows], dtype=np.int64)


def unnamed_of(rows: Sequence[Any]) -> frozenset[int]:
    """Return the ids of the bulls among such rows of whom nobody knows who they are."""
    return frozenset(row[0] for row in rows if row[5])


def _in_order(
    sire: npt.NDArray[Any], dam: npt.NDArray[Any], others: Mapping[int, Sequence[int]]
) -> tuple[list[list[int]], npt.NDArray[Any]]:
    """Return the loops, and an order of the rows with all possible parents first once they are taken apart.

    A row with more than two possible parents becomes a chain of helping rows of two, behind the others.
    """
    import numpy as np

    from herdbook.husbandry.kinship import find_loops, order_parents_first

    def both(loose: set[int]) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
        fathers, mothers = sire.tolist(), dam.tolist()
        for row in loose:
            fathers[row] = mothers[row] = -1
        for row, more in others.items():
            for other in more if row not in loose else ():
                fathers.append(fathers[row])
                mothers.append(other)
                fathers[row] = len(fathers) - 1
        return np.array(fathers, dtype=np.int64), np.array(mothers, dtype=np.int64)

    size = len(sire)
    loops = [[row for row in loop if row < size] for loop in find_loops(*both(set()))]
    order = order_parents_first(*both({row for loop in loops for row in loop}))
    return loops, order[order < size]
