"""The diary: days booked at a butcher or abattoir, with the animals booked on each."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, select

from herdbook.store import tables as t


@dataclass(frozen=True)
class Booked:
    """An animal on a booked day; `override` is why, in spite of a caution."""

    animal: int
    tag: str
    name: str | None
    override: str | None


@dataclass(frozen=True)
class DiaryDay:
    """A booked day; `free` is negative when more animals are booked than there are places."""

    id: int
    day: date
    kind: str
    where: str | None
    places: int
    wanted: str | None
    deposit: float | None
    note: str | None
    booked: tuple[Booked, ...]

    @property
    def free(self) -> int:
        """Places left."""
        return self.places - len(self.booked)


def booked_days(conn: Connection, first: date | None = None, last: date | None = None) -> list[DiaryDay]:
    """Return the booked days from `first` to `last`, both included, in order."""
    d, b, a = t.columns(t.BookedDay), t.columns(t.Booking), t.columns(t.Animal)
    bookings: dict[int, list[Booked]] = defaultdict(list)
    query = select(b.booked_day_id, a.id, a.tag, a.name, b.override).where(a.id == b.animal_id)
    for day, animal, tag, name, override in conn.execute(query.order_by(a.tag_key, b.id)):
        bookings[day].append(Booked(animal, tag, name, override))
    days = select(d.id, d.day, d.kind, d.place, d.places, d.wanted, d.deposit, d.note).order_by(d.day, d.id)
    if first is not None:
        days = days.where(d.day >= first)
    if last is not None:
        days = days.where(d.day <= last)
    return [DiaryDay(*row, tuple(bookings.get(row[0], ()))) for row in conn.execute(days)]
