"""How a bull's calves came: birth weights and how much help, apart for first-calvers and cows.

Beside the keeper's mark "fit for heifers". Only calves of whom no other sire is possible are counted, and of
twins nothing, because they are lighter and lie otherwise. Help is a category: counted, never averaged.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.days import age_months, earliest
from herdbook.services.pedigree import load_pedigree
from herdbook.services.saying import listed
from herdbook.store import tables as t
from herdbook.words import say

FIRST_CALVER, COW, UNKNOWN = "first_calver", "cow", "unknown"
OLDEST_FIRST_MONTHS = 48
"""A first calving in the book counts as her first if she was no older: our choice. An older cow may have
calved before the book knew her."""
_AT_ONCE = 500


@dataclass(frozen=True)
class BirthWeights:
    """Birth weights in kg: how many, mean, least and most, and how many were taken by each method."""

    n: int
    mean: float
    least: float
    most: float
    methods: tuple[tuple[str, int], ...]


@dataclass(frozen=True)
class CalvesFrom:
    """Calves of a bull out of one kind of dam.

    Parameters
    ----------
    born : int
        Single calves, dead or alive.
    dead : int
        Those born dead or lost at birth.
    weights : BirthWeights or None
        None where none was weighed.
    ease : tuple of (int, int)
        How many of each category of help, 1 none to 5 wrong presentation; those without a word left out.
    """

    born: int = 0
    dead: int = 0
    weights: BirthWeights | None = None
    ease: tuple[tuple[int, int], ...] = ()

    @property
    def ease_unknown(self) -> int:
        """Calves of which nobody wrote down how much help they took."""
        return self.born - sum(n for _, n in self.ease)


@dataclass(frozen=True)
class BullCalves:
    """What the book knows of a bull's calves at birth.

    `unknown` are those of dams of whom the book does not know whether they had calved before. `twins` are
    born as one of several, `doubtful` might have another sire too: both are counted in nothing else.
    """

    bull: int
    first_calvers: CalvesFrom = CalvesFrom()
    cows: CalvesFrom = CalvesFrom()
    unknown: CalvesFrom = CalvesFrom()
    twins: int = 0
    doubtful: int = 0


@dataclass(frozen=True)
class _Born:
    """One calf of a calving, with the dam that bore it."""

    calf: int
    ease: int | None
    alive: bool
    single: bool
    dam: str
    weight: tuple[float, str] | None


def calves_of_bulls(conn: Connection, bulls: Sequence[int], on: date) -> dict[int, BullCalves]:
    """Return how each bull's calves came, of calvings up to a day; a bull without any has zeros."""
    pedigree, wanted = load_pedigree(conn), set(bulls)
    certain: dict[int, int] = {}
    doubtful: dict[int, list[int]] = {}
    for calf, sires in pedigree.sires.items():
        his = wanted.intersection(sire.sire for sire in sires)
        if his and pedigree.doubtful(calf):
            doubtful[calf] = list(his)
        elif sires[0].sire in wanted:
            certain[calf] = sires[0].sire
    born: dict[int, list[_Born]] = defaultdict(list)
    open_: Counter[int] = Counter()
    for one in _births(conn, [*certain, *doubtful], on):
        if one.calf in certain:
            born[certain[one.calf]].append(one)
        open_.update(doubtful.get(one.calf, ()))
    return {bull: _of_bull(bull, born[bull], open_[bull]) for bull in bulls}


def _births(conn: Connection, calves: Sequence[int], on: date) -> Iterator[_Born]:
    """Yield the births of these calves up to a day."""
    for start in range(0, len(calves), _AT_ONCE):
        part = calves[start : start + _AT_ONCE]
        rows = _calving_rows(conn, part, on)
        weights = _birth_weights(conn, part, on)
        kinds = _kinds(conn, {row.dam for row in rows}, on)
        litter = Counter(_litter(conn, {row.calving for row in rows}))
        for row in rows:
            kind = kinds[row.dam].get(row.calving, COW)
            alive = row.fate == "alive"
            yield _Born(row.calf, row.ease, alive, litter[row.calving] == 1, kind, weights.get(row.calf))


def _calving_rows(conn: Connection, calves: Sequence[int], on: date) -> Sequence[Any]:
    c, cc = t.columns(t.Calving), t.columns(t.CalvingCalf)
    query = select(
        cc.calf_id.label("calf"),
        cc.ease,
        cc.fate,
        c.id.label("calving"),
        c.animal_id.label("dam"),
    ).where(c.id == cc.calving_id, cc.calf_id.in_(calves), c.day <= on)
    return conn.execute(query.order_by(c.day, cc.id)).all()


