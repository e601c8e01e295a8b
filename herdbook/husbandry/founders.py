"""Where a herd's genes come from: shares of founders and ancestors, effective numbers, lines, last carriers.

A pedigree is `sire` and `dam`: row numbers of each animal's parents, -1 where unknown, parents before their
offspring. A group is the row numbers of the animals whose genes are asked about, each counted once.

One walk carries the module: a gene of the group, drawn at random, goes up to either parent with chance 1/2.
The chance that it comes to pass through an animal is that animal's contribution to the group (James & McBride
1958, J. Genet. 56:55-62; from memory). All sums here are of powers of one half: they are exact in a double
while the pedigree is less than some fifty generations deep.

Where several bulls may be an animal's sire, the gene goes up to each of them with half his chance: shares
are then those expected over all doubts, as in the average relationship (Henderson 1988, J. Anim. Sci.
66:1614-1621; from memory).
"""

from __future__ import annotations

import heapq
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy.typing as npt

UNKNOWN = -1
Chances = Mapping[int, Sequence[tuple[int, float]]]
"""The possible sires, with their chances, of the rows that have several; all stand before their offspring."""
CERTAIN: Chances = MappingProxyType({})
Links = list[tuple[tuple[int, float], ...]]
"""Of each row the rows of its known parents, each with the chance that a gene came from there."""
_FOUNDERS_AT_ONCE = 256
"""Founders whose carriers are looked for in one walk down: a bit each in every animal's number."""
_ROUNDING = 2.0**-45
"""What is left of rounding: in pedigrees deeper than a double is exact, and of chances that add up to 1."""


@dataclass(frozen=True)
class Share:
    """An animal and its part of a group's genes, 0 to 1."""

    row: int
    share: float


@dataclass(frozen=True)
class Carriers:
    """How many of the living carry, or may carry, genes of a founder, and which one if it is a single one."""

    founder: int
    count: int
    alone: int | None


def contributions(
    sire: npt.ArrayLike, dam: npt.ArrayLike, group: npt.ArrayLike, doubtful: Chances = CERTAIN
) -> list[float]:
    """Return what part of a group's genes passed through each animal.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.
    group : array_like of int, shape (m,)
        Row numbers of the group, each once.
    doubtful : mapping of int to sequence of (int, float)
        The possible sires of the rows that have several; of these rows `sire` is not read.

    Returns
    -------
    list of float, length n
        1/m for an animal of the group, and half of what its offspring have for a parent, added up.

    Raises
    ------
    ValueError
        If the columns are no pedigree with parents first, or the group is empty or names a row twice.
    """
    links = links_up(sire, dam, doubtful)
    rows = group_rows(group, len(links))
    return [share / len(rows) for share in gene_counts(links, rows)]


def links_up(sire: npt.ArrayLike, dam: npt.ArrayLike, doubtful: Chances = CERTAIN) -> Links:
    """Return each row's known parents with the chances, refusing what is no pedigree with parents first."""
    fathers, mothers = parent_lists(sire, dam)
    links: Links = [
        tuple((parent, 0.5) for parent in both if parent != UNKNOWN)
        for both in zip(fathers, mothers, strict=True)
    ]
    for row, sires in doubtful.items():
        if not all(0 <= bull < row and chance >= 0 for bull, chance in sires):
            raise ValueError("Possible sires stand before their offspring, and have chances.")
        mine = [(bull, 0.5 * chance) for bull, chance in sires]
        links[row] = (*mine, *((cow, 0.5) for cow in (mothers[row],) if cow != UNKNOWN))
    return links


def group_rows(group: npt.ArrayLike, size: int) -> list[int]:
    """Return the rows of a group, refusing an empty one and rows that are not there or there twice."""
    import numpy as np

    rows: list[int] = np.asarray(group, dtype=np.int64).reshape(-1).tolist()
    if not rows:
        raise ValueError("A group has at least one animal.")
    if min(rows) < 0 or max(rows) >= size or len(set(rows)) < len(rows):
        raise ValueError("A group names rows of the pedigree, each once.")
    return rows


