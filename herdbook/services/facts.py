"""What the book knows of the animals that are here on a day, read once and handed to the calculations.

Happenings after the day are left out, so that any day can be asked about. Memory grows with the animals
present, not with everything the book ever held.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import cache
from itertools import chain
from operator import attrgetter
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, select

from herdbook.husbandry.classes import AnimalClass, class_of
from herdbook.husbandry.culling import Scored
from herdbook.husbandry.gestation import Check, Evidence, Run, Service
from herdbook.services.saying import called
from herdbook.store import tables as t


@dataclass(frozen=True, slots=True)
class Weighed:
    """A weighing: the day, kg, the unit typed, method and stage."""

    day: date
    kg: float
    unit: str
    method: str
    stage: str | None


@dataclass(frozen=True, slots=True)
class Treated:
    """A treatment: last dose, the label's days for meat, None where they are not known, days not to breed."""

    product: str
    last_day: date
    meat_days: float | None
    no_breeding_days: float | None = None


@dataclass(frozen=True, slots=True)
class Calved:
    """A calving with its calves: id, ease and fate of each."""

    day: date
    calves: tuple[tuple[int, int | None, str], ...]


@dataclass(slots=True)
class AnimalFacts:
    """One animal as the calculations need it."""

    id: int
    tag: str
    tag_key: str
    name: str | None
    sex: str | None
    born: date | None
    born_precision: str
    dam: int | None
    breed: str | None
    care: str | None
    do_not_breed: str | None
    freemartin: str | None
    calved_before: bool | None
    fit_for_heifers: bool | None
    capacity: int | None
    here_since: date | None = None
    leaves: date | None = None
    bought: bool = False
    medicines_known: bool = True
    weaned: date | None = None
    castrated: date | None = None
    entire_again: bool = False
    group: tuple[int, str, str] | None = None
    calvings: list[Calved] = field(default_factory=list)
    losses: list[date] = field(default_factory=list)
    services: list[Service] = field(default_factory=list)
    runs: list[Run] = field(default_factory=list)
    planned: list[Run] = field(default_factory=list)
    checks: list[Check] = field(default_factory=list)
    statement: tuple[date, date] | None = None
    check_sire: int | None = None
    weighings: list[Weighed] = field(default_factory=list)
    treatments: list[Treated] = field(default_factory=list)
    scores: list[Scored] = field(default_factory=list)

    @property
    def words(self) -> str:
        """The tag with the name, as lists show it."""
        return called(self.tag, self.name)

    @property
    def has_calved(self) -> bool:
        """Whether she has calved, by the book or by the keeper's word."""
        return bool(self.calvings or self.calved_before)

    @property
    def ended(self) -> tuple[date, str] | None:
        """The last calving or loss, which closes what was before it."""
        ends = [(calved.day, "calving") for calved in self.calvings[-1:]]
        ends += [(day, "loss") for day in self.losses[-1:]]
        return max(ends, default=None)

    @property
    def in_calf(self) -> bool:
        """Whether the last check since the last calving or loss said so."""
        last = self._last_check()
        return last is not None and last.result in ("pregnant", "multiple")

    @property
    def found_open(self) -> date | None:
        """The day of the last check since the last calving or loss, if it found her not in calf."""
        last = self._last_check()
        return last.day if last is not None and last.result == "open" else None

    def _last_check(self) -> Check | None:
        """Return the last check that told something, if nothing has ended what it told of."""
        ended = self.ended
        told = [c for c in self.checks if c.result != "unknown" and (ended is None or c.day > ended[0])]
        return told[-1] if told else None

    def class_on(self, on: date) -> AnimalClass:
        """Return the animal's class on the day that the facts were read for."""
        return class_of(
            self.sex or "F",
            self.born,
            self.born_precision,
            on,
            weaned=self.weaned is not None or self.born is None,
            castrated=self.castrated is not None and not self.entire_again,
            calvings=max(len(self.calvings), int(self.has_calved)),
            in_calf=self.in_calf,
        )

    def evidence(self) -> Evidence:
        """Return what bears on when she calves."""
        ended = self.ended
        return Evidence(
            services=tuple(self.services),
            runs=(*self.runs, *self.planned),
            checks=tuple(self.checks),
            ended=ended[0] if ended else None,
            ended_by=ended[1] if ended else "calving",
            bought_due=self.statement,
        )


