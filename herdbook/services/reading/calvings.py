"""Calvings: those that sheets of calvings tell, and those that follow from a calf with a dam and a birth."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date
from itertools import pairwise
from typing import Any

from sqlalchemy import Connection, select

from herdbook.husbandry.days import latest
from herdbook.husbandry.partday import PartDay
from herdbook.services.reading.animals import births
from herdbook.services.reading.happenings import ask_weight, bull, possible
from herdbook.services.reading.herd import Bad, Beast, Draft, Made, already
from herdbook.services.reading.rows import CalvingRow
from herdbook.store import tables as t
from herdbook.words import say

# Two calvings of one female hardly lie closer: gestation alone runs to about 265 days at the least.
_LEAST_BETWEEN = 265


@dataclass(eq=False)
class Birth(Made):
    """A calving of the book or one to come, with its calves and what is known of each."""

    dam: Beast | None = None
    day: PartDay | None = None
    note: str | None = None
    calves: dict[Beast, dict[str, Any]] = field(default_factory=dict)
    links: dict[int, tuple[int, int | None]] = field(default_factory=dict)


class Births:
    """Every calving of the females that the sheets name."""

    def __init__(self, draft: Draft, conn: Connection) -> None:
        self.draft = draft
        self.by_day: dict[tuple[Beast, date], Birth] = {}
        self.of_calf: dict[int, Birth] = {}
        self.of_dam: dict[Beast, list[PartDay]] = defaultdict(list)
        self.told: set[int] = set()
        self.weighed = {
            row[0] for row in conn.execute(select(t.Weighing.animal_id).where(t.Weighing.stage == "birth"))
        }
        by_id = {beast.id: beast for beast in draft.herd.beasts if beast.id is not None}
        c, k = t.Calving, t.CalvingCalf
        births_of: dict[int, Birth] = {}
        for id_, animal, day in conn.execute(select(c.id, c.animal_id, c.day).order_by(c.id)):
            births_of[id_] = Birth(id_, by_id[animal], PartDay(day))
            self.by_day[by_id[animal], day] = births_of[id_]
            self.of_dam[by_id[animal]].append(PartDay(day))
        for link, calving, calf, ease in conn.execute(select(k.id, k.calving_id, k.calf_id, k.ease)):
            births_of[calving].links[calf] = (link, ease)
            self.of_calf[by_id[calf].place] = births_of[calving]

    def birth(self, dam: Beast, day: PartDay) -> Birth:
        """Return the calving of a female on a day, made where there is none."""
        found = self.by_day.get((dam, day.day))
        if found is None:
            found = self.by_day[dam, day.day] = Birth(None, dam, day)
            self.of_dam[dam].append(day)
        return found

    def last_calved(self, dam: Beast, day: PartDay) -> None:
        """Take in a last calving, unless it can be one that a calf's birth tells of already."""
        first, last = day.day, latest(day.day, day.precision)
        for known in self.of_dam[dam]:
            if known.day <= last and first <= latest(known.day, known.precision):
                return
        self.birth(dam, day)

    def link(self, birth: Birth, calf: Beast, **known: Any) -> None:
        """Put a calf to its birth."""
        birth.calves[calf] = {"ease": None, "fate": "alive"} | known
        self.of_calf[calf.place] = birth


def read_calvings(draft: Draft, conn: Connection) -> None:
    """Take in the sheets of calvings, and write the calvings that the animals' births tell of."""
    if not (draft.plan.calvings or draft.plan.animals):
        return
    all_births = Births(draft, conn)
    for (dam, day), calves in births(draft).items():
        birth = all_births.birth(dam, day)
        for calf in calves:
            if calf.place not in all_births.of_calf:
                all_births.link(birth, calf)
    for beast in list(draft.herd.beasts):
        if beast.row and beast.row.last_calved and beast.row.last_calved.precision != "before":
            all_births.last_calved(beast, beast.row.last_calved)
    for row in draft.plan.calvings:
        try:
            _calving(all_births, row)
        except Bad as error:
            draft.skip(row.at, error)
            continue
        draft.counts["calvings"] += 1
    _write(all_births)


def _calving(births: Births, row: CalvingRow) -> None:
    draft = births.draft
    dam = draft.herd.one(row.dam, "dam", row.day.day, "F")
    sire = bull(draft, row.sire) if row.sire else None
    known = births.by_day.get((dam, row.day.day))
    if row.calf is None and row.sex is None and row.kg is None and not row.dead:
        if known is not None:
            raise already()
        possible(draft, dam, row.day, row.at)
        births.birth(dam, row.day).note = row.note
        draft.ask("no_calf", say("{dam} calved on {day}, and no calf is told.", dam=dam.tag, day=row.day),
                  [dam.tag], row.at, "calf")  # fmt: skip
        return
    calf = _known_calf(births, row, dam) if row.calf else None
    if calf is not None:
        if calf.place in births.told:
            raise Bad("calf", say("The calf {tag} stands twice.", tag=row.calf))
        _tell_more(births, row, dam, calf, sire)
        births.told.add(calf.place)
        return
    possible(draft, dam, row.day, row.at)
    calf = _new_calf(births, row, dam, sire)
    births.told.add(calf.place)
    if row.sex is None:
        draft.ask(
            "sex_unknown", say("The sex of {tag} is not known.", tag=calf.tag), [calf.tag], row.at, "sex"
        )
    birth = births.birth(dam, row.day)
    birth.note = birth.note or row.note
    births.link(birth, calf, ease=row.ease, fate=row.fate)
    _weigh(draft, row, calf)


