"""A sort asked again over a book that has changed since: who stays where she stood; the bulls at hand."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from sqlalchemy import Connection

from herdbook.husbandry.classes import AnimalClass
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
from herdbook.services.settings import load_settings


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
