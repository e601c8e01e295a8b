"""How the shell tells a sort: who goes where and why, what would place the others, as JSON and in lines."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from herdbook.words import say


def sort_answer(result: Any) -> dict[str, Any]:
    """Return a sort as JSON.

    `next_best` is the cheapest other bull that the rules let her have, and `would_need` what would place a
    female who has no bull: each by itself; None where it would not help, or where she is not to be bred.
    """
    from herdbook.services.queries.sort_why import Whys

    whys, of = Whys(result), {female.animal: female for female in result.females}
    return {
        "groups": [
            {
                "bull": group.tag,
                "capacity": group.capacity,
                "females": [_placed(whys, of[f.animal], f, at) for f in group.females],
            }
            for at, group in enumerate(result.groups)
        ],
        "not_bred": [_left(whys, one) for one in result.not_bred],
        "mean_inbreeding": result.mean_inbreeding,
        "worst_inbreeding": result.worst_inbreeding,
        "proven_optimal": result.proven_optimal,
        "gap": result.gap,
    }


def _placed(whys: Any, female: Any, placed: Any, column: int) -> dict[str, Any]:
    why = whys.of(female.animal)
    beside = why.placed.next_best
    bulls = whys.result.bull_groups
    risks = female.risks[column] if female.risks else ()
    return {
        "tag": placed.tag,
        "inbreeding": placed.inbreeding,
        "next_best": beside and {"bull": bulls[beside.bull].tag, "inbreeding": female.calves[beside.bull]},
        "why": [str(reason) for reason in why.reasons],
        "risks": [
            {"condition": risk.condition, "affected": risk.affected, "carrier": risk.carrier}
            for risk in risks
        ],
        "prices": [
            {"kind": price.kind, "amount": price.amount, "reason": str(price.reason)}
            for price in female.prices_of(column)
        ],
    }


def _left(whys: Any, left: Any) -> dict[str, Any]:
    why = whys.of(left.animal)
    needs = why.unplaced if why else None
    bulls = whys.result.bull_groups
    return {
        "tag": left.tag,
        "code": left.code,
        "reason": str(left.reason),
        "why": [str(reason) for reason in why.reasons] if why else [],
        "would_need": {
            "limit": needs.limit if needs else None,
            "place_with": bulls[needs.place_with[0]].tag if needs and needs.place_with else None,
            "bull_no_closer_than": needs.bull_no_closer if needs else None,
        },
    }


def sort_lines(result: Any) -> Iterator[str]:
    """Return a sort in lines for people."""
    from herdbook.services.queries.sort_why import Whys

    whys, of = Whys(result), {female.animal: female for female in result.females}
    for at, group in enumerate(result.groups):
        yield say("{bull}: {n} of {room}", bull=group.tag, n=len(group.females), room=group.capacity)
        for one in group.females:
            line = _placed_line(one, of[one.animal].expected[at], of[one.animal].worst[at])
            why = [*whys.words(one.animal)[1:], *(price.reason for price in of[one.animal].prices_of(at))]
            yield "; ".join((line, *(str(reason) for reason in why)))
    for left in result.not_bred:
        yield say("not bred: {tag}: {reason}", tag=left.tag, reason=left.reason)
        yield from (f"  - {reason}" for reason in whys.words(left.animal))
    if result.mean_inbreeding is not None:
        yield figures_line(result.known_mean, result.known_worst, result.not_known)
    if not result.proven_optimal:
        yield say("not proven the best: good to within {gap:.1%}", gap=result.gap)


def figures_line(mean: float | None, worst: float | None, not_known: int) -> str:
    """Return the mean and worst of the calves of which anything is known, and of how many nothing is."""
    if mean is None or worst is None:
        return say("not known of any calf") if not_known else say("no calves")
    line = say("mean {mean:.2%}, worst {worst:.2%}", mean=mean, worst=worst)
    return line + (say(" of those known, {n} not known", n=not_known) if not_known else "")


def _placed_line(female: Any, expected: float, worst: float) -> str:
    """Return a placed female with her calf's figure and how far it can be trusted."""
    from herdbook.services.kinwords import trust_words

    trust = trust_words(female.trust)
    if not female.known:
        return say("  {tag:<12} not known: {trust} on one side", tag=female.tag, trust=trust)
    line = say("  {tag:<12} {f:.2%}  {trust}", tag=female.tag, f=female.inbreeding, trust=trust)
    if worst > expected:
        line += say("; a sire is doubtful: {e:.2%} expected, {w:.2%} at worst", e=expected, w=worst)
    return line