class Herd(dict[int, AnimalFacts]):
    """The facts of many animals, by id.

    A large herd is let go of animal by animal: all at once would hold up the window's thread, which cannot
    go on while Python frees one thing.
    """

    def __del__(self) -> None:
        while self:
            self.popitem()


_InRun = tuple[int, date, date | None]

AT_ONCE = 1000
"""Rows fetched at once: one by one takes twice as long, all at once holds them all in memory."""


def here_on(on: date) -> ColumnElement[bool]:
    """Return the condition on `Stay` that the animal is on the herd's own ground on a day.

    The day of leaving no longer counts.
    """
    stay = t.columns(t.Stay)
    here: ColumnElement[bool] = (stay.from_day <= on) & (stay.to_day.is_(None) | (stay.to_day > on))
    return here


def present(on: date) -> Select[Any]:
    """Return the query of the ids of the animals that are here on a day."""
    stay, holding = t.columns(t.Stay), t.columns(t.Holding)
    own = select(holding.id).where(holding.ours)
    return select(stay.animal_id).where(here_on(on), stay.holding_id.in_(own))


def load_herd(
    conn: Connection, on: date, animals: Sequence[int] | None = None, *, measured: bool = True
) -> Herd:
    """Return the facts of the animals present on a day, or of the animals named, by id.

    Without `measured` their weighings and scores stay empty: a list that needs none is there sooner.
    """
    wanted: Any = present(on) if animals is None else list(animals)
    names = "id tag tag_key name sex born born_precision dam_id breed care do_not_breed freemartin"
    a = t.columns(t.Animal)
    columns = [a[name] for name in (*names.split(), "calved_before", "fit_for_heifers", "capacity")]
    query = select(*columns).where(a.id.in_(wanted)).order_by(a.tag_key, a.id)
    herd = Herd((row[0], AnimalFacts(*row)) for row in conn.execute(query))
    for load in (*_LOADERS, _measures) if measured else _LOADERS:
        load(conn, herd, wanted, on)
    return herd


def _each(conn: Connection, table: type[t.Base], names: str, wanted: Any, on: date) -> Iterable[Any]:
    """Return animal id and the named columns of one kind of happening up to a day, in order of days."""
    c = t.columns(table)
    columns = [c.animal_id, *(c[name] for name in names.split())]
    query = select(*columns).where(c.animal_id.in_(wanted), c.day <= on).order_by(c.day, c.id)
    return chain.from_iterable(conn.execute(query).partitions(AT_ONCE))


def _stays(conn: Connection, herd: Herd, wanted: Any, on: date) -> None:
    s = t.columns(t.Stay)
    query = select(s.animal_id, s.from_day, s.to_day).where(s.animal_id.in_(wanted), here_on(on))
    for animal, since, leaves in conn.execute(query):
        herd[animal].here_since, herd[animal].leaves = since, leaves
    for animal, kind, known in _each(conn, t.Arrival, "kind medicines_known", wanted, on):
        herd[animal].bought = herd[animal].bought or kind in ("bought", "found", "other")
        herd[animal].medicines_known = known
    for animal, day in _each(conn, t.Weaning, "day", wanted, on):
        herd[animal].weaned = day
    for animal, day, method in _each(conn, t.Castration, "day method", wanted, on):
        herd[animal].castrated = None if method == "rig" else day
        herd[animal].entire_again = method == "rig"


def _groups(conn: Connection, herd: Herd, wanted: Any, on: date) -> None:
    m, g = t.columns(t.Membership), t.columns(t.Group)
    query = (
        select(m.animal_id, g.id, g.name, g.purpose)
        .where(g.id == m.group_id, m.animal_id.in_(wanted))
        .where(m.from_day <= on, m.to_day.is_(None) | (m.to_day > on))
        .order_by(m.from_day, m.id)
    )
    for animal, group, name, purpose in conn.execute(query):
        herd[animal].group = (group, name, purpose)


def _calvings(conn: Connection, herd: Herd, wanted: Any, on: date) -> None:
    calves: dict[int, list[tuple[int, int | None, str]]] = defaultdict(list)
    calf, calved = t.columns(t.CalvingCalf), t.columns(t.Calving)
    query = (
        select(calf.calving_id, calf.calf_id, calf.ease, calf.fate)
        .where(calved.id == calf.calving_id, calved.animal_id.in_(wanted))
        .order_by(calf.id)
    )
    for calving, key, ease, fate in conn.execute(query):
        calves[calving].append((key, ease, fate))
    for animal, day, calving in _each(conn, t.Calving, "day id", wanted, on):
        herd[animal].calvings.append(Calved(day, tuple(calves[calving])))
    for animal, day in _each(conn, t.Loss, "day", wanted, on):
        herd[animal].losses.append(day)


