"""What is weighed in a sort beside inbreeding: the risk of an affected calf, leaving a group, wanted looks.

Each is a sum over pairs, in the unit of inbreeding, so that the solver's proof holds for all of it together.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from functools import partial
from itertools import accumulate
from typing import TYPE_CHECKING, Any

from sqlalchemy import Connection

from herdbook.husbandry.colour import TRAITS
from herdbook.husbandry.reasons import Reason
from herdbook.services.facts import runs_of
from herdbook.services.pedigree import Pedigree
from herdbook.services.queries.sort_rows import BullGroup, PairPrice, Prices, SortFemale, WantedLook
from herdbook.services.registry import Refused
from herdbook.words import say

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

LAST_SEASON_DAYS = (180, 545)
"""A female's last season is the company with bulls that began so many days before this one: half a year to
one and a half. Our choice."""
MOST = 10.0
"""No price is above this: ten times a calf of nothing but inbreeding."""

_Priced = Callable[[SortFemale, int], PairPrice | None]


def with_prices(
    conn: Connection,
    pedigree: Pedigree,
    females: Sequence[SortFemale],
    groups: Sequence[BullGroup],
    prices: Prices,
    limit: float,
    bull_in: date,
    on: date,
) -> tuple[SortFemale, ...]:
    """Return the females with what else is weighed in each pair; those who may not be bred as they are."""
    ready = [f for f in females if f.readiness.ok]
    ways: list[_Priced] = []
    if prices.risk:
        ways.append(partial(_risk, prices.risk))
    if prices.same_group:
        ways.append(_same_group(conn, ready, groups, prices.same_group, limit, bull_in, on))
    ways += [_look(conn, pedigree, ready, groups, wanted, on) for wanted in prices.looks if wanted.price]
    if not ways:
        return tuple(females)

    def priced(female: SortFemale) -> SortFemale:
        each = [[way(female, at) for way in ways] for at in range(len(groups))]
        told = tuple(tuple(price for price in of if price is not None) for of in each)
        return replace(female, priced=told)

    return tuple(priced(f) if f.readiness.ok else f for f in females)


def _risk(price: float, female: SortFemale, column: int) -> PairPrice | None:
    """Price a marked mating by its chance of an affected calf, the conditions added up."""
    risks = female.risks[column] if female.risks else ()
    if not risks:
        return None
    amount = price * sum(risk.affected for risk in risks)
    reason = Reason("risk_price", "{price:.2%} more for the risk of an affected calf", {"price": amount})
    return PairPrice("risk", amount, reason)


def _same_group(
    conn: Connection,
    females: Sequence[SortFemale],
    groups: Sequence[BullGroup],
    price: float,
    limit: float,
    bull_in: date,
    on: date,
) -> _Priced:
    """Price that she leaves all the bulls she ran with last season, if the rules let her have one of them."""
    at_least, at_most = (bull_in - timedelta(days=days) for days in LAST_SEASON_DAYS)
    runs = runs_of(conn, [f.animal for f in females], on)
    here = {bull.animal: bull.tag for group in groups for bull in group.bulls}
    before: dict[int, list[int]] = {}
    for female, company in runs.items():
        with_her = [bull for run in company if at_most < run.first <= at_least for bull in run.sires]
        before[female] = [bull for bull in dict.fromkeys(with_her) if bull in here]
    bulls = [frozenset(bull.animal for bull in group.bulls) for group in groups]

    def may_have(female: SortFemale, column: int) -> bool:
        barred = bool(female.barred) and female.barred[column]
        fit = groups[column].fit_for_heifers or not female.heifer
        return female.calves[column] <= limit and fit and not barred

    def priced(female: SortFemale, column: int) -> PairPrice | None:
        last = before.get(female.animal)
        if not last or not bulls[column].isdisjoint(last):
            return None
        if not any(may_have(female, at) for at, each in enumerate(bulls) if not each.isdisjoint(last)):
            return None
        values = {"price": price, "tag": here[last[-1]]}
        return PairPrice(
            "same_group", price, Reason("left_group", "{price:.2%} more for leaving {tag}'s group", values)
        )

    return priced


def _look(
    conn: Connection,
    pedigree: Pedigree,
    females: Sequence[SortFemale],
    groups: Sequence[BullGroup],
    wanted: WantedLook,
    on: date,
) -> _Priced:
    """Price the chance that a calf has not the look wanted; not known counts as not wanted."""
    import numpy as np

    bulls = [bull.animal for group in groups for bull in group.bulls]
    table = look_table(conn, pedigree, wanted, [f.animal for f in females], bulls, on)
    if len(bulls) > len(groups):
        first = [0, *accumulate(len(group.bulls) for group in groups)][:-1]
        # Nothing said of one of its bulls (nan) is nothing said of the group.
        table = np.minimum.reduceat(table, first, axis=1)
    rows = {f.animal: row for row, f in enumerate(females)}
    label = next(say(look.label) for look in _trait(wanted).looks if look.key == wanted.look)

    def priced(female: SortFemale, column: int) -> PairPrice | None:
        chance = float(table[rows[female.animal], column])
        if chance != chance:
            values = {"price": wanted.price, "look": label}
            template = "{price:.2%} more: not known whether the calf would be {look}"
            return PairPrice("look", wanted.price, Reason("look_not_known", template, values))
        if chance >= 1.0:
            return None
        amount = wanted.price * (1.0 - chance)
        values = {"price": amount, "look": label, "chance": 1.0 - chance}
        template = "{price:.2%} more for {chance:.0%} of a calf that is not {look}"
        return PairPrice("look", amount, Reason("look_price", template, values))

    return priced


def look_table(
    conn: Connection,
    pedigree: Pedigree,
    wanted: WantedLook,
    females: Sequence[int],
    bulls: Sequence[int],
    on: date,
) -> npt.NDArray[np.float64]:
    """Return the chance that the calf of each pair has a look; not a number where it cannot be said.

    Each parent's genotypes are those that its own looks, its tests and its near kin leave it, and the two are
    taken as independent: exact but for kin to each other whose genotypes are open.

    Returns
    -------
    ndarray of float, shape (len(females), len(bulls))
    """
    import numpy as np

    from herdbook.services.queries.traits import own_genotype_table

    trait = _trait(wanted)
    look = next(each for each in trait.looks if each.key == wanted.look)
    pairs = [(a, b) for a in range(len(trait.alleles)) for b in range(a, len(trait.alleles))]
    made = np.zeros((len(trait.alleles),) * 2)
    for genotype, (a, b) in zip(trait.genotypes, pairs, strict=True):
        made[a, b] = made[b, a] = float(genotype in look.genotypes)
    gametes = np.zeros((len(pairs), len(trait.alleles)))
    for row, (a, b) in enumerate(pairs):
        gametes[row, a] += 0.5
        gametes[row, b] += 0.5
    own = own_genotype_table(conn, pedigree, trait, [*females, *bulls], on) @ gametes
    chance: npt.NDArray[np.float64] = own[: len(females)] @ made @ own[len(females) :].T
    return np.minimum(chance, 1.0)


def _trait(wanted: WantedLook) -> Any:
    return next(trait for trait in TRAITS if trait.key == wanted.trait)


# -- in words and in a file --


def prices_of(words: str) -> Prices:
    """Return the prices that ``risk=0.5,same-group=0.01,polled=0.02`` names, looks by their words.

    Raises
    ------
    Refused
        If a name is not known or a price is no number from 0 to `MOST`.
    """
    looks = {look.key: trait.key for trait in TRAITS for look in trait.looks}
    told = Prices()
    for part in filter(None, (each.strip() for each in words.split(","))):
        name, _, text = (word.strip() for word in part.partition("="))
        price = _number(text)
        if price is None or name not in {"risk", "same-group", *looks}:
            known = ", ".join(["risk", "same-group", *looks])
            template = "{part} is no price: write {known} with a number from 0 to {most}, as in risk=0.5"
            raise Refused(Reason("no_price", template, {"part": part, "known": known, "most": f"{MOST:.0f}"}))
        if name == "risk":
            told = replace(told, risk=price)
        elif name == "same-group":
            told = replace(told, same_group=price)
        else:
            told = replace(told, looks=(*told.looks, WantedLook(looks[name], name, price)))
    return told


def _number(text: str) -> float | None:
    try:
        price = float(text)
    except ValueError:
        return None
    return price if 0.0 <= price <= MOST else None


def prices_from(told: Mapping[str, Any]) -> Prices:
    """Return prices that were kept as a mapping (`dataclasses.asdict`); looks not known any more are left."""
    known = {(trait.key, look.key) for trait in TRAITS for look in trait.looks}
    looks = [WantedLook(**each) for each in told.get("looks", ())]
    return Prices(
        told.get("risk"),
        told.get("same_group", 0.0),
        tuple(look for look in looks if (look.trait, look.look) in known),
    )
