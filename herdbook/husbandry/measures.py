"""Measures of a herd's inbreeding: mean kinship, effective size in three ways, generation intervals.

A pedigree is `sire` and `dam`: row numbers of each animal's parents, -1 where unknown, parents before their
offspring; `f` is the inbreeding of each animal, from `herdbook.husbandry.kinship.inbreeding`. The three
effective sizes answer three questions and differ: what the numbers of parents would lead to if they were used
at random; how fast inbreeding rose from year to year; how much of it each animal has for the depth of its
pedigree.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from herdbook.husbandry.founders import CERTAIN, UNKNOWN, Chances, Links, gene_counts, group_rows, links_up

if TYPE_CHECKING:
    import numpy.typing as npt

PATHWAYS = (("sire", "son"), ("sire", "daughter"), ("dam", "son"), ("dam", "daughter"))


@dataclass(frozen=True)
class BirthYear:
    """The animals born in a year: how many, how many with both parents known, and their means."""

    year: int
    born: int
    both_known: int
    inbreeding: float
    kinship: float


@dataclass(frozen=True)
class Trend:
    """How fast inbreeding rises: the rate a year and a generation, and what it was taken from."""

    per_year: float
    per_generation: float
    animals: int
    years: int


@dataclass(frozen=True)
class Interval:
    """The mean age in years of one kind of parent at the birth of offspring of one sex, and how many."""

    parent: str
    offspring: str
    years: float | None
    count: int


def mean_kinship(
    sire: npt.ArrayLike,
    dam: npt.ArrayLike,
    f: npt.ArrayLike,
    group: npt.ArrayLike,
    doubtful: Chances = CERTAIN,
    added: npt.ArrayLike | None = None,
) -> float:
    """Return the mean kinship of a group: of all its pairs, each animal with itself among them.

    It is the inbreeding to be expected in offspring if genes of the group were drawn at random (group
    coancestry, Cockerham 1967, Genetics 56:89-104; from memory). With ``A = T D T'`` (Henderson 1976) it is
    ``sum(D q**2) / 2``, `q` the contribution of every animal to the group: one walk up the pedigree, and
    nothing of the size of `A`.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.
    f : array_like of float, shape (n,)
        Inbreeding of every animal.
    group : array_like of int, shape (m,)
        Row numbers of the group, each once.
    doubtful : mapping of int to sequence of (int, float)
        The possible sires of the rows that have several; see `herdbook.husbandry.founders.contributions`.
    added : array_like of float, shape (n,), optional
        ``D``: what Mendelian sampling and doubt add in each animal, from `doubt.AverageKinship`; needed where
        sires are doubtful. Left out, the rule for certain parents.

    Returns
    -------
    float
        With doubtful sires the mean over all that they could be.
    """
    links = links_up(sire, dam, doubtful)
    return _kinship(links, _added(links, f, doubtful, added), group_rows(group, len(links)))


def _added(
    links: Links, f: npt.ArrayLike, doubtful: Chances, added: npt.ArrayLike | None
) -> npt.NDArray[Any]:
    """Return `added`, or else the Mendelian sampling: 1, 3/4 - F/4 or 1/2 - (F_s + F_d)/4."""
    import numpy as np

    given = np.asarray(f if added is None else added, dtype=np.float64)
    if given.shape != (len(links),):
        raise ValueError("There must be one inbreeding coefficient for each animal.")
    if added is not None:
        return given
    if doubtful:
        raise ValueError("Where sires are doubtful, what each animal adds must be given.")
    inbred = given.tolist()
    rest = (1.0 - 0.25 * sum(1.0 + inbred[parent] for parent, _ in parents) for parents in links)
    return np.fromiter(rest, dtype=np.float64, count=len(links))


def _kinship(links: Links, added: npt.NDArray[Any], rows: Sequence[int]) -> float:
    import numpy as np

    count = np.array(gene_counts(links, rows))
    return 0.5 * float(added @ (count * count)) / len(rows) ** 2


def by_birth_year(
    sire: npt.ArrayLike,
    dam: npt.ArrayLike,
    f: npt.ArrayLike,
    years: Sequence[int | None],
    doubtful: Chances = CERTAIN,
    added: npt.ArrayLike | None = None,
) -> list[BirthYear]:
    """Return mean inbreeding and mean kinship of the animals born in each year, the earliest first.

    Animals of which a parent is not known have an inbreeding of 0 and are counted in, as they are in the
    kinship; `both_known` says how many are not of these. A year's mean kinship takes in each animal with
    itself, see `mean_kinship`.

    Parameters
    ----------
    sire, dam, f
        As for `mean_kinship`.
    years : sequence of int or None, length n
        Year of birth of each animal; animals without one are left out.
    doubtful, added
        As for `mean_kinship`.
    """
    import numpy as np

    inbred = np.asarray(f, dtype=np.float64)
    both = (np.asarray(sire) >= 0) & (np.asarray(dam) >= 0)
    links = links_up(sire, dam, doubtful)
    adds = _added(links, inbred, doubtful, added)
    born: dict[int, list[int]] = defaultdict(list)
    for row, year in enumerate(years):
        if year is not None:
            born[year].append(row)
    return [
        BirthYear(
            year,
            len(rows),
            int(both[rows].sum()),
            float(inbred[rows].mean()),
            _kinship(links, adds, rows),
        )
        for year, rows in sorted(born.items())
    ]


def size_from_parents(males: int, females: int) -> float | None:
    """Return the effective size that so many parents lead to, ``Ne = 4 Nm Nf / (Nm + Nf)``.

    Wright (1931), Genetics 16:97-159 (from memory). It holds for parents that are unrelated and leave
    offspring at random; uneven use, as of one bull before another, makes it less.

    Parameters
    ----------
    males, females : int
        Numbers of sires and of dams of one generation.

    Returns
    -------
    float or None
        None where one of the sexes has none.
    """
    if males <= 0 or females <= 0:
        return None
    return 4.0 * males * females / (males + females)


def size_from_rate(rate: float) -> float | None:
    """Return the effective size at a rate of inbreeding per generation, ``Ne = 1 / (2 dF)``.

    Wright (1931), from memory. None where inbreeding does not rise: no size can be told from that.
    """
    return 1.0 / (2.0 * rate) if rate > 0 else None


def rate_between(before: float, after: float) -> float:
    """Return the rate of inbreeding from one generation to the next, ``(F_t - F_t-1) / (1 - F_t-1)``.

    The rise relative to what was left to lose (Falconer & Mackay 1996, chapter 4; from memory).

    Raises
    ------
    ValueError
        If nothing was left: a mean inbreeding of 1.
    """
    if before >= 1:
        raise ValueError("At an inbreeding of 1 nothing is left to lose.")
    return (after - before) / (1.0 - before)


def rate_over_years(years: Sequence[int], f: Sequence[float], interval: float) -> Trend | None:
    """Return how fast inbreeding rose over the birth years, as a rate per generation.

    At a steady rate ``ln(1 - F)`` falls by ``ln(1 - dF)`` a generation. The slope of ``ln(1 - mean F)`` over
    birth years, each year weighted by its animals, is the fall a year; times the generation interval it is
    the fall a generation (the regression of Perez-Enciso 1995, J. Anim. Breed. Genet. 112:327-332, on years
    instead of generations; from memory).

    Parameters
    ----------
    years, f : sequences, same length
        Year of birth and inbreeding of each animal; best those with both parents known, since of the others
        nothing is known.
    interval : float
        Generation interval in years.

    Returns
    -------
    Trend or None
        None for fewer than two birth years, or where a year's mean is 1. The rate may be negative.
    """
    by_year: dict[int, list[float]] = defaultdict(list)
    for year, inbred in zip(years, f, strict=True):
        by_year[year].append(inbred)
    means = {year: math.fsum(each) / len(each) for year, each in by_year.items()}
    if len(means) < 2 or max(means.values()) >= 1:
        return None
    weight = {year: len(each) for year, each in by_year.items()}
    whole = sum(weight.values())
    middle = sum(weight[year] * year for year in means) / whole
    spread = sum(weight[year] * (year - middle) ** 2 for year in means)
    slope = sum(weight[year] * (year - middle) * math.log1p(-mean) for year, mean in means.items()) / spread
    return Trend(-math.expm1(slope), -math.expm1(slope * interval), whole, len(means))


def individual_increases(f: Sequence[float], known_generations: Sequence[float]) -> list[float]:
    """Return each animal's increase in inbreeding per generation, ``1 - (1 - F)**(1 / (t - 1))``.

    `t` is the number of its equivalent complete generations, less one because inbreeding cannot begin in the
    first (Gutierrez, Cervantes & Goyache 2009, J. Anim. Breed. Genet. 126:327-332; from memory). Animals
    known for one generation or less cannot be inbred by the book: 0. `size_from_rate` of the mean is the
    effective size.

    Parameters
    ----------
    f, known_generations : sequences of float, same length
        From `kinship.inbreeding` and `kinship.known_generations`.
    """
    return [
        1.0 - (1.0 - inbred) ** (1.0 / (t - 1.0)) if t > 1.0 else 0.0
        for inbred, t in zip(f, known_generations, strict=True)
    ]


def generation_intervals(
    sire: npt.ArrayLike,
    dam: npt.ArrayLike,
    born: Sequence[float | None],
    male: Sequence[bool],
    kept: Sequence[bool] | None = None,
) -> list[Interval]:
    """Return the four generation intervals: the ages of sires and dams at the birth of sons and daughters.

    Only offspring that were kept for breeding count, each once (Rendel & Robertson 1950, J. Genet. 50:1-8;
    from memory).

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown.
    born : sequence of float or None, length n
        Birth of each animal in years, such as 2021.25.
    male : sequence of bool, length n
    kept : sequence of bool, optional
        Which animals were kept for breeding; left out, those that are parents themselves.

    Returns
    -------
    list of Interval
        In the order of `PATHWAYS`; no years where there is no pair with both births known.
    """
    import numpy as np

    columns = {"sire": np.asarray(sire).tolist(), "dam": np.asarray(dam).tolist()}
    if kept is None:
        parents = {*columns["sire"], *columns["dam"]}
        kept = [row in parents for row in range(len(born))]
    ages: dict[tuple[str, str], list[float]] = {path: [] for path in PATHWAYS}
    for role, parents_of in columns.items():
        for row, parent in enumerate(parents_of):
            if not kept[row] or parent == UNKNOWN:
                continue
            mine, its = born[row], born[parent]
            if mine is not None and its is not None:
                ages[role, "son" if male[row] else "daughter"].append(mine - its)
    return [
        Interval(role, child, math.fsum(each) / len(each) if each else None, len(each))
        for (role, child), each in ages.items()
    ]


def overall_interval(intervals: Sequence[Interval]) -> float | None:
    """Return the generation interval: the mean of the four pathways (Rendel & Robertson 1950; from memory).

    Where a pathway has no pair, its parent's other pathway stands for both. None where one parent has
    neither.
    """
    sides: list[float] = []
    for role in ("sire", "dam"):
        years = [path.years for path in intervals if path.parent == role and path.years is not None]
        if not years:
            return None
        sides.append(sum(years) / len(years))
    return sum(sides) / len(sides)
