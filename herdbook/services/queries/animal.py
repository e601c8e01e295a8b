"""The animal card: who it is, its parents and offspring, where it is, its weights and all that happened."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Connection, or_, select

from herdbook.husbandry.growth import average_daily_gain
from herdbook.husbandry.partday import PartDay
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import load_herd
from herdbook.services.pedigree import sires_of, sires_of_each
from herdbook.services.queries.clear import clear_of
from herdbook.services.queries.company import alerts_among
from herdbook.services.queries.happened import Happening, happenings
from herdbook.services.queries.lists import Sire, sire_rows, sire_words
from herdbook.services.registry import Refused
from herdbook.services.saying import called
from herdbook.services.settings import load_settings
from herdbook.store import tables as t


@dataclass(frozen=True)
class Number:
    """A tag or number that the animal bears, or bore until `to_day`."""

    scheme: str
    value: str
    colour: str | None
    from_day: date | None
    to_day: date | None

    @property
    def past(self) -> bool:
        """Whether it is worn no more."""
        return self.to_day is not None


@dataclass(frozen=True)
class Parent:
    """A dam, by tag and name."""

    id: int
    tag: str
    name: str | None


@dataclass(frozen=True)
class Offspring:
    """A calf of the animal; for a bull with the chance that it is his, by the name of its dam."""

    id: int
    tag: str
    name: str | None
    sex: str | None
    born: date | None
    born_precision: str
    fate: str | None
    chance: float
    dam: str | None
    sire_words: str


@dataclass(frozen=True)
class WeightRow:
    """A weighing, with the gain a day since the one before; None where the two cannot be compared."""

    row: int
    day: date
    kg: float
    unit: str
    method: str
    stage: str | None
    gain_kg: float | None


@dataclass(frozen=True)
class AnimalCard:
    """All that the card of an animal shows, as of a day."""

    id: int
    tag: str
    name: str | None
    sex: str | None
    class_: str
    born: PartDay | None
    breed: str | None
    colour: str | None
    horns: str | None
    note: str | None
    care: str | None
    do_not_breed: str | None
    freemartin: str | None
    fit_for_heifers: bool | None
    capacity: int | None
    numbers: tuple[Number, ...]
    dam: Parent | None
    birth_dam: Parent | None
    reared_by: Parent | None
    sires: tuple[Sire, ...]
    offspring: tuple[Offspring, ...]
    present: bool
    here_since: date | None
    left_on: date | None
    known_by_name: bool
    placeholder: bool
    group: str | None
    weights: tuple[WeightRow, ...]
    clear_on: date | None
    medicine_known: bool
    medicine: tuple[Reason, ...]
    happenings: tuple[Happening, ...]
    alerts: tuple[Reason, ...] = ()

    @property
    def words(self) -> str:
        """The tag with the name."""
        return called(self.tag, self.name)

    @property
    def sire_words(self) -> str:
        """The possible sires in words."""
        return sire_words(self.sires)


def card(conn: Connection, animal: int, on: date) -> AnimalCard:
    """Return the card of an animal as of a day.

    Raises
    ------
    Refused
        When there is no such animal (any more).
    """
    a = t.Animal
    names = "colour horns note birth_dam_id placeholder".split()
    more = conn.execute(select(*(getattr(a, name) for name in names)).where(a.id == animal)).one_or_none()
    if more is None:
        raise Refused(Reason("no_animal", "This animal is not in the book any more"))
    colour, horns, note, birth_dam, placeholder = more
    facts = load_herd(conn, on, [animal])[animal]
    here_since, left_on, known = _place(conn, animal, on)
    clear = clear_of(facts, load_settings(conn))
    rearer = _rearer(conn, animal, on)
    parents = _parents(conn, (facts.dam, birth_dam, rearer))
    return AnimalCard(
        id=animal,
        tag=facts.tag,
        name=facts.name,
        sex=facts.sex,
        class_=facts.class_on(on).value,
        born=PartDay(facts.born, facts.born_precision) if facts.born else None,
        breed=facts.breed,
        colour=colour,
        horns=horns,
        note=note,
        care=facts.care,
        do_not_breed=facts.do_not_breed,
        freemartin=facts.freemartin,
        fit_for_heifers=facts.fit_for_heifers,
        capacity=facts.capacity,
        numbers=_numbers(conn, animal),
        dam=parents.get(facts.dam),
        birth_dam=parents.get(birth_dam),
        reared_by=parents.get(rearer),
        sires=sire_rows(conn, {animal: sires_of(conn, animal)})[animal],
        offspring=offspring(conn, animal, facts.sex, on),
        present=here_since is not None,
        here_since=here_since,
        left_on=left_on,
        known_by_name=not known,
        placeholder=bool(placeholder),
        group=facts.group[1] if facts.group else None,
        weights=weights(conn, animal, on),
        clear_on=clear.day,
        medicine_known=clear.known,
        medicine=clear.reasons,
        happenings=happenings(conn, animal, on),
        alerts=alerts_among(conn, on, [animal]).get(animal, ()),
    )


def _parents(conn: Connection, ids: Iterable[int | None]) -> Mapping[int | None, Parent]:
    a = t.Animal
    query = select(a.id, a.tag, a.name).where(a.id.in_([key for key in ids if key is not None]))
    return {row[0]: Parent(*row) for row in conn.execute(query)}


def _rearer(conn: Connection, animal: int, on: date) -> int | None:
    r = t.Rearing
    query = (
        select(r.by_id)
        .where(r.animal_id == animal, r.from_day <= on)
        .order_by(r.from_day.desc(), r.id.desc())
    )
    return conn.scalars(query.limit(1)).first()


def _numbers(conn: Connection, animal: int) -> tuple[Number, ...]:
    i = t.Identity
    query = select(i.scheme, i.value, i.colour, i.from_day, i.to_day).where(i.animal_id == animal)
    return tuple(Number(*row) for row in conn.execute(query.order_by(i.to_day.is_not(None), i.id)))


def _place(conn: Connection, animal: int, on: date) -> tuple[date | None, date | None, bool]:
    """Return since when it is here (None if it is not), when it last left, and whether it ever was here."""
    s, h = t.Stay, t.Holding
    query = select(s.from_day, s.to_day, h.ours).join(h, h.id == s.holding_id).where(s.animal_id == animal)
    stays = conn.execute(query.order_by(s.from_day, s.id)).all()
    here = [first for first, last, ours in stays if ours and first <= on and (last is None or last > on)]
    left = [last for _, last, ours in stays if ours and last is not None and last <= on]
    return (here[-1] if here else None), (left[-1] if left and not here else None), bool(stays)


def weights(conn: Connection, animal: int, on: date) -> tuple[WeightRow, ...]:
    """Return the weighings, newest first, each with the gain since the one before taken the same way.

    Weighings of different methods are not compared, nor any two under 14 days apart.
    """
    w = t.Weighing
    query = select(w.id, w.day, w.kg, w.unit, w.method, w.stage).where(w.animal_id == animal, w.day <= on)
    rows: list[WeightRow] = []
    before: dict[str, tuple[date, float]] = {}
    for row, day, kg, unit, method, stage in conn.execute(query.order_by(w.day, w.id)):
        gain = None
        if method in before and (days := (day - before[method][0]).days) > 0:
            gain = average_daily_gain(before[method][1], kg, days)
        before[method] = (day, kg)
        rows.append(WeightRow(row, day, kg, unit, method, stage, gain))
    return tuple(reversed(rows))


def offspring(conn: Connection, animal: int, sex: str | None, on: date) -> tuple[Offspring, ...]:
    """Return the calves of a dam, or those that are or may be a bull's, oldest first."""
    a = t.Animal
    calves = _calves_of_bull(conn, animal) if sex == "M" else []
    wanted = a.id.in_(calves) if sex == "M" else or_(a.dam_id == animal, a.birth_dam_id == animal)
    query = select(a.id, a.tag, a.name, a.sex, a.born, a.born_precision, a.dam_id).where(wanted)
    rows = conn.execute(query.order_by(a.born, a.tag_key)).all()
    ids = [row[0] for row in rows]
    sires = sire_rows(conn, sires_of_each(conn, ids))
    dams = _parents(conn, (row[6] for row in rows))
    c = t.CalvingCalf
    fates = {row[0]: row[1] for row in conn.execute(select(c.calf_id, c.fate).where(c.calf_id.in_(ids)))}
    made = []
    for calf, tag, name, its_sex, born, precision, dam in rows:
        likely = sires.get(calf, ())
        chance = 1.0
        if sex == "M":
            chance = next((s.chance for s in likely if s.id == animal), 0.0)
        if chance and (born is None or born <= on):
            mother = dams[dam].tag if dam in dams else None
            about = (fates.get(calf), chance, mother, sire_words(likely))
            made.append(Offspring(calf, tag, name, its_sex, born, precision, *about))
    return tuple(made)


