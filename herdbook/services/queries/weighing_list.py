"""The animals to be weighed on a day, in order of tags, each with its last weight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, or_, select

from herdbook.husbandry.growth import average_daily_gain
from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.happenings import Weigh
from herdbook.services.doubts import doubts
from herdbook.services.facts import present
from herdbook.services.queries.classes import (
    TOTAL,
    class_column,
    class_label,
    group_label,
    herd_by_class,
    in_class,
)
from herdbook.services.queries.lists import groups
from herdbook.services.saying import called
from herdbook.store import tables as t
from herdbook.words import say


@dataclass(frozen=True)
class ToWeigh:
    """An animal with its last weight by the same method before the day, where it has one."""

    animal: int
    tag: str
    name: str | None
    class_: str
    care: str | None
    last_kg: float | None
    last_day: date | None

    @property
    def words(self) -> str:
        """The tag with the name."""
        return called(self.tag, self.name)

    def gain(self, kg: float, day: date) -> float | None:
        """Return the kg a day since the last weight; None where that is too near, or where there is none."""
        if self.last_kg is None or self.last_day is None or self.last_day >= day:
            return None
        return average_daily_gain(self.last_kg, kg, (day - self.last_day).days)


@dataclass(frozen=True)
class Part:
    """A part of the herd that can be worked on: its key ("all", "group:3", "class:steers") and words."""

    key: str
    words: str
    animals: int


def parts_of_herd(conn: Connection, on: date) -> list[Part]:
    """Return the whole herd, its groups and its classes, each with how many are in it on a day."""
    classes = dict(herd_by_class(conn, on))
    found = [Part("all", say("the whole herd"), classes.pop(TOTAL))]
    found += [Part(f"group:{g.id}", g.name, g.animals) for g in groups(conn, on) if g.animals]
    return found + [Part(f"class:{key}", group_label(key), n) for key, n in classes.items() if n]


def to_weigh(conn: Connection, day: date, part: str = "all", method: str = "scale") -> list[ToWeigh]:
    """Return the animals of a part of the herd that are here on a day, in order of tags."""
    a, w, m = t.Animal, t.Weighing, t.Membership
    query = select(a.id, a.tag, a.name, class_column(day), a.care).where(a.id.in_(present(day)))
    kind, _, which = part.partition(":")
    if kind == "group":
        inside = (m.from_day <= day) & or_(m.to_day.is_(None), m.to_day > day)
        query = query.where(a.id.in_(select(m.animal_id).where(m.group_id == int(which), inside)))
    elif kind == "class":
        query = query.where(in_class(which, day))
    rows = conn.execute(query.order_by(a.tag_key, a.id)).all()
    weighed = select(w.animal_id, w.kg, w.day).where(w.method == method, w.day <= day)
    weighed = weighed.where(w.animal_id.in_(query.with_only_columns(a.id).order_by(None)))
    last = {animal: (kg, when) for animal, kg, when in conn.execute(weighed.order_by(w.day, w.id))}
    return [
        ToWeigh(animal, tag, name, class_label(class_), care, *last.get(animal, (None, None)))
        for animal, tag, name, class_, care in rows
    ]


def doubts_of_each(conn: Connection, weighed: Sequence[Weigh], on: date) -> dict[int, tuple[Reason, ...]]:
    """Return what is to be asked about each weight, by animal; animals without a question are left out."""
    asked = {one.animal: doubts(conn, one, on) for one in weighed}
    return {animal: reasons for animal, reasons in asked.items() if reasons}