def gene_counts(links: Links, rows: Sequence[int]) -> list[float]:
    """Return `contributions` in animals' worth of genes: exact, and for many groups of one pedigree.

    Parameters
    ----------
    links : Links
        From `links_up`.
    rows : sequence of int
        The group, not empty.
    """
    share = [0.0] * len(links)
    for row in rows:
        share[row] = 1.0
    for row in range(max(rows), -1, -1):
        mine = share[row]
        if mine:
            for parent, chance in links[row]:
                share[parent] += chance * mine
    return share


def founder_shares(
    sire: npt.ArrayLike, dam: npt.ArrayLike, group: npt.ArrayLike, doubtful: Chances = CERTAIN
) -> list[Share]:
    """Return the founders behind a group with their parts of its genes, the largest first.

    A founder is an animal of which neither parent is known. What an animal with one known parent has from the
    other is nobody's: it is left out here and stands in `unknown_shares`. The two together add up to 1.

    Parameters
    ----------
    sire, dam, group, doubtful
        As for `contributions`.
    """
    links = links_up(sire, dam, doubtful)
    rows = group_rows(group, len(links))
    counts = gene_counts(links, rows)
    founders = [Share(row, n / len(rows)) for row, n in enumerate(counts) if n > 0 and not links[row]]
    return sorted(founders, key=lambda found: (-found.share, found.row))


def founder_table(
    sire: npt.ArrayLike, dam: npt.ArrayLike, group: npt.ArrayLike, doubtful: Chances = CERTAIN
) -> tuple[list[int], npt.NDArray[Any]]:
    """Return the founders behind a group, and each animal's share of genes from each of them.

    Parameters
    ----------
    sire, dam, group, doubtful
        As for `contributions`.

    Returns
    -------
    tuple of (list of int, ndarray of float, shape (m, founders))
        Rows of the founders, ascending; a row of the table for each of the group, in its order. What comes
        from parents that nobody knows is missing from 1.
    """
    import numpy as np

    links = links_up(sire, dam, doubtful)
    rows = group_rows(group, len(links))
    behind = set(rows)
    for row in range(max(rows), -1, -1):
        if row in behind:
            behind.update(parent for parent, _ in links[row])
    founders = [row for row in sorted(behind) if not links[row]]
    shares: dict[int, npt.NDArray[Any]] = dict(zip(founders, np.eye(len(founders)), strict=True))
    for row in sorted(behind):
        if links[row]:
            shares[row] = np.sum([chance * shares[parent] for parent, chance in links[row]], axis=0)
    return founders, np.array([shares[row] for row in rows])


def unknown_shares(
    sire: npt.ArrayLike, dam: npt.ArrayLike, group: npt.ArrayLike, doubtful: Chances = CERTAIN
) -> list[Share]:
    """Return the animals with one known parent, with the part of a group's genes from the other one.

    Parameters
    ----------
    sire, dam, group, doubtful
        As for `contributions`.
    """
    links = links_up(sire, dam, doubtful)
    rows = group_rows(group, len(links))
    found = []
    for row, count in enumerate(gene_counts(links, rows)):
        missing = 1.0 - sum(chance for _, chance in links[row])
        if count > 0 and links[row] and missing > _ROUNDING:
            found.append(Share(row, missing * count / len(rows)))
    return sorted(found, key=lambda half: (-half.share, half.row))


def effective_founders(shares: Sequence[float]) -> float | None:
    """Return the effective number of founders: how many equal ones would give the same diversity.

    ``f_e = 1 / sum(p**2)`` with the shares scaled to a sum of 1 (Lacy 1989, Zoo Biol. 8:111-123; from
    memory). Scaling is the rule for what comes from the unknown parent of an animal with one known: it is
    left out, which takes it to be made up as the rest of the herd is. With `unknown_shares` among the shares
    each such parent is a founder of its own instead, which gives more: the truth lies between.

    Parameters
    ----------
    shares : sequence of float

    Returns
    -------
    float or None
        None where no founder is known.
    """
    whole = sum(shares)
    return whole * whole / sum(p * p for p in shares) if whole > 0 else None


