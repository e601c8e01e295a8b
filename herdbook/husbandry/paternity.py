"""Whose calf: the chance of each sire, from who was with the dam and when, and from the day of birth.

The law of conception is that of a cycling female, followed day by day from the first day she met a bull:

* nothing known of her heats: the first one is equally likely on each of the next 21 days;
* a recorded service was a heat, on that day;
* a heat with a bull there conceives with chance p; if it does not, she is in heat again 18 to 24 days on;
* bulls that ran together share a heat equally (or by `Ran.weights`): nobody knows which, and the result says
so; * a heat seen after she conceived is rare and not impossible: it lowers the earlier conception, never
removes it.

Read backwards: P(sire | born on day t) is in proportion to the sum over days of P(conceived by him that day)
times P(a gestation of just that length). Only recorded company counts. Dates give chances; only DNA proves a
sire.

Sources: cycle 21 d (18-24), the Merck/MSD Veterinary Manual's table of the reproductive cycle; the chance
of a heat, see `settling`, the one place of that figure; heat shown in calf about 1 in
20 and the shape of the 18-24 d returns, from memory.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import TYPE_CHECKING

from herdbook.husbandry import settling

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

CYCLE = settling.RULES.cycle
CONCEPTION_RATE = settling.RULES.per_heat
HEAT_IN_CALF = 0.05
EVERY_CYCLE: Mapping[int, float] = {CYCLE: 1.0}
RETURNS: Mapping[int, float] = {
    18: 1 / 16,
    19: 2 / 16,
    20: 3 / 16,
    21: 4 / 16,
    22: 3 / 16,
    23: 2 / 16,
    24: 1 / 16,
}
"""Chance of each length of cycle when she did not conceive."""
SAME_HEAT_DAYS = 3
"""Services this close together belong to one heat (for example two inseminations half a day apart)."""
SHORTEST, LONGEST = -20, 16
"""Offsets from the mean that hold 98 of 100 gestations: days 263 and 299 about 283 among 24,732 dated
inseminations of an open data set, mostly dairy breeds."""
_FURTHEST = 4.0
"""Gestations further from the mean than this many standard deviations count as impossible."""


@dataclass(frozen=True)
class Served:
    """A recorded service: seen, by hand, by insemination or by embryo.

    `day` is the day of heat; for an embryo, the transfer less the embryo's age. `rate` is its own chance of
    conception, where it is not that of the whole sum.
    """

    sire: Hashable
    day: date
    kind: str = "seen"
    rate: float | None = None


@dataclass(frozen=True)
class Ran:
    """One or more bulls with her, first and last day both counting.

    `weights` are shares of a heat between `sires` (equal when empty): an entire calf beside a bull gets a
    small one.
    """

    sires: tuple[Hashable, ...]
    first: date
    last: date
    rate: float | None = None
    weights: tuple[float, ...] = ()

    def __post_init__(self) -> None:
        if not self.sires or self.last < self.first:
            raise ValueError("A bull run needs a bull and a last day that is not before its first.")
        if self.weights and (len(self.weights) != len(self.sires) or min(self.weights) <= 0):
            raise ValueError("There must be one share above 0 for each bull that ran.")


Candidate = Served | Ran


@dataclass(frozen=True)
class SireChance:
    """How likely one sire is.

    `basis` is ``"dates"``, or ``"together"`` where the larger part of his chance comes from days on which
    other bulls (`beside`) ran with him: then the even share between them is ignorance, not knowledge.
    """

    sire: Hashable
    chance: float
    basis: str
    beside: tuple[Hashable, ...] = ()


def conception_by_day(first: date, last: date, rate: float = CONCEPTION_RATE) -> npt.NDArray[np.float64]:
    """Return the chance that a cycling female conceives on each day of a bull run.

    First heat equally likely on each of 21 days, chance `rate` at every heat, returns after just 21 days, so
    that k whole cycles add up to ``1 - (1 - rate)**k``.

    Parameters
    ----------
    first, last : date
        First and last day of the run, both counting.
    rate : float
        Chance of conception at one heat, 0 to 1.

    Returns
    -------
    ndarray of float, shape (days,)
        What is missing from 1 in their sum is the chance of no conception.

    Raises
    ------
    ValueError
        If the last day is before the first or the rate is not between 0 and 1.
    """
    import numpy as np

    chances = np.zeros((last - first).days + 1)
    for day, _, chance in _follow([Ran((None,), first, last)], rate, EVERY_CYCLE):
        chances[(day - first).days] = chance
    return chances


def conception_law(
    candidates: Iterable[Candidate],
    rate: float = CONCEPTION_RATE,
    returns: Mapping[int, float] = RETURNS,
) -> dict[tuple[date, tuple[Hashable, ...]], float]:
    """Return the chance of conceiving on each day, by the sires who share that day.

    Parameters
    ----------
    candidates : iterable of Served or Ran
        All that is recorded of one female between two calvings, in any order.
    rate : float
        Chance of conception at one heat, for candidates without their own.
    returns : mapping of int to float
        Chance of each number of days from one heat to the next.

    Returns
    -------
    dict
        ``(day, sires) -> chance``; one sire or, of bulls that ran together, all of them. Sums to less than 1;
        the rest did not conceive.

    Raises
    ------
    ValueError
        If a rate is not between 0 and 1.
    """
    law: dict[tuple[date, tuple[Hashable, ...]], float] = {}
    for day, company, chance in _follow(candidates, rate, returns):
        law[day, tuple(sire for sire, _ in company)] = chance
    return law


def sire_chances(
    born: date,
    candidates: Iterable[Candidate],
    gestation_mean: float | Mapping[Hashable, float] = 283.0,
    gestation_sd: float = 6.0,
    conception_rate: float = CONCEPTION_RATE,
) -> list[SireChance]:
    """Return the chance of each possible sire of a calf born on a day.

    Parameters
    ----------
    born : date
        Day of birth.
    candidates : iterable of Served or Ran
        Every service and bull run of the dam since her calving before this one.
    gestation_mean : float or mapping of sire to float
        Days of gestation; by sire where their breeds differ.
    gestation_sd : float
        Standard deviation of gestation in days; 5-6 within herd and breed (from memory).
    conception_rate : float
        Chance of conception at one heat.

    Returns
    -------
    list of SireChance
        Likeliest first, then in the order given; chances sum to 1. Empty when no candidate's days fit the
        birth.

    Raises
    ------
    ValueError
        If the standard deviation is not above 0 or a rate is not between 0 and 1.
    """
    if gestation_sd <= 0:
        raise ValueError("The spread of gestation must be above 0 days.")
    given = [c for c in candidates if _first(c) < born]

    by_sire = gestation_mean if isinstance(gestation_mean, Mapping) else None
    herd_mean = 0.0 if isinstance(gestation_mean, Mapping) else gestation_mean

    def fits(sire: Hashable, day: date) -> float:
        mean = herd_mean if by_sire is None else by_sire[sire]
        return _gestation((born - day).days, mean, gestation_sd)

    return _chances(given, conception_rate, fits)


def sires_of_unborn(
    candidates: Iterable[Candidate],
    conceived: tuple[date, date] | None = None,
    conception_rate: float = CONCEPTION_RATE,
) -> dict[Hashable, float]:
    """Return the chance of each possible sire of a calf not yet born.

    Parameters
    ----------
    candidates : iterable of Served or Ran
        Every service and bull run since she last calved.
    conceived : (date, date), optional
        First and last day on which she can have conceived, where checks narrow it.
    conception_rate : float
        Chance of conception at one heat.

    Returns
    -------
    dict of sire to float
        Likeliest first, summing to 1; empty when no candidate's days fit.
    """

    def fits(_: Hashable, day: date) -> float:
        return 1.0 if conceived is None or conceived[0] <= day <= conceived[1] else 0.0

    return {row.sire: row.chance for row in _chances(list(candidates), conception_rate, fits)}


def conception_window(born: date, mean: int = 283) -> tuple[date, date]:
    """Return the first and last day on which a calf is likely to have been conceived (98 of 100)."""
    return born - timedelta(days=mean + LONGEST), born - timedelta(days=mean + SHORTEST)


def birth_window(first: date, last: date, mean: int = 283) -> tuple[date, date]:
    """Return the first and last day on which calves conceived from `first` to `last` are likely."""
    return first + timedelta(days=mean + SHORTEST), last + timedelta(days=mean + LONGEST)


_Company = tuple[tuple[Hashable, float], ...]
"""The sires who share a heat, each with his part of it; the parts add up to 1."""


def _chances(
    given: Sequence[Candidate], rate: float, fits: Callable[[Hashable, date], float]
) -> list[SireChance]:
    """Return each sire's part; where one bull alone ran with her, it is his without following her heats."""
    runs = [c for c in given if isinstance(c, Ran) and c.rate is None]
    sires = {sire for run in runs for sire in run.sires}
    if len(runs) == len(given) and len(sires) == 1 and 0.0 < rate < 1.0:
        (sire,) = sires
        days = (run.first + timedelta(days=n) for run in runs for n in range((run.last - run.first).days + 1))
        return [SireChance(sire, 1.0, "dates")] if any(fits(sire, day) for day in days) else []
    return _shares(_usual_law(tuple(given), rate), fits)


