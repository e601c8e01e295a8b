"""One gene in a pedigree: what is known of each animal's genotype from tests, looks and relatives.

Genotypes of animals that stand above all evidence (the core: whoever was tested or looked at, and all its
ancestors) are summed over exactly by variable elimination. Founders and unknown parents are drawn from a
population in Hardy-Weinberg proportions. Whoever stands below the core adds no evidence.

Several possible sires of an animal enter with their chances: its factor is the weighted mean over them.
Written as a chain, one candidate after the other, no table grows with their number.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.elimination import CELLS, Elimination, Factor, Impossible, Reals

UNKNOWN = -1
Sires = tuple[tuple[int, float], ...]


class Contradiction(ValueError):
    """What was seen or tested cannot all be true; `rows` are animals whose evidence clashes."""

    def __init__(self, rows: Sequence[int]) -> None:
        super().__init__(f"The evidence on rows {list(rows)} contradicts itself.")
        self.rows = tuple(rows)


@dataclass(frozen=True)
class Locus:
    """A gene's alleles and how common each is where nothing is known.

    Parameters
    ----------
    alleles : tuple of str
    frequencies : tuple of float
        Of each allele among founders and unknown parents; they add up to 1.
    """

    alleles: tuple[str, ...]
    frequencies: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse frequencies that are none."""
        if len(self.alleles) != len(self.frequencies) or min(self.frequencies) < 0:
            raise ValueError("There must be one frequency for each allele, none below nothing.")
        if abs(sum(self.frequencies) - 1) > 1e-9:
            raise ValueError("The alleles' frequencies must add up to 1.")

    @cached_property
    def genotypes(self) -> tuple[tuple[int, int], ...]:
        """Pairs of allele numbers, the lower first; with two alleles in order of copies of the second."""
        count = len(self.alleles)
        return tuple((a, b) for a in range(count) for b in range(a, count))

    @cached_property
    def gamete(self) -> Reals:
        """Chance of handing down each allele: shape (genotypes, alleles). Mendel's first law."""
        table = np.zeros((len(self.genotypes), len(self.alleles)))
        for row, pair in enumerate(self.genotypes):
            for allele in pair:
                table[row, allele] += 0.5
        return table

    @cached_property
    def union(self) -> Reals:
        """Which genotype two gametes make: shape (alleles, alleles, genotypes)."""
        count = len(self.alleles)
        table = np.zeros((count, count, len(self.genotypes)))
        for row, (a, b) in enumerate(self.genotypes):
            table[a, b, row] = table[b, a, row] = 1.0
        return table

    @cached_property
    def prior(self) -> Reals:
        """Chances of a founder's genotypes, in Hardy-Weinberg proportions."""
        pool = np.array(self.frequencies)
        return np.asarray(np.einsum("a,b,abg->g", pool, pool, self.union))

    @cached_property
    def child(self) -> Reals:
        """Chance of each genotype of a child of two parents: shape (genotypes,) * 3."""
        return np.asarray(np.einsum("sa,db,abg->sdg", self.gamete, self.gamete, self.union))

    @cached_property
    def half_child(self) -> Reals:
        """Chance of each genotype of a child of one parent and an unknown one: shape (genotypes,) * 2."""
        return np.asarray(np.einsum("sa,b,abg->sg", self.gamete, np.array(self.frequencies), self.union))


def two_alleles(q: float) -> Locus:
    """Return a gene whose second allele, the one that counts, has the frequency `q`."""
    return Locus(("+", "m"), (1.0 - q, q))


@dataclass(frozen=True)
class Descent:
    """Who descends from whom.

    Parameters
    ----------
    sire, dam : array_like of int, shape (n,)
        Row numbers of the parents, -1 unknown.
    doubtful : mapping of int to ((row, chance), ...)
        Animals with several possible sires; what is missing to 1 is an unknown sire. They replace `sire`.
    """

    sire: Sequence[int] | npt.NDArray[np.int64]
    dam: Sequence[int] | npt.NDArray[np.int64]
    doubtful: Mapping[int, Sires] = field(default_factory=dict)

    def sires(self, row: int) -> Sires:
        """Return the possible sires that have a row, each with its chance."""
        if row in self.doubtful:
            return tuple((sire, chance) for sire, chance in self.doubtful[row] if chance > 0)
        sire = int(self.sire[row])
        return ((sire, 1.0),) if sire >= 0 else ()

    def mother(self, row: int) -> int:
        """Return the row of the dam, -1 unknown."""
        return int(self.dam[row])

    def parents(self, row: int) -> list[int]:
        """Return the rows of all possible parents."""
        found = [sire for sire, _ in self.sires(row)]
        return [*found, self.mother(row)] if self.mother(row) >= 0 else found

    def above(self, rows: Iterable[int], stop: Iterable[int] = ()) -> list[int]:
        """Return these animals and all their possible ancestors, parents first; `stop` and beyond left out.

        Raises
        ------
        ValueError
            If an animal is its own ancestor.
        """
        done, open_rows, order = set(stop), set(), []
        todo = [(int(row), False) for row in rows]
        while todo:
            row, seen = todo.pop()
            if seen:
                open_rows.discard(row)
                done.add(row)
                order.append(row)
            elif row in open_rows:
                raise ValueError("An animal in this pedigree is its own ancestor.")
            elif row not in done:
                open_rows.add(row)
                todo.append((row, True))
                todo += [(parent, False) for parent in self.parents(row) if parent not in done]
        return order


