"""Heritable conditions: how each is inherited, what a test or a look says of the genotype, a starting list.

The facts of the starting list carry where they were seen. A number of OMIA (Online Mendelian Inheritance in
Animals, omia.org) ends in 9913, the taxon of cattle. A test laboratory's word on an animal, and what the
breed society and the vet make of it, go before anything here.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Mode = Literal["recessive", "incomplete", "dominant"]
Likelihood = tuple[float, float, float]

DEFAULT_FREQUENCY = 0.01
"""How common the allele is taken to be in founders and unknown parents: an assumption, no source."""

RESULTS: dict[str, Likelihood] = {"free": (1, 0, 0), "carrier": (0, 1, 0), "affected": (0, 0, 1)}
"""What a laboratory's result says of the copies: none, one, two. It is taken to be certain."""

SEEN = "seen on OMIA page"


@dataclass(frozen=True)
class Condition:
    """A condition of one gene.

    Parameters
    ----------
    key : str
        Stable word by which results name it.
    name : str
    mode : {"recessive", "incomplete", "dominant"}
        Incompletely dominant: one copy shows, and two show more or kill.
    harm : str
        What two copies do (one, where it is dominant).
    carriers_show : bool
        Whether one copy is seen on the animal.
    penetrance : float
        Share of the animals with the marked genotype that show it.
    frequency : float
        Of the allele among founders and unknown parents; an assumption of the keeper's.
    omia, omia_status, mode_status : str
        The number, and how number and mode are known.
    gene, note : str
    aliases : tuple of str
        Other words under which a result may name it.
    watched : bool
        Whether matings are judged by it.
    """

    key: str
    name: str
    mode: Mode = "recessive"
    harm: str = ""
    carriers_show: bool = False
    penetrance: float = 1.0
    frequency: float = DEFAULT_FREQUENCY
    omia: str = ""
    omia_status: str = ""
    mode_status: str = ""
    gene: str = ""
    note: str = ""
    aliases: tuple[str, ...] = ()
    watched: bool = True

    def __post_init__(self) -> None:
        """Refuse shares that are none."""
        if not 0 < self.frequency < 1:
            raise ValueError("The frequency of a condition's allele lies between 0 and 1.")
        if not 0 < self.penetrance <= 1:
            raise ValueError("The share of those that show a condition lies above 0, up to 1.")

    @property
    def marked(self) -> int:
        """Copies from which a calf is affected: two, or one where it is dominant."""
        return 1 if self.mode == "dominant" else 2

    def likelihood(self, told: str) -> Likelihood | None:
        """Return how likely a word is with no copy, one and two; None for a word that says nothing.

        Parameters
        ----------
        told : str
            A laboratory's ``free``, ``carrier`` or ``affected``; or what was seen on the animal:
            ``looks_normal``, ``looks_carrier`` (the look of one copy), ``looks_affected``.
        """
        if told in RESULTS:
            return RESULTS[told]
        p = self.penetrance
        if self.mode == "dominant":
            return {"looks_normal": (1, 1 - p, 1 - p), "looks_affected": (0, p, p)}.get(told)
        if self.carriers_show or self.mode == "incomplete":
            shown = {"looks_normal": (1, 0, 1 - p), "looks_carrier": (0, 1, 0), "looks_affected": (0, 0, p)}
            return shown.get(told)
        return {"looks_normal": (1, 1, 1 - p), "looks_affected": (0, 0, p)}.get(told)

    def answers_to(self, word: str) -> bool:
        """Whether a result may mean this condition by `word`."""
        plain = word.strip().casefold()
        return plain in {each.casefold() for each in (self.key, self.name, *self.aliases) if each}