def _calves_of_bull(conn: Connection, bull: int) -> list[int]:
    """Return every calf that may be a bull's: named as his, or of a dam that he served or ran with."""
    e, s, b, f, a = t.ParentEvidence, t.Service, t.BullRunBull, t.BullRunFemale, t.Animal
    named = select(e.animal_id).where(e.candidate_id == bull, e.role == "sire")
    served = select(s.animal_id).where(s.sire_id == bull)
    ran = select(f.animal_id).join(b, b.run_id == f.run_id).where(b.animal_id == bull)
    dams = set(conn.scalars(served)) | set(conn.scalars(ran))
    theirs = select(a.id).where(or_(a.dam_id.in_(dams), a.birth_dam_id.in_(dams)))
    return sorted(set(conn.scalars(named)) | set(conn.scalars(theirs)))


def animal_json(conn: Connection, animal: int, on: date) -> dict[str, Any]:
    """Return an animal as plain values for JSON; numbers are not rounded, dates are ISO text."""
    from herdbook.services.pedigree import load_pedigree

    known = card(conn, animal, on)
    pedigree = load_pedigree(conn)
    depth = pedigree.depth(animal)
    return {
        "tag": known.tag,
        "name": known.name,
        "sex": known.sex,
        "class": known.class_,
        "born": str(known.born) if known.born else None,
        "dam": known.dam.tag if known.dam else None,
        "sires": [{"sire": s.tag, "chance": s.chance, "basis": s.basis} for s in known.sires],
        "inbreeding": float(pedigree.inbreeding[pedigree.row[animal]]),
        "worst": pedigree.worst_of(animal),
        "known_generations": depth.equivalent,
        "trust": depth.trust.value,
        "present": known.present,
        "happenings": [
            {
                "date": h.day.isoformat(),
                "precision": h.precision,
                "kind": h.kind,
                "planned": h.planned,
                **plain(h.values),
                "note": h.note,
            }
            for h in known.happenings
        ],
    }


def plain(values: Mapping[str, Any]) -> dict[str, Any]:
    """Return values as JSON can hold them; a happening's own "kind" is told as "what"."""
    told = {"what" if name == "kind" else name: value for name, value in values.items()}
    return {name: value.isoformat() if isinstance(value, date) else value for name, value in told.items()}
