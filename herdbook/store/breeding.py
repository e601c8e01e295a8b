"""Breeding: services, bull runs, checks, calvings, losses, season plans."""

from sqlalchemy import CheckConstraint, Float
from sqlalchemy.orm import Mapped, mapped_column

from herdbook.store.base import AUTOINCREMENT, Base, Day, Key, Label, Moment, Prose, Word, link, one_of
from herdbook.store.happenings import Happening


class Service(Happening, Base):
    """A female served on a day: seen, in hand, by AI, or an embryo put in."""

    __tablename__ = "service"
    __table_args__ = (
        one_of("how", "seen", "hand", "ai", "embryo"),
        one_of("kept", "fresh", "frozen"),
        AUTOINCREMENT,
    )

    sire_id: Mapped[int | None] = link("animal.id")
    how: Mapped[Word] = mapped_column(default="seen")
    straw_batch: Mapped[Label | None]
    technician: Mapped[Label | None]
    donor_id: Mapped[int | None] = link("animal.id")
    embryo_days: Mapped[int | None]
    kept: Mapped[Word | None]


class Heat(Happening, Base):
    """A heat seen."""

    __tablename__ = "heat"


class PregnancyCheck(Happening, Base):
    """A pregnancy check; `days` is the age of the pregnancy on that day, where it was told.

    The method ``statement`` is a seller's word for a bought-in female, with the window he gave.
    """

    __tablename__ = "pregnancy_check"
    __table_args__ = (
        one_of("method", "scan", "hand", "blood", "milk", "eye", "statement", "other"),
        one_of("result", "pregnant", "open", "multiple", "unknown"),
        CheckConstraint("days >= 0 AND days <= 320", name="days_range"),
        AUTOINCREMENT,
    )

    method: Mapped[Word | None]
    result: Mapped[Word]
    days: Mapped[int | None]
    sire_id: Mapped[int | None] = link("animal.id")
    due_from: Mapped[Day | None]
    due_to: Mapped[Day | None]


class Calving(Happening, Base):
    """A female calved; each calf stands in `CalvingCalf`.

    `at` is the hour of the birth as people write it, "04:10". `reason` is why it was saved although it was
    asked about.
    """

    __tablename__ = "calving"
    __table_args__ = (one_of("afterbirth", "came", "hanging", "retained"), AUTOINCREMENT)

    at: Mapped[Word | None]
    afterbirth: Mapped[Word | None]
    helped_by: Mapped[Label | None]
    reason: Mapped[Prose | None]


