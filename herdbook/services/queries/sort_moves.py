"""Moving single females of a sort by hand; the bulls at hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import load_herd
from herdbook.services.queries.sort import (
    AskedBull,
    Choice,
    Gathered,
    SortAsk,
    SortBull,
    SortResult,
    bull_of,
    place,
    result_of,
    season_of,
)
from herdbook.services.queries.sort_bulls import exams_of
from herdbook.services.queries.sort_risks import risk_reasons
from herdbook.services.settings import load_settings


def moved(result: SortResult, animal: int, choice: Choice) -> SortResult:
    """Return the same placing with one female moved by hand; every other female stays where she is.

    Nothing is solved again, so the answer is not proven best.
    """
    placed = {f.animal: column for column, group in enumerate(result.groups) for f in group.females}
    placed.pop(animal, None)
    if choice.place == "bull" and choice.bull is not None:
        placed[animal] = result.ready.column_of(choice.bull)
    left = {n.animal: n.code for n in result.not_bred}
    return result_of(result.ready, {**result.choices, animal: choice}, placed, left, proven=False)


def placed_as_before(ready: Gathered, before: SortResult) -> SortResult:
    """Return the placing that stood before over what the book says now.

    Who may still stand where she stood stays; only females that are new, or may not stay, are placed anew.
    """
    of = {female.animal: female for female in ready.females}
    groups = {group.animal for group in ready.bull_groups}
    choices = standing_choices(ready, before.choices)
    pins = {
        one.animal: Choice("bull", group.bull)
        for group in before.groups
        for one in group.females
        if group.bull in groups and one.animal in of and of[one.animal].readiness.ok
    }
    answer = place(ready, pins | choices)
    placed = {f.animal: column for column, group in enumerate(answer.groups) for f in group.females}
    return result_of(ready, choices, placed, {n.animal: n.code for n in answer.not_bred}, proven=False)


def standing_choices(ready: Gathered, choices: Mapping[int, Choice]) -> dict[int, Choice]:
    """Return the choices whose female and bull are still in the sort."""
    females = {female.animal for female in ready.females}
    bulls = {group.animal for group in ready.bull_groups}
    return {
        animal: choice
        for animal, choice in choices.items()
        if animal in females and (choice.place != "bull" or choice.bull in bulls)
    }


def rules_passed(result: SortResult, animal: int, choice: Choice) -> tuple[Reason, ...]:
    """Return every rule that placing this female so would pass; each wants a reason. None without a bull."""
    if choice.place != "bull":
        return ()
    column = next(c for c, group in enumerate(result.bull_groups) if group.animal == choice.bull)
    bull, group = result.bull_groups[column], result.groups[column]
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
    if (animal, bull.animal) in result.ready.apart:
        found.append(Reason("kept_apart", "She was kept from {tag} by hand.", {"tag": bull.tag}))
    if others >= bull.places:
        template = "{tag} would have {n} females; {capacity} is his number."
        many = {"n": others + 1, "capacity": bull.places, "tag": bull.tag}
        found.append(Reason("over_capacity", template, many))
    return tuple(found)


@dataclass(frozen=True)
class BullAtHand:
    """An entire male that is here: as the sort sees him, whether it takes him unasked, why not."""

    bull: SortBull
    usual: bool
    kept_back: str | None


def bulls_at_hand(conn: Connection, ask: SortAsk, on: date) -> tuple[BullAtHand, ...]:
    """Return the weaned entire males here in order of tags; grown ones not kept back are the usual ones."""
    settings = load_settings(conn)
    season = season_of(ask, settings, on)
    given = {bull.animal: bull for group in ask.groups or () for bull in group.bulls}
    exams = exams_of(conn, on)
    found = []
    for facts in load_herd(conn, on).values():
        class_ = facts.class_on(season[0])
        if facts.sex == "M" and class_ in (AnimalClass.BULL, AnimalClass.YOUNG_BULL):
            bull = bull_of(facts, given.get(facts.id, AskedBull(facts.id)), ask, settings, season, exams)
            usual = class_ is AnimalClass.BULL and not facts.do_not_breed
            found.append(BullAtHand(bull, usual, facts.do_not_breed))
    return tuple(found)
