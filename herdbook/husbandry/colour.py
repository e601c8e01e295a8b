"""Horns and coat colour at the genes that are simple: polled, extension (MC1R) and roan (KITLG).

What calves a mating can give, from the looks and tests of the parents and of their near kin. A look leaves
genotypes open (a black animal may carry red); a test does not.

SOURCE of the modes: polled dominant over horned, an allelic series taken here as one allele (Medugorac et al.
2012, title; a test laboratory's page); extension ED over E+ over e (a university laboratory's page; BMC
Genomics 15:246, table 1); roan incompletely dominant (OMIA 001216-9913). Other genes (dilution, white
patterns, scurs) are left out: a coat may look otherwise than these say.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from herdbook.husbandry.inheritance import Descent


@dataclass(frozen=True)
class Look:
    """A look, the genotypes that have it, and what a calf of that look is called."""

    key: str
    label: str
    genotypes: tuple[str, ...]


@dataclass(frozen=True)
class Trait:
    """A gene that is seen.

    Parameters
    ----------
    key, label : str
    alleles : tuple of str
        Founders are taken to have each as often as the others: an assumption, no source.
    looks : tuple of Look
    hint : str
    read : callable
        Returns the key of the look that words for horns or colour tell of, or None.
    """

    key: str
    label: str
    alleles: tuple[str, ...]
    looks: tuple[Look, ...]
    hint: str
    read: Callable[[str], str | None]

    @property
    def genotypes(self) -> tuple[str, ...]:
        """Every genotype as tests write it, in the order of `Locus.genotypes`."""
        count = range(len(self.alleles))
        joint = "/" if max(map(len, self.alleles)) > 1 or "e" in self.alleles else ""
        return tuple(f"{self.alleles[a]}{joint}{self.alleles[b]}" for a in count for b in count if a <= b)

    def seen(self, look: str) -> tuple[float, ...]:
        """Return how likely a look is with each genotype: certain or impossible."""
        of = next(each.genotypes for each in self.looks if each.key == look)
        return tuple(float(genotype in of) for genotype in self.genotypes)

    def tested(self, result: str) -> tuple[float, ...] | None:
        """Return the same for a test's result; None for one that is not of this gene."""
        if result not in self.genotypes:
            return None
        return tuple(float(genotype == result) for genotype in self.genotypes)


def _words(text: str) -> frozenset[str]:
    return frozenset(re.findall(r"[a-z]+", text.casefold()))


def _horns(text: str) -> str | None:
    """Read words for horns; a disbudded or dehorned animal would have had them."""
    words = _words(text)
    if words & {"scur", "scurs", "scurred"}:
        return None  # another gene, and seen on animals of one polled allele and of none alike
    if words & {"polled", "hornless", "naturally"}:
        return "polled"
    return "horned" if words & {"horned", "horns", "disbudded", "dehorned"} else None


def _coat(text: str) -> str | None:
    """Read the ground colour; black shows through roan as blue."""
    words = _words(text)
    if "black" in words or {"blue", "roan"} <= words or ("blue" in words and "grey" in words):
        return "black"
    if "wild" in words:
        return "wild"
    return "red" if "red" in words else None


def _roan(text: str) -> str | None:
    """Read roan; a coat of one plain colour has none, and a patched or white one says nothing sure."""
    words = _words(text)
    if "roan" in words:
        return "roan"
    return "solid" if words in ({"red"}, {"black"}) else None


POLLED = Trait(
    "polled",
    "Polled or horned",
    ("P", "p"),
    (Look("polled", "polled", ("PP", "Pp")), Look("horned", "horned", ("pp",))),
    "Scurs are a separate trait: a polled calf may have them.",
    _horns,
)
EXTENSION = Trait(
    "extension",
    "Ground colour (extension, MC1R)",
    ("ED", "E+", "e"),
    (
        Look("black", "black", ("ED/ED", "ED/E+", "ED/e")),
        Look("wild", "wild colour", ("E+/E+", "E+/e")),
        Look("red", "red", ("e/e",)),
    ),
    "A black animal may carry red (ED/e looks black). Red is taken for e/e; red-brown of E+ looks alike.",
    _coat,
)
ROAN = Trait(
    "roan",
    "Roan (KITLG)",
    ("r", "R"),
    (
        Look("solid", "no roan", ("rr",)),
        Look("roan", "roan", ("rR",)),
        Look("white", "white", ("RR",)),
    ),
    "Two copies make a white calf; white of other genes looks alike.",
    _roan,
)
TRAITS = (POLLED, EXTENSION, ROAN)

RESULT_WORDS = (
    ("PP", "polled PP (two copies)"),
    ("Pp", "polled Pp (one copy)"),
    ("pp", "horned pp"),
    ("ED/ED", "colour ED/ED (black)"),
    ("ED/E+", "colour ED/E+ (black)"),
    ("ED/e", "colour ED/e (black, carries red)"),
    ("E+/E+", "colour E+/E+ (wild)"),
    ("E+/e", "colour E+/e (wild, carries red)"),
    ("e/e", "colour e/e (red)"),
    ("rr", "roan rr (none)"),
    ("rR", "roan rR (roan)"),
    ("RR", "roan RR (white)"),
)
"""Every result of a test of these genes, and what a form calls it."""


def calf_looks(
    trait: Trait, descent: Descent, evidence: Mapping[int, tuple[float, ...]], dam: int, sire: int
) -> dict[str, float]:
    """Return the chance of each look of a calf of two animals, given what is known of all rows.

    Parameters
    ----------
    trait : Trait
    descent : Descent
        A small part of the pedigree: the two, and whoever of their kin tells of them.
    evidence : mapping of int to tuple of float
        By row, from `Trait.seen` and `Trait.tested`.
    dam, sire : int
        Rows of the parents.

    Raises
    ------
    Contradiction
        When the looks and tests cannot all be true.
    """
    from herdbook.husbandry.inheritance import Descent

    calf = len(descent.sire)
    grown = Descent([*descent.sire, sire], [*descent.dam, dam], descent.doubtful)
    chances = own_genotypes(trait, grown, evidence, calf)
    return {look.key: sum(chances[genotype] for genotype in look.genotypes) for look in trait.looks}


def own_genotypes(
    trait: Trait, descent: Descent, evidence: Mapping[int, tuple[float, ...]], row: int
) -> dict[str, float]:
    """Return the chance of each genotype of one animal, given what is known of all rows; see `calf_looks`."""
    from herdbook.husbandry.inheritance import Core, Locus

    count = len(trait.alleles)
    locus = Locus(trait.alleles, (1.0 / count,) * count)
    nothing = (1.0,) * len(trait.genotypes)
    core = Core(locus, descent, {row: nothing, **evidence})
    return dict(zip(trait.genotypes, core.genotypes(row).tolist(), strict=True))
