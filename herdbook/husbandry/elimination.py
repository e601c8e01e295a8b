"""Exact sums over many unknowns that hang together a few at a time: variable elimination on tables.

A product of tables, each over a few variables, is summed over all variables without ever forming the whole:
one variable after the other is multiplied out of the tables that hold it and summed away. The method is that
of peeling a pedigree (Elston & Stewart 1971, Hum. Hered. 21:523-542; Cannings, Thompson & Skolnick 1978,
Adv. Appl. Probab. 10:26-61); loops need no cutting, since elimination ties them itself. A second walk back
gives the chances of every variable at once (Lauritzen & Spiegelhalter 1988, J. R. Stat. Soc. B 50:157-224).
Where a table would grow beyond all measure, the sums are held between two bounds (Dechter & Rish 2003, J.
ACM 50:107-153). From memory: all four.
"""

from __future__ import annotations

import heapq
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

Reals = npt.NDArray[np.float64]
Scope = tuple[int, ...]

CELLS = 3**13
"""The largest table that is formed: 1.6 million numbers, 13 MB."""
_CELLS_AT_ONCE = 4_000_000
_BOUND_CELLS = 3**5


class Impossible(ValueError):
    """The tables contradict one another: no state of the variables is left."""


@dataclass(frozen=True)
class Factor:
    """A table of numbers, none negative, with one axis for each variable of `scope`."""

    scope: Scope
    table: Reals


