"""Commands that write one happening of one animal.

Each dataclass names its table and its fields carry the names of the table's columns, so one handler serves
all; a kind that changes more than its own row adds a consequence.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import delete, select, update

from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.book import Work
from herdbook.services.commands.breeding import CheckPregnancy, Lose, SeeHeat, SeeSign, Serve
from herdbook.services.commands.genetics import SeeCondition, TestGenes
from herdbook.services.commands.happened import Happened, column_values
from herdbook.services.holdings import home
from herdbook.services.registry import Refused, handles
from herdbook.store import tables as t

__all__ = [
    "KINDS",
    "Arrive",
    "Castrate",
    "CheckPregnancy",
    "ExamineBull",
    "FallIll",
    "Foster",
    "GiveScore",
    "Happened",
    "KeepApart",
    "Leave",
    "Lose",
    "Measure",
    "RecordRound",
    "Remark",
    "SeeCondition",
    "SeeHeat",
    "SeeSign",
    "Serve",
    "TestGenes",
    "TestHealth",
    "Treat",
    "Wean",
    "Weigh",
    "column_values",
    "write",
]


@dataclass(frozen=True)
class Weigh(Happened):
    """A weight in kg; `unit` is the one that was typed."""

    table = t.Weighing
    kind = "weighing"
    label = "Weight"

    kg: float = asks("Weight", "weight")
    unit: str = "kg"
    method: str = asks(
        "How",
        "choice",
        choices=(("scale", "scale"), ("girth", "girth tape"), ("estimate", "estimate")),
        default="scale",
    )
    stage: str | None = asks(
        "Stage",
        "choice",
        choices=(("birth", "birth"), ("weaning", "weaning"), ("yearling", "yearling"), ("other", "other")),
        optional=True,
    )


@dataclass(frozen=True)
class Measure(Happened):
    """A height in cm."""

    table = t.Height
    kind = "height"
    label = "Height"

    cm: float = asks("Height", "length")
    unit: str = "cm"
    place: str = asks("Where", "choice", choices=(("hip", "hip"), ("withers", "withers")), default="hip")


@dataclass(frozen=True)
class GiveScore(Happened):
    """A score on its scale."""

    table = t.Score
    kind = "score"
    label = "Score"

    score_kind: str = asks(
        "Of",
        "choice",
        choices=(
            ("condition", "body condition, 1-9 or 1-5"),
            ("udder", "udder suspension, 9 tight to 1 pendulous"),
            ("teat", "teat size, 9 very small to 1 very large"),
            ("feet", "foot angle and claws, 1-9, 5 ideal"),
            ("temper", "temper, 1 docile to 6 very aggressive"),
        ),
    )
    value: float = asks("Score", "number")
    scale: str = asks(
        "Scale", "choice", choices=(("1-9", "1 to 9"), ("1-5", "1 to 5"), ("1-6", "1 to 6")), default="1-9"
    )


@dataclass(frozen=True)
class Castrate(Happened):
    """A castration, or a rig found."""

    table = t.Castration
    kind = "castration"
    label = "Castration"

    method: str = asks(
        "How",
        "choice",
        choices=(
            ("ring", "rubber ring"),
            ("clamp", "clamp"),
            ("knife", "knife"),
            ("unknown", "not known"),
            ("rig", "rig found: entire again"),
        ),
        hint="age limits and pain relief: ask your vet, check the current rule where you farm",
    )


@dataclass(frozen=True)
class Wean(Happened):
    """A calf weaned."""

    table = t.Weaning
    kind = "weaning"
    label = "Weaning"


@dataclass(frozen=True)
class Foster(Happened):
    """A calf put to another female, or to the bottle."""

    table = t.Fostering
    kind = "fostering"
    label = "Fostering"

    by: int | None = asks("Reared by", "female", optional=True, hint="empty: by hand")


@dataclass(frozen=True)
class Treat(Happened):
    """A medicine given. No days for meat means not known, never clear."""

    table = t.Treatment
    kind = "treatment"
    label = "Treatment"

    product: str = asks("Medicine", "text")
    meat_days: float | None = asks(
        "Days for meat", "days", optional=True, hint="as the label or your vet says; empty reads as not known"
    )
    dose: str | None = asks("Dose", "text", optional=True)
    batch: str | None = asks("Batch", "text", optional=True)
    route: str | None = asks("Given", "text", optional=True, hint="under the skin, by mouth, ...")
    by_whom: str | None = asks("By", "text", optional=True)
    reason: str | None = asks("For", "text", optional=True)
    last_day: date | None = asks("Last dose", "date", optional=True, hint="empty: the same day")
    no_breeding_days: float | None = asks(
        "Days not to be bred", "days", optional=True, hint="only where the label or your vet forbids breeding"
    )


@dataclass(frozen=True)
class FallIll(Happened):
    """An illness or injury."""

    table = t.Illness
    kind = "illness"
    label = "Illness"

    what: str = asks("What", "text")
    outcome: str | None = asks("Outcome", "text", optional=True)


@dataclass(frozen=True)
class TestHealth(Happened):
    """A health test; the day is when it was taken."""

    table = t.HealthTest
    kind = "health_test"
    label = "Health test"
    __test__ = False

    what: str = asks("Test", "text")
    read_day: date | None = asks("Read on", "date", optional=True)
    result: str | None = asks("Result", "text", optional=True)


@dataclass(frozen=True)
class ExamineBull(Happened):
    """A breeding soundness examination."""

    table = t.BullExam
    kind = "bull_exam"
    label = "Bull examined"

    result: str = asks(
        "Result",
        "choice",
        choices=(
            ("satisfactory", "satisfactory"),
            ("deferred", "deferred"),
            ("unsatisfactory", "unsatisfactory"),
        ),
    )
    scrotal_cm: float | None = asks("Scrotal girth", "length", optional=True)
    by_whom: str | None = asks("By", "text", optional=True)


@dataclass(frozen=True)
class KeepApart(Happened):
    """Quarantine until a day."""

    table = t.Quarantine
    kind = "quarantine"
    label = "Quarantine"

    until: date | None = asks("Until", "date", optional=True)


@dataclass(frozen=True)
class Arrive(Happened):
    """An animal came, or came back."""

    table = t.Arrival
    kind = "arrival"
    label = "Arrival"

    arrival_kind: str = asks(
        "How",
        "choice",
        choices=(
            ("bought", "bought"),
            ("hired", "hired"),
            ("returned", "came back"),
            ("found", "found"),
            ("other", "other"),
        ),
        default="bought",
    )
    from_party: str | None = asks("From", "text", optional=True)
    price: float | None = asks("Price", "number", optional=True)
    medicines_known: bool = asks("Medicines before arrival are known", "flag", default=False)


@dataclass(frozen=True)
class Leave(Happened):
    """An animal left."""

    table = t.Departure
    kind = "departure"
    label = "Departure"

    departure_kind: str = asks(
        "How",
        "choice",
        choices=(
            ("sold", "sold"),
            ("slaughtered", "to the butcher"),
            ("died", "died"),
            ("destroyed", "put down"),
            ("hired_out", "hired out"),
            ("lost", "lost"),
            ("other", "other"),
        ),
        default="sold",
    )
    reason: str | None = asks("Why", "text", optional=True)
    to_party: str | None = asks("To", "text", optional=True)
    live_kg: float | None = asks("Live weight", "weight", optional=True)
    hanging_kg: float | None = asks("Hanging weight", "weight", optional=True)
    take_home_kg: float | None = asks("Take-home weight", "weight", optional=True)
    price: float | None = asks("Price", "number", optional=True)


@dataclass(frozen=True)
class Remark(Happened):
    """Words about an animal."""

    table = t.Note
    kind = "note"
    label = "Note"


KINDS: tuple[type[Happened], ...] = (
    Weigh,
    Treat,
    Serve,
    CheckPregnancy,
    SeeHeat,
    SeeSign,
    Lose,
    GiveScore,
    Measure,
    Castrate,
    Wean,
    Foster,
    Remark,
    FallIll,
    TestHealth,
    TestGenes,
    SeeCondition,
    ExamineBull,
    KeepApart,
    Arrive,
    Leave,
)
"""Every kind of happening with a plain form, in the order in which a form offers them."""


def _close_stay(work: Work, command: Leave) -> None:
    stay = work.session.scalar(
        select(t.Stay).where(t.Stay.animal_id == command.animal, t.Stay.to_day.is_(None))
    )
    if stay is None:
        raise Refused(Reason("not_here", "This animal is not here, so it cannot leave", {}))
    if stay.from_day > command.day:
        raise Refused(
            Reason("left_before_came", "It came on {came}; it cannot leave before", {"came": stay.from_day})
        )
    stay.to_day = command.day
    for part in (t.Membership, t.BullRunFemale, t.BullRunBull):
        here = (part.animal_id == command.animal, part.from_day <= command.day)
        goes_on = part.to_day.is_(None) | (part.to_day > command.day)  # a run's end may be planned
        work.session.execute(update(part).where(*here, goes_on).values(to_day=command.day))
        if command.departure_kind not in _MAY_COME_BACK:  # what was only planned for it will not be
            to_come = (part.animal_id == command.animal, part.from_day > command.day)
            work.session.execute(delete(part).where(*to_come))


_MAY_COME_BACK = frozenset({"hired_out", "lost"})


def _open_stay(work: Work, command: Arrive) -> None:
    here = work.session.scalar(
        select(t.Stay.id).where(t.Stay.animal_id == command.animal, t.Stay.to_day.is_(None))
    )
    if here is not None and command.arrival_kind == "returned":
        raise Refused(Reason("already_here", "This animal is already here", {}))
    if here is None:
        why = "hire" if command.arrival_kind == "hired" else "home"
        work.session.add(
            t.Stay(animal_id=command.animal, holding_id=home(work.session), from_day=command.day, why=why)
        )


def _rear(work: Work, command: Foster) -> None:
    work.session.execute(
        update(t.Rearing)
        .where(t.Rearing.animal_id == command.animal, t.Rearing.to_day.is_(None))
        .values(to_day=command.day)
    )
    work.session.add(t.Rearing(animal_id=command.animal, by_id=command.by, from_day=command.day))


_CONSEQUENCES: dict[type[Happened], Callable[[Work, Any], None]] = {
    Leave: _close_stay,
    Arrive: _open_stay,
    Foster: _rear,
}


def write(work: Work, command: Happened) -> int:
    """Write one happening and what follows from it; return the id of its row."""
    row = command.table(**column_values(command))
    work.session.add(row)
    work.session.flush()
    if consequence := _CONSEQUENCES.get(type(command)):
        consequence(work, command)
    return row.id


for _kind in KINDS:
    handles(_kind)(write)


@dataclass(frozen=True)
class RecordRound:
    """The same work on several animals in one act, bound as a round; each row can be corrected alone."""

    day: date
    work: str
    happenings: tuple[Happened, ...]
    group: int | None = None
    note: str | None = None


@handles(RecordRound)
def _round(work: Work, command: RecordRound) -> int:
    held = t.Round(day=command.day, work=command.work, group_id=command.group, note=command.note)
    work.session.add(held)
    work.session.flush()
    for happening in command.happenings:
        write(work, dataclasses.replace(happening, round=held.id))
    return held.id
