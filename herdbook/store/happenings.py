"""The base of every dated thing that happens to an animal, and the happenings of body and health."""

from datetime import UTC, datetime

from sqlalchemy import CheckConstraint, DateTime, Float
from sqlalchemy.orm import Mapped, declared_attr, mapped_column

from herdbook.store.base import AUTOINCREMENT, Base, Day, Key, Label, Prose, Word, link, one_of


def utc_now() -> datetime:
    """Return the present time in UTC, without a zone, as the store keeps it."""
    return datetime.now(UTC).replace(tzinfo=None)


class Happening:
    """What every happening has: whose, the civil day with its precision, when it was written down, a note."""

    id: Mapped[Key]
    day: Mapped[Day] = mapped_column(index=True)
    day_precision: Mapped[Word] = mapped_column(default="day", server_default="day")
    recorded: Mapped[datetime] = mapped_column(DateTime, default=utc_now)
    note: Mapped[Prose | None]

    @declared_attr
    def animal_id(cls) -> Mapped[int]:  # noqa: N805 - SQLAlchemy calls this with the class
        """The animal to which it happened."""
        return link("animal.id")

    @declared_attr
    def round_id(cls) -> Mapped[int | None]:  # noqa: N805 - SQLAlchemy calls this with the class
        """The round of work it was done in, if any."""
        return link("round.id")


class Weighing(Happening, Base):
    """A weight in kg, with the unit that was typed and how it was taken."""

    __tablename__ = "weighing"
    __table_args__ = (
        CheckConstraint("kg > 0", name="positive"),
        one_of("method", "scale", "girth", "estimate"),
        one_of("stage", "birth", "weaning", "yearling", "other"),
        AUTOINCREMENT,
    )

    kg: Mapped[float] = mapped_column(Float)
    unit: Mapped[Word] = mapped_column(default="kg")
    method: Mapped[Word] = mapped_column(default="scale")
    stage: Mapped[Word | None]


class Height(Happening, Base):
    """A height in cm, at the hip unless said otherwise."""

    __tablename__ = "height"

    cm: Mapped[float] = mapped_column(Float)
    unit: Mapped[Word] = mapped_column(default="cm")
    place: Mapped[Word] = mapped_column(default="hip")


class Score(Happening, Base):
    """A score on a stated scale: condition, udder, teat, feet, temper."""

    __tablename__ = "score"

    kind: Mapped[Word]
    scale: Mapped[Word]
    value: Mapped[float] = mapped_column(Float)


class Castration(Happening, Base):
    """A castration and how; ``rig`` says that a testicle was found, so that he counts as entire again."""

    __tablename__ = "castration"

    method: Mapped[Word]


class Weaning(Happening, Base):
    """A calf weaned."""

    __tablename__ = "weaning"


class Fostering(Happening, Base):
    """A calf given to another female, or to the bottle where there is none."""

    __tablename__ = "fostering"

    by_id: Mapped[int | None] = link("animal.id")


class Medicine(Base):
    """A medicine as its label states it; `meat_days` empty means that the label has not been read in."""

    __tablename__ = "medicine"

    id: Mapped[Key]
    product: Mapped[Label]
    meat_days: Mapped[float | None] = mapped_column(Float)
    note: Mapped[Prose | None]


class MedicineStock(Base):
    """A bottle or pack bought."""

    __tablename__ = "medicine_stock"

    id: Mapped[Key]
    medicine_id: Mapped[int] = link("medicine.id")
    bought: Mapped[Day]
    quantity: Mapped[Label | None]
    supplier: Mapped[Label | None]
    batch: Mapped[Label | None]
    expires: Mapped[Day | None]


class Treatment(Happening, Base):
    """A medicine given; `meat_days` empty reads "not known, ask", never clear.

    `no_breeding_days` is set where the label, or the vet, forbids breeding for so long after the last dose.
    """

    __tablename__ = "treatment"
    __table_args__ = (
        CheckConstraint("meat_days >= 0", name="meat_days_range"),
        CheckConstraint("no_breeding_days >= 0", name="no_breeding_days_range"),
        AUTOINCREMENT,
    )

    product: Mapped[Label]
    batch: Mapped[Label | None]
    dose: Mapped[Label | None]
    route: Mapped[Word | None]
    meat_days: Mapped[float | None] = mapped_column(Float)
    no_breeding_days: Mapped[float | None] = mapped_column(Float)
    last_day: Mapped[Day | None]
    by_whom: Mapped[Label | None]
    reason: Mapped[Label | None]
    medicine_id: Mapped[int | None] = link("medicine.id")


class Illness(Happening, Base):
    """An illness or injury, and how it ended."""

    __tablename__ = "illness"

    what: Mapped[Label]
    outcome: Mapped[Label | None]


class HealthTest(Happening, Base):
    """A health test: the day is when it was taken."""

    __tablename__ = "health_test"

    what: Mapped[Label]
    read_day: Mapped[Day | None]
    result: Mapped[Label | None]


class GeneticTest(Happening, Base):
    """A genetic test's result for one condition or trait."""

    __tablename__ = "genetic_test"

    condition: Mapped[Label]
    genotype: Mapped[Word]
    laboratory: Mapped[Label | None]
    certificate: Mapped[Label | None]


class BullExam(Happening, Base):
    """A breeding soundness examination."""

    __tablename__ = "bull_exam"
    __table_args__ = (one_of("result", "satisfactory", "deferred", "unsatisfactory"), AUTOINCREMENT)

    result: Mapped[Word]
    scrotal_cm: Mapped[float | None] = mapped_column(Float)
    by_whom: Mapped[Label | None]


class Quarantine(Happening, Base):
    """Kept apart until a day."""

    __tablename__ = "quarantine"

    until: Mapped[Day | None]


class Arrival(Happening, Base):
    """How an animal came."""

    __tablename__ = "arrival"
    __table_args__ = (one_of("kind", "bought", "hired", "returned", "found", "other"), AUTOINCREMENT)

    kind: Mapped[Word]
    from_party: Mapped[Label | None]
    price: Mapped[float | None] = mapped_column(Float)
    medicines_known: Mapped[bool] = mapped_column(default=False)


class Departure(Happening, Base):
    """How an animal left."""

    __tablename__ = "departure"
    __table_args__ = (
        one_of("kind", "sold", "slaughtered", "died", "destroyed", "hired_out", "lost", "other"),
        AUTOINCREMENT,
    )

    kind: Mapped[Word]
    reason: Mapped[Label | None]
    to_party: Mapped[Label | None]
    live_kg: Mapped[float | None] = mapped_column(Float)
    hanging_kg: Mapped[float | None] = mapped_column(Float)
    take_home_kg: Mapped[float | None] = mapped_column(Float)
    price: Mapped[float | None] = mapped_column(Float)


class Note(Happening, Base):
    """Words about an animal on a day; the words stand in `note`."""

    __tablename__ = "remark"
