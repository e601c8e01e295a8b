"""What a sort is asked: the tables and rules, read and checked."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from herdbook.husbandry.transport import Flags, Ints, Reals

UNPLACED = -1
FINE = 44
"""Costs are rounded to whole numbers of at most about 2**44; sums over a hundred bulls fit in 64 bits."""


@dataclass(frozen=True, eq=False)
class Task:
    """What a sort is asked, as `sorting.place` takes it, with the rules as arrays.

    Attributes
    ----------
    cost, figure : ndarray of float, shape (n_females, n_bulls)
    allowed, bar : ndarray of bool, shape (n_females, n_bulls)
    capacity : ndarray of int, shape (n_bulls,)
        The paddock taken into account.
    fixed : mapping of int to int
    fixed_obey : bool
    limit : float or None
    most_bulls : int or None
    least_group : int
    rivals : ndarray of bool, shape (n_bulls, n_bulls)
        Bulls that may not both be used; symmetric.
    first_female, first_bull : ndarray of int
        Rows and columns in order of rank.
    """

    cost: Reals
    figure: Reals
    allowed: Flags
    bar: Flags
    capacity: Ints
    fixed: Mapping[int, int]
    fixed_obey: bool
    limit: float | None
    most_bulls: int | None
    least_group: int
    rivals: Flags
    first_female: Ints
    first_bull: Ints

    @property
    def under(self) -> Flags:
        """Pairs that are not above the limit."""
        return np.asarray(self.figure <= (np.inf if self.limit is None else self.limit))

    @property
    def open_pair(self) -> Flags:
        """Pairs that the rules and the limit let be made."""
        return self.allowed & ~self.bar & self.under

    @property
    def free(self) -> Ints:
        """Rows of the females that are not placed by hand, in order of rank."""
        return np.array([row for row in self.first_female if row not in self.fixed], dtype=np.int64)

    @property
    def taken(self) -> Ints:
        """How many females each bull has by hand."""
        bulls = np.array(list(self.fixed.values()), dtype=np.int64)
        return np.bincount(bulls, minlength=self.cost.shape[1]).astype(np.int64)


def read_task(
    cost: npt.ArrayLike,
    allowed: npt.ArrayLike,
    capacity: npt.ArrayLike,
    fixed: Mapping[int, int] | None = None,
    fixed_obey: bool = False,
    limit: float | None = None,
    figure: npt.ArrayLike | None = None,
    heifer_bar: npt.ArrayLike | None = None,
    paddock: npt.ArrayLike | None = None,
    most_bulls: int | None = None,
    least_group: int = 0,
    not_both: Iterable[tuple[int, int]] = (),
    female_rank: npt.ArrayLike | None = None,
    bull_rank: npt.ArrayLike | None = None,
) -> Task:
    """Return the inputs as arrays, refusing (`ValueError`) what does not fit together."""
    prices = np.asarray(cost, dtype=np.float64)
    if prices.ndim != 2:
        raise ValueError("The costs must be a table of females by bulls.")
    if not np.all(np.isfinite(prices)) or np.any(prices < 0):
        raise ValueError("Every cost must be a number that is not below 0.")
    may = np.asarray(allowed)
    bar = np.zeros(prices.shape, dtype=bool) if heifer_bar is None else np.asarray(heifer_bar)
    held = prices if figure is None else np.asarray(figure, dtype=np.float64)
    if not may.shape == bar.shape == held.shape == prices.shape:
        raise ValueError("The tables of allowed and barred pairs must have the shape of the costs.")
    if not np.all(np.isfinite(held)):
        raise ValueError("Every figure must be a number.")
    places = _places(capacity, prices.shape[1])
    if paddock is not None:
        places = np.minimum(places, _places(paddock, prices.shape[1]))
    if least_group < 0 or (most_bulls is not None and most_bulls < 0):
        raise ValueError("The number of bulls and the least group are whole numbers that are not below 0.")
    choices = dict(fixed or {})
    for female, bull in choices.items():
        if not (0 <= female < prices.shape[0] and 0 <= bull < prices.shape[1]):
            raise ValueError("A hand-made choice names a female or bull that is not in the sort.")
    return Task(
        prices,
        held,
        may.astype(bool),
        bar.astype(bool),
        places,
        choices,
        fixed_obey,
        limit,
        most_bulls,
        least_group,
        _rivals(not_both, prices.shape[1]),
        _ranked(female_rank, prices.shape[0], "females"),
        _ranked(bull_rank, prices.shape[1], "bulls"),
    )


def whole_numbers(cost: Reals, fine: int = FINE) -> tuple[Ints, int]:
    """Return the costs as whole numbers of at most about ``2**fine``, and of which power of two these are.

    Inbreeding, a sum of powers of one half, is not changed by this.
    """
    largest = float(cost.max(initial=0.0))
    power = fine - math.frexp(largest)[1] if largest else 0
    return np.rint(np.ldexp(cost, power)).astype(np.int64), power


def _places(given: npt.ArrayLike, count: int) -> Ints:
    places = np.asarray(given)
    if places.shape != (count,):
        raise ValueError("There must be one capacity for each bull.")
    if len(places) and (places.dtype.kind not in "iu" or places.min() < 0):
        raise ValueError("A capacity is a whole number that is not below 0.")
    return places.astype(np.int64)


def _rivals(pairs: Iterable[tuple[int, int]], count: int) -> Flags:
    rivals = np.zeros((count, count), dtype=bool)
    for one, other in pairs:
        if not (0 <= one < count and 0 <= other < count) or one == other:
            raise ValueError("A pair of bulls that may not both be used names two bulls of the sort.")
        rivals[one, other] = rivals[other, one] = True
    return rivals


def _ranked(rank: npt.ArrayLike | None, count: int, what: str) -> Ints:
    """Return the rows in order of rank."""
    if rank is None:
        return np.arange(count)
    given = np.asarray(rank)
    if given.shape != (count,) or len(np.unique(given)) != count:
        raise ValueError(f"The order of the {what} must give each its own number.")
    return np.argsort(given)