class Core:
    """The animals with evidence and all their ancestors, with all that can be asked of them.

    Parameters
    ----------
    locus : Locus
    descent : Descent
    evidence : mapping of int to array_like, shape (genotypes,)
        For an animal, how likely what was seen of it would be with each genotype; a test result is 1 for its
        genotype and 0 for the others.
    cells : int
        Exact sums whose tables would be larger than this are not made: `exact` is False then.

    Raises
    ------
    Contradiction
        When no genotypes agree with the evidence.
    """

    def __init__(
        self, locus: Locus, descent: Descent, evidence: Mapping[int, npt.ArrayLike], cells: int = CELLS
    ) -> None:
        self.locus, self.descent, self._most_cells = locus, descent, cells
        self.evidence = {row: np.asarray(seen, dtype=np.float64) for row, seen in sorted(evidence.items())}
        self.rows = descent.above(self.evidence)
        self.place = {row: at for at, row in enumerate(self.rows)}
        try:
            self._build()
        except Impossible:
            raise Contradiction(self._clash()) from None

    def _build(self) -> None:
        self.known = self._determined()
        sizes, factors = [len(self.locus.genotypes)] * len(self.rows), []
        for row in self.rows:
            factors += self._family(row, sizes)
        at = {self.place[row]: state for row, state in self.known.items()}
        self._sums = Elimination(sizes, [_settled(factor, at) for factor in factors])
        self.exact = self._sums.widest <= self._most_cells
        self._base: dict[int, Reals] | None = None
        if self.exact:
            self._base = self._sums.chances()
        else:
            self._sums.bounds({})

    def _determined(self) -> dict[int, int]:
        """Return the genotypes that leave no choice, from the evidence and from parents that leave none."""
        can: dict[int, npt.NDArray[np.bool_]] = {}
        allele = np.array(self.locus.frequencies) > 0
        for row in self.rows:
            sires = self.descent.sires(row)
            paternal = np.zeros(len(allele), dtype=bool)
            for sire, _ in sires:
                paternal |= self.locus.gamete[can[sire]].any(axis=0)
            if sum(chance for _, chance in sires) < 1 - 1e-12:
                paternal |= allele
            dam = self.descent.mother(row)
            maternal = allele if dam < 0 else self.locus.gamete[can[dam]].any(axis=0)
            can[row] = np.einsum("a,b,abg->g", paternal, maternal, self.locus.union) > 0
            if self._tested_founder(row):
                can[row] = self.evidence[row] > 0
            if row in self.evidence:
                can[row] = can[row] & (self.evidence[row] > 0)
            if not can[row].any():
                raise Impossible
        self._can = can
        return {row: int(np.argmax(left)) for row, left in can.items() if left.sum() == 1}

    def _tested_founder(self, row: int) -> bool:
        """Whether a test leaves a founder no choice: how common its genotype is then no longer matters.

        So a carrier may be known of an allele that is taken to be in nobody else, with a frequency of 0.
        """
        return row in self.evidence and (self.evidence[row] > 0).sum() == 1 and not self.descent.parents(row)

    def _family(self, row: int, sizes: list[int]) -> list[Factor]:
        """Return the factors of an animal: what was seen of it, and how it comes by its genotype."""
        locus, own, dam = self.locus, self.place[row], self.descent.mother(row)
        factors = [Factor((own,), self.evidence[row])] if row in self.evidence else []
        sires = self.descent.sires(row)
        if not sires:
            if dam < 0:
                return factors if self._tested_founder(row) else [*factors, Factor((own,), locus.prior)]
            return [*factors, Factor((self.place[dam], own), locus.half_child)]
        if len(sires) == 1 and sires[0][1] >= 1 - 1e-12:
            if dam < 0:
                return [*factors, Factor((self.place[sires[0][0]], own), locus.half_child)]
            return [*factors, Factor((self.place[sires[0][0]], self.place[dam], own), locus.child)]
        return factors + self._chain(own, sires, dam, sizes)

    def _chain(self, own: int, sires: Sires, dam: int, sizes: list[int]) -> list[Factor]:
        """Return the factors of an animal of several possible sires.

        Beside each candidate stands the allele that came down so far, or that none has yet: in the end the
        paternal gamete is the chance-weighted mean over the candidates.
        """
        locus, count = self.locus, len(self.locus.alleles)
        factors, before, left = [], -1, 1.0
        for sire, chance in sires:
            share = min(1.0, chance / left) if left > 0 else 0.0
            step = np.zeros((count + 1, len(locus.genotypes), count + 1))
            for allele in range(count):
                step[allele, :, allele] = 1.0
            step[count, :, :count] = share * locus.gamete
            step[count, :, count] = 1.0 - share
            sizes.append(count + 1)
            here = len(sizes) - 1
            if before < 0:
                factors.append(Factor((self.place[sire], here), step[count]))
            else:
                factors.append(Factor((before, self.place[sire], here), step))
            before, left = here, max(0.0, left - chance)
        pool = np.array(locus.frequencies)
        paternal = np.vstack([np.eye(count), pool])
        maternal = pool[np.newaxis] if dam < 0 else locus.gamete
        end = np.einsum("pa,db,abg->pdg", paternal, maternal, locus.union)
        if dam < 0:
            return [*factors, Factor((before, own), end[:, 0])]
        return [*factors, Factor((before, self.place[dam], own), end)]

    def _clash(self) -> list[int]:
        """Return a smallest part of the evidence that contradicts itself, found by leaving out one by one."""
        kept = dict(self.evidence)
        for row in list(kept):
            rest = {other: seen for other, seen in kept.items() if other != row}
            try:
                _Trial(self.locus, self.descent, rest, self._most_cells)
            except Contradiction:
                kept = rest
        return list(kept)

    def genotypes(self, row: int) -> Reals:
        """Return the chances of the genotypes of an animal of the core, exactly."""
        if row in self.known:
            settled: Reals = np.eye(len(self.locus.genotypes))[self.known[row]]
            return settled
        if self._base is None:
            raise ValueError("This pedigree is too entangled to be summed exactly.")
        chances: Reals = self._base[self.place[row]][0]
        return chances

    def given(self, row: int, states: Sequence[int], asked: Sequence[int]) -> Reals:
        """Return the chances of others' genotypes, were an animal of the core to have each of `states`.

        Returns
        -------
        ndarray of float, shape (len(states), len(asked), genotypes)
        """
        eye = np.eye(len(self.locus.genotypes))
        if row in self.known:
            return np.stack([np.stack([self.genotypes(other) for other in asked])] * len(states))
        told = self._sums.chances({self.place[row]: eye[list(states)]})
        shape = (len(states), len(self.locus.genotypes))
        found = [eye[self.known[o]] if o in self.known else told[self.place[o]] for o in asked]
        return np.stack([np.broadcast_to(chances, shape) for chances in found], axis=1)

    def between(self, row: int, *, rough: bool = False) -> tuple[Reals, Reals]:
        """Return the least and the most that the chance of each genotype can be, of an animal of the core.

        With `rough` nothing is summed: a genotype is only possible or impossible.
        """
        if row in self.known or self.exact:
            told = self.genotypes(row)
            return told, told
        if rough:
            return np.zeros(len(self._can[row])), self._can[row].astype(np.float64)
        least, most = self._sums.bounds({self.place[row]: np.eye(len(self.locus.genotypes))})
        # The others at their most leave the least to this one; at their least, the most.
        low = np.divide(least, least + most.sum() - most, out=np.zeros_like(least), where=least > 0)
        high = np.divide(most, most + least.sum() - least, out=np.zeros_like(most), where=most > 0)
        return low, high


