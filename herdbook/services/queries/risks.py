"""What heritable conditions a mating can give, and how likely each animal is to carry one.

A laboratory's word, and what the breed society and the vet make of it, go before these chances.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection, select

from herdbook.husbandry.conditions import Condition, Likelihood
from herdbook.husbandry.reasons import Reason
from herdbook.services.pedigree import Pedigree
from herdbook.services.queries.conditions import evidence_of, load_conditions
from herdbook.services.saying import called, listed
from herdbook.store import tables as t

if TYPE_CHECKING:
    import numpy.typing as npt

    from herdbook.husbandry.carriers import CalfChances, Carriers
    from herdbook.husbandry.inheritance import Descent

MARKED_FROM = 0.001
"""A mating is marked from this chance of an affected calf, if it is also twice that of unknown, unrelated
stock. Our choice: with an allele in one of a hundred genes, one calf in 10,000 of such stock is affected."""


@dataclass(frozen=True)
class MatingRisk:
    """What a mating can give of one condition.

    Parameters
    ----------
    key, condition : str
        The condition's word and name.
    affected, carrier, clear : float
        Chances of the calf, which add up to 1; for a dominant condition one copy is affected too, and nobody
        is a carrier.
    showing : float
        Chance of a calf that shows it: less than `affected` where part of the affected look normal.
    harm : str
        What it does.
    least, most : float
        Between these lies the chance of an affected calf by all results; both are `affected` if `exact`.
    exact : bool
        Whether all results entered the sums. If not, the chances rest on `used` of `results` results: the
        pedigree is too entangled for the rest.
    used, results : int
    marked : bool
        Whether the mating is to be marked.
    """

    key: str
    condition: str
    affected: float
    carrier: float
    clear: float
    showing: float
    harm: str
    least: float
    most: float
    exact: bool
    used: int
    results: int
    marked: bool

    @property
    def reason(self) -> Reason:
        """The risk in a sentence."""
        values = {"condition": self.condition, "chance": self.affected, "harm": self.harm or "see the list"}
        if self.exact:
            return Reason("affected_calf", "{chance:.1%} of an affected calf: {condition} ({harm})", values)
        values |= {"used": self.used, "of": self.results, "least": self.least, "most": self.most}
        template = (
            "{chance:.1%} of an affected calf by {used} of {of} results: {condition} ({harm}). Not "
            "computable exactly from all: at least {least:.1%}, at most {most:.1%}"
        )
        return Reason("affected_calf", template, values)


@dataclass(frozen=True, eq=False)
class _OfOne:
    """One condition for a table of matings."""

    condition: Condition
    chances: CalfChances
    bounds: CalfChances
    used: int
    results: int


@dataclass(frozen=True, eq=False)
class RiskTable:
    """The risks of every mating of some females with some bulls.

    Parameters
    ----------
    females, bulls : tuple of int
        Animal ids.
    conditions : tuple of _OfOne
        Those with any result in the book.
    clashes : tuple of Reason
        Conditions whose results contradict each other: nothing is said of them.
    """

    females: tuple[int, ...]
    bulls: tuple[int, ...]
    conditions: tuple[_OfOne, ...]
    clashes: tuple[Reason, ...] = ()

    def at(self, female: int, bull: int) -> tuple[MatingRisk, ...]:
        """Return the risks of one mating, by places in the table; the likeliest to affect first."""
        found = [_risk(one, female, bull) for one in self.conditions]
        return tuple(sorted(found, key=lambda risk: -risk.affected))

    def marked(self, female: int, bull: int) -> tuple[MatingRisk, ...]:
        """Return the risks of one mating for which it is to be marked."""
        return tuple(risk for risk in self.at(female, bull) if risk.marked)

    def any_marked(self) -> npt.NDArray[Any]:
        """Return which matings are to be marked: bool, shape (females, bulls)."""
        import numpy as np

        marks = np.zeros((len(self.females), len(self.bulls)), dtype=bool)
        for one in self.conditions:
            marks |= _affected(one.condition, one.chances) >= _marked_from(one.condition)
        return marks


def any_result(conn: Connection, on: date) -> bool:
    """Return whether the book holds any test or look; most hold none, and no pedigree is read for them."""
    return any(
        conn.scalar(select(table.id).where(table.day <= on).limit(1)) is not None
        for table in (t.GeneticTest, t.ConditionSeen)
    )


def mating_risks(
    conn: Connection, pedigree: Pedigree, dam: int, sire: int, on: date
) -> tuple[MatingRisk, ...]:
    """Return what a mating can give, of every condition of which the book holds any result.

    Parameters
    ----------
    pedigree : Pedigree
        From `load_pedigree`; doubtful sires enter with their chances.
    dam, sire : int
        Animal ids.
    on : date
        Results of later days are not known yet.
    """
    return risk_table(conn, pedigree, [dam], [sire], on).at(0, 0)


def risk_table(
    conn: Connection, pedigree: Pedigree, females: Sequence[int], bulls: Sequence[int], on: date
) -> RiskTable:
    """Return the risks of every mating of these females with these bulls; see `mating_risks`."""
    from herdbook.husbandry.inheritance import Contradiction

    conditions = load_conditions(conn)
    told = evidence_of(conn, conditions, on)
    found, clashes = [], []
    for condition in conditions:
        if condition.key in told and females and bulls:
            try:
                found.append(_of_one(pedigree, condition, told[condition.key], females, bulls))
            except Contradiction as clash:
                clashes.append(_clash(conn, condition, [pedigree.ids[row] for row in clash.rows]))
    return RiskTable(tuple(females), tuple(bulls), tuple(found), tuple(clashes))


def _of_one(
    pedigree: Pedigree,
    condition: Condition,
    told: dict[int, Likelihood],
    females: Sequence[int],
    bulls: Sequence[int],
) -> _OfOne:
    rows_f, rows_b = [pedigree.row[a] for a in females], [pedigree.row[a] for a in bulls]
    whole, best, used = _sums(pedigree, condition, told, [*rows_f, *rows_b])
    bounds = whole.calves(rows_f, rows_b)
    chances = bounds if best is whole else best.calves(rows_f, rows_b)
    return _OfOne(condition, chances, bounds, used, len(told))


def _sums(
    pedigree: Pedigree, condition: Condition, told: dict[int, Likelihood], asked: list[int]
) -> tuple[Carriers, Carriers, int]:
    """Return the sums over all results, those over as many as can be summed exactly, and how many these are.

    Results of the animals with the most offspring come first.
    """
    from herdbook.husbandry.carriers import Carriers
    from herdbook.husbandry.inheritance import summable, two_alleles

    descent, evidence = descent_of(pedigree), {pedigree.row[animal]: seen for animal, seen in told.items()}
    whole = Carriers(descent, condition.frequency, evidence, asked)
    if whole.exact:
        return whole, whole, len(evidence)
    young = dict.fromkeys(evidence, 0)
    for parents in (pedigree.sire, pedigree.dam):
        for row in parents.tolist():
            if row in young:
                young[row] += 1
    first = dict(sorted(evidence.items(), key=lambda each: (-young[each[0]], each[0])))
    part = summable(two_alleles(condition.frequency), descent, first)
    return whole, Carriers(descent, condition.frequency, part, asked), len(part)


def descent_of(pedigree: Pedigree) -> Descent:
    """Return the book's pedigree with the sires that are only likely."""
    from collections import defaultdict

    from herdbook.husbandry.inheritance import Descent

    doubtful: dict[int, list[tuple[int, float]]] = defaultdict(list)
    links = pedigree.links
    for child, parent, weight in zip(
        links.child.tolist(), links.parent.tolist(), links.weight.tolist(), strict=True
    ):
        doubtful[child].append((parent, weight))
    return Descent(pedigree.sire, pedigree.dam, {child: tuple(each) for child, each in doubtful.items()})


