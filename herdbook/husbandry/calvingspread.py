"""When the calves of a season are to be expected, before anything has happened: how many on each day.

The law follows each female from her first day with a bull:

* one that is cycling has her first heat on any of the 21 days alike; of those that should be, a few begin a
  cycle later (the law of `settling`, which says how many should be in calf by a day);
* one that has calved comes in heat for the first time on any day from the 20th to the 60th after it alike;
  where that lies before the bull, she should be cycling when he comes;
* a heat with a bull there settles her with a chance, and if it does not she is in heat again 21 days on; a
  heat with no bull there settles nobody;
* a calf comes after a gestation about the mean of its parents' breeds, by a normal law.

Left out: calves lost between conception and birth, twins, the sex of the calf, and everything that the book
comes to know later. It is what to plan for, not a forecast of each female.

Sources: 95 % cycling and 65 % settled at each heat, see `settling`; cycle of 21 days and first heat 20-60
days after calving, the Merck/MSD Veterinary Manual's table of the reproductive cycle; gestation within herd
and breed with a standard deviation of 5-6 days, from memory.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from herdbook.husbandry import settling

FURTHEST = 4.0
"""Gestations further from the mean than so many standard deviations are left out."""


@dataclass(frozen=True)
class SpreadRules:
    """The figures behind the law; the module says where they come from.

    Parameters
    ----------
    per_heat : float
        Chance that a heat with a bull settles her.
    cycling : float
        Of the females past their rest, the share that is cycling at bull in; the others a cycle later.
    cycle : int
        Days from heat to heat.
    first_heat : (int, int)
        Days from calving to the first heat, the least and the most.
    gestation_sd : float
        Standard deviation of gestation in days.
    """

    per_heat: float = settling.RULES.per_heat
    cycling: float = settling.RULES.cycling
    cycle: int = settling.RULES.cycle
    first_heat: tuple[int, int] = (20, 60)
    gestation_sd: float = 6.0

    def __post_init__(self) -> None:
        low, high = self.first_heat
        if not (0.0 <= self.per_heat <= 1.0 and 0.0 <= self.cycling <= 1.0):
            raise ValueError("A chance lies between 0 and 1.")
        if self.cycle < 1 or not 0 <= low <= high:
            raise ValueError("A cycle is a day or more, and the first heat no later than the last.")
        if self.gestation_sd <= 0:
            raise ValueError("The spread of gestation must be above 0 days.")


RULES = SpreadRules()


@dataclass(frozen=True)
class WithBull:
    """A bull's days with a female, first and last both counted, and the gestation of a calf of the two."""

    first: date
    last: date
    gestation: int

    def __post_init__(self) -> None:
        if self.last < self.first:
            raise ValueError("The bull's last day must not be before his first.")


@dataclass(frozen=True)
class Exposed:
    """A female of the plan: her bulls, together or one after the other, and when she calved or will calve.

    `calved` is the calving after which she is to conceive; None where she is cycling, or has never calved.
    """

    bulls: tuple[WithBull, ...]
    calved: date | None = None

    def __post_init__(self) -> None:
        if not self.bulls:
            raise ValueError("A female that is to be bred has a bull.")


@dataclass(frozen=True)
class Period:
    """A stretch of days, first and last both counted, and the calvings that are expected in it."""

    first: date
    last: date
    expected: float


