"""Booked days, settings of the book, tasks done, and what was handed out as calendar files."""

from typing import Any

from sqlalchemy import Float
from sqlalchemy.orm import Mapped, mapped_column

from herdbook.store.base import AUTOINCREMENT, Base, Day, Key, Label, Moment, Prose, Word, link, one_of

_NOT_JOURNALED: dict[str, Any] = {**AUTOINCREMENT, "info": {"journaled": False}}


class BookedDay(Base):
    """A day booked at a butcher or abattoir."""

    __tablename__ = "booked_day"
    __table_args__ = (one_of("kind", "butcher", "abattoir", "other"), AUTOINCREMENT)

    id: Mapped[Key]
    day: Mapped[Day]
    kind: Mapped[Word] = mapped_column(default="butcher")
    where: Mapped[Label | None] = mapped_column("place")
    places: Mapped[int] = mapped_column(default=1)
    wanted: Mapped[Label | None]
    deposit: Mapped[float | None] = mapped_column(Float)
    note: Mapped[Prose | None]


class Booking(Base):
    """An animal on a booked day; `override` is the reason given where a caution was passed over."""

    __tablename__ = "booking"

    id: Mapped[Key]
    booked_day_id: Mapped[int] = link("booked_day.id")
    animal_id: Mapped[int] = link("animal.id")
    override: Mapped[Prose | None]
    note: Mapped[Prose | None]


class BookSetting(Base):
    """A setting of this book that differs from its default; the value is JSON text."""

    __tablename__ = "setting"

    id: Mapped[Key]
    key: Mapped[Label] = mapped_column(unique=True)
    value: Mapped[Prose]


class TaskDone(Base):
    """Something that Today asked for and that was done or put off, with the day it may be asked again."""

    __tablename__ = "task_done"

    id: Mapped[Key]
    task: Mapped[Label] = mapped_column(index=True)
    day: Mapped[Day]
    ask_again: Mapped[Day | None]


class CalendarSent(Base):
    """An event as the latest calendar file that had it said it; `event` tells what it is about.

    It stands outside the journal: a file that has left the house is not taken back by undo, and the next file
    must know what the calendars that read it hold.
    """

    __tablename__ = "calendar_sent"
    __table_args__ = _NOT_JOURNALED

    id: Mapped[Key]
    event: Mapped[Label] = mapped_column(unique=True)
    day: Mapped[Day]
    title: Mapped[Prose]
    details: Mapped[Prose]
    sequence: Mapped[int]
    changed: Mapped[Moment]
    withdrawn: Mapped[bool] = mapped_column(default=False)
