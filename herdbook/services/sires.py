"""Whose calf each animal is: the possible sires with their chances, worked out anew each time, never stored.

A sire stands by DNA, else by the keeper's word, else by dates: the chances of the bulls that the dam was
served by or ran with.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry import duedates
from herdbook.husbandry.gestation import Service
from herdbook.services.breeds import days_for
from herdbook.services.facts import runs_of
from herdbook.services.settings import load_settings
from herdbook.store import tables as t

GESTATION_SD = duedates.GESTATION_SD
# No service outside these days before a birth can have led to it; 255-305 days span an open data set of
# 24,732 AI-dated calvings, and a margin is left on both sides.
EARLIEST_BIRTH, LATEST_BIRTH = 240, 330
LISTED_FROM = 0.001
"""Sires less likely than this are not told of."""
HELD_FROM = 0.01
"""Sires less likely than this are told of and not held against a mating.

Our choice: the law of conception is no truer than that.
"""


@dataclass(frozen=True)
class SireChance:
    """A possible sire with its chance and what it rests on: dna, word, dates or together."""

    sire: int
    chance: float
    basis: str


def sires_of(conn: Connection, animal: int) -> tuple[SireChance, ...]:
    """Return the possible sires of one animal, likeliest first."""
    return sires_of_each(conn, [animal]).get(animal, ())


def sires_of_each(conn: Connection, animals: Sequence[int]) -> dict[int, tuple[SireChance, ...]]:
    """Return the possible sires of each of these animals that has any, likeliest first."""
    a = t.Animal
    query = select(a.id, a.dam_id, a.birth_dam_id, a.born, a.born_precision).where(a.id.in_(animals))
    return possible_sires(conn, conn.execute(query).all(), only=animals)


def possible_sires(
    conn: Connection, rows: Sequence[Any], only: Sequence[int] | None = None
) -> dict[int, tuple[SireChance, ...]]:
    """Return the possible sires of the animals in `rows`: id, dam, birth dam, born, its precision, ...

    `only` names the animals where they are few.
    """
    said, excluded = _evidence(conn, only)
    unsaid = [
        (animal, birth_dam or dam, born)
        for animal, dam, birth_dam, born, precision in rows
        if animal not in said and (birth_dam or dam) and born and precision == "day"
    ]
    return said | _by_dates(conn, unsaid, excluded)


def _evidence(
    conn: Connection, only: Sequence[int] | None
) -> tuple[dict[int, tuple[SireChance, ...]], dict[int, set[int]]]:
    """Return the sires that are said or proven, and those that are excluded, by animal."""
    e = t.ParentEvidence
    query = select(e.animal_id, e.candidate_id, e.kind).where(e.role == "sire").order_by(e.id)
    if only is not None:
        query = query.where(e.animal_id.in_(only))
    named: dict[int, dict[str, list[int]]] = defaultdict(lambda: defaultdict(list))
    for animal, candidate, kind in conn.execute(query):
        named[animal][kind].append(candidate)
    said: dict[int, tuple[SireChance, ...]] = {}
    excluded: dict[int, set[int]] = {}
    for animal, kinds in named.items():
        excluded[animal] = set(kinds["excluded"])
        for kind in ("dna", "word"):
            left = [c for c in dict.fromkeys(kinds[kind]) if c not in excluded[animal]]
            if left and animal not in said:
                # A later word replaces an earlier one; so does a later DNA test.
                said[animal] = (SireChance(left[-1], 1.0, kind),)
    return said, excluded


def _by_dates(
    conn: Connection, unsaid: list[tuple[int, int, date]], excluded: dict[int, set[int]]
) -> dict[int, tuple[SireChance, ...]]:
    """Return the chances by dates of the sires that nobody named."""
    if not unsaid:
        return {}
    from herdbook.husbandry.paternity import Ran, Served, sire_chances

    females: Any = {dam for _, dam, _ in unsaid} if len(unsaid) < 500 else select(t.Animal.id)
    runs = runs_of(conn, females, max(born for _, _, born in unsaid))
    services = _services(conn, females)
    sires = {s.sire for each in services.values() for s in each}
    sires |= {bull for each in runs.values() for run in each for bull in run.sires}
    settings = load_settings(conn)
    days = _gestations(conn, females, sires, settings.gestation_days)
    found: dict[int, tuple[SireChance, ...]] = {}
    for animal, dam, born in unsaid:
        first, last = born - timedelta(days=LATEST_BIRTH), born - timedelta(days=EARLIEST_BIRTH)
        out = excluded.get(animal, set())
        candidates: list[Served | Ran] = [
            Served(s.sire, s.conceived, s.kind)
            for s in services.get(dam, ())
            if s.sire not in out and first <= s.conceived <= last
        ]
        for run in runs.get(dam, ()):
            bulls = tuple(bull for bull in run.sires if bull not in out)
            ended = run.last or born
            if bulls and run.first <= last and ended >= first:
                candidates.append(Ran(bulls, max(run.first, first), min(ended, last)))
        if candidates:
            possible = {sire for c in candidates for sire in (c.sires if isinstance(c, Ran) else (c.sire,))}
            means = {sire: days(dam, sire) for sire in possible}
            found[animal] = _chances(
                sire_chances(born, candidates, means, GESTATION_SD, settings.settled_share)
            )
    return {animal: chances for animal, chances in found.items() if chances}


def _gestations(
    conn: Connection, dams: Any, sires: Iterable[Hashable], own: int | None
) -> Callable[[int, Hashable], int]:
    """Return what tells the gestation in days of a dam's calf by a sire: the book's own, else by breeds."""
    a = t.Animal
    query = select(a.id, a.breed).where(a.breed.is_not(None), a.id.in_(dams) | a.id.in_(sires))
    breed: dict[Hashable, str | None] = (
        {} if own is not None else {row[0]: row[1] for row in conn.execute(query)}
    )
    return lambda dam, sire: days_for(breed.get(dam), breed.get(sire), own)


def _chances(told: Iterable[Any]) -> tuple[SireChance, ...]:
    """Leave out what rounds to no chance; the rest are scaled to one."""
    likely = [c for c in told if c.chance >= LISTED_FROM]
    whole = sum(c.chance for c in likely)
    ranked = sorted(likely, key=lambda c: -c.chance)
    return tuple(SireChance(c.sire, c.chance / whole, c.basis) for c in ranked)


def _services(conn: Connection, females: Any) -> dict[int, list[Service]]:
    s = t.Service
    served: dict[int, list[Service]] = defaultdict(list)
    query = select(s.animal_id, s.day, s.sire_id, s.how, s.embryo_days).where(s.animal_id.in_(females))
    for female, day, sire, how, age in conn.execute(query.where(s.sire_id.is_not(None)).order_by(s.day)):
        served[female].append(Service(day, sire, how, age))
    return served
