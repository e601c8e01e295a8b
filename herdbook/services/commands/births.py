"""The birth: one act that writes the calving, the calves, their tags, weights and place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from herdbook.husbandry.hours import read_hour
from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.book import Work
from herdbook.services.commands.animals import SEX, AddAnimal, insert_animal
from herdbook.services.registry import Refused, handles
from herdbook.store import tables as t
from herdbook.words import say

EASE = (
    ("1", "1 no help"),
    ("2", "2 some help"),
    ("3", "3 hard pull"),
    ("4", "4 caesarean"),
    ("5", "5 lay wrong"),
)
FATE = (("alive", "alive"), ("stillborn", "born dead"), ("died", "died"))
LAY = (
    ("forward", "forwards"),
    ("backward", "backwards"),
    ("breech", "tail first"),
    ("head_back", "head back"),
    ("leg_back", "leg back"),
    ("other", "otherwise"),
)
"""How a calf lay. Common practice, no source."""
VIGOUR = (
    ("lively", "up and sucked by itself"),
    ("slow", "slow to get up"),
    ("helped", "helped to suck"),
    ("weak", "weak"),
)
"""How a calf did in its first hours: no published scale was found, so these are words and no figures."""
AFTERBIRTH = (("came", "came away"), ("hanging", "still hanging"), ("retained", "retained over 12 hours"))
"""Retained after 12 hours: University of Pennsylvania veterinary school."""

ONE_BIRTH_DAYS = 1
"""Days between two calves that are still written as twins of one birth; the second may come past midnight."""


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
    presentation: str | None = asks("Lay", "choice", choices=LAY, optional=True)
    vigour: str | None = asks("Vigour", "choice", choices=VIGOUR, optional=True)


@dataclass(frozen=True)
class RecordBirth:
    """A female calved on a day, with her calves; an aborted pregnancy is a loss, not a birth.

    A calf born dead at term is a birth: she has calved. `genetic_dam` is the donor of an embryo that the dam
    carried. `goes_for_people` puts the mark to take care beside the dam's tag. `reason` is why it is saved
    although it was asked about. A calf of a dam who calved the same day or the day before or after is
    written as a twin of that birth.
    """

    dam: int
    day: date
    calves: tuple[NewCalf, ...]
    sire: int | None = None
    genetic_dam: int | None = None
    note: str | None = None
    at: str | None = None
    afterbirth: str | None = None
    helped_by: str | None = None
    goes_for_people: bool = False
    reason: str | None = None

    def __post_init__(self) -> None:
        """Put the hour into its one spelling."""
        object.__setattr__(self, "at", read_hour(self.at) if self.at else None)


@dataclass(frozen=True)
class SeeAfterbirth:
    """What became of the afterbirth of her last calving."""

    animal: int
    afterbirth: str = asks("Afterbirth", "choice", choices=AFTERBIRTH)


@dataclass(frozen=True)
class FindCalf:
    """A calf found of whom nobody knows whose it is; its dam can be said later by `SayDam`."""

    day: date = asks("Born about", "date")
    sex: str = asks("Calf", "choice", choices=(("F", "heifer calf"), ("M", "bull calf")))
    tag: str = asks("Tag", "text", hint="or a word by which it goes")
    kg: float | None = asks("Weight", "weight", optional=True)
    note: str | None = asks("Note", "text", optional=True)
    unit: str = "kg"


@dataclass(frozen=True)
class SayDam:
    """Say whose calf a found one is: its dam has calved on the day of its birth."""

    animal: int = asks("Calf", "animal")
    dam: int = asks("Dam", "female")


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


def _birth_of(session: Session, command: RecordBirth) -> tuple[t.Calving, int]:
    """Return the birth, and how many calves it has: the one that this is a twin of, else a new one."""
    around = [command.day + timedelta(days=n) for n in range(-ONE_BIRTH_DAYS, ONE_BIRTH_DAYS + 1)]
    query = select(t.Calving).where(
        t.Calving.animal_id == command.dam, t.Calving.day.in_(around), t.Calving.day_precision == "day"
    )
    calving = session.scalars(query.order_by(t.Calving.day)).first()
    if calving is None:
        calving = t.Calving(animal_id=command.dam, day=command.day, note=command.note, at=command.at)
        session.add(calving)
    elif command.note:
        calving.note = f"{calving.note}\n{command.note}" if calving.note else command.note
    calving.afterbirth = command.afterbirth or calving.afterbirth
    calving.helped_by = command.helped_by or calving.helped_by
    calving.reason = command.reason or calving.reason
    session.flush()
    calves = select(func.count()).where(t.CalvingCalf.calving_id == calving.id)
    return calving, session.scalar(calves) or 0


def _mark_freemartins(session: Session, calving: int) -> None:
    """Mark the heifers of a mixed set of twins: over 90 % are sterile, the male's fate does not matter.

    SOURCE: extension page on twins (beef-cattle.extension.org); a bull calf born dead did the same harm. What
    a test has said of her since stands.
    """
    mine = select(t.CalvingCalf.calf_id).where(t.CalvingCalf.calving_id == calving)
    calves = session.scalars(select(t.Animal).where(t.Animal.id.in_(mine))).all()
    if {calf.sex for calf in calves} >= {"F", "M"}:
        for calf in calves:
            if calf.sex == "F" and calf.freemartin is None:
                calf.freemartin = "probable"


def _take_care(dam: t.Animal) -> None:
    """Put the mark to take care beside her tag; what stood there stays."""
    words = say("goes for people at calving")
    if words not in (dam.care or ""):
        dam.care = f"{dam.care}; {words}" if dam.care else words


@handles(RecordBirth)
def _birth(work: Work, command: RecordBirth) -> tuple[int, ...]:
    """Write the birth; return the ids of the calves."""
    session = work.session
    dam = session.get_one(t.Animal, command.dam)
    if dam.sex == "M":
        raise Refused(Reason("male_dam", "{tag} is a male and cannot calve", {"tag": dam.tag}))
    if not command.calves:
        raise Refused(Reason("no_calf", "A birth has at least one calf; a calf born dead is one too", {}))
    calving, before = _birth_of(session, command)
    made = [
        _write_calf(work, command, calving.id, calf, number)
        for number, calf in enumerate(command.calves, start=before + 1)
    ]
    session.flush()
    _mark_freemartins(session, calving.id)
    if command.goes_for_people:
        _take_care(dam)
    return tuple(made)


@handles(SeeAfterbirth)
def _afterbirth(work: Work, command: SeeAfterbirth) -> None:
    """Write it beside her last calving."""
    c = t.Calving
    last = select(c).where(c.animal_id == command.animal).order_by(c.day.desc(), c.id.desc()).limit(1)
    calving = work.session.scalars(last).first()
    if calving is None:
        raise Refused(Reason("no_calving", "She has no calving in the book: write that first"))
    calving.afterbirth = command.afterbirth


@handles(FindCalf)
def _find(work: Work, command: FindCalf) -> int:
    """Write a calf without a dam; return its id."""
    calf = insert_animal(
        work.session,
        AddAnimal(tag=command.tag, sex=command.sex, born=PartDay(command.day), note=command.note),
    )
    if command.kg is not None:
        work.session.add(
            t.Weighing(animal_id=calf, day=command.day, kg=command.kg, unit=command.unit, stage="birth")
        )
    return calf


@handles(SayDam)
def _say_dam(work: Work, command: SayDam) -> None:
    """Give a calf its dam, and the dam her calving; a calf that has one is refused."""
    session = work.session
    calf, dam = session.get_one(t.Animal, command.animal), session.get_one(t.Animal, command.dam)
    if calf.dam_id is not None:
        raise Refused(
            Reason("has_dam", "{tag} has a dam in the book; change that on its card", {"tag": calf.tag})
        )
    if dam.sex == "M":
        raise Refused(Reason("male_dam", "{tag} is a male and cannot calve", {"tag": dam.tag}))
    if calf.born is None or calf.born_precision != "day":
        raise Refused(Reason("born_when", "The day of {tag}'s birth is not known", {"tag": calf.tag}))
    calving, _ = _birth_of(session, RecordBirth(dam.id, calf.born, ()))
    calf.dam_id = dam.id
    session.add(t.CalvingCalf(calving_id=calving.id, calf_id=calf.id, fate="alive"))
    session.flush()
    _mark_freemartins(session, calving.id)
