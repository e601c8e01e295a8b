"""Inbreeding that is kept, and brought up to date by what changed: a new calf, a parent named later.

A new calf is one walk over the ancestors of its two parents. With ``A = T D T'`` (see `kinship`) and the
Mendelian variances ``D`` of the ancestors kept, the relationship of any two animals is the sum over their
ancestors k of what each received from k, times ``D_k``. A change of an animal's parents bears on itself and
on its descendants only.

A sire may be doubtful: several candidates, each with his chance, enter as an average relationship (Henderson
1988, J. Anim. Sci. 66:1614-1621), as in `doubt`: ``a_ii = 1 + sum p a_sd / 2`` and ``D_i = a_ii - w'Aw``.
"""

from __future__ import annotations

from array import array
from collections.abc import Iterable, Mapping, Sequence
from heapq import heapify, heappop, heappush
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Reals = npt.NDArray[np.float64]

UNKNOWN = -1
Chances = Sequence[tuple[int, float]]
"""Candidate sires: the row of each and his chance."""
_ROW_BITS = 40
_ROW = (1 << _ROW_BITS) - 1
"""An animal's turn in a walk upwards is one number: minus its generation, then its row in the last bits."""
_ANEW = 20
"""Descendants walked one by one cost about so many times what a row costs when all are worked out anew."""