@lru_cache(maxsize=1024)
def _usual_law(candidates: tuple[Candidate, ...], rate: float) -> tuple[tuple[date, _Company, float], ...]:
    """Return the law of `_follow` with the usual returns: females that ran together share one."""
    return tuple(_follow(candidates, rate, RETURNS))


def _follow(
    candidates: Iterable[Candidate], rate: float, returns: Mapping[int, float]
) -> list[tuple[date, _Company, float]]:
    """Follow one female's heats day by day; return each day's sires and chance of conception."""
    given = list(candidates)
    if not given:
        return []
    for chance in (rate, *(c.rate for c in given if c.rate is not None)):
        if not 0.0 <= chance <= 1.0:
            raise ValueError("A chance of conception lies between 0 and 1.")
    runs = [c for c in given if isinstance(c, Ran)]
    heats = _recorded_heats([c for c in given if isinstance(c, Served)])
    first = min(_first(c) for c in given)
    days = (max(c.day if isinstance(c, Served) else c.last for c in given) - first).days + 1
    due = [0.0] * (days + CYCLE + max(returns))  # chance of coming on heat that day, not having conceived
    due[:CYCLE] = [1.0 / CYCLE] * CYCLE
    found: list[tuple[date, _Company, float]] = []
    companies: dict[tuple[Ran, ...], tuple[_Company, float]] = {(): ((), 0.0)}
    for index in range(days):
        day = first + timedelta(days=index)
        seen = heats.get(day)
        if seen:  # she is on heat: whatever was due then or later is now, and conceived earlier is unlikely
            due[index:] = [sum(due[index:]), *([0.0] * (len(due) - index - 1))]
            found = [(when, who, HEAT_IN_CALF * chance) for when, who, chance in found]
        if not due[index]:
            continue
        if seen:
            company, conceives = _company(seen, rate)
        else:
            beside = tuple(run for run in runs if run.first <= day <= run.last)
            if beside not in companies:
                companies[beside] = _company(beside, rate)
            company, conceives = companies[beside]
        if company and conceives:
            found.append((day, company, due[index] * conceives))
        for later, part in returns.items():
            due[index + later] += due[index] * (1.0 - conceives) * part
    return found


