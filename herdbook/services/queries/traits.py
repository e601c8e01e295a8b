"""Horns and coat colour of the calves that a mating can give, from the looks and tests of the near kin."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from herdbook.husbandry.colour import TRAITS, Trait, calf_looks
from herdbook.services.pedigree import Pedigree
from herdbook.services.queries.conditions import trait_tests
from herdbook.store import tables as t
from herdbook.words import say

if TYPE_CHECKING:
    import numpy.typing as npt

    from herdbook.husbandry.inheritance import Descent

MOST_CALVES = 40
"""Calves of each parent that are looked at, the last in the book's order; our choice, to stay quick."""
_AT_ONCE = 500


@dataclass(frozen=True)
class CalfLook:
    """A look that a calf may have, and the chance of it."""

    look: str
    words: str
    chance: float


@dataclass(frozen=True)
class MatingTrait:
    """What a mating can give of horns or colour.

    Parameters
    ----------
    key, name : str
    looks : tuple of CalfLook
        Those that can be, the likeliest first; empty where it is not known.
    why_not : str
        Why nothing can be said: a parent's look or test is not written down, or the looks contradict.
    hint : str
        What the gene does not say.
    """

    key: str
    name: str
    looks: tuple[CalfLook, ...]
    why_not: str
    hint: str


def mating_traits(
    conn: Connection, pedigree: Pedigree, dam: int, sire: int, on: date
) -> tuple[MatingTrait, ...]:
    """Return what a mating can give of horns, ground colour and roan.

    The parents' own looks and tests count, and those of their parents, grandparents and calves. Of two looks
    or tests of one animal both count. A doubtful sire enters with his chance. Founders are taken to have
    every allele as often as the others: an assumption, which matters only where looks leave a genotype open.
    """
    kin = _kin(pedigree, dam, sire)
    descent = _small(pedigree, kin)
    return tuple(
        _of_trait(trait, descent, evidence, kin.index(dam), kin.index(sire))
        for trait, evidence in _evidence(conn, kin, on)
    )


@dataclass(frozen=True)
class OwnTrait:
    """What an animal itself carries of horns or colour: its likely genotypes, the likeliest first.

    `sure` says that a test or the kin leave no choice.
    """

    key: str
    name: str
    genotypes: tuple[tuple[str, float], ...]

    @property
    def sure(self) -> bool:
        """Whether one genotype only is left."""
        return len(self.genotypes) == 1


def own_traits(conn: Connection, pedigree: Pedigree, animal: int, on: date) -> tuple[OwnTrait, ...]:
    """Return the likely genotypes of an animal of whom a look or a test is written down, by the near kin.

    Where looks and tests contradict each other the trait is left out.
    """
    from herdbook.husbandry.colour import own_genotypes
    from herdbook.husbandry.inheritance import Contradiction

    kin = _kin(pedigree, animal)
    descent, row = _small(pedigree, kin), kin.index(animal)
    found = []
    for trait, evidence in _evidence(conn, kin, on):
        if row not in evidence:
            continue
        try:
            chances = own_genotypes(trait, descent, evidence, row)
        except Contradiction:
            continue
        likely = sorted(chances.items(), key=lambda each: -each[1])
        left = tuple((genotype, chance) for genotype, chance in likely if chance > 1e-12)
        found.append(OwnTrait(trait.key, say(trait.label), left))
    return tuple(found)


def own_genotype_table(
    conn: Connection, pedigree: Pedigree, trait: Trait, animals: Sequence[int], on: date
) -> npt.NDArray[Any]:
    """Return the chances of the genotypes of many animals, by their looks and tests and those of near kin.

    Returns
    -------
    ndarray of float, shape (len(animals), len(trait.genotypes))
        Not a number where no look or test of an animal itself is written down, or they contradict the kin's.
    """
    import numpy as np

    from herdbook.husbandry.colour import own_genotypes
    from herdbook.husbandry.inheritance import Contradiction

    told = _told(conn, trait, list(dict.fromkeys(animals)), on)
    kin = {animal: _kin(pedigree, animal) for animal, seen in told.items() if np.count_nonzero(seen) > 1}
    told |= _told(conn, trait, list({each for those in kin.values() for each in those}.difference(told)), on)
    table = np.full((len(animals), len(trait.genotypes)), np.nan)
    for at, animal in enumerate(animals):
        if animal in kin:
            evidence = {row: told[one] for row, one in enumerate(kin[animal]) if one in told}
            descent, row = _small(pedigree, kin[animal]), kin[animal].index(animal)
            with suppress(Contradiction):
                table[at] = list(own_genotypes(trait, descent, evidence, row).values())
        elif animal in told and any(told[animal]):
            table[at] = told[animal]  # a test, or a look that only one genotype has
    return table


