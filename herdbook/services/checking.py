"""The check of the records: what cannot be, what is doubtful, what is worth a note, over the whole book."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, and_, func, or_, select
from sqlalchemy.orm import aliased

from herdbook.husbandry.days import age_days, age_months, earliest, latest
from herdbook.husbandry.growth import plausible_kg
from herdbook.husbandry.ids import tag_match
from herdbook.services.birth_doubts import YOUNGEST_DAM_MONTHS
from herdbook.services.commands.happenings import KINDS
from herdbook.services.facts import present
from herdbook.services.pedigree import load_pedigree
from herdbook.services.queries.lists import tags_of
from herdbook.services.saying import listed
from herdbook.store import tables as t
from herdbook.words import say

YOUNGEST_SIRE = 13
"""Months of age at a calf's birth: an entire calf counts as a possible sire from four months, and nine months
of gestation follow. Common practice; the age from extension texts."""

LEAST_INTERVAL = 270
"""Days between calvings below which one of two is doubtful: hardly one gestation. Common practice."""

HEAPED_DAYS, HEAPED_SHARE, HEAPED_LEAST = (1, 10, 15, 20), 0.20, 30
"""Days of the month on which guessed births heap, the share of all births at which it is said (a US study of
dairy records, 4 days of about 30 would hold 13 %), and the fewest births that are looked at."""

LEVELS = ("wrong", "doubtful", "note")


@dataclass(frozen=True)
class Finding:
    """One thing that the check found.

    Parameters
    ----------
    code : str
        What sort of finding it is.
    level : {"wrong", "doubtful", "note"}
    what : str
        The whole of it in words.
    tags : tuple of str
        The animals it is about.
    where : str
        The record: its kind and id, or "animal", "file".
    """

    code: str
    level: str
    what: str
    tags: tuple[str, ...]
    where: str


def check_book(conn: Connection, on: date) -> list[Finding]:
    """Return everything that the records of a book give reason to look at, the worst first."""
    found = [finding for check in _CHECKS for finding in check(conn, on)]
    return sorted(found, key=lambda finding: LEVELS.index(finding.level))


# ---------------------------------------------------------------- the file and the pedigree


def _file(conn: Connection, _: date) -> Iterator[Finding]:
    """Look whether the file itself is whole, where it is a file."""
    if conn.dialect.name != "sqlite":
        return
    from herdbook.store.health import findings

    raw: Any = conn.connection.driver_connection
    for what in findings(raw):
        yield Finding("file", "wrong", say("the file is damaged: {what}", what=what), (), "file")


def _loops(conn: Connection, _: date) -> Iterator[Finding]:
    for loop in load_pedigree(conn).loops:
        known = tags_of(conn, loop)
        tags = tuple(known[animal] for animal in loop)
        if len(tags) == 1:
            what = say("its own parent: {tag}; its parents are left out", tag=tags[0])
        else:
            what = say("their own ancestors: {tags}; these parents are left out", tags=", ".join(tags))
        yield Finding("loop", "wrong", what, tags, "animal")


def _both_parents(conn: Connection, _: date) -> Iterator[Finding]:
    a, e = t.Animal, t.ParentEvidence
    dams = select(a.dam_id).where(a.dam_id.is_not(None))
    sires = select(e.candidate_id).where(e.role == "sire", e.kind != "excluded")
    query = select(a.tag).where(a.id.in_(dams), a.id.in_(sires)).order_by(a.tag_key)
    for tag in conn.scalars(query):
        yield Finding(
            "sire_and_dam", "wrong", say("{tag} is named as a sire and as a dam", tag=tag), (tag,), "animal"
        )


def _parents_sex(conn: Connection, _: date) -> Iterator[Finding]:
    a, parent, e = t.Animal, aliased(t.Animal), t.ParentEvidence
    dams = select(parent.tag, a.tag).join(parent, parent.id == a.dam_id).where(parent.sex == "M")
    for tag, calf in conn.execute(dams.order_by(parent.tag_key, a.tag_key)):
        what = say("{tag}, the dam of {calf}, is a male", tag=tag, calf=calf)
        yield Finding("dam_male", "wrong", what, (tag, calf), "animal")
    sires = (
        select(parent.tag, a.tag)
        .join(e, e.animal_id == a.id)
        .join(parent, parent.id == e.candidate_id)
        .where(parent.sex == "F", e.role == "sire", e.kind != "excluded")
    )
    for tag, calf in conn.execute(sires.order_by(parent.tag_key, a.tag_key)):
        what = say("{tag}, the sire of {calf}, is a female", tag=tag, calf=calf)
        yield Finding("sire_female", "wrong", what, (tag, calf), "animal")


def _parents_age(conn: Connection, _: date) -> Iterator[Finding]:
    a, parent, e = t.Animal, aliased(t.Animal), t.ParentEvidence
    columns = (a.tag, a.born, a.born_precision, parent.tag, parent.born, parent.born_precision)
    known = and_(a.born.is_not(None), parent.born.is_not(None))
    dams = select(*columns).join(parent, parent.id == func.coalesce(a.birth_dam_id, a.dam_id)).where(known)
    sires = (
        select(*columns)
        .join(e, and_(e.animal_id == a.id, e.role == "sire", e.kind != "excluded"))
        .join(parent, parent.id == e.candidate_id)
        .where(known)
    )
    for code, least, query in (
        ("dam_too_young", YOUNGEST_DAM_MONTHS, dams),
        ("sire_too_young", YOUNGEST_SIRE, sires),
    ):
        for calf, born, precision, tag, parent_born, parent_precision in conn.execute(
            query.order_by(a.tag_key)
        ):
            if (
                born is not None
                and parent_born is not None
                and (first := earliest(parent_born, parent_precision))
            ):
                yield from _young(code, least, calf, tag, age_months(first, latest(born, precision)))


def _young(code: str, least: int, calf: str, tag: str, months: int) -> Iterator[Finding]:
    """Say that a parent was too young; `months` is its age at most, the dates read as far apart as can be."""
    if months < 0:
        what = say("{calf} was born before its parent {tag}", calf=calf, tag=tag)
        yield Finding("born_before_parent", "wrong", what, (calf, tag), "animal")
    elif months < least:
        what = say("{tag} was {n} months old when {calf} was born", tag=tag, n=months, calf=calf)
        yield Finding(code, "doubtful", what, (tag, calf), "animal")


# ---------------------------------------------------------------- dates


def _left(conn: Connection) -> dict[int, date]:
    """Return the day on which each animal that is not here any more was here last."""
    s = t.Stay
    query = select(s.animal_id, func.max(s.to_day)).group_by(s.animal_id)
    gone = query.having(func.count() == func.count(s.to_day))
    return {animal: day for animal, day in conn.execute(gone) if day is not None}


def _births(conn: Connection, _: date) -> Iterator[Finding]:
    """Look for births after the animal, or its dam, had left."""
    a, dam, left = t.Animal, aliased(t.Animal), _left(conn)
    query = select(a.id, a.tag, a.born, dam.id, dam.tag).outerjoin(
        dam, dam.id == func.coalesce(a.birth_dam_id, a.dam_id)
    )
    here = set(conn.scalars(select(t.Stay.animal_id)))
    for animal, tag, born, mother, mother_tag in conn.execute(
        query.where(a.born.is_not(None)).order_by(a.tag_key)
    ):
        if born is not None and animal in left and born > left[animal]:
            what = say("{tag} was born on {born}, after it had left", tag=tag, born=born)
            yield Finding("born_after_left", "wrong", what, (tag,), "animal")
        if born is not None and mother in left and born > left[mother] and animal in here:
            what = say("{tag} was born after its dam {dam} had left", tag=tag, dam=mother_tag)
            yield Finding("born_after_dam_left", "doubtful", what, (tag, mother_tag), "animal")


def _intervals(conn: Connection, _: date) -> Iterator[Finding]:
    c, a = t.Calving, t.Animal
    query = select(c.id, c.animal_id, c.day, a.tag).join(a, a.id == c.animal_id)
    before: tuple[int, date] | None = None
    for row, animal, day, tag in conn.execute(query.order_by(a.tag_key, a.id, c.day, c.id)):
        if before is not None and before[0] == animal and age_days(before[1], day) < LEAST_INTERVAL:
            days = age_days(before[1], day)
            what = say(
                "{tag} calved on {first} and {day}, {n} days apart", tag=tag, first=before[1], day=day, n=days
            )
            yield Finding("calved_twice", "doubtful", what, (tag,), f"calving {row}")
        before = (animal, day)


def _happenings(conn: Connection, on: date) -> Iterator[Finding]:
    """Look for happenings before birth, after the animal had left, or still to come."""
    a, left = t.Animal, _left(conn)
    tables: list[tuple[str, Any]] = [(kind.kind, kind.table) for kind in KINDS]
    for kind, table in (*tables, ("calving", t.Calving)):
        query = select(table.id, table.day, a.id, a.tag, a.born).join(a, a.id == table.animal_id)
        query = query.where(table.day_precision != "before").where(
            or_(table.day < a.born, table.day > on, a.id.in_(_gone_before(table)))
        )
        for row, day, animal, tag, born in conn.execute(query.order_by(a.tag_key, table.day)):
            where = f"{kind} {row}"
            if born is not None and day < born:
                what = say("{tag}: a {kind} on {day}, before its birth", tag=tag, kind=_kind(kind), day=day)
                yield Finding("before_birth", "wrong", what, (tag,), where)
            elif animal in left and day > left[animal] and kind != "arrival":
                what = say("{tag}: a {kind} on {day}, after it had left", tag=tag, kind=_kind(kind), day=day)
                yield Finding("after_leaving", "doubtful", what, (tag,), where)
            elif day > on:
                what = say(
                    "{tag}: a {kind} on {day}, which is still to come", tag=tag, kind=_kind(kind), day=day
                )
                yield Finding("in_future", "doubtful", what, (tag,), where)


def _gone_before(table: Any) -> Any:
    """Return the query of animals whose last stay ended before the day of a happening."""
    s = t.Stay
    return (
        select(s.animal_id)
        .where(s.animal_id == table.animal_id)
        .correlate(table)
        .group_by(s.animal_id)
        .having(func.count() == func.count(s.to_day))
        .having(func.max(s.to_day) < table.day)
    )


def _kind(kind: str) -> str:
    return next((say(k.label).lower() for k in KINDS if k.kind == kind), say("calving"))


def _heaped(conn: Connection, _: date) -> Iterator[Finding]:
    """Say that births heap on round days, which makes every age a guess."""
    a = t.Animal
    days = Counter(
        born.day if born else 0
        for born in conn.scalars(select(a.born).where(a.born.is_not(None), a.born_precision == "day"))
    )
    number, heaped = sum(days.values()), sum(days[day] for day in HEAPED_DAYS)
    if number >= HEAPED_LEAST and heaped > HEAPED_SHARE * number:
        what = say(
            "{n} of {number} births ({share:.0%}) are on the 1st, 10th, 15th or 20th: are some guessed? "
            "A birth can be entered as a month or a year.",
            n=heaped, number=number, share=heaped / number,
        )  # fmt: skip
        yield Finding("births_heaped", "note", what, (), "animal")


# ---------------------------------------------------------------- tags, weights, medicine, gaps


def _tags(conn: Connection, on: date) -> Iterator[Finding]:
    a = t.Animal
    here = present(on)
    query = select(a.tag).where(a.id.in_(here)).order_by(a.tag_key, a.id)
    bearers: dict[str, list[str]] = defaultdict(list)
    for tag in conn.scalars(query):
        bearers[tag_match(tag)].append(tag)
    for tags in bearers.values():
        if len(tags) > 1:
            what = say("{n} animals here bear the tag {tag}", n=len(tags), tag=tags[0])
            yield Finding("tag_of_several", "doubtful", what, tuple(tags), "animal")


def _weights(conn: Connection, _: date) -> Iterator[Finding]:
    w, a = t.Weighing, t.Animal
    query = select(w.id, w.day, w.kg, a.tag, a.born, a.born_precision).join(a, a.id == w.animal_id)
    for row, day, kg, tag, born, precision in conn.execute(query.order_by(a.tag_key, w.day, w.id)):
        age = age_days(born, day) if born is not None and precision == "day" and born <= day else None
        low, high = plausible_kg(age)
        if not low <= kg <= high:
            what = say("{tag} weighed {kg:.0f} kg on {day}: not likely at its age", tag=tag, kg=kg, day=day)
            yield Finding("unlikely_weight", "doubtful", what, (tag,), f"weighing {row}")


def _medicines(conn: Connection, on: date) -> Iterator[Finding]:
    m, a = t.Treatment, t.Animal
    query = (
        select(m.id, m.day, m.product, a.tag)
        .join(a, a.id == m.animal_id)
        .where(m.meat_days.is_(None), a.id.in_(present(on)))
        .order_by(a.tag_key, m.day)
    )
    for row, day, product, tag in conn.execute(query):
        what = say(
            "{tag}: no days for meat are entered for {product} on {day}; it reads as not known, ask",
            tag=tag, product=product, day=day,
        )  # fmt: skip
        yield Finding("days_not_known", "note", what, (tag,), f"treatment {row}")


def _gaps(conn: Connection, on: date) -> Iterator[Finding]:
    """Name the animals here of which the sex or the birth is not written."""
    a = t.Animal
    for code, column in (("no_sex", a.sex), ("no_birth", a.born)):
        query = select(a.tag).where(column.is_(None), a.id.in_(present(on))).order_by(a.tag_key)
        tags = tuple(conn.scalars(query))
        if tags:
            words = {"n": len(tags), "tags": listed(tags)}
            what = (
                say("{n} here without a sex: {tags}", **words)
                if code == "no_sex"
                else say("{n} here without a birth, of which a year will do: {tags}", **words)
            )
            yield Finding(code, "note", what, tags, "animal")


_CHECKS: tuple[Callable[[Connection, date], Iterator[Finding]], ...] = (
    _file,
    _loops,
    _both_parents,
    _parents_sex,
    _parents_age,
    _births,
    _intervals,
    _happenings,
    _tags,
    _weights,
    _medicines,
    _gaps,
    _heaped,
)
