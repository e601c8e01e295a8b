"""The class of an animal (cow, steer, calf ...) as an SQL expression, and the herd counted by it on any day.

`class_column` says in SQL what `herdbook.services.facts.AnimalFacts.class_on` says of facts already read; a
test holds the two to each other.
"""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, Select, and_, case, exists, func, literal, not_, or_, select

from herdbook.husbandry.classes import BULL_FROM_MONTHS, CALF_UNDER_MONTHS, AnimalClass
from herdbook.husbandry.days import add_months
from herdbook.services.facts import present
from herdbook.store import tables as t
from herdbook.words import say

CLASS_GROUPS: dict[str, tuple[AnimalClass, ...]] = {
    "cows": (AnimalClass.COW,),
    "in-calf heifers": (AnimalClass.IN_CALF_HEIFER,),
    "bulls": (AnimalClass.BULL,),
    "steers": (AnimalClass.STEER,),
    "yearlings": (AnimalClass.HEIFER, AnimalClass.YOUNG_BULL),
    "calves": (AnimalClass.CALF,),
}
"""The herd as a keeper counts it; heifers and young bulls that are no calves any more are the yearlings."""

TOTAL = "total"


def herd_by_class(conn: Connection, on: date) -> list[tuple[str, int]]:
    """Return each key of `CLASS_GROUPS` with the number of animals here on a day, and `TOTAL` last."""
    class_ = class_column(on).label("class_")
    query = select(class_, func.count()).where(t.Animal.id.in_(present(on))).group_by(class_)
    counted: dict[str, int] = {row[0]: row[1] for row in conn.execute(query)}
    rows = [(key, sum(counted.get(c.value, 0) for c in classes)) for key, classes in CLASS_GROUPS.items()]
    return [*rows, (TOTAL, sum(counted.values()))]


def group_label(key: str) -> str:
    """Return what a key of `herd_by_class` is called on a page."""
    return {
        "cows": say("Cows"),
        "in-calf heifers": say("In-calf heifers"),
        "bulls": say("Bulls"),
        "steers": say("Steers"),
        "yearlings": say("Yearlings"),
        "calves": say("Calves"),
        TOTAL: say("All"),
    }[key]


def class_label(word: str) -> str:
    """Return the word for one animal's class in the reader's language."""
    return {
        "calf": say("calf"),
        "steer": say("steer"),
        "bull": say("bull"),
        "young bull": say("young bull"),
        "cow": say("cow"),
        "in-calf heifer": say("in-calf heifer"),
        "heifer": say("heifer"),
    }.get(word, word)


def in_class(wanted: str, on: date) -> ColumnElement[bool]:
    """Return the condition that an animal is of a class, or of a group of `CLASS_GROUPS`."""
    words = [c.value for c in CLASS_GROUPS[wanted]] if wanted in CLASS_GROUPS else [AnimalClass(wanted).value]
    return class_column(on).in_(words)


def class_column(on: date) -> ColumnElement[str]:
    """Return the expression on `Animal` for its class on a day; see `herdbook.husbandry.classes.class_of`."""
    a = t.Animal
    male = and_(a.sex == "M", a.sex.is_not(None))
    calf = and_(younger_than(CALF_UNDER_MONTHS, on), not_(exists(_of(t.Weaning, on))))
    words = (
        (calf, AnimalClass.CALF),
        (and_(male, castrated(on)), AnimalClass.STEER),
        (and_(male, younger_than(BULL_FROM_MONTHS, on)), AnimalClass.YOUNG_BULL),
        (male, AnimalClass.BULL),
        (or_(a.calved_before.is_(True), exists(_of(t.Calving, on))), AnimalClass.COW),
        (_in_calf(on), AnimalClass.IN_CALF_HEIFER),
    )
    return case(*((when, literal(word.value)) for when, word in words), else_=AnimalClass.HEIFER.value)


def younger_than(months: int, on: date) -> ColumnElement[bool]:
    """Return the condition that an animal has not completed so many calendar months, at its earliest birth.

    False where no earliest birth is known.
    """
    a = t.Animal
    limit = last_birth_of_age(months, on)
    next_month = date(limit.year, limit.month, monthrange(limit.year, limit.month)[1]) + timedelta(days=1)
    return and_(
        a.born.is_not(None),
        or_(
            and_(a.born_precision == "day", a.born > limit),
            and_(a.born_precision == "month", a.born >= next_month),
            and_(a.born_precision == "year", a.born >= date(limit.year + 1, 1, 1)),
        ),
    )


def last_birth_of_age(months: int, on: date) -> date:
    """Return the latest birth that has completed `months` calendar months on a day.

    Months are clamped at their ends, so on the last day of a short month births up to the end of the earlier
    month count: on 28 February those of 30 April are 10 months old.
    """
    back = add_months(on, -months)
    if on.day == monthrange(on.year, on.month)[1]:
        return back.replace(day=monthrange(back.year, back.month)[1])
    return back


def castrated(on: date) -> ColumnElement[bool]:
    """Return the condition that an animal's last castration by a day holds (no rig was found)."""
    c = t.Castration
    last = (
        select(c.method)
        .where(c.animal_id == t.Animal.id, c.day <= on)
        .order_by(c.day.desc(), c.id.desc())
        .limit(1)
    )
    return func.coalesce(last.correlate(t.Animal).scalar_subquery(), "rig") != "rig"


def _of(table: type[t.Happening], on: date) -> Select[*tuple[Any, ...]]:
    kind: Any = table
    return select(kind.id).where(kind.animal_id == t.Animal.id, kind.day <= on).correlate(t.Animal)


def _in_calf(on: date) -> ColumnElement[bool]:
    """Return the condition that the last telling check since the last calving or loss said in calf."""
    c = t.PregnancyCheck
    closed = [
        not_(exists(select(end.id).where(end.animal_id == c.animal_id, end.day >= c.day, end.day <= on)))
        for end in (t.Calving, t.Loss)
    ]
    last = (
        select(c.result)
        .where(c.animal_id == t.Animal.id, c.day <= on, c.result != "unknown", *closed)
        .order_by(c.day.desc(), c.id.desc())
        .limit(1)
    )
    return func.coalesce(last.correlate(t.Animal).scalar_subquery(), "open").in_(("pregnant", "multiple"))