class KeptInbreeding:
    """The inbreeding of a herd, kept between changes.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, in any order.
    doubtful : mapping of int to sequence of (int, float), optional
        The possible sires of the rows that have several, with their chances; `sire` of such a row is not
        read.

    Raises
    ------
    LoopFound
        If an animal would be its own ancestor.
    ValueError
        If the columns are not a pedigree, or chances do not lie between 0 and 1 and add up to 1 at most.

    Notes
    -----
    Memory grows with the animals; adding one costs what walking the ancestors of its parents does. Not safe
    for several threads: whoever shares it holds a lock.
    """

    def __init__(
        self, sire: npt.ArrayLike, dam: npt.ArrayLike, doubtful: Mapping[int, Chances] | None = None
    ) -> None:
        import numpy as np

        from herdbook.husbandry.kinship import find_loops

        self._doubtful = {row: _checked(chances) for row, chances in (doubtful or {}).items()}
        fathers, mothers = np.array(sire), np.array(dam)
        if len(fathers):
            fathers[list(self._doubtful)] = UNKNOWN
        loops = find_loops(*_with_helpers(fathers, mothers, self._doubtful))  # refuses what is no pedigree
        if loops:
            raise LoopFound([row for row in loops[0] if row < len(fathers)])
        self._sire, self._dam = array("q", fathers.tolist()), array("q", mothers.tolist())
        self._offspring: list[list[int]] | None = None
        self._work_out()

    def __len__(self) -> int:
        return len(self._sire)

    @property
    def inbreeding(self) -> Reals:
        """Inbreeding coefficient of every row, expected where a sire is doubtful."""
        import numpy as np

        return np.array(self._own) - 1.0

    @property
    def sampling(self) -> Reals:
        """Mendelian sampling variance of every row, with what doubt about the sire adds."""
        import numpy as np

        return np.array(self._added)

    def relationship(self, one: int, other: int) -> float:
        """Return the relationship of two rows; half of it is the expected inbreeding of their calf."""
        return self._walk(((one, 1.0),), other)[0]

    def add(self, sire: int = UNKNOWN, dam: int = UNKNOWN, chances: Chances = ()) -> int:
        """Add an animal without offspring and return its row; `chances` stands in the place of `sire`."""
        row = len(self)
        self._require([*([each for each, _ in chances] or [sire]), dam], row)
        weighed = _checked(chances)
        self._sire.append(UNKNOWN if chances else sire)
        self._dam.append(dam)
        self._own.append(1.0)
        self._added.append(1.0)
        self._turn.append(-row)
        if chances:
            self._doubtful[row] = weighed
        if self._offspring is not None:
            self._offspring.append([])
            for parent in self._parents(row):
                self._offspring[parent].append(row)
        self._find(row)
        return row

    def change(self, row: int, sire: int = UNKNOWN, dam: int = UNKNOWN, chances: Chances = ()) -> None:
        """Give an animal other parents.

        Raises
        ------
        LoopFound
            If a parent descends from the animal; nothing is changed.
        """
        parents = [*([each for each, _ in chances] or [sire]), dam]
        self._require([row, *parents], len(self))
        weighed = _checked(chances)
        children = self._children()
        below = self._below(row)
        meant = [parent for parent in parents if parent in below]
        if meant:
            raise LoopFound(sorted({row, *meant}))
        for parent in set(self._parents(row)):
            children[parent].remove(row)
        self._sire[row], self._dam[row] = (UNKNOWN if chances else sire), dam
        self._doubtful.pop(row, None)
        if chances:
            self._doubtful[row] = weighed
        for parent in set(self._parents(row)):
            children[parent].append(row)
        if len(below) * _ANEW > len(self) + 50 * _ANEW:
            self._work_out()
            return
        for each in below:  # parents first, by the links as they were above the animal and are below it
            self._find(each)

    # -- links --

    def _require(self, rows: Iterable[int], size: int) -> None:
        if any(not UNKNOWN <= row < size for row in rows):
            raise ValueError("A parent's row number lies outside the pedigree.")

    def _parents(self, row: int) -> list[int]:
        """Return the rows that may be a parent of `row`."""
        sires = [sire for sire, _ in self._doubtful.get(row, ())] or [self._sire[row]]
        return [parent for parent in dict.fromkeys((*sires, self._dam[row])) if parent >= 0]

    def _children(self) -> list[list[int]]:
        """Return the offspring of each row, listed at the first need."""
        if self._offspring is None:
            self._offspring = [[] for _ in self._sire]
            for row in range(len(self)):
                for parent in self._parents(row):
                    self._offspring[parent].append(row)
        return self._offspring

    def _below(self, row: int) -> dict[int, None]:
        """Return the animal and all its descendants, parents first."""
        children = self._children()
        done: dict[int, None] = {}
        seen = {row}
        stack = [(row, iter(children[row]))]
        while stack:  # depth first; an animal is done when all below it are
            here, rest = stack[-1]
            child = next((child for child in rest if child not in seen), None)
            if child is None:
                done[here] = None
                stack.pop()
            else:
                seen.add(child)
                stack.append((child, iter(children[child])))
        return dict.fromkeys(reversed(done))

    # -- figures --

    def _find(self, row: int) -> None:
        """Work out place, relationship with itself and variance of one row from those of its parents."""
        parents = self._parents(row)
        above = max((-self._turn[parent] >> _ROW_BITS for parent in parents), default=-1)
        self._turn[row] = -((above + 1 << _ROW_BITS) + row)
        sires, dam = self._doubtful.get(row), self._dam[row]
        if sires is None:
            sire = self._sire[row]
            both = sire >= 0 and dam >= 0
            self._own[row] = 1.0 + (0.5 * self.relationship(sire, dam) if both else 0.0)
            # With certain parents w'Aw holds half the parents' relationship, as the own one does.
            parents_own = sum(self._own[parent] for parent in (sire, dam) if parent >= 0)
            self._added[row] = 1.0 - 0.25 * parents_own
            return
        of_parents, of_average = self._walk(sires, dam)
        self._own[row] = 1.0 + 0.5 * of_parents
        self._added[row] = self._own[row] - of_average

    def _walk(self, sires: Chances, dam: int) -> tuple[float, float]:
        """Return the relationship of an average of rows to `dam`, and of the mean of both with itself.

        The youngest ancestor is met first. What it handed to the two sides is kept as one complex number,
        the sires' in the real part: one look and one sum instead of two.
        """
        turn, added, sire, dams, doubtful = self._turn, self._added, self._sire, self._dam, self._doubtful
        shares: dict[int, complex] = {}
        for row, chance in sires:
            shares[row] = shares.get(row, 0.0) + complex(chance, 0.0)
        if dam >= 0:
            shares[dam] = shares.get(dam, 0.0) + 1j
        queue = [turn[row] for row in shares]
        heapify(queue)
        related = mean = 0.0
        while queue:
            row = -heappop(queue) & _ROW
            both = shares.pop(row)
            related += both.real * both.imag * added[row]
            mean += (both.real + both.imag) ** 2 * added[row]
            handed = 0.5 * both
            for parent in (sire[row], dams[row]):
                if parent in shares:
                    shares[parent] += handed
                elif parent >= 0:
                    shares[parent] = handed
                    heappush(queue, turn[parent])
            for parent, chance in doubtful.get(row, ()):
                if parent not in shares:
                    shares[parent] = 0.0
                    heappush(queue, turn[parent])
                shares[parent] += chance * handed
        return related, 0.25 * mean

    def _work_out(self) -> None:
        """Work everything out anew."""
        import numpy as np

        from herdbook.husbandry.doubt import AverageKinship, Links
        from herdbook.husbandry.kinship import generations, inbreeding

        sire, dam = np.array(self._sire, dtype=np.int64), np.array(self._dam, dtype=np.int64)
        after = generations(*_with_helpers(sire, dam, self._doubtful))[: len(sire)]
        if self._doubtful:
            flat = [(row, one, chance) for row, each in self._doubtful.items() for one, chance in each]
            f = AverageKinship(sire, dam, Links(*map(np.array, zip(*flat, strict=True)))).inbreeding
        else:
            order = np.argsort(after, kind="stable")
            place = np.empty(len(sire) + 1, dtype=np.int64)
            place[order], place[-1] = np.arange(len(sire)), UNKNOWN
            f = inbreeding(place[sire[order]], place[dam[order]])[place[:-1]]
        self._turn = array("q", (-((after << _ROW_BITS) + np.arange(len(after)))).tolist())
        own = np.append(1.0 + f, 0.0)  # read through row -1
        self._own = array("d", own[:-1].tolist())
        self._added = array("d", (1.0 - 0.25 * (own[sire] + own[dam])).tolist())
        for row in sorted(self._doubtful, key=self._turn.__getitem__, reverse=True):
            self._added[row] = self._own[row] - self._walk(self._doubtful[row], self._dam[row])[1]


