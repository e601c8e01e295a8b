"""Where animals are and whose they are: parties, holdings, stays, ownership, groups, rounds."""

from sqlalchemy import CheckConstraint, Float, Index
from sqlalchemy.orm import Mapped, mapped_column

from herdbook.store.base import AUTOINCREMENT, Base, Day, Key, Label, Prose, Word, link, one_of


class Party(Base):
    """A person or firm that the herd deals with."""

    __tablename__ = "party"

    id: Mapped[Key]
    name: Mapped[Label]
    kind: Mapped[Word | None]
    contact: Mapped[Prose | None]
    note: Mapped[Prose | None]


class Holding(Base):
    """A place where animals are kept; `ours` marks the herd's own ground."""

    __tablename__ = "holding"

    id: Mapped[Key]
    name: Mapped[Label]
    number: Mapped[Label | None]
    ours: Mapped[bool] = mapped_column(default=True)


class Stay(Base):
    """An animal on a holding; the one truth of whether it is here. An animal known by name only has none."""

    __tablename__ = "stay"
    __table_args__ = (
        one_of("why", "home", "hire", "tack", "show"),
        CheckConstraint("to_day IS NULL OR to_day >= from_day", name="order"),
        Index("ix_stay_open", "to_day", "from_day", "animal_id"),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    animal_id: Mapped[int] = link("animal.id")
    holding_id: Mapped[int] = link("holding.id")
    from_day: Mapped[Day]
    to_day: Mapped[Day | None]
    why: Mapped[Word] = mapped_column(default="home")


class Ownership(Base):
    """The share of an animal that a party owns."""

    __tablename__ = "ownership"
    __table_args__ = (CheckConstraint("share > 0 AND share <= 1", name="share_range"), AUTOINCREMENT)

    id: Mapped[Key]
    animal_id: Mapped[int] = link("animal.id")
    party_id: Mapped[int] = link("party.id")
    share: Mapped[float] = mapped_column(Float)
    from_day: Mapped[Day]
    to_day: Mapped[Day | None]


class Group(Base):
    """Animals kept together."""

    __tablename__ = "herd_group"
    __table_args__ = (
        one_of("purpose", "breeding", "finishing", "calves", "young", "bulls", "sale", "other"),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    name: Mapped[Label]
    purpose: Mapped[Word] = mapped_column(default="other")
    ended: Mapped[Day | None]


class Membership(Base):
    """An animal in a group until it goes on to another (`to_day`); the one truth of who ran with whom.

    A move that an accepted season plan means bears that plan.
    """

    __tablename__ = "membership"

    id: Mapped[Key]
    animal_id: Mapped[int] = link("animal.id")
    group_id: Mapped[int] = link("herd_group.id")
    from_day: Mapped[Day]
    to_day: Mapped[Day | None]
    plan_id: Mapped[int | None] = link("season_plan.id")


class Round(Base):
    """Animals worked together on one day; each happening of the round can be corrected alone."""

    __tablename__ = "round"

    id: Mapped[Key]
    day: Mapped[Day]
    work: Mapped[Word]
    group_id: Mapped[int | None] = link("herd_group.id")
    note: Mapped[Prose | None]
