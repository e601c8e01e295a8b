"""The heritable conditions of a book, and what tests and looks say of each animal."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import Connection, select

from herdbook.husbandry.colour import TRAITS, Trait
from herdbook.husbandry.conditions import STARTING_LIST, Condition, Likelihood, find
from herdbook.store import tables as t
from herdbook.words import say


def load_conditions(conn: Connection) -> tuple[Condition, ...]:
    """Return the conditions of the book: the starting list as the keeper changed it, then what was added."""
    c = t.GeneticCondition
    columns = (c.key, c.name, c.mode, c.harm, c.carriers_show, c.penetrance, c.frequency, c.omia, c.gene)
    query = select(*columns, c.note, c.watched).order_by(c.id)
    mine = {row.key: row for row in conn.execute(query)}
    found = []
    for listed in STARTING_LIST:
        row = mine.pop(listed.key, None)
        found.append(listed if row is None else _changed(listed, row))
    return (*found, *(_changed(Condition(row.key, row.name), row) for row in mine.values()))


def _changed(listed: Condition, row: object) -> Condition:
    """Return a condition of the list as the book has it; how a number is known goes with the number."""
    told = {
        name: getattr(row, name) for name in "name mode carriers_show penetrance frequency watched".split()
    }
    told |= {name: getattr(row, name) or "" for name in "harm omia gene note".split()}
    told["omia_status"] = listed.omia_status if told["omia"] == listed.omia else ""
    told["mode_status"] = listed.mode_status if told["mode"] == listed.mode else ""
    return replace(listed, **told)


@dataclass(frozen=True)
class ConditionRow:
    """A condition with how many results of it the book holds."""

    condition: Condition
    results: int


def condition_rows(conn: Connection, on: date) -> tuple[ConditionRow, ...]:
    """Return every condition of the book, those with results first, then by name."""
    among = load_conditions(conn)
    counted: Counter[str] = Counter()
    for _, word, _told_of in _told(conn, on):
        condition = find(word, among)
        if condition is not None:
            counted[condition.key] += 1
    rows = [ConditionRow(condition, counted[condition.key]) for condition in among]
    return tuple(sorted(rows, key=lambda row: (not row.results, row.condition.name.casefold())))


def condition_choices(conn: Connection) -> tuple[tuple[str, str], ...]:
    """Return what a result may be of, as (key, name): conditions that are watched, then horns and colour."""
    listed = sorted(((c.key, c.name) for c in load_conditions(conn) if c.watched), key=lambda each: each[1])
    return (*listed, *((trait.key, say(trait.label)) for trait in TRAITS))


def condition_words(word: str, among: tuple[Condition, ...] = STARTING_LIST) -> str:
    """Return the name of what a result is of; a word that is in no list stands as it is."""
    condition = find(word, among)
    if condition is not None:
        return condition.name
    trait = trait_of(word)
    return say(trait.label) if trait is not None else word


def trait_of(word: str) -> Trait | None:
    """Return the trait that a result is of."""
    return next((trait for trait in TRAITS if trait.key == word.strip().casefold()), None)


def evidence_of(
    conn: Connection, conditions: tuple[Condition, ...], on: date
) -> dict[str, dict[int, Likelihood]]:
    """Return, for each watched condition with any, what is told of each animal up to a day.

    Several results of one animal are multiplied: two that differ leave no genotype.
    """
    found: dict[str, dict[int, Likelihood]] = defaultdict(dict)
    watched = tuple(condition for condition in conditions if condition.watched)
    named: dict[str, Condition | None] = {}
    for animal, word, told in _told(conn, on):
        if word not in named:
            named[word] = find(word, watched)
        condition = named[word]
        likelihood = condition.likelihood(told) if condition is not None else None
        if condition is not None and likelihood is not None:
            free, one, two = found[condition.key].get(animal, (1.0, 1.0, 1.0))
            found[condition.key][animal] = (
                free * likelihood[0],
                one * likelihood[1],
                two * likelihood[2],
            )
    return dict(found)


def _told(conn: Connection, on: date) -> list[tuple[int, str, str]]:
    g, s = t.GeneticTest, t.ConditionSeen
    tests = conn.execute(select(g.animal_id, g.condition, g.genotype).where(g.day <= on).order_by(g.id))
    looks = conn.execute(select(s.animal_id, s.condition, s.look).where(s.day <= on).order_by(s.id))
    return [(row[0], row[1], row[2]) for query in (tests, looks) for row in query]


def trait_tests(conn: Connection, animals: list[int], on: date) -> Mapping[int, list[tuple[str, str]]]:
    """Return the results of each of these animals for horns and colour, as (trait, result)."""
    g = t.GeneticTest
    keys = [trait.key for trait in TRAITS]
    query = select(g.animal_id, g.condition, g.genotype).where(g.animal_id.in_(animals), g.day <= on)
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for animal, word, result in conn.execute(query.where(g.condition.in_(keys)).order_by(g.day, g.id)):
        found[animal].append((word, result))
    return found
