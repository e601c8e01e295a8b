"""The register: which animals, in which order, a page of rows at a time; filtered and sorted in SQL."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any, Literal

from sqlalchemy import ColumnElement, Connection, Select, and_, exists, func, not_, or_, select
from sqlalchemy.orm import aliased

from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import here_on, present
from herdbook.services.pedigree import sires_of_each
from herdbook.services.queries.classes import class_column, in_class
from herdbook.services.queries.company import alerts_among
from herdbook.services.queries.lists import Sire, sire_rows, sire_words
from herdbook.store import tables as t
from herdbook.store import textsearch

Here = Literal["here", "gone", "known", "all"]
SORTS = ("tag", "name", "sex", "class", "born", "dam", "group", "weight", "breed")


@dataclass(frozen=True)
class RegisterAsk:
    """What the register is to show.

    Parameters
    ----------
    text : str
        Every word of it must be part of the tag, the name or a number; capitals are ignored.
    class_ : str, optional
        A class ("cow") or a group of classes ("yearlings").
    here : {"here", "gone", "known", "all"}
        Present on the day, once here and gone, known by name only, or all.
    sort : str
        One of `SORTS`; rows without a value stand last either way.
    descending : bool
    group : int, optional
        Only this group's animals on the day.
    sex : {"F", "M"}, optional
    only : tuple of int, optional
        No others than these animals (a list that another page made).
    """

    text: str = ""
    class_: str | None = None
    here: Here = "here"
    sort: str = "tag"
    descending: bool = False
    group: int | None = None
    sex: str | None = None
    only: tuple[int, ...] | None = None


@dataclass(frozen=True)
class RegisterRow:
    """One animal as the register shows it; `sires` in words, likeliest first; `alerts` cannot wait."""

    id: int
    tag: str
    tag_key: str
    name: str | None
    sex: str | None
    class_: str
    born: date | None
    born_precision: str
    breed: str | None
    dam: int | None
    dam_tag: str | None
    sires: tuple[Sire, ...]
    sire_words: str
    group: str | None
    weight_kg: float | None
    weighed_on: date | None
    weight_unit: str | None
    here: bool
    left_on: date | None
    care: str | None
    alerts: tuple[Reason, ...] = ()


def count(conn: Connection, ask: RegisterAsk, on: date) -> int:
    """Return how many animals `ids` would return."""
    return conn.scalar(select(func.count(t.Animal.id)).where(*_conditions(ask, on, all_rows=True))) or 0


def ids(
    conn: Connection, ask: RegisterAsk, on: date, limit: int | None = None, offset: int = 0
) -> Sequence[int]:
    """Return the ids of the animals asked for, in order."""
    every = limit is None or ask.sort != "tag"
    query = select(t.Animal.id).where(*_conditions(ask, on, all_rows=every))
    result = conn.execute(_ordered(query, ask, on).limit(limit).offset(offset or None))
    # The driver's own rows: making 100,000 of SQLAlchemy's takes four times as long as the query.
    return [row[0] for row in result.cursor.fetchall()] if result.cursor is not None else []


def rows(conn: Connection, ids: Sequence[int], on: date) -> list[RegisterRow]:
    """Return the rows of these animals, in the order of the ids; ids that are no more are left out."""
    if not ids:
        return []
    a, dam = t.Animal, aliased(t.Animal)
    known = (
        a.id,
        a.tag,
        a.tag_key,
        a.name,
        a.sex,
        class_column(on),
        a.born,
        a.born_precision,
        a.breed,
        a.dam_id,
    )
    query = select(*known, dam.tag, _group(on), a.care).outerjoin(dam, dam.id == a.dam_id)
    found: dict[int, tuple[Any, ...]] = {
        row[0]: tuple(row) for row in conn.execute(query.where(a.id.in_(ids)))
    }
    weights, stays = _last_weights(conn, ids, on), _stays(conn, ids, on)
    sires = sire_rows(conn, sires_of_each(conn, list(ids)))
    alerts = alerts_among(conn, on, list(found))
    made = []
    for animal in ids:
        if animal in found:
            *identity, group, care = found[animal]
            likely = sires.get(animal, ())
            weighed = weights.get(animal, (None, None, None))
            marks = (care, alerts.get(animal, ()))
            values = [*identity, likely, sire_words(likely), group, *weighed, *stays[animal], *marks]
            made.append(RegisterRow(*values))
    return made


def matches(text: str) -> ColumnElement[bool]:
    """Return the condition that every word of `text` is part of an animal's tag, name or a number."""
    return and_(*(_answers(word) for word in text.split()))


def _answers(word: str) -> ColumnElement[bool]:
    a, i = t.Animal, t.Identity
    parts = [holds(a.tag, word), holds(a.name, word)]
    if sum(c.isdigit() for c in word) >= 3:
        parts.append(a.id.in_(select(i.animal_id).where(i.scheme != "farm", holds(i.value, word))))
    return or_(*parts)


