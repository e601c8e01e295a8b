"""Who is with whom: the groups, calves at foot with their dams, and bulls where they run."""

from __future__ import annotations

from collections import defaultdict
from datetime import date

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.season import can_sire_from, too_young_beside_male
from herdbook.services.facts import AnimalFacts, Herd

Place = tuple[str, int]
_NOWHERE: Place = ("no group", 0)


def too_young_heifers(herd: Herd, on: date) -> dict[int, list[int]]:
    """Return the heifers that can conceive, are too young to, and are with entire males; with those males.

    Together are animals of one group, calves at foot where their dam is, and what runs with a bull. Animals
    in no group at all count as together, because a small herd that keeps no groups is one; only grown bulls
    without a group are taken to be by themselves, since their company is written as bull runs.
    """
    males: dict[Place, list[AnimalFacts]] = defaultdict(list)
    for facts in herd.values():
        if facts.sex == "M" and facts.castrated is None and facts.born is not None:
            place = _place(facts, herd)
            alone = place == _NOWHERE and facts.class_on(on) is AnimalClass.BULL
            if not alone and _can_sire(facts, on):
                males[place].append(facts)
    found: dict[int, list[int]] = {}
    for facts in herd.values():
        if facts.sex == "F" and facts.born is not None and not facts.has_calved:
            running = [male for male in _running_with(facts, herd, on) if _can_sire(male, on)]
            near = [*males[_place(facts, herd)], *running]
            # Each of them is old enough, so that one speaks for all: a large herd has very many pairs.
            if near and _mishap(facts, near[0], on):
                found[facts.id] = sorted({male.id for male in near})
    return found


def _can_sire(male: AnimalFacts, on: date) -> bool:
    """Whether a male of known age is old enough for a mishap."""
    if male.born is None:
        return False
    begins = can_sire_from(male.born, male.born_precision)
    return begins is None or begins <= on


def _mishap(female: AnimalFacts, male: AnimalFacts, on: date) -> bool:
    if female.born is None or male.born is None:
        return False
    alert = too_young_beside_male(female.born, male.born, on, female.born_precision, male.born_precision)
    return alert is not None


def _place(facts: AnimalFacts, herd: Herd) -> Place:
    """Return the group an animal is in; an unweaned calf without one is where its dam is."""
    dam = herd.get(facts.dam) if facts.dam is not None else None
    if facts.group is None and facts.weaned is None and dam is not None and not facts.has_calved:
        facts = dam
    return _NOWHERE if facts.group is None else ("group", facts.group[0])


def _running_with(facts: AnimalFacts, herd: Herd, on: date) -> list[AnimalFacts]:
    bulls = [
        b for run in facts.runs if run.first <= on and (run.last is None or on <= run.last) for b in run.sires
    ]
    return [herd[bull] for bull in bulls if isinstance(bull, int) and bull in herd]
