"""What is decided by hand in a sort: moves, who must stay, who must not be with whom."""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping
from dataclasses import replace

from herdbook.husbandry.reasons import Reason
from herdbook.services.queries.sort_place import WAITING, result_of
from herdbook.services.queries.sort_risks import risk_reasons
from herdbook.services.queries.sort_rows import Choice, InGroup, NotBred, SortFemale, SortResult


def moved(result: SortResult, animal: int, choice: Choice) -> SortResult:
    """Return the same placing with one female moved by hand; every other female stays where she is.

    Nothing is solved again, so the answer is not proven best.
    """
    return all_moved(result, {animal: choice})


def all_moved(result: SortResult, choices: Mapping[int, Choice]) -> SortResult:
    """Return the same placing with some females moved by hand, judged together.

    Only what changes is made anew: a group that nobody joins or leaves is the very same object in both.
    """
    where = {
        animal: result.ready.column_of(choice.bull)
        for animal, choice in choices.items()
        if choice.place == "bull" and choice.bull is not None
    }
    return _with_some(result, {**result.choices, **choices}, choices.keys(), where)


def held_here(result: SortResult, animals: Iterable[int]) -> SortResult:
    """Return the same placing with some females fixed by hand where they stand: they must stay there.

    A best placing stays the best one when what it says is made a rule.
    """
    chosen = {animal: Choice(*place) for animal in animals if (place := place_of(result, animal))}
    held = all_moved(result, chosen)
    proven, gap, most = result.proven_optimal, result.gap, result.most_placed
    return replace(held, proven_optimal=proven, gap=gap, most_placed=most)


def freed(result: SortResult, animals: Iterable[int]) -> SortResult:
    """Return the same placing with some choices by hand taken back; nobody moves by that."""
    loose = [animal for animal in animals if animal in result.choices]
    choices = {animal: choice for animal, choice in result.choices.items() if animal not in loose}
    at = {group.bull: column for column, group in enumerate(result.groups)}
    placed = {animal: place_of(result, animal) for animal in loose}
    where = {animal: at[place[1]] for animal, place in placed.items() if place and place[1] is not None}
    return _with_some(result, choices, loose, where)


def kept_from(result: SortResult, animal: int, group: int, reason: str = "") -> SortResult:
    """Return the same placing with the rule that a female is not to be with a group; she leaves it.

    A choice by hand that put her there is taken back; she waits without a bull until it is solved again.
    """
    ready = replace(result.ready, apart={**result.ready.apart, (animal, group): reason})
    after = replace(result, ready=ready, proven_optimal=False)
    if place_of(result, animal) != ("bull", group):
        return after
    choices = {one: choice for one, choice in result.choices.items() if one != animal}
    return _with_some(after, choices, [animal], {})


def let_again(result: SortResult, animal: int, group: int) -> SortResult:
    """Return the same placing without the rule that a female is not to be with a group."""
    apart = {pair: why for pair, why in result.ready.apart.items() if pair != (animal, group)}
    return replace(result, ready=replace(result.ready, apart=apart), proven_optimal=False)


def place_of(result: SortResult, animal: int) -> tuple[str, int | None] | None:
    """Return where a female stands, as ("bull", its first bull) or (place, None); None if she is not here."""
    for group in result.groups:
        if any(f.animal == animal for f in group.females):
            return ("bull", group.bull)
    return next(((n.place, None) for n in result.not_bred if n.animal == animal), None)


def _with_some(
    result: SortResult,
    choices: Mapping[int, Choice],
    animals: Collection[int],
    where: Mapping[int, int],
) -> SortResult:
    """Return the placing with these females at `where`, or without a bull; the others are left alone."""
    animals = set(animals)
    part = replace(result.ready, females=tuple(f for f in result.females if f.animal in animals))
    some = result_of(part, choices, where, {}, proven=False)
    order = {f.animal: row for row, f in enumerate(result.females)}

    def row(one: InGroup | NotBred) -> int:
        return order[one.animal]

    groups = []
    for group, new in zip(result.groups, some.groups, strict=True):
        stay = [f for f in group.females if f.animal not in animals]
        if new.females or len(stay) < len(group.females):
            group = replace(group, females=tuple(sorted([*stay, *new.females], key=row)))
        groups.append(group)
    ready = {f.animal for f in part.females if f.readiness.ok}
    rest = [n for n in result.not_bred if n.animal not in animals]
    rest += [_waiting(n) if n.animal in ready - choices.keys() else n for n in some.not_bred]
    not_bred = tuple(sorted(rest, key=row))
    inbred = [f.inbreeding for group in groups for f in group.females]
    return replace(
        result,
        choices=dict(choices),
        groups=tuple(groups),
        not_bred=not_bred,
        mean_inbreeding=sum(inbred) / len(inbred) if inbred else None,
        worst_inbreeding=max(inbred, default=None),
        proven_optimal=False,
        gap=0.0,
        clash=(),
        most_placed=None,
    )


def _waiting(one: NotBred) -> NotBred:
    return replace(one, code=WAITING.code, reason=WAITING)


def rules_passed(result: SortResult, animal: int, choice: Choice) -> tuple[Reason, ...]:
    """Return every rule that placing this female so would pass; each wants a reason. None without a bull."""
    return all_passed(result, {animal: choice}).get(animal, ())


def all_passed(result: SortResult, choices: Mapping[int, Choice]) -> dict[int, tuple[Reason, ...]]:
    """Return the rules that each of some females moved together would pass; who passes none is left out.

    That a group would have too many is told of those who come beyond its number.
    """
    passed = {}
    females = {f.animal: f for f in result.females if f.animal in choices}
    coming: Counter[int] = Counter()
    for animal, choice in choices.items():
        if choice.place == "bull" and choice.bull is not None:
            coming[choice.bull] += 1
            column = result.ready.column_of(choice.bull)
            there = sum(f.animal not in choices for f in result.groups[column].females)
            reasons = _rules(result, females[animal], column, there + coming[choice.bull])
            if reasons:
                passed[animal] = reasons
    return passed


def _rules(result: SortResult, female: SortFemale, column: int, many: int) -> tuple[Reason, ...]:
    bull = result.bull_groups[column]
    found = [] if female.readiness.ok else list(female.readiness.reasons)
    if female.calves[column] > result.limit:
        values = {"f": female.calves[column], "limit": result.limit}
        template = "Her calf would be {f:.1%} inbred, above the limit of {limit:.2%}."
        if female.close[column] == "very close":
            template = (
                "Her calf would be {f:.1%} inbred, above the limit of {limit:.2%}: for beef only, "
                "keep no replacement from it."
            )
        found.append(Reason("over_limit", template, values))
    if female.heifer and not bull.fit_for_heifers:
        template = "She has never calved, and {tag} is not marked fit for heifers."
        found.append(Reason("not_fit_for_heifers", template, {"tag": bull.tag}))
    found += risk_reasons(female, column)
    if (female.animal, bull.animal) in result.ready.apart:
        found.append(Reason("kept_apart", "She was kept from {tag} by hand.", {"tag": bull.tag}))
    if many > bull.places:
        template = "{tag} would have {n} females; {capacity} is his number."
        found.append(Reason("over_capacity", template, {"n": many, "capacity": bull.places, "tag": bull.tag}))
    return tuple(found)
