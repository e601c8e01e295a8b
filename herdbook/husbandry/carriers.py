"""Chances of carriers, and of affected, carrier and clear calves, from tests and from affected or normal kin.

One gene with two alleles; copies of the one that counts are 0 (clear), 1 (carrier) or 2 (affected).

Only two alleles meet in a calf, so what a mating can give needs no more than pairs: with ``x`` the share of
an animal's two alleles that count (0, 1/2 or 1), a calf of `d` and `s` is affected with the chance
``E[x_d x_s]``, and is a carrier with ``E[x_d] + E[x_s] - 2 E[x_d x_s]``, given all the evidence. Among the
animals with evidence and their ancestors these means come from exact sums over genotypes (`Core`). All
others receive their alleles from them, or from founders, by Mendel's rules alone, and their means of pairs
follow as kinship does: the matrix of ``E[(x_i - q)(x_j - q)]`` is ``T B T'``, where `T` hands alleles down
and `B` holds the core's block and the Mendelian sampling of the others. Without evidence it is q (1 - q)
times the coancestry, which gives the known ``q^2 + F q (1 - q)`` (Wright 1922; Falconer & Mackay; from
memory). The derivation is our own; the tests hold it to the sum over every genotype of every animal.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.elimination import CELLS, Reals
from herdbook.husbandry.inheritance import Core, Descent, two_alleles

_CELLS_AT_ONCE = 4_000_000
_MOST_BOUNDED = 30
"""Animals of an entangled core for which bounds are summed; for more, only what is possible at all counts."""
_SHARE = np.array([0.0, 0.5, 1.0])


@dataclass(frozen=True)
class CalfChances:
    """What calves each mating can give: arrays of shape (dams, sires).

    Parameters
    ----------
    affected, carrier, clear : ndarray of float
        Chances of two copies, one and none; they add up to 1. Where the sums could not be made exactly,
        `affected` and `carrier` are the most that they can be and `clear` is the least.
    least : ndarray of float
        The least that the chance of two copies can be; `affected` itself where the sums are exact.
    exact : bool
    """

    affected: Reals
    carrier: Reals
    clear: Reals
    least: Reals
    exact: bool


class Carriers:
    """Chances of one gene in a pedigree.

    Parameters
    ----------
    descent : Descent
        Who descends from whom; doubtful sires enter with their chances.
    q : float
        Frequency of the allele that counts, in founders and unknown parents.
    evidence : mapping of int to array_like, shape (3,)
        By row: how likely what was seen of the animal is with no copy, one and two.
    asked : sequence of int
        Rows that will be asked about, as animals or as parents.
    cells : int
        Exact sums stop at tables of this size; bounds are given beyond.

    Raises
    ------
    Contradiction
        When no genotypes agree with the evidence.

    Notes
    -----
    Doubtful sires are taken to be doubtful each by itself. An animal that is alive is not taken to be free
    of two copies of a lethal allele unless the evidence says so: the chance of an affected calf is then a
    little too high, never too low.
    """

    def __init__(
        self,
        descent: Descent,
        q: float,
        evidence: Mapping[int, npt.ArrayLike],
        asked: Sequence[int],
        cells: int = CELLS,
    ) -> None:
        self.descent, self.q = descent, q
        self.core = Core(two_alleles(q), descent, evidence, cells)
        self.exact = self.core.exact
        self._below = descent.above(asked, stop=self.core.place)
        entries = {row for row in asked if row in self.core.place}
        for row in self._below:
            entries.update(parent for parent in descent.parents(row) if parent in self.core.place)
        self._entries = sorted(entries)
        self._place = {row: at for at, row in enumerate([*self._entries, *self._below])}
        self._least, self._most = self._shares()
        if self.exact:
            self._links, self._levels = self._generations()
            self._block = self._core_block()
            self._sampling = np.zeros(len(self._place))
            self._square = np.concatenate([np.diag(self._block), np.zeros(len(self._below))])
            self._settled = set(self._entries)

    def copies(self, rows: Sequence[int]) -> Reals:
        """Return the chances of no copy, one and two for animals that were asked about.

        Returns
        -------
        ndarray of float, shape (len(rows), 3)
            Exact, or not a number where that is not possible: `copies_between` says what is known then.
        """
        low, high = self.copies_between(rows)
        return low if self.exact else np.where(np.abs(high - low) < 1e-12, low, np.nan)

    def copies_between(self, rows: Sequence[int]) -> tuple[Reals, Reals]:
        """Return the least and the most of each chance; the same twice where they are exact."""
        low, high = np.zeros((len(rows), 3)), np.ones((len(rows), 3))
        if self.exact:
            self._settle(rows)
        for at, row in enumerate(rows):
            if row in self.core.place:
                low[at], high[at] = self.core.between(row)
            elif self.exact:
                place = self._place[row]
                mean = self._most[place]
                # E[x^2] is m / 2 + P(two copies) / 2.
                two = 2 * (self._square[place] + 2 * self.q * mean - self.q**2) - mean
                low[at] = high[at] = 1 - 2 * mean + two, 2 * (mean - two), two
            else:
                mean_low, mean_high = self._least[self._place[row]], self._most[self._place[row]]
                low[at] = max(0.0, 1 - 2 * mean_high), 0.0, max(0.0, 2 * mean_low - 1)
                high[at] = 1 - mean_low, min(1.0, 2 * mean_high, 2 - 2 * mean_low), mean_high
        return low, high

    def calves(self, dams: Sequence[int], sires: Sequence[int]) -> CalfChances:
        """Return the chances of the calves of every dam by every sire; all must have been asked about."""
        d, s = [self._place[row] for row in dams], [self._place[row] for row in sires]
        if not self.exact:
            return self._calves_between(d, s, [*dams], [*sires])
        self._settle(sires)
        mean_d, mean_s = self._most[d][:, np.newaxis], self._most[s][np.newaxis]
        together = np.zeros((len(d), len(s)))
        step = max(1, _CELLS_AT_ONCE // max(1, len(self._place)))
        for start in range(0, len(s), step):
            ends = s[start : start + step]
            asked = np.zeros((len(self._place), len(ends)))
            asked[ends, np.arange(len(ends))] = 1.0
            together[:, start : start + step] = self._walk(asked, len(self._levels))[d]
        affected = np.clip(together + self.q * (mean_d + mean_s) - self.q**2, 0.0, None)
        affected = np.where(affected < 1e-15, 0.0, affected)  # what rounding leaves of nothing
        carrier = np.clip(mean_d + mean_s - 2 * affected, 0.0, None)
        clear = np.clip(1 - mean_d - mean_s + affected, 0.0, None)
        return CalfChances(affected, carrier, clear, affected, True)

    def _calves_between(self, d: list[int], s: list[int], dams: list[int], sires: list[int]) -> CalfChances:
        """Return bounds: of two events whose single chances are known, and with a known parent exactly."""
        low_d, high_d = self._least[d][:, np.newaxis], self._most[d][:, np.newaxis]
        low_s, high_s = self._least[s][np.newaxis], self._most[s][np.newaxis]
        settled = np.array([row in self.core.known for row in dams])[:, np.newaxis]
        settled = settled | np.array([row in self.core.known for row in sires])[np.newaxis]
        least = np.where(settled, low_d * low_s, np.maximum(0.0, low_d + low_s - 1))
        most = np.where(settled, high_d * high_s, np.minimum(high_d, high_s))
        carrier = np.clip(high_d + high_s - 2 * least, 0.0, 1.0)
        clear = np.clip(1 - high_d - high_s + least, 0.0, 1.0)
        return CalfChances(most, carrier, clear, least, False)

    # -- means of single animals ---

    def _shares(self) -> tuple[Reals, Reals]:
        """Return the least and the most of E[x] of every animal that has a place."""
        least, most = np.zeros(len(self._place)), np.zeros(len(self._place))
        for at, row in enumerate(self._entries):
            low, high = self.core.between(row, rough=len(self._entries) > _MOST_BOUNDED)
            # E[x] is half of 1 - P(no copy) + P(two copies).
            least[at] = 0.5 * (1 - high[0] + low[2])
            most[at] = 0.5 * (1 - low[0] + high[2])
        for row in self._below:
            parents = self._weights(row)
            unknown = self.q * (1 - sum(weight for _, weight in parents))
            at = self._place[row]
            least[at] = unknown + sum(weight * least[self._place[p]] for p, weight in parents)
            most[at] = unknown + sum(weight * most[self._place[p]] for p, weight in parents)
        return least, most

    def _weights(self, row: int) -> list[tuple[int, float]]:
        """Return the parents with the share of the animal's alleles that comes from each."""
        weights = [(sire, 0.5 * chance) for sire, chance in self.descent.sires(row)]
        dam = self.descent.mother(row)
        return [*weights, (dam, 0.5)] if dam >= 0 else weights

    # -- means of pairs ---

    def _generations(self) -> tuple[Any, list[npt.NDArray[np.int64]]]:
        """Return who hands what to whom, and the animals below the core in generations."""
        from scipy.sparse import csr_array

        size = len(self._place)
        depth = np.zeros(size, dtype=np.int64)
        rows, columns, values = [], [], []
        for row in self._below:
            at = self._place[row]
            for parent, weight in self._weights(row):
                from_ = self._place[parent]
                depth[at] = max(depth[at], depth[from_] + 1)
                rows.append(at)
                columns.append(from_)
                values.append(weight)
        links = csr_array((values, (rows, columns)), shape=(size, size))
        depth[: len(self._entries)] = -1
        levels = [np.flatnonzero(depth == level) for level in range(int(depth.max(initial=-1)) + 1)]
        return links, levels

    def _core_block(self) -> Reals:
        """Return E[(x_a - q)(x_b - q)] of the core's animals that hand on, or are asked about."""
        size = len(self._entries)
        means = self._most[:size]
        block = np.zeros((size, size))
        for at, row in enumerate(self._entries):
            own = self.core.genotypes(row)
            states = [state for state in (1, 2) if own[state] > 0]
            if not states:
                continue
            if row in self.core.known:
                block[at] = _SHARE[self.core.known[row]] * means
                block[at, at] = _SHARE[self.core.known[row]] ** 2
                continue
            others = self.core.given(row, states, self._entries) @ _SHARE
            block[at] = (own[states] * _SHARE[states]) @ others
        q = self.q
        block = 0.5 * (block + block.T)
        return np.asarray(block - q * means[:, np.newaxis] - q * means[np.newaxis] + q * q)

    def _settle(self, rows: Sequence[int]) -> None:
        """Work out the Mendelian sampling, and E[(x - q)^2], of these animals and all above them."""
        q, size = self.q, len(self._place)
        new = self.descent.above((row for row in rows if row not in self._settled), stop=self._settled)
        new_places = np.array([self._place[row] for row in new if row not in self.core.place], dtype=np.int64)
        row_of = {self._place[row]: row for row in new}
        for level, members in enumerate(self._levels):
            members = np.intersect1d(members, new_places, assume_unique=True)
            step = max(1, _CELLS_AT_ONCE // size)
            for start in range(0, len(members), step):
                places = members[start : start + step]
                drawn = self._links[places]
                met = self._walk(drawn.T.toarray(), level)
                mean_square = np.asarray(drawn.multiply(met.T).sum(axis=1)).ravel()
                for column, at in enumerate(places.tolist()):
                    dam, mean = self.descent.mother(row_of[at]), self._most[at]
                    # E[(x_s - q)(x_d - q)] of the parents, sires weighted; none where one is unknown.
                    pair = (
                        2 * met[self._place[dam], column] - self._square[self._place[dam]]
                        if dam >= 0
                        else 0.0
                    )
                    self._square[at] = 0.5 * (mean + pair) - q * mean + 0.5 * q * q
                    self._sampling[at] = self._square[at] - mean_square[column]
        self._settled |= set(new)

    def _walk(self, asked: Reals, generations: int) -> Reals:
        """Return ``T B T' asked`` down to so many generations below the core; `asked` is used up."""
        size = len(self._entries)
        for rows in reversed(self._levels[:generations]):
            asked += self._links[rows].T @ asked[rows]
        asked[:size] = self._block @ asked[:size]
        asked[size:] *= self._sampling[size:, np.newaxis]
        for rows in self._levels[:generations]:
            asked[rows] += self._links[rows] @ asked
        return asked