class LoopFound(ValueError):
    """Parents were given by which animals would be their own ancestors; `rows` are among them."""

    def __init__(self, rows: list[int]) -> None:
        super().__init__("An animal in this pedigree would be its own ancestor.")
        self.rows = rows


def _checked(chances: Chances) -> tuple[tuple[int, float], ...]:
    """Return candidates as a tuple, refusing chances that cannot be."""
    if any(chance < 0 for _, chance in chances) or sum(chance for _, chance in chances) > 1 + 1e-9:
        raise ValueError("The chances of an animal's possible sires lie between 0 and 1 and add up to 1.")
    return tuple((int(sire), float(chance)) for sire, chance in chances)


def _with_helpers(
    sire: npt.NDArray[Any], dam: npt.NDArray[Any], doubtful: Mapping[int, Chances]
) -> tuple[npt.NDArray[Any], npt.NDArray[Any]]:
    """Return two columns in which each candidate of a row stands above it, by helping rows behind."""
    import numpy as np

    if not doubtful:
        return sire, dam
    fathers, mothers = sire.tolist(), dam.tolist()
    for row, chances in doubtful.items():
        for candidate, _ in chances:
            fathers.append(fathers[row])
            mothers.append(candidate)
            fathers[row] = len(fathers) - 1
    return np.array(fathers), np.array(mothers)
