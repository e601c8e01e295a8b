"""The walks over a pedigree row by row, as plain functions that can also run compiled.

Each walk below is one source: it runs as it stands, and through numba (the extra `large`) where a pedigree
is so large that compiling pays. Compiled walks let other threads run. A walk reads and fills columns that it
is given: lists where it runs as it stands (one number of a list is read more quickly), arrays where it is
compiled. No walk calls another, so that each can be kept compiled on the disk.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from typing import Any

WORTH_COMPILING = 30_000
"""Animals from which on compiled walks are used where numba is installed.

Loading it takes about 0.4 s and 200 MB; the inbreeding of so many takes as long without it.
"""

BLOCK = 8
"""Animals that are swept together: eight doubles fill one line of a processor's cache."""

LOWEST_BIT = [0, 1, 28, 2, 29, 14, 24, 3, 30, 22, 20, 15, 25, 17, 4, 8]
LOWEST_BIT += [31, 27, 13, 23, 21, 19, 16, 7, 26, 12, 18, 6, 11, 5, 10, 9]
"""Place of the only bit in x, at ``(x * 0x077CB531 mod 2**32) >> 27``: de Bruijn's sequence, from memory."""


# -- the walks: nothing but numbers and loops --


def depths(sire: Any, dam: Any, depth: Any) -> None:
    """Fill in each row's generation: founders 0, others one more than the deeper parent.

    `depth` has a last cell more than there are rows, which must hold -1: it stands for the unknown parent.
    """
    for row in range(len(sire)):
        depth[row] = 1 + max(depth[sire[row]], depth[dam[row]])


def generations_known(sire: Any, dam: Any, known: Any) -> None:
    """Fill in each row's equivalent complete generations; one cell more than rows, the last, must hold -1."""
    for row in range(len(sire)):
        known[row] = 0.5 * (known[sire[row]] + 1.0) + 0.5 * (known[dam[row]] + 1.0)


def peel(sire: Any, dam: Any, first: Any, child: Any, waiting: Any, ready: Any, depth: Any) -> int:
    """Fill in each row's generation whatever the order of rows, and return how many rows have one.

    Parameters
    ----------
    sire, dam : columns of int, length n
        Row numbers of the parents, -1 unknown.
    first, child : columns of int, lengths n + 1 and the number of links
        The offspring of row i are ``child[first[i]:first[i + 1]]``, once for each link.
    waiting, ready : columns of int, length n
        Work space, all zero.
    depth : column of int, length n + 1
        All -1; rows in a loop or below one keep that.
    """
    found = 0
    for row in range(len(sire)):
        waiting[row] = (sire[row] >= 0) + (dam[row] >= 0)
        if waiting[row] == 0:
            ready[found] = row
            found += 1
    done = 0
    while done < found:
        row = ready[done]
        done += 1
        depth[row] = 1 + max(depth[sire[row]], depth[dam[row]])
        for link in range(first[row], first[row + 1]):
            calf = child[link]
            waiting[calf] -= 1
            if waiting[calf] == 0:
                ready[found] = calf
                found += 1
    return found


def walk_up(
    begin: int,
    end: int,
    sires: Any,
    links: Any,
    f: Any,
    lines: Any,
    marks: Any,
    listed: Any,
    lowest: Any,
) -> int:
    """Write ``D T'`` of up to `BLOCK` sires into `lines`, a column each; return how many rows that took.

    Parameters
    ----------
    begin, end : int
        Which of `sires` are walked.
    sires : array of int
        Nodes; node numbers run from the youngest to the oldest, and one more, m, is the unknown parent.
    links : array of int, shape (m + 1, 2)
        The parents of each node.
    f : array of float, shape (m + 1,)
        Inbreeding of the parents of every node met; -1 for m.
    lines : array of float, shape (m + 1, BLOCK)
        All zero.
    marks : array of int, shape (m // 32 + 1,)
        All zero; 32 nodes a word. Scanning the words meets the nodes marked in order of birth, the parents
        marked on the way among them.
    listed : array of int, shape (2 * m,)
        Filled with the nodes met, the youngest first.
    lowest : column of int
        `LOWEST_BIT`.
    """
    unknown = len(links) - 1
    word = len(marks)
    for k in range(begin, end):
        node = int(sires[k])
        lines[node, k - begin] = 1.0
        marks[node >> 5] |= 1 << (node & 31)
        word = min(word, node >> 5)
    met = 0
    while word < len(marks):
        left = int(marks[word])
        if left == 0:
            word += 1
            continue
        bit = left & -left
        marks[word] = left ^ bit
        node = (word << 5) + int(lowest[((bit * 0x077CB531) & 0xFFFFFFFF) >> 27])
        listed[met] = node
        met += 1
        for side in range(2):
            parent = int(links[node, side])
            if parent < unknown:
                marks[parent >> 5] |= 1 << (parent & 31)
                for column in range(BLOCK):
                    lines[parent, column] += 0.5 * lines[node, column]
        variance = 0.5 - 0.25 * (f[links[node, 0]] + f[links[node, 1]])
        for column in range(BLOCK):
            lines[node, column] *= variance
    return met


