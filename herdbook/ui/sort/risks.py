"""Heritable conditions on the Sort page: the mark on a row, the lines on the card."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from herdbook.husbandry.reasons import Reason
from herdbook.services.queries.sort import SortFemale, SortResult
from herdbook.services.queries.sort_risks import risk_reasons
from herdbook.ui.card import Card
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.columns import Mark, percent
from herdbook.words import say

MOST = 4
"""Bulls whose risks are told in full beside the one she is with."""


def risk_mark(result: SortResult, column: int, female: SortFemale) -> Mark | None:
    """Return the mark of a mating that can give an affected calf: its chance, more sharply where barred."""
    if not female.risks:
        return None
    risks = female.risks[column]
    if not risks:
        return None
    chance = percent(1)(risks[0].affected)
    return ("act" if female.barred[column] else "soon", say("affected calf {chance}", chance=chance))


def risky_placed(result: SortResult) -> int:
    """Return how many of the placed females may give an affected calf where they stand."""
    females = result.ready.by_animal
    return sum(
        bool(females[one.animal].risks and females[one.animal].risks[column])
        for column, group in enumerate(result.groups)
        for one in group.females
    )


def risk_tips(result: SortResult, column: int, female: SortFemale) -> list[str]:
    """Return what the mark means, in sentences."""
    reasons = risk_reasons(female, column)
    return [reason_text(reason, result.bull_in) for reason in reasons]


def show_risks(card: Card, result: SortResult, female: SortFemale, here: int | None, today: date) -> None:
    """Add what her matings can give of heritable conditions: her bull's first, then the likeliest."""
    marked = [
        (bull.animal != here, -risks[0].affected, bull.tag, column)
        for column, (bull, risks) in enumerate(zip(result.bull_groups, female.risks, strict=False))
        if risks
    ]
    if not marked:
        return
    card.section(say("Heritable conditions"))
    for _, _, tag, column in sorted(marked)[:MOST]:
        tone = "act" if female.barred[column] else "soon"
        for reason in risk_reasons(female, column):
            card.line(say("{bull}: {risk}", bull=tag, risk=reason_text(reason, today)), tone)
    if len(marked) > MOST:
        card.line(say("and with {n} bulls more", n=len(marked) - MOST), "quiet")
    card.line(
        say("Chances from the results in the book. A test, your vet and your breed society decide."), "quiet"
    )


def clash_text(clashes: Sequence[Reason], today: date) -> str:
    """Return which conditions nothing is said of, because their results contradict each other."""
    return " ".join(reason_text(clash, today) + "." for clash in clashes)
