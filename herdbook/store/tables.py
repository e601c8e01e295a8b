"""Every table of the book, imported once so that the metadata is whole."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from herdbook.store.animals import Animal, BreedShare, Identity, ParentEvidence, Rearing
from herdbook.store.base import Base
from herdbook.store.breeding import (
    BullRun,
    BullRunBull,
    BullRunFemale,
    Calving,
    CalvingCalf,
    Heat,
    Loss,
    PlanBull,
    PlanChoice,
    PlanGroup,
    PlanPlace,
    PregnancyCheck,
    SeasonPlan,
    Service,
    Sign,
)
from herdbook.store.diary import BookedDay, Booking, BookSetting, CalendarSent, TaskDone
from herdbook.store.genetics import ConditionSeen, GeneticCondition
from herdbook.store.happenings import (
    Arrival,
    BullExam,
    Castration,
    Departure,
    Fostering,
    GeneticTest,
    Happening,
    HealthTest,
    Height,
    Illness,
    Medicine,
    MedicineStock,
    Note,
    Quarantine,
    Score,
    Treatment,
    Weaning,
    Weighing,
)
from herdbook.store.journal import Act, ActRow
from herdbook.store.places import Group, Holding, Membership, Ownership, Party, Round, Stay

if TYPE_CHECKING:
    from sqlalchemy.sql.base import ReadOnlyColumnCollection
    from sqlalchemy.sql.elements import KeyedColumnElement

METADATA = Base.metadata
"""Every table of the book, the journal's own among them."""


def columns(table: type[Base]) -> ReadOnlyColumnCollection[str, KeyedColumnElement[Any]]:
    """Return the plain columns of a table: a query of these alone needs no mapper, and is compiled sooner.

    What the first page reads is asked so.
    """
    return table.__table__.c


__all__ = [
    "METADATA",
    "Act",
    "ActRow",
    "Animal",
    "Arrival",
    "Base",
    "BookSetting",
    "BookedDay",
    "Booking",
    "BreedShare",
    "BullExam",
    "BullRun",
    "BullRunBull",
    "BullRunFemale",
    "CalendarSent",
    "Calving",
    "CalvingCalf",
    "Castration",
    "ConditionSeen",
    "Departure",
    "Fostering",
    "GeneticCondition",
    "GeneticTest",
    "Group",
    "Happening",
    "HealthTest",
    "Heat",
    "Height",
    "Holding",
    "Identity",
    "Illness",
    "Loss",
    "Medicine",
    "MedicineStock",
    "Membership",
    "Note",
    "Ownership",
    "ParentEvidence",
    "Party",
    "PlanBull",
    "PlanChoice",
    "PlanGroup",
    "PlanPlace",
    "PregnancyCheck",
    "Quarantine",
    "Rearing",
    "Round",
    "Score",
    "SeasonPlan",
    "Service",
    "Sign",
    "Stay",
    "TaskDone",
    "Treatment",
    "Weaning",
    "Weighing",
    "columns",
]
