"""Booked days, settings of the book, tasks done."""

from sqlalchemy import Float
from sqlalchemy.orm import Mapped, mapped_column

from herdbook.store.base import AUTOINCREMENT, Base, Day, Key, Label, Prose, Word, link, one_of


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
