"""Commands on animals themselves: adding one, its tags, its parents, its marks, its group."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from herdbook.husbandry.ids import read_electronic, tag_key
from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.book import Work
from herdbook.services.commands.moving import into_group
from herdbook.services.holdings import home
from herdbook.services.registry import Refused, handles
from herdbook.store.tables import (
    Animal,
    Castration,
    Group,
    Identity,
    ParentEvidence,
    Stay,
)

SEX = (("F", "female"), ("M", "male"))
SCHEMES = (
    ("farm", "farm tag"),
    ("official", "official number"),
    ("electronic", "electronic number"),
    ("registration", "registration"),
    ("tattoo", "tattoo"),
)
FREEMARTIN = (("probable", "probable"), ("tested_free", "tested, not one"), ("confirmed", "confirmed"))


@dataclass(frozen=True)
class AddAnimal:
    """Enter an animal: of the herd from `entered` (or birth), or known by name only (`here` false).

    A `placeholder` is an outside bull of whom nobody knows who he is; he can be run and named like any other.
    """

    tag: str = asks("Tag", "text")
    sex: str | None = asks("Sex", "choice", choices=SEX, optional=True)
    name: str | None = asks("Name", "text", optional=True)
    born: PartDay | None = asks("Born", "part_date", optional=True, hint="a year will do")
    dam: int | None = asks("Dam", "female", optional=True)
    sire: int | None = asks("Sire", "male", optional=True)
    breed: str | None = asks("Breed", "text", optional=True)
    colour: str | None = asks("Colour", "text", optional=True)
    electronic: str | None = asks("Electronic number", "text", optional=True)
    official: str | None = asks("Official number", "text", optional=True)
    registration: str | None = asks("Registration", "text", optional=True)
    entered: date | None = asks(
        "Here since", "date", optional=True, hint="empty for an animal born here: the day of its birth"
    )
    calved_before: bool | None = asks("Has calved before", "flag", optional=True)
    note: str | None = asks("Note", "note", optional=True)
    here: bool = True
    castrated: bool = False
    placeholder: bool = False


@dataclass(frozen=True)
class ChangeAnimal:
    """Correct what is written of an animal; the old values stay in the journal."""

    animal: int
    name: str | None = asks("Name", "text", optional=True)
    sex: str | None = asks("Sex", "choice", choices=SEX, optional=True)
    born: PartDay | None = asks("Born", "part_date", optional=True)
    dam: int | None = asks("Dam", "female", optional=True)
    birth_dam: int | None = asks(
        "Borne by", "female", optional=True, hint="only for an embryo calf: who bore it"
    )
    breed: str | None = asks("Breed", "text", optional=True)
    colour: str | None = asks("Colour", "text", optional=True)
    horns: str | None = asks("Horns", "text", optional=True)
    care: str | None = asks(
        "Take care", "text", optional=True, hint="the reason; stands beside the tag everywhere"
    )
    do_not_breed: str | None = asks("Not to be bred", "text", optional=True, hint="the reason")
    freemartin: str | None = asks("Freemartin", "choice", choices=FREEMARTIN, optional=True)
    calved_before: bool | None = asks("Had calved before this book", "flag", optional=True)
    fit_for_heifers: bool | None = asks("Fit for heifers", "flag", optional=True)
    capacity: int | None = asks("Females he may have", "count", optional=True, hint="empty: by his age")
    placeholder: bool | None = asks(
        "Nobody knows who he is", "flag", optional=True, hint="an outside bull; one entry is one bull"
    )
    note: str | None = asks("Note", "note", optional=True)


@dataclass(frozen=True)
class GiveTag:
    """Put a tag or number on an animal from a day on; an older one of the same scheme ends that day."""

    animal: int
    value: str = asks("Tag or number", "text")
    scheme: str = asks("Kind", "choice", choices=SCHEMES, default="farm")
    day: date | None = asks("From", "date", optional=True)
    colour: str | None = asks("Tag colour", "text", optional=True)


@dataclass(frozen=True)
class NameParent:
    """Say who a parent is, or is not, and on what ground."""

    animal: int
    candidate: int = asks("Parent", "animal")
    role: str = asks("As", "choice", choices=(("sire", "sire"), ("dam", "dam")), default="sire")
    kind: str = asks(
        "Ground",
        "choice",
        choices=(("word", "keeper's word"), ("dna", "DNA"), ("excluded", "excluded")),
        default="word",
    )
    day: date | None = asks("Date", "date", optional=True)


@dataclass(frozen=True)
class Move:
    """Put animals into a group from a day on; they leave the group they were in."""

    animals: tuple[int, ...] = asks("Animals", "animals")
    day: date = asks("Date", "date")
    group: int = asks("Into group", "group")


@dataclass(frozen=True)
class NewGroup:
    """Make a group."""

    name: str = asks("Name", "text")
    purpose: str = asks(
        "For",
        "choice",
        choices=(
            ("breeding", "breeding"),
            ("finishing", "finishing"),
            ("calves", "calves"),
            ("young", "young stock"),
            ("bulls", "bulls"),
            ("sale", "sale"),
            ("other", "other"),
        ),
        default="other",
    )


def add_identity(session: Session, animal: int, scheme: str, value: str, day: date | None) -> None:
    """Write one number of an animal, refusing a number that may exist only once and is taken."""
    value = read_electronic(value).digits if scheme == "electronic" else value.strip()
    if scheme in ("official", "electronic"):
        holder = session.scalar(
            select(Animal.tag)
            .join(Identity, Identity.animal_id == Animal.id)
            .where(Identity.scheme == scheme, Identity.value == value)
        )
        if holder is not None:
            raise Refused(
                Reason(
                    "number_taken", "{value} is already the number of {tag}", {"value": value, "tag": holder}
                )
            )
    session.add(Identity(animal_id=animal, scheme=scheme, value=value, from_day=day))


def insert_animal(session: Session, command: AddAnimal, *, tagged: bool = True) -> int:
    """Write a new animal with its numbers, parents and stay; return its id.

    Without `tagged` the command's tag is only the word it goes by, not a tag it wears.
    """
    born = command.born
    animal = Animal(
        tag=command.tag.strip(),
        tag_key=tag_key(command.tag.strip()),
        name=command.name,
        sex=command.sex,
        born=born.day if born else None,
        born_precision=born.precision if born else "day",
        dam_id=command.dam,
        breed=command.breed,
        colour=command.colour,
        calved_before=command.calved_before,
        note=command.note,
        placeholder=command.placeholder or None,
    )
    session.add(animal)
    session.flush()
    since = command.entered or (born.day if born else None)
    if tagged and command.here:
        add_identity(session, animal.id, "farm", command.tag, since)
    for scheme in ("electronic", "official", "registration"):
        if value := getattr(command, scheme):
            add_identity(session, animal.id, scheme, value, since)
    if command.sire is not None:
        session.add(ParentEvidence(animal_id=animal.id, role="sire", candidate_id=command.sire, kind="word"))
    if command.here and since is not None:
        session.add(Stay(animal_id=animal.id, holding_id=home(session), from_day=since))
    if command.castrated and since is not None:
        session.add(Castration(animal_id=animal.id, day=since, day_precision="before", method="unknown"))
    session.flush()
    return animal.id


@handles(AddAnimal)
def _add(work: Work, command: AddAnimal) -> int:
    if command.here and command.entered is None and command.born is None:
        raise Refused(
            Reason(
                "when_here",
                "When was {tag} born, or since when is it here? A year will do.",
                {"tag": command.tag},
            )
        )
    return insert_animal(work.session, command)


@handles(ChangeAnimal)
def _change(work: Work, command: ChangeAnimal) -> int:
    animal = work.session.get_one(Animal, command.animal)
    for name in ("name", "sex", "breed", "colour", "horns", "care", "do_not_breed", "freemartin"):
        setattr(animal, name, getattr(command, name))
    animal.calved_before = command.calved_before
    animal.fit_for_heifers = command.fit_for_heifers
    animal.capacity = command.capacity
    animal.placeholder = command.placeholder or None
    animal.note = command.note
    animal.dam_id = command.dam
    animal.birth_dam_id = command.birth_dam
    animal.born = command.born.day if command.born else None
    animal.born_precision = command.born.precision if command.born else "day"
    return animal.id


@handles(GiveTag)
def _give_tag(work: Work, command: GiveTag) -> None:
    session = work.session
    session.execute(
        update(Identity)
        .where(
            Identity.animal_id == command.animal,
            Identity.scheme == command.scheme,
            Identity.to_day.is_(None),
        )
        .values(to_day=command.day)
    )
    add_identity(session, command.animal, command.scheme, command.value, command.day)
    if command.colour:
        session.flush()
        session.execute(
            update(Identity)
            .where(Identity.animal_id == command.animal, Identity.value == command.value.strip())
            .values(colour=command.colour)
        )
    if command.scheme == "farm":
        animal = session.get_one(Animal, command.animal)
        animal.tag = command.value.strip()
        animal.tag_key = tag_key(animal.tag)


@handles(NameParent)
def _name_parent(work: Work, command: NameParent) -> None:
    session = work.session
    if command.candidate == command.animal:
        raise Refused(Reason("own_parent", "An animal cannot be its own parent", {}))
    if command.role == "dam" and command.kind != "excluded":
        session.get_one(Animal, command.animal).dam_id = command.candidate
    session.add(
        ParentEvidence(
            animal_id=command.animal,
            role=command.role,
            candidate_id=command.candidate,
            kind=command.kind,
            day=command.day,
        )
    )


@handles(Move)
def _move(work: Work, command: Move) -> None:
    into_group(work.session, command.animals, command.group, command.day)


@handles(NewGroup)
def _new_group(work: Work, command: NewGroup) -> int:
    group = Group(name=command.name.strip(), purpose=command.purpose)
    work.session.add(group)
    work.session.flush()
    return group.id
