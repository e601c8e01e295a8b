"""Opening a plan again: everyone where the plan has her, and what has changed in the herd since."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import date

from sqlalchemy import Connection, select

from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import AnimalFacts, load_herd
from herdbook.services.queries.plans import KeptPlace, KeptPlan, plan
from herdbook.services.queries.sort import gather
from herdbook.services.queries.sort_place import result_of
from herdbook.services.queries.sort_rows import (
    AskedGroup,
    Gathered,
    NotBred,
    SortAsk,
    SortFemale,
    SortResult,
)
from herdbook.services.registry import Refused
from herdbook.services.settings import load_settings
from herdbook.store import tables as t

ALIKE = 5e-5
"""Figures no further apart than this read the same to a tenth of a per cent, and are told as unchanged."""
_FOR_WANT_OF_A_PLACE = frozenset(
    "no_place over_limit not_fit_for_heifers kept_apart affected_calf waiting new ready_now other".split()
)
"""Codes of females who might have been bred and had no bull; all others were not to be bred."""


@dataclass(frozen=True)
class PlanChange:
    """What is otherwise than when the plan was kept; `animal` is the one concerned, None for the book."""

    code: str
    animal: int | None
    tag: str
    reason: Reason


@dataclass(frozen=True)
class OpenedPlan:
    """A plan as it was kept, shown with the figures of today, and what has changed since.

    Nobody is placed anew: who has come since has no place, with the code ``new``, and who was left out as
    not to be bred and may be now has the code ``ready_now``. `ask` is what the sort is to be asked from here.
    """

    kept: KeptPlan
    ask: SortAsk
    result: SortResult
    changes: tuple[PlanChange, ...]


def open_plan(conn: Connection, plan_id: int, on: date) -> OpenedPlan:
    """Return a plan ready to be shown and worked on.

    Raises
    ------
    Refused
        When there is no such plan, or none of its bulls can be used any more.
    """
    kept = plan(conn, plan_id)
    if kept is None:
        raise Refused(Reason("no_plan", "There is no such plan in the book any more"))
    bulls = load_herd(conn, on, [bull.animal for group in kept.ask.groups or () for bull in group.bulls])
    ask, keys = _usable(kept, bulls)
    ready = gather(conn, ask, on)
    result = _as_kept(kept, ready, keys)
    changes = (
        *_book_changes(kept, ask.held or load_settings(conn).inbreeding_held),
        *_bull_changes(kept, ready, bulls, _gone_since(conn, kept, bulls, on)),
        *_female_changes(kept, ready, keys),
    )
    if not changes:
        result = replace(result, proven_optimal=kept.proven, gap=kept.gap)
    return OpenedPlan(kept, ask, result, changes)


def _fit(facts: AnimalFacts) -> bool:
    return facts.sex == "M" and (facts.castrated is None or facts.entire_again)


def _usable(kept: KeptPlan, bulls: dict[int, AnimalFacts]) -> tuple[SortAsk, dict[int, int]]:
    """Return what was asked without the bulls that are bulls no more; and each group's key as it is now."""
    groups, keys = [], {}
    for group in kept.ask.groups or ():
        left = tuple(bull for bull in group.bulls if _fit(bulls[bull.animal]))
        if left:
            groups.append(AskedGroup(left, group.capacity, group.paddock))
            keys[group.bulls[0].animal] = left[0].animal
    named = {bull.animal for group in groups for bull in group.bulls}
    choices = {
        animal: replace(choice, bull=keys[choice.bull]) if choice.bull is not None else choice
        for animal, choice in kept.ask.choices.items()
        if choice.bull is None or choice.bull in keys
    }
    apart = {(f, keys[key]): why for (f, key), why in kept.ask.apart.items() if key in keys}
    ask = replace(
        kept.ask,
        groups=tuple(groups),
        heifer_bulls=tuple(bull for bull in kept.ask.heifer_bulls or () if bull in named),
        not_for_heifers=tuple(bull for bull in kept.ask.not_for_heifers if bull in named),
        choices=choices,
        apart=apart,
    )
    return ask, keys


