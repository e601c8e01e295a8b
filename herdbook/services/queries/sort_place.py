"""Placing the females of a sort, without the book: the solver is asked, and its answer put into words."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

from herdbook.husbandry.reasons import Reason
from herdbook.services.apart import apart
from herdbook.services.queries.sort_risks import barred_everywhere, risk_reasons
from herdbook.services.queries.sort_rows import (
    Choice,
    Gathered,
    Group,
    InGroup,
    NotBred,
    SortFemale,
    SortResult,
    nothing_known,
    trust_of,
)

WAITING = Reason("waiting", "without a bull for now; she is placed when you sort again")
CLASH = Reason("clash", "choices made by hand clash: nobody is placed until one of them is taken back")
APART_FROM = 200_000
"""Pairs from which the solver gets a process of its own; below, it is done sooner than a process starts."""


def place(
    ready: Gathered,
    choices: Mapping[int, Choice],
    going: Callable[[], object] = lambda: None,
    stopping: Callable[[], bool] = lambda: False,
) -> SortResult:
    """Place the females; no reading of the book, so that a page can ask again at every move.

    Parameters
    ----------
    ready : Gathered
    choices : mapping of animal to Choice
    going : callable
        Called while it is solved; what it raises ends it.
    stopping : callable
        Asked while it is solved: once it says so, the best answer found so far is returned, not proven and
        with its gap.

    Raises
    ------
    Halted
        If it was to stop and had no answer soon after (see `apart`); only a sort of many pairs, which is
        solved in a process of its own.
    """
    asked = asked_of(ready, choices)
    many = asked.tables[0].size > APART_FROM
    solve = partial(apart, _placed) if many else _placed
    answer = solve(*asked.tables, going=going, stopping=stopping, **asked.rules)
    free = asked.females
    placed = {f.animal: int(at) for f, at in zip(free, answer.column, strict=True) if at >= 0}
    left = {f.animal: code for f, code in zip(free, answer.why, strict=True) if code is not None}
    result = result_of(ready, choices, placed, left, answer.proven, answer.gap)
    clash = tuple(free[at].animal for at in answer.clash)
    return replace(result, clash=clash, most_placed=answer.most_placed)


@dataclass(frozen=True, eq=False)
class Asked:
    """What the solver is asked: the females who may have a bull, in rows, its tables and its rules.

    `tables` are the costs (inbreeding, and what else is weighed: the limit is held against the first alone),
    which pairs are allowed, and the places of each group.
    """

    females: tuple[SortFemale, ...]
    tables: tuple[Any, Any, Any]
    rules: Mapping[str, Any]


def asked_of(ready: Gathered, choices: Mapping[int, Choice]) -> Asked:
    """Return the tables and rules of a sort, as `sorting.place` takes them."""
    import numpy as np

    groups = ready.bull_groups
    free = [f for f in ready.females if f.readiness.ok or _with_bull(choices.get(f.animal))]
    free = [f for f in free if f.animal not in choices or _with_bull(choices[f.animal])]
    column = {group.animal: at for at, group in enumerate(groups)}
    row = {f.animal: at for at, f in enumerate(free)}
    cost = np.empty((len(free), len(groups)))
    barred = np.zeros(cost.shape, dtype=bool)
    for at, f in enumerate(free):  # one by one: all at once would hold the window up in a large herd
        cost[at] = f.calves
        if f.barred:
            barred[at] = f.barred
    for female, group in ready.apart:
        if female in row and group in column:
            barred[row[female], column[group]] = True
    unfit = np.array([not group.fit_for_heifers for group in groups], dtype=bool)
    bar = np.array([f.heifer for f in free], dtype=bool)[:, None] & unfit[None, :]
    fixed = {
        row[animal]: column[choice.bull]
        for animal, choice in choices.items()
        if animal in row and choice.bull in column
    }
    figure = None
    if any(f.priced for f in free):
        figure, cost = cost, cost + [[f.extra(at) for at in range(len(groups))] for f in free]
    rules = {
        "figure": figure,
        "fixed": fixed,
        "limit": ready.limit,
        "heifer_bar": bar,
        "most_bulls": ready.most_groups,
        "least_group": ready.least_group,
    }
    places = np.array([group.places for group in groups], dtype=np.int64)
    return Asked(tuple(free), (cost, ~barred, places), rules)


@dataclass(frozen=True)
class _Told:
    """What is wanted of the solver's answer; all of it would take long to hand over."""

    column: list[int]
    why: tuple[str | None, ...]
    proven: bool
    gap: float
    most_placed: int
    clash: tuple[int, ...]


def _placed(
    *tables: Any, stopping: Callable[[], bool], going: Callable[[], object] = lambda: None, **rules: Any
) -> _Told:
    from herdbook.husbandry import sorting

    def look() -> None:
        going()
        if stopping():
            raise sorting.Stopped

    answer = sorting.place(*tables, going=look, **rules)
    column = answer.bull_of.tolist()
    return _Told(column, answer.reason, answer.proven, answer.gap, answer.most_placed, answer.clash)


def _with_bull(choice: Choice | None) -> bool:
    return choice is not None and choice.place == "bull"


