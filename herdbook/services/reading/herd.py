"""The animals while sheets are read in: those of the book and those to come, found by whatever names them."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.days import earliest, latest
from herdbook.husbandry.ids import read_electronic, tag_match
from herdbook.husbandry.partday import PartDay
from herdbook.services.reading.rows import AnimalRow, At, Question, ReadIn, Skipped
from herdbook.store import tables as t
from herdbook.words import say


class Bad(Exception):
    """A row that cannot be read in: the field that is to blame, and why."""

    def __init__(self, name: str | None, why: str) -> None:
        super().__init__(why)
        self.field = name


@dataclass(eq=False, slots=True)
class Made:
    """Something that has an id, or will have one when it is written."""

    id: int | None = None


@dataclass(eq=False, slots=True)
class Beast(Made):
    """An animal of the book (`id` set) or one to come.

    `here` tells whether it has, or will have, a stay; `first` and `gone` are that stay's days.
    """

    tag: str = ""
    name: str | None = None
    sex: str | None = None
    born: PartDay | None = None
    dam: Beast | None = None
    sire: Beast | None = None
    breed: str | None = None
    here: bool = False
    first: date | None = None
    gone: date | None = None
    castrated: bool = False
    freemartin: str | None = None
    row: AnimalRow | None = None
    changed: bool = False
    tagged: bool = False
    numbers: list[tuple[str, str]] = field(default_factory=list)
    place: int = 0

    @property
    def coming(self) -> bool:
        """Whether it is not in the book yet."""
        return self.id is None

    def here_on(self, day: date) -> bool:
        """Tell whether it is on the farm on a day, the day it leaves included."""
        return (
            self.here
            and (self.first is None or self.first <= day)
            and (self.gone is None or day <= self.gone)
        )

    @property
    def youngest_birth(self) -> date | None:
        """The latest day on which it can have been born."""
        return latest(self.born.day, self.born.precision) if self.born else None

    @property
    def oldest_birth(self) -> date | None:
        """The earliest day on which it can have been born; None where nothing bounds it."""
        return earliest(self.born.day, self.born.precision) if self.born else None


class Herd:
    """All animals of a reading, with the ways to find one."""

    def __init__(self) -> None:
        self.beasts: list[Beast] = []
        self._by_tag: dict[str, list[Beast]] = defaultdict(list)
        self._by_number: dict[str, list[Beast]] = defaultdict(list)
        self._by_name: dict[str, list[Beast]] = defaultdict(list)
        self.unique: dict[tuple[str, str], Beast] = {}

    def add(self, beast: Beast) -> Beast:
        """Take in an animal."""
        beast.place = len(self.beasts)
        self.beasts.append(beast)
        self._by_tag[tag_match(beast.tag)].append(beast)
        for scheme, value in beast.numbers:
            self.add_number(beast, scheme, value)
        self.add_name(beast)
        return beast

    def add_name(self, beast: Beast) -> None:
        """Make an animal findable by its name."""
        if beast.name:
            self._by_name[tag_match(beast.name)].append(beast)

    def add_number(self, beast: Beast, scheme: str, value: str) -> None:
        """Make an animal findable by a number."""
        self._by_number[tag_match(value)].append(beast)
        if scheme in ("official", "electronic"):
            self.unique.setdefault((scheme, value), beast)

    def with_tag(self, tag: str) -> list[Beast]:
        """Return the animals that go by a tag: spelt just so, else with other capitals or spaces."""
        found = self._by_tag.get(tag_match(tag), [])
        return [beast for beast in found if beast.tag == tag] or found

    def find(self, text: str) -> list[Beast]:
        """Return the animals that `text` can mean: by tag, else by a number, else by name."""
        key = tag_match(text)
        found = self.with_tag(text) or self._by_number.get(key) or self._by_name.get(key)
        if not found and len(key) >= 15:
            try:
                found = self._by_number.get(read_electronic(text).digits)
            except ValueError:
                found = None
        return list(dict.fromkeys(found or []))

    def one(self, text: str, name: str, day: date, sex: str | None = None) -> Beast:
        """Return the animal that `text` means on a day.

        Raises
        ------
        Bad
            Naming the field, where there is none, where several are possible, or where its sex does not fit.
        """
        found = self.find(text)
        if len(found) > 1:
            found = (
                [b for b in found if b.here_on(day)] or [b for b in found if b.sex in (sex, None)] or found
            )
        if not found:
            raise Bad(name, say("There is no animal {tag} in the book or the sheets.", tag=text))
        if len(found) > 1:
            raise Bad(name, say("{tag} can be several animals.", tag=text))
        beast = found[0]
        if sex == "F" and beast.sex == "M":
            raise Bad(name, say("{tag} is a male.", tag=text))
        if sex == "M" and beast.sex == "F":
            raise Bad(name, say("{tag} is a female.", tag=text))
        if sex and beast.sex is None and beast.coming:
            beast.sex = sex
        return beast

    def named(self, text: str, sex: str) -> Beast:
        """Return the parent or bull that `text` means, made as known by name only where there is none.

        Raises
        ------
        Bad
            Without a field, where several are possible.
        """
        found = self.find(text)
        if len(found) > 1:
            found = [b for b in found if b.sex == sex] or [b for b in found if b.sex is None] or found
        if len(found) > 1:
            raise Bad(None, say("{tag} can be several animals.", tag=text))
        return found[0] if found else self.add(Beast(tag=text, sex=sex))


def load(conn: Connection) -> Herd:
    """Read the book's animals with their parents, numbers and stays."""
    herd = Herd()
    a, e, s, n = t.Animal, t.ParentEvidence, t.Stay, t.Identity
    by_id: dict[int, Beast] = {}
    dams: dict[int, int] = {}
    columns = (a.id, a.tag, a.name, a.sex, a.born, a.born_precision, a.dam_id, a.breed)
    for id_, tag, name, sex, born, precision, dam, breed in conn.execute(select(*columns).order_by(a.id)):
        part = PartDay(born, precision) if born else None
        by_id[id_] = herd.add(Beast(id=id_, tag=tag, name=name, sex=sex, born=part, breed=breed))
        if dam is not None:
            dams[id_] = dam
    for child, dam in dams.items():
        by_id[child].dam = by_id.get(dam)
    sires = select(e.animal_id, e.candidate_id).where(e.role == "sire", e.kind != "excluded").order_by(e.id)
    for child, sire in conn.execute(sires):
        by_id[child].sire = by_id.get(sire)
    for animal, first, last in conn.execute(select(s.animal_id, s.from_day, s.to_day).order_by(s.from_day)):
        beast = by_id[animal]
        beast.first = beast.first if beast.here else first
        beast.here, beast.gone = True, last
    for animal, scheme, value in conn.execute(select(n.animal_id, n.scheme, n.value)):
        herd.add_number(by_id[animal], scheme, value)
        by_id[animal].tagged |= scheme == "farm"
    for animal in conn.scalars(select(t.Castration.animal_id)):
        by_id[animal].castrated = True
    return herd