class Elimination:
    """The order in which the variables go, and the sums that follow it.

    Parameters
    ----------
    sizes : sequence of int
        Number of states of each variable.
    factors : sequence of Factor
        Variables that stand in none are no part of the sum.
    """

    def __init__(self, sizes: Sequence[int], factors: Sequence[Factor]) -> None:
        self.sizes = tuple(sizes)
        self.factors = [factor for factor in factors if factor.scope]
        self._constant = math.prod(float(f.table) for f in factors if not f.scope)
        if self._constant <= 0:
            raise Impossible
        near: dict[int, set[int]] = {}
        for factor in self.factors:
            for variable in factor.scope:
                near.setdefault(variable, set()).update(factor.scope)
        plans = [_plan(near, self.sizes, cost) for cost in (_by_size, _by_fill)]
        plan = min(plans, key=lambda one: self._cells(one))
        self.order = [variable for variable, _ in plan]
        place = {variable: at for at, variable in enumerate(self.order)}
        self._scope: dict[int, Scope] = {
            variable: (variable, *sorted(around, key=place.__getitem__)) for variable, around in plan
        }
        self._own: dict[int, list[Factor]] = {variable: [] for variable in self.order}
        for factor in self.factors:
            self._own[min(factor.scope, key=place.__getitem__)].append(factor)

    def _cells(self, plan: Iterable[tuple[int, frozenset[int]]]) -> int:
        return sum(math.prod(self.sizes[v] for v in (variable, *around)) for variable, around in plan)

    @property
    def cells(self) -> int:
        """Numbers held in all tables together."""
        return self._cells((variable, frozenset(scope[1:])) for variable, scope in self._scope.items())

    @property
    def widest(self) -> int:
        """Numbers in the largest table that exact sums would form."""
        return max((math.prod(self.sizes[v] for v in scope) for scope in self._scope.values()), default=1)

    def chances(self, given: Mapping[int, Reals] | None = None) -> dict[int, Reals]:
        """Return the chances of the states of every variable, exactly.

        Parameters
        ----------
        given : mapping of variable to ndarray, shape (batch, states)
            Weights of its states, asked for many times at once; all of the same batch.

        Returns
        -------
        dict of variable to ndarray, shape (batch or 1, states)
            Rows that add up to 1.

        Raises
        ------
        Impossible
            If no state is left.
        """
        given = given or {}
        batch = max((len(rows) for rows in given.values()), default=1)
        step = max(1, _CELLS_AT_ONCE // max(1, self.cells))
        parts = [
            self._two_walks({v: rows[start : start + step] for v, rows in given.items()})
            for start in range(0, batch, step)
        ]
        if len(parts) == 1:
            return parts[0]
        # A variable that the given ones do not reach has one row in each part: it is wanted for all.
        sizes = [min(step, batch - start) for start in range(0, batch, step)]
        return {
            v: np.concatenate(
                [np.broadcast_to(p[v], (n, p[v].shape[1])) for p, n in zip(parts, sizes, strict=True)]
            )
            for v in self.order
        }

    def _two_walks(self, given: Mapping[int, Reals]) -> dict[int, Reals]:
        held: dict[int, Reals] = {}
        sent: dict[int, Reals] = {}
        inbox: dict[int, list[tuple[Scope, Reals]]] = {variable: [] for variable in self.order}
        for variable in self.order:
            scope = self._scope[variable]
            table = np.ones((1,) * (len(scope) + 1))
            for factor in self._own[variable]:
                table = table * _spread(factor.table[np.newaxis], factor.scope, scope)
            for message_scope, message in inbox.pop(variable):
                table = table * _spread(message, message_scope, scope)
            if variable in given:
                table = table * _spread(given[variable], (variable,), scope)
            table = np.broadcast_to(table, (len(table), *(self.sizes[v] for v in scope)))
            message = _scaled(table.sum(axis=1))[0]
            held[variable], sent[variable] = table, message
            if len(scope) > 1:
                inbox[scope[1]].append((scope[1:], message))
        chances: dict[int, Reals] = {}
        for variable in reversed(self.order):
            scope = self._scope[variable]
            if len(scope) > 1:
                # The parent's table holds all that the rest knows of the variables that this one shares.
                outside, outer = held[scope[1]], self._scope[scope[1]]
                gone = tuple(1 + at for at, v in enumerate(outer) if v not in scope)
                rest = _spread(outside.sum(axis=gone), tuple(v for v in outer if v in scope), scope)
                mine = sent[variable][:, np.newaxis]
                held[variable] = held[variable] * np.divide(
                    rest, mine, out=np.zeros(np.broadcast_shapes(rest.shape, mine.shape)), where=mine > 0
                )
            alone = held[variable].sum(axis=tuple(range(2, 1 + len(scope))))
            chances[variable] = alone / alone.sum(axis=1, keepdims=True)
        return chances

    def bounds(self, given: Mapping[int, Reals], cells: int = _BOUND_CELLS) -> tuple[Reals, Reals]:
        """Return numbers between which the whole sum lies, on a scale of its own that both share.

        Where a variable's tables are too wide to be multiplied, they are taken in parts: one is summed over
        the variable, and the others stand in at their largest, or at their least.

        Parameters
        ----------
        given : mapping of variable to ndarray, shape (batch, states)
        cells : int
            The largest table that is formed, without the batch.

        Returns
        -------
        least, most : ndarray of float, shape (batch,)
            Divided by the greatest of `most`.
        """
        most = self._bound(given, cells, np.max)
        least = self._bound(given, cells, np.min)
        top = float(most.max(initial=-np.inf))
        if top == -np.inf:
            raise Impossible
        return np.exp(least - top), np.exp(most - top)

    def _bound(self, given: Mapping[int, Reals], cells: int, stand_in: Callable[..., Reals]) -> Reals:
        tables = [(f.scope, f.table[np.newaxis]) for f in self.factors]
        tables += [((variable,), rows) for variable, rows in given.items()]
        logs = np.zeros(max((len(rows) for rows in given.values()), default=1))
        for variable in self.order:
            mine = [one for one in tables if variable in one[0]]
            tables = [one for one in tables if variable not in one[0]]
            for at, (scope, table) in enumerate(self._parts(mine, cells)):
                axis = 1 + scope.index(variable)
                left = table.sum(axis=axis) if at == 0 else stand_in(table, axis=axis)
                left, scale = _scaled(left, strict=False)
                logs = logs + scale
                rest = tuple(v for v in scope if v != variable)
                if rest:
                    tables.append((rest, left))
        return logs

    def _parts(self, tables: Sequence[tuple[Scope, Reals]], cells: int) -> list[tuple[Scope, Reals]]:
        """Multiply tables together as far as `cells` allows, the widest first."""
        parts: list[tuple[Scope, Reals]] = []
        for scope, table in sorted(tables, key=lambda one: -len(one[0])):
            for at, (held, product) in enumerate(parts):
                union = tuple(dict.fromkeys(held + scope))
                if math.prod(self.sizes[v] for v in union) <= cells:
                    parts[at] = (union, _spread(product, held, union) * _spread(table, scope, union))
                    break
            else:
                parts.append((scope, table))
        return parts


def _by_size(variable: int, near: Mapping[int, set[int]], sizes: Sequence[int]) -> float:
    return math.prod(sizes[v] for v in near[variable])


def _by_fill(variable: int, near: Mapping[int, set[int]], sizes: Sequence[int]) -> float:
    """Count the pairs that eliminating `variable` would tie anew; small tables first among equals."""
    around = near[variable] - {variable}
    new = sum(len(around - near[v]) for v in around) / 2
    return new + 1e-9 * _by_size(variable, near, sizes)


def _plan(
    links: Mapping[int, set[int]],
    sizes: Sequence[int],
    cost: Callable[[int, Mapping[int, set[int]], Sequence[int]], float],
) -> list[tuple[int, frozenset[int]]]:
    """Return the variables in the order of least `cost` at each step, each with its neighbours then."""
    near = {variable: set(around) for variable, around in links.items()}
    heap = [(cost(variable, near, sizes), variable) for variable in near]
    heapq.heapify(heap)
    plan = []
    while heap:
        asked, variable = heapq.heappop(heap)
        if variable not in near:
            continue
        now = cost(variable, near, sizes)
        if now > asked:
            heapq.heappush(heap, (now, variable))
            continue
        around = near.pop(variable) - {variable}
        for other in around:
            near[other] |= around
            near[other].discard(variable)
        for other in around:
            heapq.heappush(heap, (cost(other, near, sizes), other))
        plan.append((variable, frozenset(around)))
    return plan


def _spread(table: Reals, scope: Scope, wide: Scope) -> Reals:
    """Return a table with one axis for each variable of `wide` behind the batch's, 1 long where absent."""
    order = sorted(range(len(scope)), key=lambda at: wide.index(scope[at]))
    turned = table.transpose(0, *(1 + at for at in order))
    lengths = {scope[at]: table.shape[1 + at] for at in range(len(scope))}
    return turned.reshape(len(table), *(lengths.get(variable, 1) for variable in wide))


def _scaled(table: Reals, *, strict: bool = True) -> tuple[Reals, Reals]:
    """Divide each of the batch by its largest number, to keep long products in range; return the logs."""
    largest = table.max(axis=tuple(range(1, table.ndim))) if table.ndim > 1 else table
    if strict and not (largest > 0).all():
        raise Impossible
    safe = np.where(largest > 0, largest, 1.0)
    logs = np.where(largest > 0, np.log(safe), -np.inf)
    return table / safe.reshape(-1, *(1,) * (table.ndim - 1)), logs