def _litter(conn: Connection, calvings: set[int]) -> Sequence[int]:
    """Return the calving of each calf of these calvings."""
    cc = t.columns(t.CalvingCalf)
    return conn.scalars(select(cc.calving_id).where(cc.calving_id.in_(calvings))).all()


def _kinds(conn: Connection, dams: set[int], on: date) -> dict[int, dict[int, str]]:
    """Return by dam the kind that she was at her first calving in the book; at all others she was a cow."""
    a, c = t.columns(t.Animal), t.columns(t.Calving)
    query = select(c.animal_id, c.id, c.day, a.born, a.born_precision, a.calved_before)
    query = query.where(a.id == c.animal_id, c.animal_id.in_(dams), c.day <= on).order_by(c.day, c.id)
    kinds: dict[int, dict[int, str]] = {}
    for dam, calving, day, born, precision, before in conn.execute(query):
        if dam not in kinds:
            kinds[dam] = {calving: COW if before else _first(born, precision, day)}
    return kinds


def _first(born: date | None, precision: str, day: date) -> str:
    """Return what a dam is at the first calving that the book knows, at the oldest that she can be."""
    eldest = earliest(born, precision) if born is not None else None
    if eldest is None or age_months(eldest, day) > OLDEST_FIRST_MONTHS:
        return UNKNOWN
    return FIRST_CALVER


def _birth_weights(conn: Connection, calves: Sequence[int], on: date) -> dict[int, tuple[float, str]]:
    """Return each calf's weight at birth with its method, the first that was written down."""
    w = t.columns(t.Weighing)
    query = select(w.animal_id, w.kg, w.method).where(
        w.animal_id.in_(calves), w.stage == "birth", w.day <= on
    )
    found: dict[int, tuple[float, str]] = {}
    for calf, kg, method in conn.execute(query.order_by(w.day, w.id)):
        found.setdefault(calf, (kg, method))
    return found


def _of_bull(bull: int, born: Sequence[_Born], doubtful: int) -> BullCalves:
    single = [one for one in born if one.single]

    def of(kind: str) -> CalvesFrom:
        return _from([one for one in single if one.dam == kind])

    return BullCalves(bull, of(FIRST_CALVER), of(COW), of(UNKNOWN), len(born) - len(single), doubtful)


def _from(born: Sequence[_Born]) -> CalvesFrom:
    kilos = [one.weight for one in born if one.weight is not None]
    weights = None
    if kilos:
        kg = [weight for weight, _ in kilos]
        methods = Counter(method for _, method in kilos)
        weights = BirthWeights(len(kg), sum(kg) / len(kg), min(kg), max(kg), tuple(methods.most_common()))
    ease = Counter(one.ease for one in born if one.ease is not None)
    return CalvesFrom(len(born), sum(not one.alive for one in born), weights, tuple(sorted(ease.items())))


# -- in words --


def calves_words(calves: CalvesFrom, kg: Callable[[float], str] = "{:.0f} kg".format) -> str:
    """Return in one line how calves came; `kg` writes a weight, so that a book in pounds can be told."""
    if not calves.born:
        return say("none")
    parts = [say("{n} calves", n=calves.born) if calves.born > 1 else say("1 calf")]
    if calves.ease:
        known = [_ease_words(ease, n) for ease, n in calves.ease]
        if calves.ease_unknown:
            known.append(say("not written down: {n}", n=calves.ease_unknown))
        parts.append(listed(known))
    else:
        parts.append(say("help not written down"))
    if calves.dead:
        parts.append(say("{n} dead at birth", n=calves.dead))
    parts.append(_weight_words(calves.weights, kg))
    return "; ".join(parts)


def _ease_words(ease: int, n: int) -> str:
    words = {
        1: say("no help: {n}", n=n),
        2: say("some help: {n}", n=n),
        3: say("hard pull: {n}", n=n),
        4: say("caesarean: {n}", n=n),
        5: say("lay wrong: {n}", n=n),
    }
    return words[ease]


def _weight_words(weights: BirthWeights | None, kg: Callable[[float], str]) -> str:
    if weights is None:
        return say("no birth weights")
    least, most, mean = (kg(each) for each in (weights.least, weights.most, weights.mean))
    guessed = weights.n - dict(weights.methods).get("scale", 0)
    words = say(
        "birth weight {mean} ({least} to {most}, {n} weighed)", mean=mean, least=least, most=most, n=weights.n
    )
    if guessed:
        words += say(", {n} of them by girth or by eye", n=guessed)
    return words