def _recorded_heats(services: Sequence[Served]) -> dict[date, list[Served]]:
    """Return the services by the first day of the heat that they belong to."""
    heats: dict[date, list[Served]] = {}
    start: date | None = None
    for service in sorted(services, key=lambda s: s.day):
        if start is None or (service.day - start).days >= SAME_HEAT_DAYS:
            start = service.day
        heats.setdefault(start, []).append(service)
    return heats


def _company(present: Sequence[Candidate], rate: float) -> tuple[_Company, float]:
    """Return who shares a heat, each with his part, and the chance that it conceives."""
    parts: dict[Hashable, float] = defaultdict(float)
    for candidate in present:
        if isinstance(candidate, Served):
            parts[candidate.sire] += 1.0
        else:
            for sire, weight in zip(
                candidate.sires, candidate.weights or [1.0] * len(candidate.sires), strict=True
            ):
                parts[sire] = max(parts[sire], weight)
    if not parts:
        return (), 0.0
    whole = sum(parts.values())
    conceives = max(rate if candidate.rate is None else candidate.rate for candidate in present)
    return tuple((sire, part / whole) for sire, part in parts.items()), conceives


def _shares(
    law: Iterable[tuple[date, _Company, float]], fits: Callable[[Hashable, date], float]
) -> list[SireChance]:
    """Return each sire's part of the law, every day weighed by how it fits what is known of the calf."""
    weight: dict[Hashable, float] = defaultdict(float)
    shared: dict[Hashable, float] = defaultdict(float)
    beside: dict[Hashable, dict[Hashable, None]] = defaultdict(dict)
    for day, company, chance in law:
        for sire, part in company:
            here = chance * part * fits(sire, day)
            weight[sire] += here
            if here and len(company) > 1:
                shared[sire] += here
                beside[sire].update((other, None) for other, _ in company if other != sire)
    whole = math.fsum(weight.values())
    if not whole:
        return []
    rows = [
        SireChance(sire, part / whole, "together", tuple(beside[sire]))
        if 2 * shared[sire] > part
        else SireChance(sire, part / whole, "dates", tuple(beside[sire]))
        for sire, part in weight.items()
        if part
    ]
    return sorted(rows, key=lambda row: -row.chance)


def _first(candidate: Candidate) -> date:
    return candidate.day if isinstance(candidate, Served) else candidate.first


@lru_cache(maxsize=1024)
def _gestation(days: int, mean: float, sd: float) -> float:
    """Return the chance of a gestation of just so many days: a normal law, cut where it is impossible."""
    if abs(days - mean) > _FURTHEST * sd:
        return 0.0
    above, below = (days + 0.5 - mean) / sd, (days - 0.5 - mean) / sd
    return 0.5 * (math.erf(above / math.sqrt(2.0)) - math.erf(below / math.sqrt(2.0)))
