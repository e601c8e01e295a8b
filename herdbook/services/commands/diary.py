"""Booked days and bookings, settings of the book, tasks done."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import date

from sqlalchemy import delete, select

from herdbook.services.asking import asks
from herdbook.services.book import Work
from herdbook.services.registry import handles
from herdbook.services.settings import storable
from herdbook.store import tables as t


@dataclass(frozen=True)
class BookDay:
    """Book a day at a butcher or abattoir."""

    day: date = asks("Date", "date")
    places: int = asks("Places", "count", default=1)
    where: str | None = asks("Where", "text", optional=True)
    kind: str = asks(
        "Kind",
        "choice",
        choices=(("butcher", "butcher"), ("abattoir", "abattoir"), ("other", "other")),
        default="butcher",
    )
    wanted: str | None = asks("Wanted", "text", optional=True, hint="steers, heifers, a cow ...")
    deposit: float | None = asks("Deposit", "number", optional=True)
    note: str | None = asks("Note", "note", optional=True)


@dataclass(frozen=True)
class BookAnimal:
    """Put an animal on a booked day, off any other; `override` is why, in spite of a caution."""

    animal: int
    booked_day: int
    override: str | None = None


@dataclass(frozen=True)
class Unbook:
    """Take an animal off its booked day."""

    animal: int


@dataclass(frozen=True)
class ChangeSetting:
    """Change a setting of this book; None puts the default back."""

    key: str
    value: object


@dataclass(frozen=True)
class ChangeSettings:
    """Change several settings of this book in one act, as (key, value)."""

    changes: tuple[tuple[str, object], ...]


@dataclass(frozen=True)
class FinishTask:
    """Note that what Today asked for is done, or put off until `ask_again`."""

    tasks: tuple[str, ...]
    day: date
    ask_again: date | None = None


@handles(BookDay)
def _book_day(work: Work, command: BookDay) -> int:
    booked = t.BookedDay(
        day=command.day,
        places=command.places,
        where=command.where,
        kind=command.kind,
        wanted=command.wanted,
        deposit=command.deposit,
        note=command.note,
    )
    work.session.add(booked)
    work.session.flush()
    return booked.id


@handles(BookAnimal)
def _book_animal(work: Work, command: BookAnimal) -> None:
    work.session.execute(delete(t.Booking).where(t.Booking.animal_id == command.animal))
    work.session.add(
        t.Booking(animal_id=command.animal, booked_day_id=command.booked_day, override=command.override)
    )


@handles(Unbook)
def _unbook(work: Work, command: Unbook) -> None:
    work.session.execute(delete(t.Booking).where(t.Booking.animal_id == command.animal))


@handles(ChangeSetting)
def _change_setting(work: Work, command: ChangeSetting) -> None:
    put_setting(work, command.key, command.value)


@handles(ChangeSettings)
def _change_settings(work: Work, command: ChangeSettings) -> None:
    for key, value in command.changes:
        put_setting(work, key, value)


def put_setting(work: Work, key: str, value: object) -> None:
    """Write one setting; None puts the default back."""
    session = work.session
    row = session.scalar(select(t.BookSetting).where(t.BookSetting.key == key))
    if value is None:
        if row is not None:
            session.delete(row)
        return
    text = json.dumps(storable(value))
    if row is None:
        session.add(t.BookSetting(key=key, value=text))
    else:
        row.value = text


@handles(FinishTask)
def _finish_task(work: Work, command: FinishTask) -> None:
    work.session.add_all(
        t.TaskDone(task=task, day=command.day, ask_again=command.ask_again) for task in command.tasks
    )
