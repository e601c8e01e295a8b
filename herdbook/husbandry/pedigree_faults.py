"""What is wrong with a pedigree, all of it in one list, with the rows in which it is wrong.

`kinship` refuses a pedigree with faults that cannot be computed with `PedigreeRefused`, which carries the
whole list; faults that can be (a bull named as a dam) are for whoever reads the pedigree to show.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Rows = npt.NDArray[np.int64]
    Wrong = Callable[[Rows, Rows], npt.NDArray[np.bool_]]

Kind = Literal["outside", "loop", "order", "sire_and_dam", "sire_female", "dam_male", "younger_parent"]
_TOLD = 12
"""Rows named in the sentence of one kind of fault; the list holds all."""


@dataclass(frozen=True)
class Fault:
    """One thing that is wrong.

    Parameters
    ----------
    kind : str
        ``outside``: a parent's row number is not in the pedigree (row of the animal).
        ``loop``: animals that are their own ancestors through one another, or their own parent (their rows,
        ascending).
        ``order``: a parent stands behind its offspring, where order is asked for (animal, parent).
        ``sire_and_dam``: an animal is a sire and a dam (its row).
        ``sire_female``, ``dam_male``: a parent is of the other sex (animal, parent).
        ``younger_parent``: a parent was born after the animal or with it (animal, parent).
    rows : tuple of int
    """

    kind: Kind
    rows: tuple[int, ...]

    @property
    def computable(self) -> bool:
        """Whether inbreeding can be worked out all the same."""
        return self.kind not in ("outside", "loop", "order")


class PedigreeRefused(ValueError):
    """A pedigree that cannot be computed; `faults` holds all that is wrong with it."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(_sentences(self.faults)))


def pedigree_faults(
    sire: npt.ArrayLike,
    dam: npt.ArrayLike,
    *,
    in_order: bool = False,
    male: npt.ArrayLike | None = None,
    earliest: npt.ArrayLike | None = None,
    latest: npt.ArrayLike | None = None,
) -> list[Fault]:
    """Return everything that is wrong with a pedigree.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown, in any order.
    in_order : bool
        Whether parents have to stand before their offspring.
    male : array_like of int, shape (n,), optional
        1 male, 0 female, -1 not known.
    earliest, latest : array_like of float, shape (n,), optional
        The days between which each was born, NaN not known. A parent is younger if even its earliest day is
        no earlier than the latest of its offspring.

    Returns
    -------
    list of Fault
        In order of kind as listed in `Fault`, then of rows; empty if nothing is wrong.

    Raises
    ------
    ValueError
        If the columns do not hold row numbers or differ in length.
    """
    import numpy as np

    from herdbook.husbandry.kinship import find_loops

    columns = [_numbers(column) for column in (sire, dam)]
    size = len(columns[0])
    if len(columns[1]) != size:
        raise ValueError("Sires and dams must be two columns of the same length.")
    outside = [(column < -1) | (column >= size) for column in columns]
    faults = [Fault("outside", (row,)) for row in np.flatnonzero(outside[0] | outside[1]).tolist()]
    fathers, mothers = (np.where(out, -1, column) for column, out in zip(columns, outside, strict=True))
    loops = find_loops(fathers, mothers)
    faults += [Fault("loop", tuple(loop)) for loop in loops]
    if in_order:
        looped = np.zeros(size, dtype=bool)
        looped[[row for loop in loops for row in loop]] = True
        faults += _links("order", fathers, mothers, lambda row, parent: (parent > row) & ~looped[row])
    both = np.intersect1d(fathers[fathers >= 0], mothers[mothers >= 0])
    faults += [Fault("sire_and_dam", (row,)) for row in both.tolist()]
    if male is not None:
        sex = np.asarray(male)
        nobody = np.full(size, -1)
        faults += _links("sire_female", fathers, nobody, lambda _, parent: sex[parent] == 0)
        faults += _links("dam_male", nobody, mothers, lambda _, parent: sex[parent] == 1)
    if earliest is not None and latest is not None:
        first, last = np.asarray(earliest, dtype=np.float64), np.asarray(latest, dtype=np.float64)
        faults += _links("younger_parent", fathers, mothers, lambda row, parent: first[parent] >= last[row])
    return faults


def _numbers(column: npt.ArrayLike) -> Rows:
    """Return a column of row numbers, refusing what is none."""
    import numpy as np

    found = np.asarray(column)
    if found.ndim != 1:
        raise ValueError("Sires and dams must be two columns of the same length.")
    if len(found) and found.dtype.kind not in "iu":
        raise ValueError("Parents must be row numbers.")
    return found.astype(np.int64)


def _links(kind: Kind, sire: Rows, dam: Rows, wrong: Wrong) -> list[Fault]:
    """Return a fault for each link from an animal to a parent that is `wrong`; own parents are loops."""
    import numpy as np

    found: set[tuple[int, int]] = set()
    for column in (sire, dam):
        rows = np.flatnonzero((column >= 0) & (column != np.arange(len(column))))
        bad = rows[wrong(rows, column[rows])]
        found.update(zip(bad.tolist(), column[bad].tolist(), strict=True))
    return [Fault(kind, pair) for pair in sorted(found)]


def _sentences(faults: Sequence[Fault]) -> Iterator[str]:
    """Yield one sentence for each kind of fault, naming the rows."""
    told: dict[Kind, str] = {
        "outside": "A parent's row number lies outside the pedigree: row {rows}",
        "loop": "An animal in this pedigree is its own ancestor: rows {rows}",
        "order": "Parents must stand before their offspring: row (parent) {rows}",
        "sire_and_dam": "An animal is both a sire and a dam: row {rows}",
        "sire_female": "A sire is a female: row (sire) {rows}",
        "dam_male": "A dam is a male: row (dam) {rows}",
        "younger_parent": "A parent is younger than its offspring: row (parent) {rows}",
    }
    for kind, sentence in told.items():
        mine = [fault.rows for fault in faults if fault.kind == kind]
        named = [_named(kind, rows) for rows in mine[:_TOLD]]
        if len(mine) > _TOLD:
            named.append(f"and {len(mine) - _TOLD} more")
        if mine:
            yield sentence.format(rows=", ".join(named))


def _named(kind: Kind, rows: tuple[int, ...]) -> str:
    if kind == "loop":
        more = f" and {len(rows) - _TOLD} more" if len(rows) > _TOLD else ""
        return "-".join(map(str, rows[:_TOLD])) + more
    return str(rows[0]) if len(rows) == 1 else f"{rows[0]} ({rows[1]})"
