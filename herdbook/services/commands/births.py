"""The birth: one act that writes the calving, the calves, their tags, weights and place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session

from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.book import Work
from herdbook.services.commands.animals import SEX, AddAnimal, insert_animal
from herdbook.services.registry import Refused, handles
from herdbook.store import tables as t

EASE = (
    ("1", "1 no help"),
    ("2", "2 some help"),
    ("3", "3 hard pull"),
    ("4", "4 caesarean"),
    ("5", "5 lay wrong"),
)
FATE = (("alive", "alive"), ("stillborn", "born dead"), ("died", "died"))


@dataclass(frozen=True)
class NewCalf:
    """One calf of a birth. Without a tag it is known as its dam's calf until it gets one."""

    sex: str = asks("Sex", "choice", choices=SEX)
    tag: str | None = asks("Tag", "text", optional=True)
    kg: float | None = asks("Weight", "weight", optional=True)
    unit: str = "kg"
    ease: int | None = asks("Help", "choice", choices=EASE, optional=True)
    fate: str = asks("Calf", "choice", choices=FATE, default="alive")
    name: str | None = asks("Name", "text", optional=True)
    colour: str | None = asks("Colour", "text", optional=True)
    presentation: str | None = None
    vigour: str | None = asks("Vigour", "text", optional=True)


@dataclass(frozen=True)
class RecordBirth:
    """A female calved on a day, with her calves; an aborted pregnancy is a loss, not a birth."""

    dam: int
    day: date
    calves: tuple[NewCalf, ...]
    sire: int | None = None
    genetic_dam: int | None = None
    note: str | None = None


def _breed_of_calf(session: Session, dam: int) -> str | None:
    return session.scalar(select(t.Animal.breed).where(t.Animal.id == dam))


def _calf_word(session: Session, dam: int, calf: NewCalf, day: date, number: int) -> str:
    """Return the calf's tag, or what it is called until it has one."""
    if calf.tag and calf.tag.strip():
        return calf.tag.strip()
    dam_tag = session.scalar(select(t.Animal.tag).where(t.Animal.id == dam))
    return f"{dam_tag} calf {day:%Y-%m-%d}" + (f" {number}" if number > 1 else "")


def _write_calf(work: Work, command: RecordBirth, calving: int, calf: NewCalf, number: int) -> int:
    session = work.session
    tagged = bool(calf.tag and calf.tag.strip())
    calf_id = insert_animal(
        session,
        AddAnimal(
            tag=_calf_word(session, command.dam, calf, command.day, number),
            sex=calf.sex,
            name=calf.name,
            born=PartDay(command.day),
            dam=command.genetic_dam or command.dam,
            sire=command.sire,
            colour=calf.colour,
            breed=_breed_of_calf(session, command.genetic_dam or command.dam),
        ),
        tagged=tagged,
    )
    if command.genetic_dam is not None and command.genetic_dam != command.dam:
        session.get_one(t.Animal, calf_id).birth_dam_id = command.dam
    session.add(
        t.CalvingCalf(
            calving_id=calving,
            calf_id=calf_id,
            ease=calf.ease,
            fate=calf.fate,
            presentation=calf.presentation,
            vigour=calf.vigour,
        )
    )
    if calf.kg is not None:
        session.add(t.Weighing(animal_id=calf_id, day=command.day, kg=calf.kg, unit=calf.unit, stage="birth"))
    if calf.fate != "alive":
        session.flush()
        stay = session.scalars(select(t.Stay).where(t.Stay.animal_id == calf_id)).one()
        stay.to_day = command.day
        session.add(t.Departure(animal_id=calf_id, day=command.day, kind="died", reason=calf.fate))
    return calf_id


def _mark_freemartins(session: Session, calf_ids: list[int], calves: tuple[NewCalf, ...]) -> None:
    """Mark the heifers of a mixed set of twins: over 90 % are sterile, the male's fate does not matter."""
    if {calf.sex for calf in calves} != {"F", "M"}:
        return
    for calf_id, calf in zip(calf_ids, calves, strict=True):
        if calf.sex == "F":
            session.get_one(t.Animal, calf_id).freemartin = "probable"


@handles(RecordBirth)
def _birth(work: Work, command: RecordBirth) -> tuple[int, ...]:
    """Write the birth; return the ids of the calves."""
    session = work.session
    dam = session.get_one(t.Animal, command.dam)
    if dam.sex == "M":
        raise Refused(Reason("male_dam", "{tag} is a male and cannot calve", {"tag": dam.tag}))
    if not command.calves:
        raise Refused(Reason("no_calf", "A birth has at least one calf; a calf born dead is one too", {}))
    calving = t.Calving(animal_id=command.dam, day=command.day, note=command.note)
    session.add(calving)
    session.flush()
    made = [
        _write_calf(work, command, calving.id, calf, number)
        for number, calf in enumerate(command.calves, start=1)
    ]
    _mark_freemartins(session, made, command.calves)
    return tuple(made)
