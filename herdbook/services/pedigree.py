"""The book's pedigree as arrays for the kinship calculations, with the sires that are only likely.

A sire stands by DNA, else by the keeper's word, else by dates: the chances of the bulls that the dam was
served by or ran with, worked out anew each time and never stored.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from herdbook.husbandry.gestation import Service
from herdbook.services.breeds import days_for
from herdbook.services.facts import runs_of
from herdbook.services.settings import load_settings
from herdbook.store import tables as t

if TYPE_CHECKING:
    import numpy.typing as npt

# 5 to 6 days within herd and breed: many papers, from memory.
GESTATION_SD = 6.0
# No service outside these days before a birth can have led to it; 255-305 days span an open data set of
# 24,732 AI-dated calvings, and a margin is left on both sides.
EARLIEST_BIRTH, LATEST_BIRTH = 240, 330
LISTED_FROM = 0.001
"""Sires less likely than this are not told of."""
HELD_FROM = 0.01
"""Sires less likely than this are told of and not held against a mating.

Our choice: the law of conception is no truer than that.
"""


@dataclass(frozen=True)
class SireChance:
    """A possible sire with its chance and what it rests on: dna, word, dates or together."""

    sire: int
    chance: float
    basis: str


@dataclass
class Pedigree:
    """All animals of the book, parents before offspring.

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
    """

    ids: list[int]
    sire: npt.NDArray[Any]
    dam: npt.NDArray[Any]
    sires: dict[int, tuple[SireChance, ...]]
    loops: list[list[int]] = field(default_factory=list)

    @cached_property
    def row(self) -> dict[int, int]:
        """Row of each animal id."""
        return {animal: row for row, animal in enumerate(self.ids)}

    @cached_property
    def inbreeding(self) -> npt.NDArray[Any]:
        """Inbreeding coefficient of each row."""
        from herdbook.husbandry.kinship import inbreeding

        return inbreeding(self.sire, self.dam)

    @cached_property
    def known_generations(self) -> npt.NDArray[Any]:
        """Equivalent complete generations of each row."""
        from herdbook.husbandry.kinship import known_generations

        return known_generations(self.sire, self.dam)

    def doubtful(self, animal: int) -> bool:
        """Whether more than one sire is possible."""
        return len(self._held(animal)) > 1

    def _held(self, animal: int) -> tuple[SireChance, ...]:
        """Return the possible sires that count in the worst case, likeliest first."""
        return tuple(sire for sire in self.sires.get(animal, ()) if sire.chance >= HELD_FROM)

    def calves(self, females: Sequence[int], bulls: Sequence[int]) -> npt.NDArray[Any]:
        """Return the inbreeding of every possible calf, in the worst case of doubtful sires.

        Where several bulls may be a parent's sire, the one that gives the most inbred calf is held against
        the mating; doubt further back is settled at the likeliest sire.

        Returns
        -------
        ndarray of float, shape (len(females), len(bulls))
        """
        import numpy as np

        from herdbook.husbandry.kinship import coancestry, inbreeding

        whole, rows_f, rows_b = self._versions(females, bulls)
        f = self.inbreeding
        if len(whole.sire) > len(f):
            f = inbreeding(whole.sire, whole.dam)
        flat_f, flat_b = [r for rows in rows_f for r in rows], [r for rows in rows_b for r in rows]
        table = coancestry(whole.sire, whole.dam, f, flat_b, flat_f).T
        starts_f = np.cumsum([0, *(len(rows) for rows in rows_f[:-1])])
        starts_b = np.cumsum([0, *(len(rows) for rows in rows_b[:-1])])
        if not flat_f or not flat_b:
            return np.zeros((len(females), len(bulls)))
        worst: npt.NDArray[Any] = np.maximum.reduceat(np.maximum.reduceat(table, starts_f, 0), starts_b, 1)
        return worst

    def worst_pair(self, dam: int, sire: int) -> tuple[Pedigree, int, int]:
        """Return the pedigree and the rows of dam and sire that make their calf the most inbred.

        They differ from this pedigree and the pair's own rows where a parent's sire is doubtful; a row beyond
        `ids` is the dam or the sire with another of its possible sires.
        """
        import numpy as np

        from herdbook.husbandry.kinship import coancestry, inbreeding

        whole, (rows_f,), (rows_b,) = self._versions([dam], [sire])
        f = self.inbreeding if whole is self else inbreeding(whole.sire, whole.dam)
        table = coancestry(whole.sire, whole.dam, f, rows_b, rows_f)
        bull, female = np.unravel_index(int(np.argmax(table)), table.shape)
        return whole, rows_f[int(female)], rows_b[int(bull)]

    def _versions(
        self, females: Sequence[int], bulls: Sequence[int]
    ) -> tuple[Pedigree, list[list[int]], list[list[int]]]:
        """Add a row for each other possible sire of the animals asked about; return their rows."""
        import numpy as np

        sire, dam = list(self.sire), list(self.dam)

        def rows_of(animal: int) -> list[int]:
            rows = [self.row[animal]]
            for other in self._held(animal)[1:]:
                sire.append(self.row[other.sire])
                dam.append(self.dam[rows[0]])
                rows.append(len(sire) - 1)
            return rows

        rows_f, rows_b = [rows_of(a) for a in females], [rows_of(a) for a in bulls]
        if len(sire) == len(self.sire):
            return self, rows_f, rows_b
        return Pedigree(self.ids, np.array(sire), np.array(dam), {}), rows_f, rows_b


def load_pedigree(conn: Connection) -> Pedigree:
    """Read the whole pedigree; loops are taken apart and named, never followed."""
    import numpy as np

    from herdbook.husbandry.kinship import find_loops, order_parents_first

    a = t.Animal
    rows = conn.execute(select(a.id, a.dam_id, a.birth_dam_id, a.born, a.born_precision).order_by(a.id)).all()
    ids = [row[0] for row in rows]
    row_of = {animal: row for row, animal in enumerate(ids)}
    sires = _possible_sires(conn, rows)
    dam = np.array([row_of[r[1]] if r[1] else -1 for r in rows], dtype=np.int64)
    sire = np.array(
        [row_of.get(sires[animal][0].sire, -1) if animal in sires else -1 for animal in ids], dtype=np.int64
    )
    loops = find_loops(sire, dam)
    for loop in loops:
        sire[loop] = dam[loop] = -1
    order = order_parents_first(sire, dam)
    place = np.empty(len(ids) + 1, dtype=np.int64)
    place[order] = np.arange(len(ids))
    place[-1] = -1
    return Pedigree(
        ids=[ids[row] for row in order],
        sire=place[sire[order]],
        dam=place[dam[order]],
        sires=sires,
        loops=[[ids[row] for row in loop] for loop in loops],
    )


def sires_of(conn: Connection, animal: int) -> tuple[SireChance, ...]:
    """Return the possible sires of one animal, likeliest first."""
    return sires_of_each(conn, [animal]).get(animal, ())


def sires_of_each(conn: Connection, animals: Sequence[int]) -> dict[int, tuple[SireChance, ...]]:
    """Return the possible sires of each of these animals that has any, likeliest first."""
    a = t.Animal
    query = select(a.id, a.dam_id, a.birth_dam_id, a.born, a.born_precision).where(a.id.in_(animals))
    return _possible_sires(conn, conn.execute(query).all(), only=animals)


def _possible_sires(
    conn: Connection, rows: Sequence[Any], only: Sequence[int] | None = None
) -> dict[int, tuple[SireChance, ...]]:
    said, excluded = _evidence(conn, only)
    unsaid = [
        (animal, birth_dam or dam, born)
        for animal, dam, birth_dam, born, precision in rows
        if animal not in said and (birth_dam or dam) and born and precision == "day"
    ]
    return said | _by_dates(conn, unsaid, excluded)


def _evidence(
    conn: Connection, only: Sequence[int] | None
) -> tuple[dict[int, tuple[SireChance, ...]], dict[int, set[int]]]:
    """Return the sires that are said or proven, and those that are excluded, by animal."""
    e = t.ParentEvidence
    query = select(e.animal_id, e.candidate_id, e.kind).where(e.role == "sire").order_by(e.id)
    if only is not None:
        query = query.where(e.animal_id.in_(only))
    named: dict[int, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for animal, candidate, kind in conn.execute(query):
        named[animal][kind].append(candidate)
    said: dict[int, tuple[SireChance, ...]] = {}
    excluded: dict[int, set[int]] = {}
    for animal, kinds in named.items():
        excluded[animal] = set(kinds["excluded"])
        for kind in ("dna", "word"):
            left = [c for c in dict.fromkeys(kinds[kind]) if c not in excluded[animal]]
            if left and animal not in said:
                # A later word replaces an earlier one; so does a later DNA test.
                said[animal] = (SireChance(left[-1], 1.0, kind),)
    return said, excluded


def _by_dates(
    conn: Connection, unsaid: list[tuple[int, int, date]], excluded: dict[int, set[int]]
) -> dict[int, tuple[SireChance, ...]]:
    """Return the chances by dates of the sires that nobody named."""
    if not unsaid:
        return {}
    from herdbook.husbandry.paternity import Ran, Served, sire_chances

    females: Any = {dam for _, dam, _ in unsaid} if len(unsaid) < 500 else select(t.Animal.id)
    runs = runs_of(conn, females, max(born for _, _, born in unsaid))
    services = _services(conn, females)
    sires = {s.sire for each in services.values() for s in each}
    sires |= {bull for each in runs.values() for run in each for bull in run.sires}
    days = _gestations(conn, females, sires)
    found: dict[int, tuple[SireChance, ...]] = {}
    for animal, dam, born in unsaid:
        first, last = born - timedelta(days=LATEST_BIRTH), born - timedelta(days=EARLIEST_BIRTH)
        out = excluded.get(animal, set())
        candidates: list[Served | Ran] = [
            Served(s.sire, s.conceived, s.kind)
            for s in services.get(dam, ())
            if s.sire not in out and first <= s.conceived <= last
        ]
        for run in runs.get(dam, ()):
            bulls = tuple(bull for bull in run.sires if bull not in out)
            ended = run.last or born
            if bulls and run.first <= last and ended >= first:
                candidates.append(Ran(bulls, max(run.first, first), min(ended, last)))
        if candidates:
            possible = {sire for c in candidates for sire in (c.sires if isinstance(c, Ran) else (c.sire,))}
            means = {sire: days(dam, sire) for sire in possible}
            found[animal] = _chances(sire_chances(born, candidates, means, GESTATION_SD))
    return {animal: chances for animal, chances in found.items() if chances}


def _gestations(conn: Connection, dams: Any, sires: Iterable[Hashable]) -> Callable[[int, Hashable], int]:
    """Return what tells the gestation in days of a dam's calf by a sire: the book's own, else by breeds."""
    own = load_settings(conn).gestation_days
    a = t.Animal
    query = select(a.id, a.breed).where(a.breed.is_not(None), a.id.in_(dams) | a.id.in_(sires))
    breed: dict[Hashable, str | None] = (
        {} if own is not None else {row[0]: row[1] for row in conn.execute(query)}
    )
    return lambda dam, sire: days_for(breed.get(dam), breed.get(sire), own)


def _chances(told: Iterable[Any]) -> tuple[SireChance, ...]:
    """Leave out what rounds to no chance; the rest are scaled to one."""
    likely = [c for c in told if c.chance >= LISTED_FROM]
    whole = sum(c.chance for c in likely)
    ranked = sorted(likely, key=lambda c: -c.chance)
    return tuple(SireChance(c.sire, c.chance / whole, c.basis) for c in ranked)


def _services(conn: Connection, females: Any) -> dict[int, list[Service]]:
    s = t.Service
    served: dict[int, list[Service]] = defaultdict(list)
    query = select(s.animal_id, s.day, s.sire_id, s.how, s.embryo_days).where(s.animal_id.in_(females))
    for female, day, sire, how, age in conn.execute(query.where(s.sire_id.is_not(None)).order_by(s.day)):
        served[female].append(Service(day, sire, how, age))
    return served
