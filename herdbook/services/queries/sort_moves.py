"""Moving single females of a sort by hand; the bulls at hand and the plan accepted before."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection, select

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import load_herd
from herdbook.services.queries.sort import (
    Choice,
    Gathered,
    SortAsk,
    SortBull,
    SortResult,
    bull_of,
    place,
    result_of,
)
from herdbook.services.queries.sort_risks import risk_reasons
from herdbook.services.settings import load_settings
from herdbook.store import tables as t


def moved(result: SortResult, animal: int, choice: Choice) -> SortResult:
    """Return the same placing with one female moved by hand; every other female stays where she is.

    Nothing is solved again, so the answer is not proven best.
    """
    placed = {f.animal: column for column, group in enumerate(result.groups) for f in group.females}
    placed.pop(animal, None)
    if choice.place == "bull":
        placed[animal] = next(c for c, bull in enumerate(result.bulls) if bull.animal == choice.bull)
    return result_of(
        result.females,
        result.bulls,
        {**result.choices, animal: choice},
        result.limit,
        (result.bull_in, result.bull_out),
        placed,
        {n.animal: n.code for n in result.not_bred},
        proven=False,
    )


def placed_as_before(ready: Gathered, before: SortResult) -> SortResult:
    """Return the placing that stood before over what the book says now.

    Who may still stand where she stood stays; only females that are new, or may not stay, are placed anew.
    """
    of = {female.animal: female for female in ready.females}
    bulls = {bull.animal for bull in ready.bulls}
    choices = standing_choices(ready, before.choices)
    pins = {
        one.animal: Choice("bull", group.bull)
        for group in before.groups
        for one in group.females
        if group.bull in bulls and one.animal in of and of[one.animal].readiness.ok
    }
    answer = place(ready.females, ready.bulls, pins | choices, ready.limit, ready.season)
    return result_of(
        ready.females,
        ready.bulls,
        choices,
        ready.limit,
        ready.season,
        {f.animal: column for column, group in enumerate(answer.groups) for f in group.females},
        {n.animal: n.code for n in answer.not_bred},
        proven=False,
    )


def standing_choices(ready: Gathered, choices: Mapping[int, Choice]) -> dict[int, Choice]:
    """Return the choices whose female and bull are still in the sort."""
    females = {female.animal for female in ready.females}
    bulls = {bull.animal for bull in ready.bulls}
    return {
        animal: choice
        for animal, choice in choices.items()
        if animal in females and (choice.place != "bull" or choice.bull in bulls)
    }


def rules_passed(result: SortResult, animal: int, choice: Choice) -> tuple[Reason, ...]:
    """Return every rule that placing this female so would pass; each wants a reason. None without a bull."""
    if choice.place != "bull":
        return ()
    column = next(c for c, bull in enumerate(result.bulls) if bull.animal == choice.bull)
    bull, group = result.bulls[column], result.groups[column]
    female = next(f for f in result.females if f.animal == animal)
    found = [] if female.readiness.ok else list(female.readiness.reasons)
    if female.calves[column] > result.limit:
        values = {"f": female.calves[column], "limit": result.limit}
        found.append(
            Reason("over_limit", "Her calf would be {f:.1%} inbred, above the limit of {limit:.2%}.", values)
        )
    if female.heifer and not bull.fit_for_heifers:
        template = "She has never calved, and {tag} is not marked fit for heifers."
        found.append(Reason("not_fit_for_heifers", template, {"tag": bull.tag}))
    found += risk_reasons(female, column)
    others = sum(f.animal != animal for f in group.females)
    if others >= bull.capacity:
        template = "{tag} would have {n} females; {capacity} is his number."
        many = {"n": others + 1, "capacity": bull.capacity, "tag": bull.tag}
        found.append(Reason("over_capacity", template, many))
    return tuple(found)


@dataclass(frozen=True)
class BullAtHand:
    """An entire male that is here: as the sort sees him, whether it takes him unasked, why not."""

    bull: SortBull
    usual: bool
    kept_back: str | None


def bulls_at_hand(conn: Connection, ask: SortAsk, bull_in: date, on: date) -> tuple[BullAtHand, ...]:
    """Return the weaned entire males here in order of tags; grown ones not kept back are the usual ones."""
    settings = load_settings(conn)
    given = dict(ask.bulls or ())
    found = []
    for facts in load_herd(conn, on).values():
        class_ = facts.class_on(bull_in)
        if facts.sex == "M" and class_ in (AnimalClass.BULL, AnimalClass.YOUNG_BULL):
            bull = bull_of(facts, given.get(facts.id), ask, settings, bull_in)
            usual = class_ is AnimalClass.BULL and not facts.do_not_breed
            found.append(BullAtHand(bull, usual, facts.do_not_breed))
    return tuple(found)


@dataclass(frozen=True)
class AcceptedPlan:
    """A sort that was accepted."""

    name: str
    version: int
    accepted: date
    bull_in: date
    bull_out: date


def accepted_plan(conn: Connection, bull_in: date, bull_out: date) -> AcceptedPlan | None:
    """Return the plan accepted last whose season shares a day with this one."""
    p = t.SeasonPlan
    query = (
        select(p.name, p.version, p.accepted, p.bull_in, p.bull_out)
        .where(p.accepted.is_not(None), p.bull_in <= bull_out, p.bull_out >= bull_in)
        .order_by(p.id.desc())
        .limit(1)
    )
    row = conn.execute(query).first()
    if row is None or row.accepted is None:
        return None
    return AcceptedPlan(row.name, row.version, row.accepted, row.bull_in, row.bull_out)
