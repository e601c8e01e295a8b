"""Heritable conditions, horns and colour on an animal's card."""

from __future__ import annotations

from datetime import date

from herdbook.services.genewords import carrier_words, own_trait_words
from herdbook.services.queries.genes import Genes
from herdbook.services.queries.risks import CarrierChance
from herdbook.ui.card import Card
from herdbook.ui.reasons import reason_text
from herdbook.words import say

WORTH_SAYING = 0.02
"""Chances below it, as of stock of whom nothing is known, are told in one line."""


def add_genes(side: Card, genes: Genes | None, today: date) -> None:
    """Add what the animal carries, if the book holds any result or look at all."""
    if genes is None or not (genes.conditions or genes.traits or genes.clashes):
        return
    side.section(say("Heritable conditions, horns, colour"))
    told = [one for one in genes.conditions if one.tested or one.carrier + one.affected > WORTH_SAYING]
    for chance in told:
        words = say("{condition}: {chance}", condition=chance.condition, chance=carrier_words(chance))
        side.line(words, _tone(chance))
    for trait in genes.traits:
        side.line(say("{trait}: {genotype}", trait=trait.name, genotype=own_trait_words(trait)))
    if rest := len(genes.conditions) - len(told):
        words = say("1 more condition is tested in this herd: little chance here.")
        if rest > 1:
            words = say("{n} more conditions are tested in this herd: little chance here.", n=rest)
        side.line(words, "quiet")
    for clash in genes.clashes:
        side.line(reason_text(clash, today) + ".", "act")
    if any(not one.tested for one in told) or any(not trait.sure for trait in genes.traits):
        side.line(say("Chances by tests and kin. A test, your vet and your breed society decide."), "quiet")


def _tone(chance: CarrierChance) -> str:
    if chance.carrier + chance.affected > 1 - 1e-12:
        return "act"
    return "" if chance.free > 1 - 1e-12 else "soon"