def holds(column: Any, word: str) -> ColumnElement[bool]:
    """Return the condition that a column holds `word`, whatever the capitals.

    A word with other than plain letters is looked for in its usual spellings.
    """
    if word.isascii():
        return textsearch.holds(column, word)
    spellings = dict.fromkeys((word, word.lower(), word.upper(), word.title(), word.capitalize()))
    return or_(*(textsearch.holds(column, spelling) for spelling in spellings))


def _conditions(ask: RegisterAsk, on: date, all_rows: bool = False) -> list[ColumnElement[bool]]:
    """Return the conditions; with `all_rows` in the form that is faster where no row is left out early."""
    a = t.Animal
    wanted: list[ColumnElement[bool]] = []
    if ask.text.strip():
        wanted.append(matches(ask.text))
    if ask.here == "here":
        wanted.append(a.id.in_(present(on)) if all_rows and not ask.text.strip() else is_here(on))
    elif ask.here == "gone":
        wanted += [was_here(), not_(is_here(on))]
    elif ask.here == "known":
        wanted.append(not_(was_here()))
    if ask.only is not None:
        wanted.append(a.id.in_(ask.only))
    if ask.sex is not None:
        wanted.append(a.sex == ask.sex)
    if ask.group is not None:
        m = t.Membership
        in_group = select(m.animal_id).where(m.group_id == ask.group, _lasting(on))
        wanted.append(a.id.in_(in_group))
    if ask.class_ is not None:
        wanted.append(in_class(ask.class_, on))
    return wanted


def is_here(on: date) -> ColumnElement[bool]:
    """Return the condition on `Animal` that it is on the herd's own ground on a day."""
    ours = select(t.Holding.id).where(t.Holding.ours)
    return exists(_stays_of().where(here_on(on), t.Stay.holding_id.in_(ours)))


def was_here() -> ColumnElement[bool]:
    """Return the condition on `Animal` that it ever was on any ground: not known by name only."""
    return exists(_stays_of())


def _stays_of() -> Select[*tuple[Any, ...]]:
    return select(t.Stay.id).where(t.Stay.animal_id == t.Animal.id).correlate(t.Animal)


def _lasting(on: date) -> ColumnElement[bool]:
    m = t.Membership
    return and_(m.from_day <= on, or_(m.to_day.is_(None), m.to_day > on))


def _ordered(query: Select[*tuple[Any, ...]], ask: RegisterAsk, on: date) -> Select[*tuple[Any, ...]]:
    """Put the rows in order: by the column, empty ones last, then by tag in natural order."""
    a = t.Animal
    by: Any
    match ask.sort:
        case "tag":
            return query.order_by(*((c.desc() if ask.descending else c) for c in (a.tag_key, a.id)))
        case "name" | "sex" | "born" | "breed":
            by = getattr(a, ask.sort)
        case "class":
            by = class_column(on)
        case "dam":
            dam = aliased(t.Animal)
            query = query.outerjoin(dam, dam.id == a.dam_id)
            by = dam.tag_key
        case "group":
            by = _group(on)
        case "weight":
            by = _weight(on)
        case _:
            raise ValueError(f"The register cannot be sorted by {ask.sort!r}.")
    by = by.desc() if ask.descending else by.asc()
    return query.order_by(by.nulls_last(), a.tag_key, a.id)


def _group(on: date) -> ColumnElement[str | None]:
    m = t.Membership
    query = (
        select(t.Group.name)
        .join(m, m.group_id == t.Group.id)
        .where(m.animal_id == t.Animal.id, _lasting(on))
        .order_by(m.from_day.desc(), m.id.desc())
        .limit(1)
    )
    return query.correlate(t.Animal).scalar_subquery()


def _weight(on: date) -> ColumnElement[float | None]:
    w = t.Weighing
    query = select(w.kg).where(w.animal_id == t.Animal.id, w.day <= on).order_by(w.day.desc(), w.id.desc())
    return query.limit(1).correlate(t.Animal).scalar_subquery()


def _last_weights(conn: Connection, ids: Sequence[int], on: date) -> dict[int, tuple[float, date, str]]:
    w = t.Weighing
    query = select(w.animal_id, w.kg, w.day, w.unit).where(w.animal_id.in_(ids), w.day <= on)
    return {animal: (kg, day, unit) for animal, kg, day, unit in conn.execute(query.order_by(w.day, w.id))}


def _stays(conn: Connection, ids: Sequence[int], on: date) -> dict[int, tuple[bool, date | None]]:
    """Return whether each animal is here, and if it was and is not, since when."""
    s = t.Stay
    here: set[int] = set(conn.scalars(present(on).where(s.animal_id.in_(ids))))
    query = select(s.animal_id, func.max(s.to_day)).where(s.animal_id.in_(ids), s.to_day <= on)
    left: dict[int, date | None] = {row[0]: row[1] for row in conn.execute(query.group_by(s.animal_id))}
    return {animal: (animal in here, None if animal in here else left.get(animal)) for animal in ids}