def walk_down(
    begin: int,
    end: int,
    met: int,
    first: Any,
    mates: Any,
    links: Any,
    lines: Any,
    marks: Any,
    listed: Any,
    lowest: Any,
    half: Any,
) -> int:
    """Write half the relationship of each sire of a block to each of his mates into `half`; clear the lines.

    The parameters are those of `walk_up`, which must have been run for the same block, and

    met : int
        What `walk_up` returned.
    first, mates : arrays of int
        The mates of ``sires[k]`` are ``mates[first[k]:first[k + 1]]``.
    half : array of float, shape of `mates`

    Returns the rows that both walks took.
    """
    unknown = len(links) - 1
    word = len(marks)
    for pair in range(first[begin], first[end]):
        node = int(mates[pair])
        marks[node >> 5] |= 1 << (node & 31)
        word = min(word, node >> 5)
    last = met
    while word < len(marks):
        left = int(marks[word])
        if left == 0:
            word += 1
            continue
        bit = left & -left
        marks[word] = left ^ bit
        node = (word << 5) + int(lowest[((bit * 0x077CB531) & 0xFFFFFFFF) >> 27])
        listed[last] = node
        last += 1
        for side in range(2):
            parent = int(links[node, side])
            if parent < unknown:
                marks[parent >> 5] |= 1 << (parent & 31)
    for place in range(last - 1, met - 1, -1):
        node = listed[place]
        one, other = links[node, 0], links[node, 1]
        for column in range(BLOCK):
            lines[node, column] += 0.5 * (lines[one, column] + lines[other, column])
    for k in range(begin, end):
        for pair in range(first[k], first[k + 1]):
            half[pair] = 0.5 * lines[mates[pair], k - begin]
    for place in range(last):
        for column in range(BLOCK):
            lines[listed[place], column] = 0.0
    return last


# -- as they stand, or compiled --


class Walks:
    """The walks, all in one form; `column` makes a column of numbers what that form reads quickest."""

    def __init__(self, form: Callable[[Any], Any], column: Callable[[Any], Any], threads: int) -> None:
        self.depths = form(depths)
        self.generations_known = form(generations_known)
        self.peel = form(peel)
        self.walk_up = form(walk_up)
        self.walk_down = form(walk_down)
        self.column = column
        self.threads = threads


AS_THEY_STAND = Walks(lambda walk: walk, lambda column: column.tolist(), threads=1)
_MOST_THREADS = 4
"""Each thread holds a block of lines, 64 bytes an animal, and the memory's speed is shared."""


@cache
def compiled() -> Walks | None:
    """Return the walks compiled, or None where numba is not installed or cannot run here.

    Each is compiled at its first call, and kept beside this file or in the user's own cache.
    """
    try:
        import numba
    except ImportError:
        return None

    def compile_walk(walk: Any) -> Any:
        try:
            return numba.njit(walk, nogil=True, cache=True)
        except RuntimeError:  # no folder that it could be kept in
            return numba.njit(walk, nogil=True)

    settings: Any = numba.config  # filled when numba is loaded, from what this process may use
    threads = min(int(settings.NUMBA_NUM_THREADS), _MOST_THREADS)
    return Walks(compile_walk, lambda column: column, threads)


def walks_for(rows: int) -> Walks:
    """Return the walks in the form that is quicker for a pedigree of so many rows."""
    return (compiled() if rows >= WORTH_COMPILING else None) or AS_THEY_STAND