def _told(conn: Connection, trait: Trait, animals: list[int], on: date) -> dict[int, tuple[float, ...]]:
    """Return what looks and tests say of each of these animals of whom any is written down."""
    found: dict[int, tuple[float, ...]] = {}
    for start in range(0, len(animals), _AT_ONCE):
        part = animals[start : start + _AT_ONCE]
        rows = next(told for each, told in _evidence(conn, part, on) if each.key == trait.key)
        found |= {part[row]: seen for row, seen in rows.items()}
    return found


def _evidence(
    conn: Connection, kin: list[int], on: date
) -> Iterator[tuple[Trait, dict[int, tuple[float, ...]]]]:
    """Yield each trait with what looks and tests say of these animals, by place in the list."""
    a = t.Animal
    query = select(a.id, a.colour, a.horns).where(a.id.in_(kin))
    looks = {animal: (colour or "", horns or "") for animal, colour, horns in conn.execute(query)}
    tests = trait_tests(conn, kin, on)
    for trait in TRAITS:
        evidence: dict[int, tuple[float, ...]] = {}
        for row, animal in enumerate(kin):
            told = [trait.tested(result) for word, result in tests.get(animal, ()) if word == trait.key]
            seen = trait.read(looks[animal][1 if trait.key == "polled" else 0])
            told.append(trait.seen(seen) if seen is not None else None)
            for likelihood in told:
                if likelihood is not None:
                    before = evidence.get(row, (1.0,) * len(likelihood))
                    evidence[row] = tuple(x * y for x, y in zip(before, likelihood, strict=True))
        yield trait, evidence


def _of_trait(
    trait: Trait, descent: Descent, evidence: dict[int, tuple[float, ...]], dam: int, sire: int
) -> MatingTrait:
    from herdbook.husbandry.inheritance import Contradiction

    looks: tuple[CalfLook, ...] = ()
    why_not = ""
    if dam not in evidence and sire not in evidence:
        why_not = say("not known of either parent")
    elif dam not in evidence:
        why_not = say("not known of the dam")
    elif sire not in evidence:
        why_not = say("not known of the sire")
    else:
        try:
            chances = calf_looks(trait, descent, evidence, dam, sire)
        except Contradiction:
            why_not = say("what is written of the family's looks, tests or parents cannot all be true")
        else:
            words = {look.key: say(look.label) for look in trait.looks}
            likely = sorted(chances.items(), key=lambda each: -each[1])
            looks = tuple(CalfLook(look, words[look], chance) for look, chance in likely if chance > 1e-12)
    return MatingTrait(trait.key, say(trait.label), looks, why_not, say(trait.hint))


def _kin(pedigree: Pedigree, *animals: int) -> list[int]:
    """Return these animals, their parents and grandparents, their calves, and the calves' other parents."""
    kin = dict.fromkeys(animals)
    _add_parents(pedigree, kin, animals)
    _add_parents(pedigree, kin, tuple(kin))
    for parent in animals:
        row = pedigree.row[parent]
        calves = ((pedigree.sire == row) | (pedigree.dam == row)).nonzero()[0]
        young = [pedigree.ids[at] for at in calves[-MOST_CALVES:].tolist()]
        kin |= dict.fromkeys(young)
        _add_parents(pedigree, kin, young)
    return list(kin)


def _add_parents(pedigree: Pedigree, kin: dict[int, None], animals: Iterable[int]) -> None:
    for animal in animals:
        row = pedigree.row[animal]
        found = [pedigree.ids[at] for at in (int(pedigree.sire[row]), int(pedigree.dam[row])) if at >= 0]
        found += [each.sire for each in pedigree.sires.get(animal, ())]
        kin |= dict.fromkeys(found)


def _small(pedigree: Pedigree, kin: list[int]) -> Descent:
    """Return the pedigree of these animals alone; parents beyond them are not known."""
    from herdbook.husbandry.inheritance import Descent
    from herdbook.services.queries.risks import descent_of

    whole, place = descent_of(pedigree), {pedigree.row[animal]: at for at, animal in enumerate(kin)}
    rows = list(place)
    doubtful = {
        place[row]: tuple((place[sire], chance) for sire, chance in whole.doubtful[row] if sire in place)
        for row in rows
        if row in whole.doubtful
    }
    return Descent(
        [place.get(int(whole.sire[row]), -1) for row in rows],
        [place.get(int(whole.dam[row]), -1) for row in rows],
        doubtful,
    )