@dataclass
class Draft:
    """What is to be written, and what is to be told, while it is put together.

    `rows` holds, by table, the values of each row; a `Made` stands for its id.
    """

    plan: ReadIn
    herd: Herd
    on: date
    rows: dict[Any, list[dict[str, Any]]] = field(default_factory=lambda: defaultdict(list))
    skipped: list[Skipped] = field(default_factory=list)
    questions: list[Question] = field(default_factory=list)
    counts: dict[str, int] = field(default_factory=lambda: defaultdict(int))
    updates: list[tuple[Any, int, dict[str, Any]]] = field(default_factory=list)

    def skip(self, at: At, error: Bad) -> None:
        """Name a row that is not read in."""
        column = self.plan.heading(at, error.field) if error.field else None
        self.skipped.append(Skipped(at.sheet, at.row, column, str(error)))

    def ask(
        self, code: str, text: str, tags: Iterable[str] = (), at: At | None = None, name: str = ""
    ) -> None:
        """Put a question."""
        column = self.plan.heading(at, name) if at and name else None
        sheet, row = (at.sheet, at.row) if at else (None, None)
        self.questions.append(Question(code, text, tuple(tags), sheet, row, column))


def already() -> Bad:
    """Return the reason for leaving out what the book holds, so that a sheet can be read in again."""
    return Bad(None, say("This is already in the book."))
