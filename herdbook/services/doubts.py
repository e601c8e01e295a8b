"""Checks as you type: what is odd about something before it is saved. It is asked about, never refused."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import Any

from sqlalchemy import Connection, func, select

from herdbook.husbandry.days import age_days, age_months, earliest, latest
from herdbook.husbandry.finishing import Dose, clear_of_medicine
from herdbook.husbandry.growth import LEAST_DAYS_FOR_GAIN, doubt_birth_weight, doubt_weight
from herdbook.husbandry.ids import read_electronic
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.trust import closeness
from herdbook.husbandry.units import Weight
from herdbook.services.birth_doubts import birth_doubts
from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.commands.animals import AddAnimal, GiveTag
from herdbook.services.commands.births import RecordBirth
from herdbook.services.commands.genetics import SeeCondition, TestGenes
from herdbook.services.commands.happenings import (
    Arrive,
    Castrate,
    CheckPregnancy,
    Happened,
    Leave,
    RecordRound,
    Serve,
    Treat,
    Wean,
    Weigh,
)
from herdbook.services.commands.running import BullGotIn, ChangeBull, TurnIn, met
from herdbook.services.company_doubts import company_doubts
from herdbook.services.facts import AnimalFacts, load_herd, present
from herdbook.services.gene_doubts import result_doubts, risk_doubts
from herdbook.services.pedigree import load_pedigree
from herdbook.services.plan_doubts import accept_doubts
from herdbook.services.queries.butcher import travel_cautions
from herdbook.services.queries.clear import clear_of
from herdbook.services.queries.due import due_rows
from herdbook.services.saying import called, listed
from herdbook.services.settings import BookSettings, load_settings
from herdbook.store import tables as t

FALL, GAIN_KG = 0.15, 3.0
"""A fall in weight, as a share, and a gain a day, beyond which a weight is asked about. Common practice."""

MOST_KIN = 5
"""Pairs of close kin that are named; the rest are counted."""


@dataclass
class _Asked:
    """The book as the checks need it, read only as far as a check asks."""

    conn: Connection
    on: date

    @cached_property
    def settings(self) -> BookSettings:
        return load_settings(self.conn)

    def facts(self, animal: int, on: date | None = None) -> AnimalFacts | None:
        return load_herd(self.conn, on or self.on, [animal]).get(animal)

    def here(self, animal: int, day: date) -> bool:
        return bool(self.conn.scalar(present(day).where(t.Stay.animal_id == animal).limit(1)))


def doubts(conn: Connection, command: Any, on: date) -> tuple[Reason, ...]:
    """Return what is odd about a command before it is carried out; nothing for commands without checks.

    Parameters
    ----------
    on : date
        The day it is taken to be; a later date is asked about.
    """
    asked = _Asked(conn, on)
    commands = command.happenings if isinstance(command, RecordRound) else (command,)
    found: list[Reason] = []
    for one in commands:
        found += _dated(asked, one)
        for kind, check in _CHECKS.items():
            if isinstance(one, kind):
                found += check(asked, one)
    found += company_doubts(conn, commands, on)
    return tuple({(reason.code, str(reason)): reason for reason in found}.values())


def _dated(asked: _Asked, command: Any) -> Iterator[Reason]:
    """Ask about a day to come, before birth, or on which the animal was not here."""
    day = getattr(command, "day", None)
    if day is None:
        return
    if day > asked.on and not isinstance(command, TurnIn):
        yield Reason("in_future", "{day} is still to come", {"day": day})
    if not isinstance(command, Happened):
        return
    facts = asked.facts(command.animal)
    if facts is None:
        return
    if facts.born is not None and day < (earliest(facts.born, facts.born_precision) or day):
        values = {"animal": facts.words, "born": facts.born}
        yield Reason("before_birth", "{animal} was born only on {born}", values)
    elif not isinstance(command, Arrive) and not asked.here(facts.id, day):
        yield Reason("not_here", "{animal} was not here on {day}", {"animal": facts.words, "day": day})


# ---------------------------------------------------------------- births


def _birth(asked: _Asked, command: RecordBirth) -> Iterator[Reason]:
    dam = asked.facts(command.dam, max(asked.on, command.day))
    if dam is None:
        return
    yield from birth_doubts(asked.conn, dam, command)
    tags = [calf.tag.strip() for calf in command.calves if calf.tag and calf.tag.strip()]
    for tag in dict.fromkeys(tags):
        if tags.count(tag) > 1:
            yield Reason("tag_twice", "{tag} stands twice in this birth", {"tag": tag})
        yield from _worn(asked, tag, command.day)
    for calf in command.calves:
        if calf.kg is not None:
            doubt = doubt_birth_weight(Weight(calf.kg, calf.unit))
            yield from () if doubt is None else (doubt,)


# ---------------------------------------------------------------- tags


def _worn(asked: _Asked, tag: str, day: date, but: int | None = None) -> Iterator[Reason]:
    """Ask about a tag that an animal here goes by or wears."""
    word, a, i = tag.strip().lower(), t.Animal, t.Identity
    wearing = select(i.animal_id).where(func.lower(i.value) == word, i.scheme == "farm", i.to_day.is_(None))
    query = (
        select(a.tag, a.name)
        .where((func.lower(a.tag) == word) | a.id.in_(wearing), a.id.in_(present(day)))
        .order_by(a.id)
    )
    if but is not None:
        query = query.where(a.id != but)
    for its_tag, name in asked.conn.execute(query):
        words = called(its_tag, name)
        yield Reason("tag_in_use", "{tag} is the tag of {animal}, who is here", {"tag": tag, "animal": words})


def _new_animal(asked: _Asked, command: AddAnimal) -> Iterator[Reason]:
    if command.here:
        yield from _worn(asked, command.tag, asked.on)
    if command.electronic:
        yield from _electronic(command.electronic)
    for day in (command.entered, command.born.day if command.born else None):
        if day is not None and day > asked.on:
            yield Reason("in_future", "{day} is still to come", {"day": day})


def _tag(asked: _Asked, command: GiveTag) -> Iterator[Reason]:
    if command.scheme == "farm":
        yield from _worn(asked, command.value, max(asked.on, command.day or asked.on), command.animal)
    elif command.scheme == "electronic":
        yield from _electronic(command.value)


def _electronic(value: str) -> Iterator[Reason]:
    try:
        yield from read_electronic(value).warnings
    except ValueError as error:
        if error.args and isinstance(error.args[0], Reason):
            yield error.args[0]


# ---------------------------------------------------------------- weights


def _weight(asked: _Asked, command: Weigh) -> Iterator[Reason]:
    facts = asked.facts(command.animal, max(asked.on, command.day))
    if facts is None:
        return
    born = facts.born if facts.born_precision == "day" else None
    age = age_days(born, command.day) if born is not None and born <= command.day else None
    if reason := doubt_weight(Weight(command.kg, command.unit), age):
        yield reason
    before = [w for w in facts.weighings if w.method == command.method and w.day <= command.day]
    if not before:
        return
    last = before[-1]
    days = age_days(last.day, command.day)
    values = {"kg": last.kg, "day": last.day, "n": days}
    if days == 0:
        yield Reason("weighed_already", "{kg:g} kg is written for the same day", values)
    elif command.kg < last.kg * (1 - FALL):
        yield Reason("fallen", "{kg:g} kg on {day}: that is a fall of more than 15 %", values)
    elif days < LEAST_DAYS_FOR_GAIN:
        if command.kg > last.kg * (1 + FALL):
            yield Reason("risen", "{kg:g} kg on {day}: up by more than 15 % in {n} days", values)
    elif (command.kg - last.kg) / days > GAIN_KG:
        template = "{kg:g} kg on {day}: that is a gain of more than 3 kg a day"
        yield Reason("gain_too_large", template, values)


# ---------------------------------------------------------------- medicine and leaving


def _treatment(asked: _Asked, command: Treat) -> Iterator[Reason]:
    if command.meat_days is None:
        template = "no days for meat: reads as not known, never as clear; the label or your vet says them"
        yield Reason("days_not_known", template)
    last = max(command.day, command.last_day or command.day)
    if command.last_day is not None and command.last_day < command.day:
        yield Reason("last_before_first", "the last dose is before the first", {})
    b, d = t.Booking, t.BookedDay
    booked = asked.conn.scalar(
        select(func.min(d.day))
        .join(b, b.booked_day_id == d.id)
        .where(b.animal_id == command.animal, d.day >= command.day)
    )
    clear = clear_of_medicine([Dose(last, command.meat_days, product=command.product)])
    if booked is not None and clear.on(booked) is not True:
        yield Reason("booked_before_clear", "booked for {day}, and not clear by then", {"day": booked})


def _leaving(asked: _Asked, command: Leave) -> Iterator[Reason]:
    """Ask about medicine that still runs and about her fitness for the journey; the dead make none."""
    if command.departure_kind in ("died", "destroyed", "lost"):
        return
    herd = load_herd(asked.conn, command.day, [command.animal])
    facts = herd.get(command.animal)
    if facts is None:
        return
    clear = clear_of(facts, asked.settings)
    if clear.on(command.day) is False and clear.running_to is not None:
        until = clear.running_to
        values = {"until": until, "clear": until + timedelta(days=1)}
        template = "a medicine period runs through {until}; clear from {clear}: tell whoever takes it"
        yield Reason("medicine_runs", template, values)
    if not clear.known:
        yield Reason("medicine_not_known", "clear of medicine: not known, ask")
    if facts.sex == "M":
        return
    due = due_rows(asked.conn, herd, command.day, asked.settings)
    yield from travel_cautions(facts, due[0] if due else None, command.day)


# ---------------------------------------------------------------- breeding


def _served(asked: _Asked, command: Serve) -> Iterator[Reason]:
    yield from _breeding(asked, command.animal, command.day)
    if command.sire is not None:
        bull = asked.facts(command.sire)
        if bull is not None and bull.sex == "F":
            yield Reason("female_sire", "{animal} is a female", {"animal": bull.words})
        # An embryo's dam is its donor, not the female that carries it.
        dams = (command.animal,) if command.how != "embryo" else (command.donor,) if command.donor else ()
        yield from _kin(asked, dams, (command.sire,))
        yield from risk_doubts(asked.conn, dams, (command.sire,), asked.on)


def _run(asked: _Asked, command: TurnIn) -> Iterator[Reason]:
    for female in command.females:
        yield from _breeding(asked, female, command.day)
    yield from _sires(asked, command.bulls, command.day)
    yield from _kin(asked, command.females, command.bulls)
    yield from risk_doubts(asked.conn, command.females, command.bulls, asked.on)


def _sires(asked: _Asked, bulls: Sequence[int], day: date) -> Iterator[Reason]:
    for bull in bulls:
        facts = asked.facts(bull, day)
        if facts is not None and facts.sex == "F":
            yield Reason("female_sire", "{animal} is a female", {"animal": facts.words})
        elif facts is not None and facts.castrated is not None:
            yield Reason("castrated_sire", "{animal} is castrated", {"animal": facts.words})


def _got_in(asked: _Asked, command: BullGotIn) -> Iterator[Reason]:
    """Say how many were with him, and name those for whom a calf would be dangerous or close kin."""
    if command.out > asked.on:
        yield Reason("in_future", "{day} is still to come", {"day": command.out})
    yield from _sires(asked, (command.bull,), command.day)
    females = met(asked.conn, command)
    if not command.females:
        yield Reason("met", "Females written as with him on these days: {n}", {"n": len(females)})
    least = asked.settings.breed_from_months
    young = [
        facts.words
        for facts in load_herd(asked.conn, command.day, females, measured=False).values()
        if facts.born is not None and not facts.has_calved
        if age_months(latest(facts.born, facts.born_precision), command.day) < least
    ]
    if young:
        template = "{animals}: under {from} months old, and calving so young is dangerous; ask your vet now"
        yield Reason("too_young_met", template, {"animals": listed(young), "from": least})
    yield from _kin(asked, females, (command.bull,))


def _changed(asked: _Asked, command: ChangeBull) -> Iterator[Reason]:
    if command.next_bull is not None and command.next_day is not None:
        yield from _sires(asked, (command.next_bull,), command.next_day)
        f, b = t.BullRunFemale, t.BullRunBull
        his = select(b.run_id).where(
            b.animal_id == command.bull,
            b.from_day <= command.day,
            b.to_day.is_(None) | (b.to_day >= command.day),
        )
        females = asked.conn.scalars(select(f.animal_id).distinct().where(f.run_id.in_(his))).all()
        yield from _kin(asked, females, (command.next_bull,))
        yield from risk_doubts(asked.conn, females, (command.next_bull,), asked.on)


def _kin(asked: _Asked, females: Sequence[int], bulls: Sequence[int]) -> Iterator[Reason]:
    """Say which of the pairs are close kin, the closest first; a few by name."""
    if not females or not bulls:
        return
    pedigree = load_pedigree(asked.conn)
    table = pedigree.calves(females, bulls).tolist()
    levels = (asked.settings.close_from, asked.settings.very_close_from)
    pairs = [
        (f, d, b) for d, row in zip(females, table, strict=True) for f, b in zip(row, bulls, strict=True)
    ]
    close = sorted((pair for pair in pairs if closeness(pair[0], *levels)), key=lambda pair: -pair[0])
    query = select(t.Animal.id, t.Animal.tag, t.Animal.name).where(t.Animal.id.in_([*females, *bulls]))
    named = {animal: called(tag, name) for animal, tag, name in asked.conn.execute(query)} if close else {}
    for f, dam, sire in close[:MOST_KIN]:
        values = {"animal": named[dam], "bull": named[sire], "f": f}
        if closeness(f, *levels) == "very close":
            template = (
                "{animal} and {bull} are very close kin: a calf {f:.1%} inbred; keep no replacement from it"
            )
        else:
            template = "{animal} and {bull} are close kin: a calf {f:.1%} inbred"
        yield Reason("close_kin", template, values)
    if len(close) > MOST_KIN:
        yield Reason("more_close_kin", "and {n} more pairs of close kin", {"n": len(close) - MOST_KIN})


def _breeding(asked: _Asked, animal: int, day: date) -> Iterator[Reason]:
    facts = asked.facts(animal, day)
    if facts is None:
        return
    who = {"animal": facts.words}
    if facts.sex == "M":
        yield Reason("male_dam", "{animal} is a male", who)
        return
    if facts.born is not None and not facts.has_calved:
        months = age_months(latest(facts.born, facts.born_precision), day)
        if months < asked.settings.breed_from_months:
            values = {**who, "n": max(0, months), "from": asked.settings.breed_from_months}
            template = "{animal} is {n} months old; heifers are bred from {from}: early calving is dangerous"
            yield Reason("too_young", template, values)
    if facts.in_calf:
        yield Reason("in_calf", "{animal} was found in calf", who)
    if facts.do_not_breed:
        template = "{animal} is not to be bred: {reason}"
        yield Reason("not_to_be_bred", template, {**who, "reason": facts.do_not_breed})
    if facts.freemartin in ("probable", "confirmed"):
        yield Reason("freemartin", "{animal} is likely a freemartin and barren", who)


def _result(asked: _Asked, command: TestGenes | SeeCondition) -> Iterator[Reason]:
    yield from result_doubts(asked.conn, command, asked.on)


def _checked(asked: _Asked, command: CheckPregnancy) -> Iterator[Reason]:
    facts = asked.facts(command.animal)
    if facts is not None and facts.sex == "M":
        yield Reason("male_dam", "{animal} is a male", {"animal": facts.words})


def _castrated(asked: _Asked, command: Castrate) -> Iterator[Reason]:
    facts = asked.facts(command.animal)
    if facts is not None and facts.sex == "F":
        yield Reason("female", "{animal} is a female", {"animal": facts.words})
    elif facts is not None and facts.castrated is not None and command.method != "rig":
        values = {"animal": facts.words, "day": facts.castrated}
        yield Reason("castrated_already", "{animal} was castrated on {day}", values)


def _weaned(asked: _Asked, command: Wean) -> Iterator[Reason]:
    facts = asked.facts(command.animal)
    if facts is not None and facts.weaned is not None:
        values = {"animal": facts.words, "day": facts.weaned}
        yield Reason("weaned_already", "{animal} was weaned on {day}", values)


_CHECKS: dict[type[Any], Callable[[_Asked, Any], Iterator[Reason]]] = {
    RecordBirth: _birth,
    AddAnimal: _new_animal,
    GiveTag: _tag,
    Weigh: _weight,
    Treat: _treatment,
    Leave: _leaving,
    Serve: _served,
    TestGenes: _result,
    SeeCondition: _result,
    TurnIn: _run,
    BullGotIn: _got_in,
    ChangeBull: _changed,
    CheckPregnancy: _checked,
    Castrate: _castrated,
    Wean: _weaned,
    AcceptPlan: lambda asked, command: accept_doubts(asked.conn, command),
}