def _known_calf(births: Births, row: CalvingRow, dam: Beast) -> Beast | None:
    """Return the animal that the calf's tag means, if it can be this calf."""
    assert row.calf is not None
    for calf in births.draft.herd.with_tag(row.calf):
        if calf.gone is not None and calf.gone < row.day.day:
            continue  # the tag is worn again
        same_day = calf.born is None or calf.born.precision != "day" or calf.born == row.day
        if (
            calf is dam
            or not same_day
            or calf.dam not in (None, dam)
            or (row.sex and calf.sex not in (None, row.sex))
        ):
            raise Bad("calf", say("{tag} is already another animal.", tag=row.calf))
        return calf
    return None


def _tell_more(births: Births, row: CalvingRow, dam: Beast, calf: Beast, sire: Beast | None) -> None:
    """Add what the row knows to a calf that is in the book or in a sheet of animals."""
    draft, news = births.draft, False
    birth = births.of_calf.get(calf.place)
    if birth is None:
        birth, news = births.birth(dam, row.day), True
        births.link(birth, calf, ease=row.ease, fate=row.fate)
    elif calf in birth.calves:
        news = True
        birth.calves[calf]["ease"] = birth.calves[calf]["ease"] or row.ease
    elif calf.id is not None and row.ease is not None and birth.links[calf.id][1] is None:
        news = True
        draft.updates.append((t.CalvingCalf, birth.links[calf.id][0], {"ease": row.ease}))
    changes: dict[str, Any] = {}
    if calf.dam is None:
        calf.dam, changes["dam_id"] = dam, dam
    if calf.born is None:
        calf.born, changes["born"], changes["born_precision"] = row.day, row.day.day, row.day.precision
    if calf.sex is None and row.sex:
        calf.sex = changes["sex"] = row.sex
    if changes and calf.id is not None and not calf.changed:
        draft.updates.append((t.Animal, calf.id, changes))
    if sire is not None and calf.sire is None:
        calf.sire, news = sire, True
        if not calf.coming and not calf.row:
            draft.rows[t.ParentEvidence].append(
                {"animal_id": calf, "role": "sire", "candidate_id": sire, "kind": "word"}
            )
    if row.kg is not None and (calf.coming or calf.id not in births.weighed):
        news = True
        _weigh(draft, row, calf)
        births.weighed.add(calf.id or 0)
    if not news and not changes:
        raise already()


def _new_calf(births: Births, row: CalvingRow, dam: Beast, sire: Beast | None) -> Beast:
    """Make the calf; without a tag it is known as its dam's calf until it gets one."""
    draft = births.draft
    word, number = row.calf, 1
    while word is None:
        named = f"{dam.tag} calf {row.day}" + (f" {number}" if number > 1 else "")
        known = draft.herd.with_tag(named)
        if any(not beast.coming for beast in known):
            raise already()
        word = None if known else named
        number += 1
    draft.counts["calves"] += 1
    return draft.herd.add(
        Beast(
            tag=word,
            sex=row.sex,
            born=row.day,
            dam=dam,
            sire=sire,
            breed=dam.breed,
            castrated=row.castrated,
            here=True,
            first=row.day.day,
            gone=row.day.day if row.dead else None,
            tagged=row.calf is not None,
        )
    )


def _weigh(draft: Draft, row: CalvingRow, calf: Beast) -> None:
    if row.kg is None:
        return
    draft.rows[t.Weighing].append({
        "animal_id": calf, "day": row.day.day, "day_precision": row.day.precision,
        "kg": row.kg, "unit": row.unit, "stage": "birth",
    })  # fmt: skip
    ask_weight(draft, calf, row.day, row.kg, row.unit, row.at)


def _write(births: Births) -> None:
    draft = births.draft
    days: dict[Beast, list[date]] = defaultdict(list)
    for (dam, day), birth in births.by_day.items():
        days[dam].append(day)
        if birth.id is None:
            assert birth.day is not None
            draft.rows[t.Calving].append({
                "": birth, "animal_id": dam, "day": day, "day_precision": birth.day.precision,
                "note": birth.note,
            })  # fmt: skip
        for calf, known in birth.calves.items():
            draft.rows[t.CalvingCalf].append({"calving_id": birth, "calf_id": calf} | known)
            if known["fate"] != "alive" and calf.coming and calf.row is None:
                draft.rows[t.Departure].append({
                    "animal_id": calf, "day": day, "kind": "died", "reason": known["fate"],
                    "day_precision": birth.day.precision if birth.day else "day",
                })  # fmt: skip
        _mark_twins(draft, birth)
    new = {birth.dam for birth in births.by_day.values() if birth.id is None}
    for dam, calved in days.items():
        calved.sort()
        for first, second in pairwise(calved):
            if dam in new and (second - first).days < _LEAST_BETWEEN:
                text = say("{dam} would have calved on {first} and on {second}.",
                           dam=dam.tag, first=first, second=second)  # fmt: skip
                draft.ask("calved_too_soon", text, [dam.tag])


def _mark_twins(draft: Draft, birth: Birth) -> None:
    """Mark the heifer of mixed twins as a probable freemartin; more calves than three are no one birth."""
    if birth.day is None or birth.day.precision != "day":
        return
    if len(birth.calves) > 3:
        tags = [calf.tag for calf in birth.calves]
        sentence = say("Are these calves of one birth, or from embryos? {tags}", tags=", ".join(tags))
        draft.ask("many_calves", sentence, tags)
    elif {calf.sex for calf in birth.calves} >= {"F", "M"}:
        for calf in birth.calves:
            calf.freemartin = "probable" if calf.sex == "F" else None
