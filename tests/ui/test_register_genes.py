"""Heritable conditions, horns and colour on the card of an animal."""

from __future__ import annotations

from datetime import date

from PySide6.QtWidgets import QApplication, QLabel

from herdbook.husbandry.reasons import Reason
from herdbook.services.queries.genes import Genes
from herdbook.services.queries.risks import CarrierChance
from herdbook.services.queries.traits import OwnTrait
from herdbook.ui.card import Card
from herdbook.ui.register.genes import add_genes

ON = date(2026, 3, 3)


def chance(name: str, *copies: float, tested: bool = False, used: int = 4) -> CarrierChance:
    """Return a chance by kin, of four results."""
    free, carrier, affected = copies
    return CarrierChance(name, name, free, carrier, affected, tested, used == 4, used, 4)


def said(genes: Genes | None) -> list[str]:
    """Return what the card says, and in which tone."""
    card = Card(name="card")
    add_genes(card, genes, ON)
    return [label.text() for label in card.findChildren(QLabel)]


def test_what_a_card_says(qapp: QApplication) -> None:
    """Tested, by kin, little chance, not computable from all, and contradicting results, each in words."""
    words = said(
        Genes(
            (
                chance("A", 1, 0, 0, tested=True),
                chance("B", 0, 1, 0, tested=True),
                chance("C", 0.5, 0.5, 0),
                chance("D", 0.98, 0.0199, 0.0001),
                chance("E", 0.25, 0.5, 0.25, used=3),
                chance("F", 0, 1, 0),
                chance("G", 1, 0, 0),
            ),
            (OwnTrait("polled", "Polled or horned", (("Pp", 2 / 3), ("PP", 1 / 3))),),
            (Reason("results_clash", "H: contradicts"),),
        )
    )
    told = " | ".join(words).replace("\N{NO-BREAK SPACE}", " ")
    assert "A: tested free" in told
    assert "B: carrier |" in told
    assert "C: carrier 50.0 %, by its kin" in told or "C: carrier 50 %, by its kin" in told
    assert "two copies 25" in told
    assert "3 of 4 results: not computable from all" in told
    assert "F: carrier, by its kin" in told
    assert "2 more conditions are tested in this herd" in told
    assert "Polled or horned: Pp 66.7 %, PP 33.3 %" in told
    assert "H: contradicts." in told
    assert "your vet and your breed society decide" in told


def test_nothing_known_says_nothing(qapp: QApplication) -> None:
    assert said(None) == []
    assert said(Genes((), (), ())) == []