def ancestor_shares(
    sire: npt.ArrayLike, dam: npt.ArrayLike, group: npt.ArrayLike, doubtful: Chances = CERTAIN
) -> list[Share]:
    """Return the ancestors that together account for all of a group's genes, each with what it adds.

    The ancestor through which most of the group's genes passed comes first; then, again and again, the one
    that adds most to those taken before it: what passed through it and through none of them (Boichard,
    Maignel & Verrier 1997, Genet. Sel. Evol. 29:5-23; the rule from memory). Any animal counts, founder or
    not, those of the group too. Of equals the oldest row is taken: another choice gives another list and the
    same number at that step.

    Parameters
    ----------
    sire, dam, group, doubtful
        As for `contributions`.

    Returns
    -------
    list of Share
        Never rising; they add up to 1.

    Notes
    -----
    What an animal adds can only fall as others are taken, so an animal that still comes first after its
    number has been worked out anew is the right one, and the others need not be looked at. Both walks, that
    which takes away what passes through the animal taken and that which looks how much of an animal is
    accounted for above it, go up the pedigree and stop at animals taken before.
    """
    links = links_up(sire, dam, doubtful)
    rows = group_rows(group, len(links))
    passing = gene_counts(links, rows)
    taken: set[int] = set()
    found: list[Share] = []
    above = [0.0] * len(links)  # accounted for when last looked at
    waiting = [(-share, row) for row, share in enumerate(passing) if share > 0]
    heapq.heapify(waiting)
    nothing = len(rows) * _ROUNDING
    while waiting:
        _, row = heapq.heappop(waiting)
        at_most = passing[row] * (1.0 - sum(chance * above[parent] for parent, chance in links[row]))
        if at_most > nothing and waiting and waiting[0] < (-at_most, row):
            heapq.heappush(waiting, (-at_most, row))
            continue
        above[row] = _accounted(links, row, taken) if at_most > nothing else 1.0
        adds = passing[row] * (1.0 - above[row])
        if adds <= nothing:
            continue
        if waiting and waiting[0] < (-adds, row):
            heapq.heappush(waiting, (-adds, row))
            continue
        found.append(Share(row, adds / len(rows)))
        _take_away(links, row, passing, taken)
        taken.add(row)
        above[row] = 1.0
    return found


def effective_ancestors(shares: Sequence[float]) -> float | None:
    """Return the effective number of ancestors, ``f_a = 1 / sum(p**2)`` (Boichard et al. 1997).

    Parameters
    ----------
    shares : sequence of float
        Of `ancestor_shares`.

    Returns
    -------
    float or None
        None for no shares.

    Notes
    -----
    Fewer than the effective founders where few animals passed on the genes of many (a bottleneck). Taking the
    largest first usually, but not in every pedigree, keeps it from being more.
    """
    return 1.0 / sum(p * p for p in shares) if shares else None


def founder_genomes(mean_kinship: float) -> float:
    """Return the founder genome equivalents of a group, ``1 / (2 x mean kinship)``.

    So many unrelated founders, not inbred, would have as much diversity as the group has kept (Lacy 1989; in
    this form Caballero & Toro 2000, Genet. Res. 75:331-343; both from memory). The mean takes in each animal
    with itself: see `herdbook.husbandry.measures.mean_kinship`. Dropping founders' genes through the pedigree
    at random and averaging the numbers of many drops gives a somewhat higher figure; it is another measure
    under the same name.

    Raises
    ------
    ValueError
        If the mean kinship is not above 0: with each animal itself in it, it always is.
    """
    if not mean_kinship > 0:
        raise ValueError("A mean kinship with each animal itself in it is above 0.")
    return 1.0 / (2.0 * mean_kinship)


def line_founders(parent: npt.ArrayLike) -> list[int]:
    """Return the first animal of each animal's line through one parent: dam to dam, or sire to sire.

    Parameters
    ----------
    parent : array_like of int, shape (n,)
        Row numbers of all dams, or of all sires, -1 unknown, parents before offspring.

    Returns
    -------
    list of int, length n
        The animal itself where the parent is not known.
    """
    parents, _ = parent_lists(parent, parent)
    first: list[int] = []
    for row, above in enumerate(parents):
        first.append(row if above == UNKNOWN else first[above])
    return first


