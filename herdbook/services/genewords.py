"""Heritable conditions, horns and colour in words, for cards."""

from __future__ import annotations

from herdbook.services.kinwords import percent_words
from herdbook.services.queries.risks import CarrierChance
from herdbook.services.queries.traits import MatingTrait, OwnTrait
from herdbook.words import say

NEGLIGIBLE = 0.0005
"""Chances that would read 0.0 % are called almost none."""
TWO_FROM = 0.01
"""Two copies are told of from this chance: a grown animal seldom has those of a condition that does harm."""


def chance_words(share: float) -> str:
    """Return a chance in per cent; a small one is not called nil."""
    if 0 < share < NEGLIGIBLE:
        return say("almost none")
    return percent_words(round(share, 3))


def carrier_words(chance: CarrierChance) -> str:
    """Return how likely an animal is to carry a condition, and what that rests on."""
    if chance.tested:
        if chance.free == 1:
            return say("tested free")
        return say("carrier") if chance.carrier == 1 else say("affected")
    if chance.carrier > 1 - 1e-12:
        return say("carrier, by its kin")
    if chance.free > 1 - 1e-12:
        return say("free, by its kin")
    words = say("carrier {chance}, by its kin", chance=chance_words(chance.carrier))
    if chance.affected >= TWO_FROM:
        words = say("{words}; two copies {chance}", words=words, chance=chance_words(chance.affected))
    if not chance.exact:
        used, of = chance.used, chance.results
        words = say("{words} ({n} of {of} results: not computable from all)", words=words, n=used, of=of)
    return words


def own_trait_words(trait: OwnTrait) -> str:
    """Return an animal's likely genotypes."""
    if trait.sure:
        return trait.genotypes[0][0]
    parts = [
        say("{genotype} {chance}", genotype=genotype, chance=chance_words(chance))
        for genotype, chance in trait.genotypes
    ]
    return ", ".join(parts)


def mating_trait_words(trait: MatingTrait) -> str:
    """Return what a mating can give of horns or colour."""
    if not trait.looks:
        return say("{trait}: {why}.", trait=trait.name, why=trait.why_not)
    looks = ", ".join(
        say("{look} {chance}", look=look.words, chance=chance_words(look.chance)) for look in trait.looks
    )
    return say("{trait}: {looks}. {hint}", trait=trait.name, looks=looks, hint=trait.hint)
