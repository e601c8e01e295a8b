"""Animals and what stays with them: names and numbers, parents, rearing."""

from sqlalchemy import CheckConstraint, Connection, Float, Index, Table, event, text
from sqlalchemy.orm import Mapped, mapped_column

from herdbook.store.base import AUTOINCREMENT, PRECISIONS, Base, Day, Key, Label, Prose, Word, link, one_of


class Animal(Base):
    """One animal: of the herd, gone from it, or only known as somebody's parent.

    `dam_id` is the genetic dam and `birth_dam_id` the female that bore it, where that is another (embryo
    calf). The sire stands in `ParentEvidence`: more than one may be possible. `tag` is the word by which
    people know the animal today; it repeats its latest farm tag (or the name of an ancestor known by name
    only), because every list sorts and searches by it; `tag_key` is the same in natural order.
    `calved_before` is the keeper's word that she had calved before this book knew of it. A `placeholder` is a
    bull of whom nobody knows who he is, as a neighbour's or a stray one: one entry is one bull, so that his
    calves are half brothers and sisters, and what is behind him is not known.
    """

    __tablename__ = "animal"
    __table_args__ = (
        one_of("sex", "F", "M"),
        one_of("born_precision", *PRECISIONS),
        # Holds what a list sorts and searches by: 100,000 animals are filtered without reading their rows.
        Index("ix_animal_listed", "tag_key", "tag", "name"),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    tag: Mapped[Label] = mapped_column(index=True)
    tag_key: Mapped[Label]
    name: Mapped[Label | None] = mapped_column(index=True)
    sex: Mapped[Word | None]
    born: Mapped[Day | None]
    born_precision: Mapped[Word] = mapped_column(default="day", server_default="day")
    dam_id: Mapped[int | None] = link("animal.id")
    birth_dam_id: Mapped[int | None] = link("animal.id")
    breed: Mapped[Label | None]
    colour: Mapped[Label | None]
    horns: Mapped[Word | None]
    note: Mapped[Prose | None]
    care: Mapped[Prose | None]
    do_not_breed: Mapped[Prose | None]
    freemartin: Mapped[Word | None]
    calved_before: Mapped[bool | None]
    fit_for_heifers: Mapped[bool | None]
    capacity: Mapped[int | None]
    placeholder: Mapped[bool | None]


class BreedShare(Base):
    """The part of an animal that is of one breed."""

    __tablename__ = "breed_share"
    __table_args__ = (CheckConstraint("share > 0 AND share <= 1", name="share_range"), AUTOINCREMENT)

    id: Mapped[Key]
    animal_id: Mapped[int] = link("animal.id")
    breed: Mapped[Word]
    share: Mapped[float] = mapped_column(Float)


_FOR_EVER = "scheme IN ('official', 'electronic')"


class Identity(Base):
    """A number or word that an animal bears or bore.

    Official and electronic numbers are unique for ever; a farm tag may be worn again by another animal.
    """

    __tablename__ = "identity"
    __table_args__ = (
        one_of("scheme", "farm", "official", "electronic", "registration", "tattoo"),
        Index(
            "uq_identity_unique_number",
            "scheme",
            "value",
            unique=True,
            sqlite_where=text(_FOR_EVER),
        ),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    animal_id: Mapped[int] = link("animal.id")
    scheme: Mapped[Word]
    value: Mapped[Label] = mapped_column(index=True)
    colour: Mapped[Word | None]
    from_day: Mapped[Day | None]
    to_day: Mapped[Day | None]


@event.listens_for(Identity.__table__, "before_create")
def _for_ever_on_a_server(table: Table, conn: Connection, **_: object) -> None:
    """Limit the unique index on PostgreSQL too; said above, it would load that dialect for every book."""
    if conn.dialect.name == "postgresql":
        (index,) = (index for index in table.indexes if index.name == "uq_identity_unique_number")
        index.dialect_options["postgresql"]["where"] = text(_FOR_EVER)


class ParentEvidence(Base):
    """What somebody or a test says of a parent; chances by dates are computed and never stored."""

    __tablename__ = "parent_evidence"
    __table_args__ = (
        one_of("role", "sire", "dam"),
        one_of("kind", "word", "dna", "excluded"),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    animal_id: Mapped[int] = link("animal.id")
    role: Mapped[Word]
    candidate_id: Mapped[int] = link("animal.id")
    kind: Mapped[Word]
    day: Mapped[Day | None]
    note: Mapped[Prose | None]


class Rearing(Base):
    """Who reared a calf, from when to when; no female means by hand."""

    __tablename__ = "rearing"

    id: Mapped[Key]
    animal_id: Mapped[int] = link("animal.id")
    by_id: Mapped[int | None] = link("animal.id")
    from_day: Mapped[Day]
    to_day: Mapped[Day | None]