def _served(conn: Connection, herd: Herd, wanted: Any, on: date) -> None:
    for animal, day, sire, how, age in _each(conn, t.Service, "day sire_id how embryo_days", wanted, on):
        herd[animal].services.append(Service(day=day, sire=sire, kind=how, embryo_age=age))
    for animal, runs in company(conn, wanted).items():
        herd[animal].runs = [run for run in runs if run.first <= on]
        herd[animal].planned = [run for run in runs if run.first > on]
    columns = "day result days method sire_id due_from due_to"
    for animal, day, result, days, method, sire, first, last in _each(
        conn, t.PregnancyCheck, columns, wanted, on
    ):
        facts = herd[animal]
        facts.checks.append(Check(day=day, result=result, days_in_calf=days, method=method))
        facts.check_sire = sire
        if method == "statement" and first is not None:
            facts.statement = (first, last or first)


def runs_of(conn: Connection, females: Any, on: date) -> dict[int, list[Run]]:
    """Return each female's company with bulls that began by a day; see `company`."""
    begun = {
        female: [run for run in runs if run.first <= on] for female, runs in company(conn, females).items()
    }
    return {female: runs for female, runs in begun.items() if runs}


def company(conn: Connection, females: Any) -> dict[int, list[Run]]:
    """Return each female's company with bulls, past, present and planned, in order of its first days.

    A female's days in a run and each bull's days in it are cut to what they share. Bulls with the same days
    stand in one `Run`; a run whose end nobody has set has no last day.
    """
    f, b = t.columns(t.BullRunFemale), t.columns(t.BullRunBull)
    theirs = select(f.run_id).where(f.animal_id.in_(females))
    bulls: dict[int, list[_InRun]] = defaultdict(list)
    query = select(b.run_id, b.animal_id, b.from_day, b.to_day).where(b.run_id.in_(theirs)).order_by(b.id)
    for run, bull, first, last in conn.execute(query):
        bulls[run].append((bull, first, last))

    @cache  # the females of a run have mostly the same days in it
    def shared(run: int, first: date, last: date | None) -> list[Run]:
        return _shared(bulls[run], first, last)

    runs: dict[int, list[Run]] = defaultdict(list)
    query = select(f.animal_id, f.run_id, f.from_day, f.to_day).where(f.animal_id.in_(females))
    rows = conn.execute(query.order_by(f.run_id, f.id)).partitions(AT_ONCE)
    for female, run, first, last in chain.from_iterable(rows):
        runs[female] += shared(run, first, last)
    for each in runs.values():
        each.sort(key=attrgetter("first"))
    return runs


def _shared(bulls: list[_InRun], first: date, last: date | None) -> list[Run]:
    """Return what a female that is in a run from `first` to `last` has of its bulls."""
    together: dict[tuple[date, date], list[int]] = defaultdict(list)
    for bull, from_day, to_day in bulls:
        begins, ends = max(from_day, first), min(to_day or date.max, last or date.max)
        if begins <= ends:
            together[begins, ends].append(bull)
    return [
        Run(sires=tuple(dict.fromkeys(those)), first=begins, last=None if ends == date.max else ends)
        for (begins, ends), those in together.items()
    ]


def _treatments(conn: Connection, herd: Herd, wanted: Any, on: date) -> None:
    columns = "product day last_day meat_days no_breeding_days"
    for animal, product, day, last, days, unbred in _each(conn, t.Treatment, columns, wanted, on):
        herd[animal].treatments.append(Treated(product, max(day, last or day), days, unbred))


def _measures(conn: Connection, herd: Herd, wanted: Any, on: date) -> None:
    for animal, *weighed in _each(conn, t.Weighing, "day kg unit method stage", wanted, on):
        herd[animal].weighings.append(Weighed(*weighed))
    for animal, *score in _each(conn, t.Score, "day kind value scale", wanted, on):
        herd[animal].scores.append(Scored(*score))


_LOADERS: tuple[Callable[[Connection, Herd, Any, date], None], ...] = (
    _stays,
    _groups,
    _calvings,
    _served,
    _treatments,
)