class CalvingCalf(Base):
    """One calf of a calving. Ease is a category (1 none to 5 wrong presentation), never averaged."""

    __tablename__ = "calving_calf"
    __table_args__ = (
        CheckConstraint("ease BETWEEN 1 AND 5", name="ease_range"),
        one_of("fate", "alive", "stillborn", "died"),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    calving_id: Mapped[int] = link("calving.id")
    calf_id: Mapped[int] = link("animal.id")
    ease: Mapped[int | None]
    presentation: Mapped[Word | None]
    vigour: Mapped[Word | None]
    fate: Mapped[Word] = mapped_column(default="alive")


class Loss(Happening, Base):
    """A pregnancy lost before term."""

    __tablename__ = "loss"

    kind: Mapped[Word] = mapped_column(default="aborted")


class Sign(Happening, Base):
    """A sign of coming birth, or of heat, or of anything worth watching.

    `code` is the sign where it is one of those that are known, `at` the hour at which it was seen, "22:40".
    """

    __tablename__ = "sign_seen"

    what: Mapped[Label]
    code: Mapped[Word | None]
    at: Mapped[Word | None]


class BullRun(Base):
    """One or more bulls with females."""

    __tablename__ = "bull_run"

    id: Mapped[Key]
    name: Mapped[Label | None]
    group_id: Mapped[int | None] = link("herd_group.id")
    plan_id: Mapped[int | None] = link("season_plan.id")
    note: Mapped[Prose | None]


class BullRunBull(Base):
    """A bull in a run; first and last day both count."""

    __tablename__ = "bull_run_bull"
    __table_args__ = (CheckConstraint("to_day IS NULL OR to_day >= from_day", name="order"), AUTOINCREMENT)

    id: Mapped[Key]
    run_id: Mapped[int] = link("bull_run.id")
    animal_id: Mapped[int] = link("animal.id")
    from_day: Mapped[Day]
    to_day: Mapped[Day | None]


class BullRunFemale(Base):
    """A female in a run; first and last day both count."""

    __tablename__ = "bull_run_female"
    __table_args__ = (CheckConstraint("to_day IS NULL OR to_day >= from_day", name="order"), AUTOINCREMENT)

    id: Mapped[Key]
    run_id: Mapped[int] = link("bull_run.id")
    animal_id: Mapped[int] = link("animal.id")
    from_day: Mapped[Day]
    to_day: Mapped[Day | None]


class SeasonPlan(Base):
    """A breeding season as it was planned: one version under a name, a draft until it is accepted.

    It holds all that is needed to open it again as it was: the days, the limit, which of two figures was
    held against it where a sire is doubtful (`held`), what else the sort was asked as JSON (`asked`), whether
    the answer was proven best and else by how much it might be too dear (`gap`). `replaced` is the day on
    which another plan took the place of this accepted one.
    """

    __tablename__ = "season_plan"
    __table_args__ = (
        CheckConstraint("bull_out >= bull_in", name="order"),
        one_of("held", "worst", "expected"),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    name: Mapped[Label]
    version: Mapped[int] = mapped_column(default=1)
    made: Mapped[Moment]
    bull_in: Mapped[Day]
    bull_out: Mapped[Day]
    limit_inbreeding: Mapped[float] = mapped_column(Float)
    held: Mapped[Word]
    asked: Mapped[Prose | None]
    proven: Mapped[bool]
    gap: Mapped[float] = mapped_column(Float, default=0.0)
    accepted: Mapped[Day | None]
    replaced: Mapped[Day | None]
    note: Mapped[Prose | None]


class PlanGroup(Base):
    """A group of bulls of a plan, in the plan's order: its capacity, and what its paddock holds."""

    __tablename__ = "plan_group"

    id: Mapped[Key]
    plan_id: Mapped[int] = link("season_plan.id")
    position: Mapped[int]
    capacity: Mapped[int]
    capacity_by_hand: Mapped[bool] = mapped_column(default=False)
    paddock: Mapped[int | None]


class PlanBull(Base):
    """A bull of a plan's group with his own days, first and last counted; the first named is its key."""

    __tablename__ = "plan_bull"
    __table_args__ = (CheckConstraint("to_day >= from_day", name="order"), AUTOINCREMENT)

    id: Mapped[Key]
    plan_group_id: Mapped[int] = link("plan_group.id")
    animal_id: Mapped[int] = link("animal.id")
    from_day: Mapped[Day]
    to_day: Mapped[Day]
    capacity: Mapped[int]
    capacity_by_hand: Mapped[bool] = mapped_column(default=False)
    fit_for_heifers: Mapped[bool]


class PlanPlace(Base):
    """A female's place in a plan, with the figures as they were: her calf's inbreeding and genetic risk.

    `known` is False where a figure of nil rests on nothing.
    """

    __tablename__ = "plan_place"
    __table_args__ = (one_of("place", "bull", "not_bred", "finishing", "sell"), AUTOINCREMENT)

    id: Mapped[Key]
    plan_id: Mapped[int] = link("season_plan.id")
    animal_id: Mapped[int] = link("animal.id")
    place: Mapped[Word]
    plan_group_id: Mapped[int | None] = link("plan_group.id")
    inbreeding: Mapped[float | None] = mapped_column(Float)
    known: Mapped[bool] = mapped_column(default=True)
    affected: Mapped[float | None] = mapped_column(Float)
    code: Mapped[Word | None]
    by_hand: Mapped[bool] = mapped_column(default=False)
    reason: Mapped[Prose | None]


class PlanChoice(Base):
    """A choice made by hand in a plan: must be with a group, must not be, or a place without a bull."""

    __tablename__ = "plan_choice"
    __table_args__ = (
        one_of("kind", "must", "must_not", "place"),
        one_of("place", "not_bred", "finishing", "sell"),
        CheckConstraint("(kind = 'place') = (place IS NOT NULL)", name="place_told"),
        CheckConstraint("(kind = 'place') = (plan_group_id IS NULL)", name="group_told"),
        AUTOINCREMENT,
    )

    id: Mapped[Key]
    plan_id: Mapped[int] = link("season_plan.id")
    animal_id: Mapped[int] = link("animal.id")
    kind: Mapped[Word]
    plan_group_id: Mapped[int | None] = link("plan_group.id")
    place: Mapped[Word | None]
    reason: Mapped[Prose | None]