def result_of(
    ready: Gathered,
    choices: Mapping[int, Choice],
    placed: Mapping[int, int],
    left: Mapping[int, str],
    proven: bool,
    gap: float = 0.0,
) -> SortResult:
    """Return a placing as a result: `placed` has each female's column, `left` why others have none."""
    groups: list[list[InGroup]] = [[] for _ in ready.bull_groups]
    not_bred = []
    for f in ready.females:
        if f.animal in placed:
            at = placed[f.animal]
            groups[at].append(_in_group(ready, f, at, f.animal in choices))
        else:
            not_bred.append(_not_bred(ready, f, choices.get(f.animal), left.get(f.animal)))
    inbred = [female.inbreeding for group in groups for female in group]
    return SortResult(
        ready,
        dict(choices),
        groups=tuple(
            Group(b.animal, b.tag, b.name, b.places, tuple(group))
            for b, group in zip(ready.bull_groups, groups, strict=True)
        ),
        not_bred=tuple(not_bred),
        mean_inbreeding=sum(inbred) / len(inbred) if inbred else None,
        worst_inbreeding=max(inbred, default=None),
        proven_optimal=proven,
        gap=gap,
    )


def _in_group(ready: Gathered, f: SortFemale, at: int, by_hand: bool) -> InGroup:
    groups = ready.bull_groups
    notes, trust = _notes(ready, f, at), trust_of(f, groups[at])
    return InGroup(f.animal, f.tag, f.name, f.calves[at], by_hand, notes, trust)


def _notes(ready: Gathered, f: SortFemale, bull: int) -> tuple[Reason, ...]:
    """Say why she is here: the next best bull, the cautions on her readiness, a limit passed by hand."""
    bulls, limit = ready.bull_groups, ready.limit
    notes = list(f.readiness.reasons)
    if beside := _next_best(ready, f, bull):
        notes.insert(0, beside)
    if f.calves[bull] > limit:
        values = {"f": f.calves[bull], "limit": limit}
        notes.append(
            Reason("over_by_hand", "{f:.1%} is above the limit of {limit:.2%}, chosen by hand", values)
        )
    if f.heifer and not bulls[bull].fit_for_heifers:
        notes.append(
            Reason(
                "unfit_by_hand",
                "{tag} is not marked fit for heifers, chosen by hand",
                {"tag": bulls[bull].tag},
            )
        )
    priced = tuple(price.reason for price in f.prices_of(bull))
    return (*notes, *risk_reasons(f, bull), *priced)


def _next_best(ready: Gathered, f: SortFemale, bull: int) -> Reason | None:
    """Say what she would give with the cheapest other bull that the keeper's rules let her have.

    Of equals it is the first in the list; the limit is no such rule. A nil that rests on nothing is not told
    as nil.
    """
    bulls, here, costs = ready.bull_groups, f.calves[bull], f.costs
    if nothing_known(f, bulls[bull], here):
        return Reason("not_known_here", "not known here: no parent is in the book on one side, ask")
    others = (at for at in range(len(bulls)) if at != bull and _let_have(ready, f, at))
    at = min(others, key=costs.__getitem__, default=None)
    if at is None:
        return None
    worth, tag = f.calves[at], bulls[at].tag
    template = "{f:.1%} here; next best {tag} {other:.1%}"
    if nothing_known(f, bulls[at], worth):
        template = "{f:.1%} here; with {tag} not known"
    elif costs[at] < costs[bull]:
        template = "{f:.1%} here; {tag} would give {other:.1%}"
    return Reason("next_best", template, {"f": here, "tag": tag, "other": worth})


def _let_have(ready: Gathered, f: SortFemale, at: int) -> bool:
    """Return whether the keeper's rules let her have a group of bulls, whatever the limit."""
    group = ready.bull_groups[at]
    if (f.animal, group.animal) in ready.apart or (f.barred and f.barred[at]):
        return False
    return group.fit_for_heifers or not f.heifer


def _not_bred(ready: Gathered, f: SortFemale, choice: Choice | None, code: str | None) -> NotBred:
    if choice is not None and choice.place != "bull":
        template = "chosen by hand: {reason}" if choice.reason else "chosen by hand"
        reason = Reason("chosen", template, {"reason": choice.reason})
        return NotBred(f.animal, f.tag, f.name, f.class_, "chosen", reason, choice.place)
    if not f.readiness.ok:
        why, because = f.readiness.code or "other", f.readiness.reasons[0]
        return NotBred(f.animal, f.tag, f.name, f.class_, why, because)
    because = _why_unplaced(ready, f, code)
    code = because.code if because.code in ("affected_calf", "kept_apart") else code or "other"
    return NotBred(f.animal, f.tag, f.name, f.class_, code, because)


def _why_unplaced(ready: Gathered, f: SortFemale, code: str | None) -> Reason:
    if code == CLASH.code:
        return CLASH
    if code in ("waiting", "new", "ready_now"):  # of a plan that was kept before she was sorted
        return WAITING
    bulls, limit = ready.bull_groups, ready.limit
    if all((f.animal, group.animal) in ready.apart for group in bulls):
        return Reason("kept_apart", "kept from every bull by hand")
    may = [p for p, b in enumerate(bulls) if (f.animal, b.animal) not in ready.apart]
    fit = [p for p in may if bulls[p].fit_for_heifers or not f.heifer] or may
    within = [place for place in fit if f.calves[place] <= limit]
    if within and (reason := barred_everywhere(f, bulls, within)):
        return reason
    fit = [place for place in within if not (f.barred and f.barred[place])] or fit
    figure, tag, at = min((f.calves[place], bulls[place].tag, place) for place in fit)
    if code == "not_fit_for_heifers":
        template = "never calved, and no bull is marked fit for heifers; place her by hand with a reason"
        return Reason("not_fit_for_heifers", template)
    values = {"f": figure, "tag": tag, "limit": limit}
    if code == "over_limit":
        template = "every bull is above the limit of {limit:.2%}; the least is {tag} with {f:.1%}"
        return Reason("over_limit", template, values)
    template = "no place left with a bull she may have; {tag} would give {f:.1%}"
    if nothing_known(f, bulls[at], figure):
        template = "no place left with a bull she may have; with {tag} not known"
    return Reason("no_place", template, values)