def _affected(condition: Condition, chances: CalfChances) -> npt.NDArray[Any]:
    return chances.affected + chances.carrier if condition.marked == 1 else chances.affected


def _marked_from(condition: Condition) -> float:
    q = condition.frequency
    usual = 1 - (1 - q) ** 2 if condition.marked == 1 else q * q
    return max(MARKED_FROM, 2 * usual)


def _risk(one: _OfOne, female: int, bull: int) -> MatingRisk:
    condition, chances, bounds = one.condition, one.chances, one.bounds
    affected = float(_affected(condition, chances)[female, bull])
    carrier = 0.0 if condition.marked == 1 else float(chances.carrier[female, bull])
    if bounds.exact:
        least = most = affected
    elif condition.marked == 1:
        least, most = float(bounds.least[female, bull]), 1 - float(bounds.clear[female, bull])
    else:
        least, most = float(bounds.least[female, bull]), float(bounds.affected[female, bull])
    return MatingRisk(
        key=condition.key,
        condition=condition.name,
        affected=affected,
        carrier=carrier,
        clear=float(chances.clear[female, bull]),
        showing=affected * condition.penetrance,
        harm=condition.harm,
        least=least,
        most=most,
        exact=bounds.exact,
        used=one.used,
        results=one.results,
        marked=affected >= _marked_from(condition),
    )