STARTING_LIST = (
    Condition(
        "acan",
        "Dwarfism, ACAN-related (bulldog calf)",
        mode="incomplete",
        harm="the calf with two copies dies before birth, about month 7",
        carriers_show=True,
        omia="001271-9913",
        omia_status=SEEN,
        mode_status="seen on OMIA page (a test laboratory's page calls it recessive lethal)",
        gene="ACAN",
        note="Animals with one copy are short-legged dwarfs. Two variants, BD1 and BD2 (Cavanagh et al. "
        "2007); that one of each behaves as affected is not verified.",
        aliases=("bulldog", "BD1", "BD2", "chondrodysplasia"),
    ),
    Condition(
        "pha",
        "Pulmonary hypoplasia with anasarca, ADAMTS3-related",
        harm="stillborn",
        omia="001562-9913",
        omia_status=SEEN,
        mode_status=SEEN,
        gene="ADAMTS3 (Cika cattle)",
        note="The page documents the Cika variant; whether other breeds' forms sit under the same number was "
        "not checked.",
        aliases=("PHA",),
    ),
    Condition(
        "am",
        "Arthrogryposis multiplex congenita, AGRN-related (curly calf, AM)",
        harm="lethal",
        omia="002135-9913",
        omia_status=SEEN,
        mode_status=SEEN,
        gene="AGRN/ISG15/HES4, a deletion of 23.4 kb",
        note="Angus.",
        aliases=("AM", "curly calf"),
    ),
    Condition(
        "nh",
        "Neuropathic hydrocephalus (NH)",
        harm="lethal",
        omia_status="no number seen, none given",
        mode_status="seen on a breed society's page (simple recessive)",
        note="Angus.",
        aliases=("NH",),
    ),
    Condition(
        "ca",
        "Contractural arachnodactyly (fawn calf, CA)",
        harm="usually not lethal",
        omia="001511-9913",
        omia_status=SEEN,
        mode_status=SEEN,
        gene="ADAMTSL3, a deletion of about 58 kb",
        note="Angus.",
        aliases=("CA", "fawn calf"),
    ),
    Condition(
        "dd",
        "Developmental duplications (DD)",
        harm="part of those with two copies",
        penetrance=0.5,
        omia="002103-9913",
        omia_status=SEEN,
        mode_status='"autosomal" only in the field; recessive with incomplete penetrance in the text, where '
        "about half of the expected homozygotes look normal",
        gene="NHLRC2 (from memory)",
        note="About half of those with two copies look normal: a calf that looks normal is not cleared.",
        aliases=("DD",),
    ),
    Condition(
        "th",
        "Hemimelia, tibial (TH)",
        harm="lethal",
        omia="001009-9913",
        omia_status=SEEN,
        mode_status=SEEN,
        gene="ALX4, two variants (a deletion in Shorthorn, a duplication in Galloway)",
        note="Shorthorn, Galloway.",
        aliases=("TH",),
    ),
    Condition(
        "alpha-mannosidosis",
        "Mannosidosis, alpha",
        harm="death usually within the first year",
        omia="000625-9913",
        omia_status=SEEN,
        mode_status=SEEN,
        gene="MAN2B1, two variants (T961C Angus, G662A Galloway)",
        note="Angus, Murray Grey, Galloway. Carriers look normal; their enzyme level is halved.",
        aliases=("MA",),
    ),
    Condition(
        "beta-mannosidosis",
        "Mannosidosis, beta",
        harm="death of the newborn",
        omia="000626-9913",
        omia_status="from memory",
        mode_status="from memory",
        gene="MANBA",
        note="Salers.",
    ),
    Condition(
        "blad",
        "Leukocyte adhesion deficiency, type I (BLAD)",
        harm="young calves",
        omia="000595-9913",
        omia_status="quoted by a diagnostic laboratory's page",
        mode_status="seen on several pages",
        gene="ITGB2 c.383A>G p.D128G",
        note="Holstein.",
        aliases=("BLAD",),
    ),
    Condition(
        "cvm",
        "Complex vertebral malformation (CVM)",
        harm="lethal; 77 % of affected foetuses are lost before day 260",
        omia="001340-9913",
        omia_status=SEEN,
        mode_status=SEEN,
        gene="SLC35A3 c.559G>T",
        note="Holstein.",
        aliases=("CVM", "HHC"),
    ),
    Condition(
        "dumps",
        "Deficiency of uridine monophosphate synthase (DUMPS)",
        harm="the embryo dies about day 40",
        omia="000262-9913",
        omia_status=SEEN,
        mode_status=SEEN,
        gene="UMPS codon 405",
        note="Holstein.",
        aliases=("DUMPS", "HHD"),
    ),
    Condition(
        "double-muscling",
        "Muscular hypertrophy (double muscling)",
        harm="calving difficulty",
        carriers_show=False,
        omia="000683-9913",
        omia_status=SEEN,
        mode_status='"autosomal" in the field; recessive in the text',
        gene="MSTN, many loss-of-function variants",
        note="Belgian Blue, Piedmontese and others. One copy is often visible, not always, so a look is "
        "not taken for a test; two different variants together make an affected animal.",
        aliases=("mh", "myostatin"),
    ),
)
"""Conditions that a book begins with; the keeper changes and adds to them.

SOURCE: the statuses beside each; the frequency of every one is the default, an assumption.
"""


def find(word: str, among: tuple[Condition, ...]) -> Condition | None:
    """Return the condition that `word` names, or None."""
    return next((condition for condition in among if condition.answers_to(word)), None)