@dataclass(frozen=True)
class CalvingSpread:
    """Expected calvings on each day.

    Parameters
    ----------
    females : int
        How many there are.
    open : float
        How many of them are expected not in calf; with the calvings of all days they make up `females`.
    by_day : mapping of date to float
        Only days with any chance, in order.
    """

    females: int
    open: float
    by_day: Mapping[date, float]

    @property
    def calving(self) -> float:
        """How many are expected to calve."""
        return math.fsum(self.by_day.values())

    def day_by(self, share: float) -> date | None:
        """Return the day by whose end a share of the calves is expected; None where there are none."""
        wanted, passed = share * self.calving * (1.0 - 1e-12), 0.0
        for day, chance in self.by_day.items():
            passed += chance
            if passed >= wanted:
                return day
        return None

    def periods(self, begins: date, length: int, least: float = 0.0) -> tuple[Period, ...]:
        """Return the calvings in periods of so many days, all in order and none left out.

        What comes before `begins` counts into the first one, as calves born before the first period of 21
        days do (University of Missouri Extension, "Evaluate your calving distribution").

        Parameters
        ----------
        begins : date
            First day of the first period.
        length : int
            Days of each.
        least : float
            Periods at either end with fewer calvings than that are counted into the one beside them, which
            then is longer than the others.
        """
        if length < 1:
            raise ValueError("A period lasts at least one day.")
        if not self.by_day:
            return ()
        in_period: dict[int, float] = defaultdict(float)
        for day, chance in self.by_day.items():
            in_period[max((day - begins).days // length, 0)] += chance
        early = min(begins, next(iter(self.by_day)))
        found = [
            Period(
                begins + timedelta(days=n * length) if n else early,
                begins + timedelta(days=(n + 1) * length - 1),
                in_period.get(n, 0.0),
            )
            for n in range(max(in_period) + 1)
        ]
        return tuple(_ends_joined(found, least))


def _ends_joined(found: list[Period], least: float) -> list[Period]:
    """Count small periods at either end into those beside them."""
    while len(found) > 1 and found[0].expected < least:
        small, beside = found[:2]
        found[:2] = [Period(small.first, beside.last, small.expected + beside.expected)]
    while len(found) > 1 and found[-1].expected < least:
        beside, small = found[-2:]
        found[-2:] = [Period(beside.first, small.last, small.expected + beside.expected)]
    return found


def calving_spread(females: Iterable[Exposed], rules: SpreadRules = RULES) -> CalvingSpread:
    """Return the calvings to be expected of females that are to be bred, by day.

    Parameters
    ----------
    females : iterable of Exposed
        Bulls that are with her on one day share its heat alike, for the calf's gestation; the chance that it
        settles her is that of one bull.
    rules : SpreadRules

    Returns
    -------
    CalvingSpread
        Its calvings and those expected not in calf add up to the number of females.
    """
    conceived: dict[tuple[int, int], float] = defaultdict(float)  # by day and gestation
    count, left = 0, 0.0
    for female in females:
        law = _conceptions(female.bulls, female.calved, rules)
        for day, gestation, chance in law:
            conceived[day, gestation] += chance
        count += 1
        left += 1.0 - math.fsum(chance for _, _, chance in law)
    born: dict[int, float] = defaultdict(float)
    for (day, gestation), chance in conceived.items():
        for off, part in _gestations(rules.gestation_sd):
            born[day + gestation + off] += chance * part
    return CalvingSpread(count, left, {date.fromordinal(day): born[day] for day in sorted(born)})


@lru_cache(maxsize=4096)  # most females of a group have the same days and are cycling
def _conceptions(
    bulls: tuple[WithBull, ...], calved: date | None, rules: SpreadRules
) -> tuple[tuple[int, int, float], ...]:
    """Return one female's chances of conceiving: the day as an ordinal, the calf's gestation, the chance."""
    first = min(bull.first for bull in bulls)
    days = (max(bull.last for bull in bulls) - first).days + 1
    heats = _first_heats(days, first, calved, rules)
    found = []
    for day in range(days):
        on = first + timedelta(days=day)
        there = [bull.gestation for bull in bulls if bull.first <= on <= bull.last]
        settled = heats[day] * rules.per_heat if there else 0.0
        found += [(on.toordinal(), gestation, settled / len(there)) for gestation in there if settled]
        heats[day + rules.cycle] += heats[day] - settled
    return tuple(found)


def _first_heats(days: int, first: date, calved: date | None, rules: SpreadRules) -> list[float]:
    """Return the chance of her first heat on each day from the bull's first on, with room for the next."""
    heats = [0.0] * (days + 2 * rules.cycle)
    rested = 1.0
    if calved is not None:
        low, high = rules.first_heat
        came = [(calved - first).days + rest for rest in range(low, high + 1)]
        rested = sum(day < 0 for day in came) / len(came)
        for day in came:
            if 0 <= day < days:
                heats[day] += 1.0 / len(came)
    for day in range(rules.cycle):
        heats[day] += rested * rules.cycling / rules.cycle
        heats[day + rules.cycle] += rested * (1.0 - rules.cycling) / rules.cycle
    return heats


@lru_cache(maxsize=16)
def _gestations(sd: float) -> tuple[tuple[int, float], ...]:
    """Return the chance of each number of days off the mean: a normal law in whole days, adding up to 1."""
    furthest = math.floor(FURTHEST * sd)

    def below(days: float) -> float:
        return math.erf(days / (sd * math.sqrt(2.0)))

    parts = [(off, below(off + 0.5) - below(off - 0.5)) for off in range(-furthest, furthest + 1)]
    whole = math.fsum(part for _, part in parts)
    return tuple((off, part / whole) for off, part in parts)