def carriers(
    sire: npt.ArrayLike,
    dam: npt.ArrayLike,
    founders: npt.ArrayLike,
    living: npt.ArrayLike,
    doubtful: Chances = CERTAIN,
) -> list[Carriers]:
    """Return how many of the living descend, or may descend, from each founder or are it; who, if only one.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.
    founders, living : array_like of int
        Row numbers, each once; founders may be any animals.
    doubtful
        As for `contributions`.

    Returns
    -------
    list of Carriers
        In the order of `founders`.
    """
    import numpy as np

    links = links_up(sire, dam, doubtful)
    alive = np.asarray(living, dtype=np.int64).reshape(-1)
    asked = np.asarray(founders, dtype=np.int64).reshape(-1).tolist()
    found: list[Carriers] = []
    for start in range(0, len(asked), _FOUNDERS_AT_ONCE):
        block = asked[start : start + _FOUNDERS_AT_ONCE]
        has = _descent(links, block, alive.tolist())
        counts, first = (
            has.sum(axis=0).tolist(),
            has.argmax(axis=0).tolist() if len(alive) else [0] * len(block),
        )
        for founder, count, at in zip(block, counts, first, strict=True):
            found.append(Carriers(founder, count, int(alive[at]) if count == 1 else None))
    return found


def _descent(links: Links, block: list[int], alive: list[int]) -> npt.NDArray[Any]:
    """Return who of the living (rows) descends from whom of the founders (columns)."""
    import numpy as np

    own = {founder: 1 << bit for bit, founder in enumerate(block)}
    of = [0] * len(links)
    for row, parents in enumerate(links):
        mine = own.get(row, 0)
        for parent, _ in parents:
            mine |= of[parent]
        of[row] = mine
    width = (len(block) + 7) // 8
    bits = b"".join(of[row].to_bytes(width, "little") for row in alive)
    table = np.frombuffer(bits, dtype=np.uint8).reshape(len(alive), width)
    return np.unpackbits(table, axis=1, bitorder="little")[:, : len(block)]


def _accounted(links: Links, row: int, taken: set[int]) -> float:
    """Return the chance that a gene of an animal came through one of those taken, above it."""
    if not taken:
        return 0.0
    share = {row: 1.0}
    heap = [-row]
    caught = 0.0
    while heap:
        here = -heapq.heappop(heap)
        mine = share.pop(here)
        for parent, chance in links[here]:
            if parent in taken:
                caught += chance * mine
            elif parent in share:
                share[parent] += chance * mine
            else:
                share[parent] = chance * mine
                heapq.heappush(heap, -parent)
    return caught


def _take_away(links: Links, row: int, passing: list[float], taken: set[int]) -> None:
    """Take what passes through an animal away from its ancestors, up to those taken before."""
    share = {row: passing[row]}
    heap = [-row]
    while heap:
        here = -heapq.heappop(heap)
        mine = share.pop(here)
        for parent, chance in links[here]:
            if parent in taken:
                continue
            passing[parent] -= chance * mine
            if parent in share:
                share[parent] += chance * mine
            else:
                share[parent] = chance * mine
                heapq.heappush(heap, -parent)


def parent_lists(sire: npt.ArrayLike, dam: npt.ArrayLike) -> tuple[list[int], list[int]]:
    """Return both columns as lists, refusing what is no pedigree with parents first."""
    import numpy as np

    columns = [np.asarray(column) for column in (sire, dam)]
    for column in columns:
        if column.ndim != 1 or column.shape != columns[0].shape:
            raise ValueError("Sires and dams must be two columns of the same length.")
        if len(column) and column.dtype.kind not in "iu":
            raise ValueError("Parents must be row numbers.")
        if np.any(column >= np.arange(len(column))) or np.any(column < UNKNOWN):
            raise ValueError("Parents must stand before their offspring.")
    return columns[0].tolist(), columns[1].tolist()
