"""What is told of a sort as a whole: choices that cannot all stand, what changed since a plan was kept."""

from __future__ import annotations

from datetime import date

from herdbook.husbandry.reasons import Reason
from herdbook.services.queries.plan_open import OpenedPlan
from herdbook.services.queries.sort import BullGroup, SortResult
from herdbook.ui.reasons import reason_text
from herdbook.ui.sort.columns import label_of
from herdbook.words import say

MOST = 6  # females told by name


def choices_clash(result: SortResult) -> str:
    """Return what happened, what is safe, and what to do, for a sort with a clash."""
    females = {female.animal: female for female in result.females}
    groups = {group.animal: label_of(group) for group in result.bull_groups}
    told = []
    for animal in result.clash[:MOST]:
        choice = result.choices.get(animal)
        who = label_of(females[animal])
        bull = groups.get(choice.bull or 0) if choice else None
        told.append(say("{who} with {bull}", who=who, bull=bull) if bull else who)
    if len(result.clash) > MOST:
        told.append(say("{n} more", n=len(result.clash) - MOST))
    parts = [
        say("These choices by hand cannot all stand{rule}: {who}.", rule=_rule(result), who="; ".join(told)),
        say("Nothing was changed: what stood before is on the board."),
        say("Leave one of them to the sort (choose her, Delete), or change the bulls and their numbers (B)."),
    ]
    return " ".join(parts)


def _rule(result: SortResult) -> str:
    """Return the rule that they clash with, as part of a sentence; "" where it is not one alone."""
    ready = result.ready
    chosen = (result.choices.get(animal) for animal in result.clash)
    wanted = {choice.bull for choice in chosen if choice and choice.bull}
    if ready.most_groups is not None and len(wanted) > ready.most_groups:
        if ready.most_groups == 1:
            return say(" while one group only is used")
        return say(" while no more than {n} groups are used", n=ready.most_groups)
    if ready.least_group > 1:
        return say(" while a group that is used has at least {n} females", n=ready.least_group)
    return ""


def opened_words(opened: OpenedPlan, today: date) -> str:
    """Return that a plan is open, and what has changed since it was kept."""
    plan = opened.kept.row.words
    if not opened.changes:
        return say("{plan}, as it was kept; nothing has changed since.", plan=plan)
    told = [reason_text(change.reason, today).rstrip(".") for change in opened.changes[:MOST]]
    more = len(opened.changes) - len(told)
    if more:
        told.append(say("{n} changes more", n=more))
    return say(
        "{plan}: since it was kept, {changes}. Nobody was placed anew; S sets the others again.",
        plan=plan,
        changes="; ".join(told),
    )


def of_the_group(group: BullGroup) -> tuple[Reason, ...]:
    """Return what is to be minded of bulls together, beside what is of each alone."""
    alone = {note for bull in group.bulls for note in bull.notes}
    return tuple(note for note in group.notes if note not in alone)


def group_words(result: SortResult, today: date) -> str:
    """Return what is to be minded of groups of bulls, each with its group; "" where there is nothing."""
    return " ".join(
        say("{bulls}: {what}", bulls=label_of(group), what=reason_text(note, today))
        for group in result.bull_groups
        for note in of_the_group(group)
    )
