"""Short lists: groups, females and males to choose from, and sires in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, func, or_, select

from herdbook.services.facts import present
from herdbook.services.pedigree import SireChance
from herdbook.services.saying import called
from herdbook.store import tables as t
from herdbook.words import say


@dataclass(frozen=True)
class Choice:
    """An animal to choose: here or only known as a parent."""

    id: int
    tag: str
    name: str | None
    here: bool

    @property
    def words(self) -> str:
        """The tag with the name."""
        return called(self.tag, self.name)


@dataclass(frozen=True)
class GroupRow:
    """A group with how many animals are in it on the day."""

    id: int
    name: str
    purpose: str
    animals: int


@dataclass(frozen=True)
class Sire:
    """A possible sire by tag, his chance and what it rests on (dna, word, dates, together)."""

    id: int
    tag: str
    name: str | None
    chance: float
    basis: str


def females(conn: Connection, on: date, *, here_only: bool = True) -> list[Choice]:
    """Return the females to choose from, in order of tags; without `here_only` also gone and known ones."""
    return _choices(conn, "F", on, here_only)


def males(conn: Connection, on: date, *, here_only: bool = False) -> list[Choice]:
    """Return the males to choose from, those here first: a sold or AI bull can still be a parent."""
    return _choices(conn, "M", on, here_only)


def animal_named(conn: Connection, animal: int) -> Choice | None:
    """Return one animal by its id, however it is known; None where there is none."""
    row = conn.execute(select(t.Animal.id, t.Animal.tag, t.Animal.name).where(t.Animal.id == animal)).first()
    return None if row is None else Choice(row.id, row.tag, row.name, True)


def care_of(conn: Connection, animal: int) -> str | None:
    """Return why to be careful with an animal; None where there is no reason to."""
    return conn.scalar(select(t.Animal.care).where(t.Animal.id == animal))


def groups(conn: Connection, on: date) -> list[GroupRow]:
    """Return the standing groups with the animals in each on a day, in order of names."""
    g, m = t.Group, t.Membership
    inside = (
        select(m.group_id, func.count(func.distinct(m.animal_id)).label("animals"))
        .where(m.from_day <= on, or_(m.to_day.is_(None), m.to_day > on), m.animal_id.in_(present(on)))
        .group_by(m.group_id)
        .subquery()
    )
    query = (
        select(g.id, g.name, g.purpose, func.coalesce(inside.c.animals, 0))
        .outerjoin(inside, inside.c.group_id == g.id)
        .where(or_(g.ended.is_(None), g.ended > on))
        .order_by(g.name, g.id)
    )
    return [GroupRow(*row) for row in conn.execute(query)]


def tags_of(conn: Connection, animals: Sequence[int]) -> dict[int, str]:
    """Return the tags of these animals, by id."""
    query = select(t.Animal.id, t.Animal.tag).where(t.Animal.id.in_(animals))
    return {row[0]: row[1] for row in conn.execute(query)}


def sire_rows(conn: Connection, chances: Mapping[int, Sequence[SireChance]]) -> dict[int, tuple[Sire, ...]]:
    """Return the possible sires of each animal with their tags."""
    a = t.Animal
    bulls = {chance.sire for each in chances.values() for chance in each}
    query = select(a.id, a.tag, a.name).where(a.id.in_(bulls))
    known = {bull: (tag, name) for bull, tag, name in conn.execute(query)} if bulls else {}
    return {
        animal: tuple(Sire(c.sire, *known[c.sire], c.chance, c.basis) for c in each)
        for animal, each in chances.items()
    }


def sire_words(sires: Sequence[Sire]) -> str:
    """Return the sires in words: one alone, several with their chances, bulls that ran together without.

    Of bulls that ran together none is likelier by dates, and an even chance is not what DNA work finds (0 to
    64 calves a bull in groups of several, doi 10.2527/jas.2013-7217); so no figure is shown for them.
    """
    if not sires:
        return ""
    names = [called(s.tag, s.name) for s in sires]
    if len(sires) == 1:
        return names[0]
    if any(s.basis == "together" for s in sires):
        return say("{first} or {last}", first=", ".join(names[:-1]), last=names[-1])
    return ", ".join(
        say("{bull} {chance:.0%}", bull=name, chance=s.chance) for name, s in zip(names, sires, strict=True)
    )


def _choices(conn: Connection, sex: str, on: date, here_only: bool) -> list[Choice]:
    a = t.Animal
    here = a.id.in_(present(on))
    query = select(a.id, a.tag, a.name, here).where(or_(a.sex == sex, a.sex.is_(None)))
    if here_only:
        query = query.where(here, a.sex == sex)
    found = [Choice(*row) for row in conn.execute(query.order_by(a.tag_key, a.id))]
    return sorted(found, key=lambda choice: not choice.here)