def clash_of(
    conn: Connection, pedigree: Pedigree, condition: Condition, told: dict[int, Likelihood]
) -> Reason | None:
    """Return why what is told of some animals cannot all be true, or None if it can."""
    from herdbook.husbandry.inheritance import Contradiction, Core, two_alleles

    evidence = {pedigree.row[animal]: seen for animal, seen in told.items()}
    try:
        Core(two_alleles(condition.frequency), descent_of(pedigree), evidence)
    except Contradiction as clash:
        return _clash(conn, condition, [pedigree.ids[row] for row in clash.rows])
    return None


def _clash(conn: Connection, condition: Condition, animals: Sequence[int]) -> Reason:
    a = t.Animal
    query = select(a.tag, a.name).where(a.id.in_(animals)).order_by(a.tag_key)
    names = [called(tag, name) for tag, name in conn.execute(query)]
    template = (
        "{condition}: what is told of {animals} cannot all be true. Nothing is said of its chances until the "
        "results, or the parents named, are put right"
    )
    return Reason("results_clash", template, {"condition": condition.name, "animals": listed(names)})


@dataclass(frozen=True)
class CarrierChance:
    """How likely an animal is to carry a condition: chances of no copy, one and two.

    `least` and `most` are the same three; they differ where the sums could not be made exactly, and the
    chances then rest on `used` of `results` results.
    """

    key: str
    condition: str
    free: float
    carrier: float
    affected: float
    tested: bool
    exact: bool
    used: int
    results: int


def carrier_chances(
    conn: Connection, pedigree: Pedigree, animal: int, on: date
) -> tuple[tuple[CarrierChance, ...], tuple[Reason, ...]]:
    """Return an animal's chances for every condition of which the book holds any result, and the clashes."""
    from herdbook.husbandry.inheritance import Contradiction

    conditions = load_conditions(conn)
    told = evidence_of(conn, conditions, on)
    row = pedigree.row[animal]
    found, clashes = [], []
    for condition in conditions:
        if condition.key not in told:
            continue
        try:
            whole, best, used = _sums(pedigree, condition, told[condition.key], [row])
        except Contradiction as clash:
            clashes.append(_clash(conn, condition, [pedigree.ids[r] for r in clash.rows]))
            continue
        free, carrier, two = best.copies([row])[0].tolist()
        sure = max(told[condition.key].get(animal, (1.0, 1.0, 1.0)))
        tested = sum(told[condition.key].get(animal, (1.0, 1.0, 1.0))) == sure
        found.append(
            CarrierChance(
                condition.key,
                condition.name,
                free,
                carrier,
                two,
                tested=tested,
                exact=whole.exact,
                used=used,
                results=len(told[condition.key]),
            )
        )
    return tuple(found), tuple(clashes)
