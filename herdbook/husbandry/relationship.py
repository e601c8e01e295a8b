"""How two animals are related: the ancestors they share, the paths through them, and the usual words.

The coancestry of two animals (the inbreeding of their calf) is a sum over pairs of lines of descent, one up
from each, that meet in a common ancestor and nowhere below it (Wright 1922, Am. Nat. 56:330-338). Such a pair
of lines is called a path here. Paths are grouped twice: by ancestor, which gives each one's share, and by the
kind of tie they make, which gives the words: half sibs, uncle and niece, first cousins once removed.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Any

MOST_PATHS = 8
"""Paths listed for one ancestor; there can be millions."""
MOST_STEPS = 50_000
"""Steps taken to find paths; what is not found by then is told as a share."""
MOST_COUNTED = 800
"""Common ancestors up to which the paths that are not listed are counted."""

THREE_QUARTER_SIBS, DOUBLE_COUSINS = "three_quarter_sibs", "double_cousins"


@dataclass(frozen=True)
class Path:
    """Two lines of descent that meet in an ancestor and nowhere below it.

    Parameters
    ----------
    ancestor : int
    one, other : tuple of int
        From each of the two animals up to the ancestor, both ends included.
    share : float
        What it adds to the coancestry: ``(1/2)**(links + 1) * (1 + F_ancestor)``.
    """

    ancestor: int
    one: tuple[int, ...]
    other: tuple[int, ...]
    share: float

    @property
    def links(self) -> int:
        """Generations up the one line and down the other."""
        return len(self.one) + len(self.other) - 2


@dataclass(frozen=True)
class Through:
    """A shared ancestor: what comes through it, and by which paths.

    Parameters
    ----------
    ancestor : int
    share : float
        Of the coancestry; the shares of all shared ancestors add up to it.
    inbreeding : float
        The ancestor's own.
    paths : tuple of Path
        The shortest, at most as many as were asked for.
    more : int or None
        How many paths are not listed; None where there were too many ancestors to count them.
    """

    ancestor: int
    share: float
    inbreeding: float
    paths: tuple[Path, ...]
    more: int | None

    @property
    def rest(self) -> float:
        """What the paths that are not listed bring."""
        return 0.0 if self.more == 0 else self.share - sum(path.share for path in self.paths)


@dataclass(frozen=True)
class Tie:
    """One way in which two animals are related, for which there is a word.

    Parameters
    ----------
    up : tuple of two int
        Generations from each of the two up to the common ancestor: (0, 1) is parent and offspring, (1, 1)
        sibs, (1, 2) uncle or aunt and nephew or niece, (2, 2) first cousins, (2, 3) the same once removed.
    full : bool
        Whether it comes through a pair of common parents rather than through one.
    ancestors : tuple of int
        The common ancestors, most important first.
    share : float
        What it adds to the coancestry.
    times : int
        In how many separate ways the two are so related.
    name : str
        `THREE_QUARTER_SIBS` or `DOUBLE_COUSINS` for what has a word of its own, else "".
    """

    up: tuple[int, int]
    full: bool
    ancestors: tuple[int, ...]
    share: float
    times: int = 1
    name: str = ""


@dataclass(frozen=True)
class Relationship:
    """All that is to be said of two animals.

    Parameters
    ----------
    coancestry : float
        The inbreeding of their calf.
    through : tuple of Through
        The shared ancestors, largest share first.
    ties : tuple of Tie
        The kinds of tie, largest share first; together with `rest` they make up the coancestry.
    rest : float
        What comes through paths that are not listed.
    """

    one: int
    other: int
    coancestry: float
    through: tuple[Through, ...]
    ties: tuple[Tie, ...]
    rest: float


def relationship(
    sire: Sequence[int] | Any, dam: Sequence[int] | Any, f: Any, one: int, other: int, most: int = MOST_PATHS
) -> Relationship:
    """Return how two animals are related.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, parents before offspring.
    f : array_like of float, shape (n,)
        Inbreeding of every animal.
    one, other : int
        Row numbers of the two; one may be an ancestor of the other.
    most : int
        Paths listed for one ancestor, shortest first.

    Returns
    -------
    Relationship
        Row numbers in it are those of the arrays.
    """
    through = shared_paths(sire, dam, f, one, other, most)
    whole = sum(each.share for each in through)
    parents = {row: (int(sire[row]), int(dam[row])) for row in (one, other)}
    ties = find_ties((path for each in through for path in each.paths), parents)
    rest = whole - sum(tie.share for tie in ties)
    listed = all(each.more == 0 for each in through)
    return Relationship(one, other, whole, through, ties, 0.0 if listed else rest)


# -- paths --


def shared_paths(
    sire: Sequence[int] | Any, dam: Sequence[int] | Any, f: Any, one: int, other: int, most: int = MOST_PATHS
) -> tuple[Through, ...]:
    """Return the ancestors that two animals share, with the shortest paths through each; see `relationship`.

    Only the ancestors of the two are looked at, whatever the size of the pedigree. Paths are drawn upwards
    from both animals, the younger end first, so that two lines can only meet where they meet for the first
    time; each pair of ends is gone through at most `most` times, which is enough to find the `most` shortest
    paths to every ancestor (the rule of k shortest paths).
    """
    from herdbook.husbandry.kinship import shared_ancestors

    family = _Family(sire, dam, one, other)
    inbred = [float(f[row]) for row in family.rows]
    shares = shared_ancestors(family.sire, family.dam, inbred, family.one, family.other)
    found = family.paths(inbred, most, {part.ancestor for part in shares})
    short = {p.ancestor for p in shares if p.share != sum(path.share for path in found[p.ancestor])}
    counts = family.count(short) if short else {}

    def told(part: Any) -> Through:
        paths = tuple(family.renamed(path) for path in found[part.ancestor])
        more: int | None = 0
        if part.ancestor in short:
            more = counts[part.ancestor] - len(paths) if part.ancestor in counts else None
        row = family.rows[part.ancestor]
        return Through(row, part.share, inbred[part.ancestor], paths, more)

    return tuple(told(part) for part in shares)


class _Family:
    """Two animals with all their ancestors, numbered anew with parents before offspring."""

    def __init__(self, sire: Any, dam: Any, one: int, other: int) -> None:
        known: set[int] = set()
        todo = [int(one), int(other)]
        while todo:
            row = todo.pop()
            if row < 0 or row in known:
                continue
            known.add(row)
            todo += [int(sire[row]), int(dam[row])]
        self.rows = sorted(known)
        place = {row: here for here, row in enumerate(self.rows)} | {-1: -1}
        self.sire = [place[int(sire[row])] for row in self.rows]
        self.dam = [place[int(dam[row])] for row in self.rows]
        self.one, self.other = place[int(one)], place[int(other)]
        self.behind: list[int] = []  # each one's ancestors and itself, a bit each
        for here, (father, mother) in enumerate(zip(self.sire, self.dam, strict=True)):
            bits = 1 << here
            for parent in (father, mother):
                bits |= self.behind[parent] if parent >= 0 else 0
            self.behind.append(bits)

    def renamed(self, path: Path) -> Path:
        """Return a path with the row numbers that were asked with."""
        rows = self.rows
        one, other = (tuple(rows[here] for here in line) for line in (path.one, path.other))
        return replace(path, ancestor=rows[path.ancestor], one=one, other=other)

    def paths(self, inbred: Sequence[float], most: int, wanted: set[int]) -> dict[int, list[Path]]:
        """Return the shortest paths through each ancestor, until `MOST_STEPS` steps are taken."""
        found: dict[int, list[Path]] = defaultdict(list)
        seen: dict[tuple[int, int], int] = defaultdict(int)
        waiting: list[tuple[int, int, int, int, Any]] = [(0, 0, self.one, self.other, None)]
        if not self.behind[self.one] & self.behind[self.other]:
            return found
        pushed = 0
        for _ in range(MOST_STEPS):
            if not waiting:
                break
            links, _, x, y, before = heapq.heappop(waiting)
            seen[x, y] += 1
            if seen[x, y] > most:
                continue
            trail = (x, y, before)
            if x == y:
                if x in wanted:
                    found[x].append(_path(trail, 0.5 ** (links + 1) * (1.0 + inbred[x])))
                continue
            young, old = max(x, y), min(x, y)
            for parent in (self.sire[young], self.dam[young]):
                if parent >= 0 and self.behind[parent] & self.behind[old]:
                    pushed += 1
                    ends = (parent, y) if young == x else (x, parent)
                    heapq.heappush(waiting, (links + 1, pushed, *ends, trail))
        return found

    def count(self, wanted: Iterable[int]) -> dict[int, int]:
        """Return how many paths there are through ancestors; nothing where too many are common to count.

        Two lines up to an ancestor pass it together as often as they can be drawn one by one. Each such pair
        first met in some animal, and from there both went on upwards in any way: solved for the meetings from
        the youngest common ancestor up, as the shares are.
        """
        both = self.behind[self.one] & self.behind[self.other]
        if both.bit_count() > MOST_COUNTED:
            return {}
        common = [here for here in range(len(self.rows)) if both >> here & 1]
        mine, theirs = self._lines(self.one), self._lines(self.other)
        meeting = {here: mine[here] * theirs[here] for here in common}
        for here in reversed(common):
            if meeting[here]:
                for above, lines in self._lines(here).items():
                    if above != here:
                        meeting[above] -= meeting[here] * lines**2
        return {here: meeting[here] for here in wanted}

    def _lines(self, start: int) -> dict[int, int]:
        """Return by how many lines each ancestor is reached from an animal; itself by one."""
        lines: dict[int, int] = defaultdict(int, {start: 1})
        for here in range(start, -1, -1):
            if here in lines:
                for parent in (self.sire[here], self.dam[here]):
                    if parent >= 0:
                        lines[parent] += lines[here]
        return lines


def _path(trail: Any, share: float) -> Path:
    """Return the path that a chain of steps tells, which stands from the ancestor down."""
    one: list[int] = []
    other: list[int] = []
    ancestor = trail[0]
    while trail is not None:
        x, y, trail = trail
        for line, here in ((one, x), (other, y)):
            if not line or line[-1] != here:
                line.append(here)
    return Path(ancestor, tuple(reversed(one)), tuple(reversed(other)), share)


# -- ties --


def find_ties(paths: Iterable[Path], parents: dict[int, tuple[int, int]]) -> tuple[Tie, ...]:
    """Return the kinds of tie that paths make, largest share first; their shares are those of the paths.

    Two paths that differ only in their ancestor come through a pair of common parents: a full tie (full sibs,
    first cousins), otherwise a half one. Half sibs whose other parents are full sibs, or parent and
    offspring, are three-quarter sibs; first cousins through both parents are double first cousins (common
    usage; from memory).

    Parameters
    ----------
    paths : iterable of Path
    parents : dict
        Sire and dam of the two animals, -1 unknown.
    """
    grouped: dict[tuple[tuple[int, ...], tuple[int, ...]], list[Path]] = defaultdict(list)
    for path in paths:
        grouped[path.one[:-1], path.other[:-1]].append(path)
    simple: list[_Strand] = []
    for (one, other), group in grouped.items():
        ancestors = tuple(dict.fromkeys(path.ancestor for path in group))
        if len(group) == 2 and len(ancestors) == 2:
            share = sum(path.share for path in group)
            simple.append(_Strand(one, other, Tie((len(one), len(other)), True, ancestors, share)))
            continue
        for path in group:
            up = (len(one), len(other))
            simple.append(_Strand(one, other, Tie(up, False, (path.ancestor,), path.share)))
    ties = [strand.tie for strand in _double_cousins(_three_quarter_sibs(simple, parents))]
    return tuple(sorted(_alike_together(ties), key=lambda tie: (-tie.share, sum(tie.up), tie.ancestors)))


@dataclass(frozen=True)
class _Strand:
    """A tie with the two lines below its ancestors."""

    one: tuple[int, ...]
    other: tuple[int, ...]
    tie: Tie


def _three_quarter_sibs(strands: list[_Strand], parents: dict[int, tuple[int, int]]) -> list[_Strand]:
    """Put half sibs and the near tie of their other parents together."""
    for half in strands:
        if half.tie.up != (1, 1) or half.tie.full:
            continue
        mine, theirs = (_other_parent(parents[line[0]], half.tie) for line in (half.one, half.other))
        if mine < 0 or theirs < 0:
            continue
        for near in strands:
            brothers = near.tie.full and (near.one[1:], near.other[1:]) == ((mine,), (theirs,))
            by_son = not near.tie.full and (
                (near.one[1:], near.other[1:], near.tie.ancestors) == ((), (theirs,), (mine,))
                or (near.one[1:], near.other[1:], near.tie.ancestors) == ((mine,), (), (theirs,))
            )
            if brothers or by_son:
                return _joined(strands, half, near, THREE_QUARTER_SIBS)
    return strands


def _other_parent(parents: tuple[int, int], tie: Tie) -> int:
    """Return the parent that is not the shared one; -1 where there is none."""
    left = [parent for parent in parents if parent not in tie.ancestors]
    return left[0] if len(left) == 1 else -1


def _double_cousins(strands: list[_Strand]) -> list[_Strand]:
    """Put first cousins through both parents of each together."""
    cousins = [strand for strand in strands if strand.tie.up == (2, 2) and strand.tie.full]
    for here, strand in enumerate(cousins):
        for second in cousins[here + 1 :]:
            if strand.one[1] != second.one[1] and strand.other[1] != second.other[1]:
                return _joined(strands, strand, second, DOUBLE_COUSINS)
    return strands


def _joined(strands: list[_Strand], one: _Strand, other: _Strand, name: str) -> list[_Strand]:
    ancestors = tuple(dict.fromkeys((*one.tie.ancestors, *other.tie.ancestors)))
    tie = replace(one.tie, ancestors=ancestors, share=one.tie.share + other.tie.share, name=name)
    left = [strand for strand in strands if strand is not one and strand is not other]
    return [_Strand(one.one, one.other, tie), *left]


def _alike_together(ties: Iterable[Tie]) -> Iterable[Tie]:
    """Put ties of one kind together, and say how many there are."""
    kinds: dict[tuple[object, ...], Tie] = {}
    for tie in sorted(ties, key=lambda tie: -tie.share):
        kind = (tie.up, tie.full, tie.name)
        if kind in kinds:
            before = kinds[kind]
            ancestors = tuple(dict.fromkeys((*before.ancestors, *tie.ancestors)))
            share, times = before.share + tie.share, before.times + 1
            tie = replace(before, ancestors=ancestors, share=share, times=times)
        kinds[kind] = tie
    return kinds.values()
