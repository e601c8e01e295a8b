"""Heritable conditions: what a keeper changed of the starting list or added to it, and what was seen."""

from sqlalchemy import CheckConstraint, Float
from sqlalchemy.orm import Mapped, mapped_column

from herdbook.store.base import AUTOINCREMENT, Base, Key, Label, Prose, Word, one_of
from herdbook.store.happenings import Happening


class GeneticCondition(Base):
    """A condition as this book has it; one of the starting list stands here once it was changed.

    `key` is the word by which test results name it.
    """

    __tablename__ = "genetic_condition"
    __table_args__ = (
        one_of("mode", "recessive", "incomplete", "dominant"),
        CheckConstraint("frequency > 0 AND frequency < 1", name="frequency_range"),
        CheckConstraint("penetrance > 0 AND penetrance <= 1", name="penetrance_range"),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    key: Mapped[Label] = mapped_column(unique=True)
    name: Mapped[Label]
    mode: Mapped[Word] = mapped_column(default="recessive")
    harm: Mapped[Label | None]
    carriers_show: Mapped[bool] = mapped_column(default=False)
    penetrance: Mapped[float] = mapped_column(Float, default=1.0)
    frequency: Mapped[float] = mapped_column(Float)
    omia: Mapped[Label | None]
    gene: Mapped[Label | None]
    note: Mapped[Prose | None]
    watched: Mapped[bool] = mapped_column(default=True)


class ConditionSeen(Happening, Base):
    """What an animal looked like as to a condition: normal, affected, or of the look of one copy."""

    __tablename__ = "condition_seen"
    __table_args__ = (one_of("look", "looks_normal", "looks_carrier", "looks_affected"), AUTOINCREMENT)

    condition: Mapped[Label]
    look: Mapped[Word]
    by_whom: Mapped[Label | None]
