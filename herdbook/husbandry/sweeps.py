"""Inbreeding of very large herds: a few sires at a time, each with all his mates, over their ancestors only.

Only animals with offspring are met, numbered from the youngest to the oldest. A block of sires of one
generation is walked up together, which gives ``D T'`` of each, then the ancestors of all their mates are
walked down once, which gives ``A`` between them (Colleau 2002, Genet. Sel. Evol. 34:409-421; sires and mates
grouped after Sargolzaei, Iwaisaki & Colleau 2005, J. Anim. Breed. Genet. 122:325-331; both from memory). Full
sibs share one result. Blocks of a generation do not depend on one another, so that threads share them out.
"""

from __future__ import annotations

from collections.abc import Iterator
from concurrent.futures import Executor, ThreadPoolExecutor
from contextlib import nullcontext
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from herdbook.husbandry.pedigree_walks import BLOCK, LOWEST_BIT, Walks

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Rows = npt.NDArray[np.int64]
    Nodes = npt.NDArray[np.int32]
    Reals = npt.NDArray[np.float64]


@dataclass(frozen=True)
class _Families:
    """Who is walked up, to whom down, and whose inbreeding that gives.

    Parameters
    ----------
    links : ndarray of int, shape (m + 1, 2)
        Parents of the m animals with offspring, by node; m where unknown.
    sires, generation : ndarray of int, shape (k,)
        The nodes to be walked up, the oldest generation first, and their generations.
    first, mates : ndarray of int, shapes (k + 1,) and (p,)
        The mates of ``sires[i]`` are ``mates[first[i]:first[i + 1]]``; each pair of parents stands once.
    rows, family : ndarray of int, shape (c,)
        The animals of which both parents are known, in order of families, and the family of each.
    nodes : ndarray of int, shape (c,)
        Their nodes; m for those without offspring.
    """

    links: Nodes
    sires: Nodes
    generation: Rows
    first: Rows
    mates: Nodes
    rows: Rows
    family: Rows
    nodes: Nodes


class _Desk:
    """The work space of one thread."""

    def __init__(self, animals: int) -> None:
        import numpy as np

        self.lines = np.zeros((animals + 1, BLOCK))
        self.marks = np.zeros(animals // 32 + 1, dtype=np.int64)
        self.listed = np.empty(2 * animals, dtype=np.int32)
        self.met = 0


def inbreeding_by_blocks(sire: Rows, dam: Rows, depth: Rows, walk: Walks) -> Reals:
    """Return the inbreeding coefficient of every animal, in memory proportional to their number.

    Parameters
    ----------
    sire, dam : ndarray of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.
    depth : ndarray of int, shape (n,)
        Generation of each animal.
    walk : Walks
        Compiled, or as they stand.

    Returns
    -------
    ndarray of float, shape (n,)
    """
    import numpy as np

    found = np.zeros(len(sire))
    both = np.flatnonzero((sire >= 0) & (dam >= 0))
    if not len(both):
        return found
    families = _families(sire, dam, depth, both)
    known = len(families.links) - 1
    f, half = np.zeros(known + 1), np.zeros(len(families.mates))
    f[known] = -1.0  # an unknown parent counts as F = -1 in the rule of Mendelian sampling
    desks = [_Desk(known) for _ in range(walk.threads)]
    ends = np.flatnonzero(np.diff(families.generation, append=-1)) + 1
    calves = np.searchsorted(families.family, families.first)
    with ThreadPoolExecutor(walk.threads) if walk.threads > 1 else nullcontext() as pool:
        begin = 0
        for end in ends.tolist():
            _sweep(families, begin, end, walk, desks, f, half, pool)
            some = slice(calves[begin], calves[end])
            f[families.nodes[some]] = half[families.family[some]]
            f[known] = -1.0  # animals without offspring were written there
            begin = end
    found[families.rows] = half[families.family]
    return found


def _families(sire: Rows, dam: Rows, depth: Rows, both: Rows) -> _Families:
    """Number the animals with offspring, and put the pairs of parents in order of who is walked."""
    import numpy as np

    size = len(sire)
    bred = np.zeros(size + 1, dtype=bool)
    bred[sire] = bred[dam] = True
    parents = np.flatnonzero(bred[:size])[::-1]
    count = len(parents)
    node = np.full(size + 1, count, dtype=np.int32)  # the last cell is read through row -1
    node[parents] = np.arange(count, dtype=np.int32)
    links = np.full((count + 1, 2), count, dtype=np.int32)
    links[:count, 0], links[:count, 1] = node[sire[parents]], node[dam[parents]]
    walked, mates = node[sire[both]], node[dam[both]]
    males, females = (len(np.unique(side)) for side in (walked, mates))
    if females < males:
        walked, mates = mates, walked
    sires = np.unique(walked)
    generation = depth[parents[sires]]
    order = np.argsort(generation, kind="stable")
    sires, generation = sires[order], generation[order]
    place = np.zeros(count, dtype=np.int64)
    place[sires] = np.arange(len(sires))
    pairs, family = np.unique(place[walked] * (count + 1) + mates, return_inverse=True)
    by_family = np.argsort(family, kind="stable")
    return _Families(
        links=links,
        sires=sires,
        generation=generation,
        first=np.searchsorted(pairs, np.arange(len(sires) + 1) * (count + 1)),
        mates=(pairs % (count + 1)).astype(np.int32),
        rows=both[by_family],
        family=family[by_family],
        nodes=node[both[by_family]],
    )


def _sweep(
    families: _Families,
    begin: int,
    end: int,
    walk: Walks,
    desks: list[_Desk],
    f: Reals,
    half: Reals,
    pool: Executor | None,
) -> None:
    """Fill in half the relationship of all pairs of the sires ``begin:end``, which are of one generation."""
    import numpy as np

    lowest = np.array(LOWEST_BIT)

    def work(blocks: Iterator[int], desk: _Desk) -> None:
        space: tuple[Any, ...] = (desk.lines, desk.marks, desk.listed, lowest)
        for start in blocks:
            stop = min(start + BLOCK, end)
            met = walk.walk_up(start, stop, families.sires, families.links, f, *space)
            pairs = (families.first, families.mates, families.links)
            desk.met += walk.walk_down(start, stop, met, *pairs, *space, half)

    blocks = iter(range(begin, end, BLOCK))  # the threads draw from it in turn
    if pool is None or end - begin <= BLOCK:
        work(blocks, desks[0])
        return
    for done in [pool.submit(work, blocks, desk) for desk in desks]:
        done.result()