def _as_kept(kept: KeptPlan, ready: Gathered, keys: dict[int, int]) -> SortResult:
    """Return everyone who is still here where the plan has her."""
    column = {group.animal: at for at, group in enumerate(ready.bull_groups)}
    of = {female.animal: female for female in ready.females}
    stood = {each.animal: each for each in kept.places}
    placed = {
        each.animal: column[keys[each.group]]
        for each in kept.places
        if each.group in keys and each.animal in of
    }
    left = {each.animal: each.code for each in kept.places if each.code is not None}
    choices = {animal: choice for animal, choice in kept.ask.choices.items() if animal in of}
    choices = {
        animal: replace(choice, bull=keys[choice.bull]) if choice.bull is not None else choice
        for animal, choice in choices.items()
        if choice.bull is None or choice.bull in keys
    }
    result = result_of(ready, choices, placed, left, proven=False)
    not_bred = (_told_anew(one, stood.get(one.animal), of[one.animal]) for one in result.not_bred)
    return replace(result, not_bred=tuple(not_bred))


def _told_anew(one: NotBred, stood: KeptPlace | None, female: SortFemale) -> NotBred:
    """Say of a female without a place why, where the plan cannot know."""
    if one.code == "chosen" or not female.readiness.ok:
        return one
    if stood is None:
        return replace(one, code="new", reason=Reason("new", "here since the plan was kept; not placed yet"))
    if stood.place != "bull" and stood.code not in _FOR_WANT_OF_A_PLACE:
        template = "left out of the plan, and may be bred now; not placed yet"
        return replace(one, code="ready_now", reason=Reason("ready_now", template))
    return one


def _book_changes(kept: KeptPlan, held: str) -> Iterator[PlanChange]:
    if held != kept.held:
        template = "Where a sire is doubtful, the book holds another figure against the limit than then."
        yield PlanChange("held", None, "", Reason("held", template))


def _gone_since(conn: Connection, kept: KeptPlan, bulls: dict[int, AnimalFacts], on: date) -> set[int]:
    """Return the bulls that have left since the plan was kept; one used from elsewhere never was here."""
    s = t.columns(t.Stay)
    away = [bull for bull, facts in bulls.items() if facts.here_since is None]
    query = select(s.animal_id).where(
        s.animal_id.in_(away), s.to_day.is_not(None), s.to_day >= kept.row.made.date(), s.to_day <= on
    )
    return set(conn.scalars(query))


def _bull_changes(
    kept: KeptPlan, ready: Gathered, bulls: dict[int, AnimalFacts], gone: set[int]
) -> Iterator[PlanChange]:
    """Tell of bulls that are castrated or have gone, and of groups that may have another number now."""
    for group in kept.ask.groups or ():
        for bull in group.bulls:
            facts = bulls[bull.animal]
            if not _fit(facts):
                template = "{tag} is no bull any more, and was taken out of the plan."
                yield _change("not_a_bull", facts.id, facts.tag, template)
            elif facts.id in gone:
                yield _change("bull_left", facts.id, facts.tag, "{tag} is not here any more.")
    numbers = {group.animal: group for group in ready.bull_groups}
    for key, was in kept.capacities.items():
        now = numbers.get(key)
        if now is not None and now.capacity != was:
            template = "{tag} may have {now} females; it was {was} in the plan."
            yield _change("capacity", key, now.tag, template, now=now.capacity, was=was)


def _female_changes(kept: KeptPlan, ready: Gathered, keys: dict[int, int]) -> Iterator[PlanChange]:
    column = {group.animal: at for at, group in enumerate(ready.bull_groups)}
    of = {female.animal: female for female in ready.females}
    stood = {each.animal: each for each in kept.places}
    for each in kept.places:
        female = of.get(each.animal)
        if female is None:
            yield _change("left", each.animal, each.tag, "{tag} is not here any more.")
            continue
        if each.group not in keys:
            if each.group is not None:
                yield _change("no_bull", each.animal, each.tag, "{tag} has no bull any more.")
            elif female.readiness.ok and not each.by_hand and each.code not in _FOR_WANT_OF_A_PLACE:
                yield _change("ready_now", each.animal, each.tag, "{tag} may be bred now.")
            continue
        now = female.calves[column[keys[each.group]]]
        if each.inbreeding is not None and abs(now - each.inbreeding) > ALIKE:
            template = "{tag}: her calf would be {now:.1%} inbred; it was {was:.1%} in the plan."
            yield _change("figure", each.animal, each.tag, template, now=now, was=each.inbreeding)
        if not female.readiness.ok and not each.by_hand:
            why = female.readiness.reasons[0]
            yield _change("not_ready", each.animal, each.tag, "{tag} would not be bred now: {why}.", why=why)
    for female in ready.females:
        if female.animal not in stood:
            yield _change("new", female.animal, female.tag, "{tag} has come since; she has no place yet.")


def _change(code: str, animal: int, tag: str, template: str, **values: object) -> PlanChange:
    return PlanChange(code, animal, tag, Reason(code, template, {"tag": tag, **values}))
