"""What the Sort page reads beside the window: the sort itself, the bulls at hand, a plan accepted before."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from herdbook.husbandry.reasons import Reason
from herdbook.services.queries.kin import Explained, Kin, explain, kin_to_bulls
from herdbook.services.queries.plan_open import OpenedPlan, open_plan
from herdbook.services.queries.plans import PlanRow, accepted_plan, days_of
from herdbook.services.queries.sort import SortAsk, SortResult, gather, place
from herdbook.services.queries.sort_moves import (
    BullAtHand,
    bulls_at_hand,
    placed_as_before,
    standing_choices,
)
from herdbook.services.registry import Refused
from herdbook.ui.jobs import Progress
from herdbook.ui.sort.column import Column
from herdbook.ui.sort.columns import columns_of
from herdbook.words import say

MOST_KIN = 8  # bulls whose shared ancestors are looked up: the one she is with, then the most related


@dataclass(frozen=True)
class Answer:
    """The sort, and what stands around it."""

    result: SortResult
    at_hand: tuple[BullAtHand, ...]
    plan: PlanRow | None
    clashes: tuple[Reason, ...] = ()
    columns: tuple[Column, ...] = ()
    opened: OpenedPlan | None = None


def try_sort(
    book: Any, ask: SortAsk, on: date, before: SortResult | None, progress: Progress, unfolded: bool = False
) -> Answer | Refused:
    """Return the sort, or why there can be none: a herd without a bull is no fault to be logged."""
    try:
        answer = read_sort(book, ask, on, before, progress)
    except Refused as refusal:
        return refusal
    # The words of a large herd take as long as a blink: they are made here, not on the window's thread.
    return replace(answer, columns=tuple(columns_of(answer.result, unfolded, on)))


def read_sort(book: Any, ask: SortAsk, on: date, before: SortResult | None, progress: Progress) -> Answer:
    """Read and solve; with `before`, keep everyone where she stood if she may stay there."""
    progress(say("Sorting: reading the herd and its kinship"), 0, 3)
    with book.read() as conn:
        ready = gather(conn, ask, on)
        progress(say("Sorting: the bulls at hand"), 1, 3)
        at_hand = bulls_at_hand(conn, ask, on)
        plan = accepted_plan(conn, *days_of(ready))
    females = len(ready.females)
    progress(say("Sorting {n} females to {bulls} bulls", n=females, bulls=len(ready.bull_groups)), 2, 3)
    if before is not None:
        result = placed_as_before(ready, before)
    else:
        choices = standing_choices(ready, ask.choices)
        result = place(ready, choices, stopping=lambda: progress.stopping)
    return Answer(result, at_hand, plan, ready.clashes)


def read_plan(book: Any, plan: int, on: date, progress: Progress, unfolded: bool = False) -> Answer:
    """Open a kept plan: everyone where it has her, and what has changed since; nothing is solved."""
    progress(say("Opening the plan: reading the herd and its kinship"), 0, 2)
    with book.read() as conn:
        opened = open_plan(conn, plan, on)
        progress(say("Opening the plan: the bulls at hand"), 1, 2)
        at_hand = bulls_at_hand(conn, opened.ask, on)
        accepted = accepted_plan(conn, *days_of(opened.result.ready))
    columns = tuple(columns_of(opened.result, unfolded, on))
    return Answer(opened.result, at_hand, accepted, opened.result.ready.clashes, columns, opened)


def sort_again(result: SortResult, choices: Any, progress: Progress) -> SortResult:
    """Solve again around the hand-made choices, without reading the book; stopped, the best found."""
    progress(say("Sorting {n} females", n=len(result.females)), 0, 1)
    return place(result.ready, choices, stopping=lambda: progress.stopping)


@dataclass(frozen=True)
class KinHere:
    """The kinship of one female to the bulls of a sort.

    Parameters
    ----------
    kins : tuple of Kin
        To each bull of her own group, then to the most related of the others.
    told : Explained or None
        All of her and the most related bull of her own group: how, and by which paths; None where they share
        no ancestor.
    """

    kins: tuple[Kin, ...] = ()
    told: Explained | None = None


def kin_here(conn: Any, result: SortResult, animal: int, here: int | None) -> KinHere:
    """Return her kinship to the bulls of the group she is in and to those she is most related to."""
    female = next(f for f in result.females if f.animal == animal)
    pairs = zip(female.calves, result.bull_groups, strict=True)
    related = [(one.animal != here, -figure, one.animal, one) for figure, one in pairs
               if figure > 0 or one.animal == here]  # fmt: skip
    bulls = [bull.animal for *_, group in sorted(related, key=lambda of: of[:3]) for bull in group.bulls]
    if not bulls:
        return KinHere()
    kins = kin_to_bulls(conn, animal, bulls[:MOST_KIN])
    own = {bull.animal for group in result.bull_groups if group.animal == here for bull in group.bulls}
    mine = [kin for kin in kins if kin.sire in own and (kin.shared or kin.worst_shared)]
    if not mine:
        return KinHere(kins)
    return KinHere(kins, explain(conn, animal, max(mine, key=lambda kin: kin.worst).sire))


def with_choices(ask: SortAsk, result: SortResult) -> SortAsk:
    """Return the ask with what was chosen by hand in `result`, and the pairs that are not to be."""
    return replace(ask, choices=dict(result.choices), apart=dict(result.ready.apart))