def summable(
    locus: Locus, descent: Descent, evidence: Mapping[int, npt.ArrayLike], cells: int = CELLS
) -> dict[int, npt.ArrayLike]:
    """Return as much of the evidence, from its beginning, as can be summed exactly: all of it, as a rule.

    The evidence that counts most should stand first. How many are left out is for the caller to tell.
    """
    told = list(evidence.items())
    low, high = 0, len(told)
    if Core(locus, descent, evidence, cells).exact:
        return dict(told)
    while low + 1 < high:
        middle = (low + high) // 2
        if Core(locus, descent, dict(told[:middle]), cells).exact:
            low = middle
        else:
            high = middle
    return dict(told[:low])


class _Trial(Core):
    """A core that is only asked whether it is possible."""

    def _clash(self) -> list[int]:
        return []


def _settled(factor: Factor, known: Mapping[int, int]) -> Factor:
    """Return a factor without the variables whose state is known, and with every other only once.

    A pedigree may name one animal as both parents of another: its row then stands twice.
    """
    at = tuple(known.get(variable, slice(None)) for variable in factor.scope)
    rest = tuple(variable for variable in factor.scope if variable not in known)
    once = tuple(dict.fromkeys(rest))
    table = np.asarray(factor.table[at])
    if len(once) < len(rest):
        letters = "".join(chr(97 + once.index(v)) for v in rest)
        table = np.asarray(np.einsum(f"{letters}->{''.join(dict.fromkeys(letters))}", table))
    return Factor(once, table)
