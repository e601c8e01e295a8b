"""How many females are settled by a day of a bull run, and when heats speak against the bull.

The law is a simple one of two figures. Most females are cycling when the bull goes in: their first heat falls
on any of the next 21 days alike. The rest begin a cycle later. Every heat with a bull there settles her with
the same chance, and if it does not she is in heat again 21 days on. A heat while no bull is there settles
nobody.

Sources. An extension beef specialist of North Dakota State University gives as goals, in a column of the
cattle press on bulls in the breeding season: 62 % of the cows settled one cycle after bull in and 87 % after
two, and about 10 of 100 still coming in heat after 42 days, many more of whom are a warning about the bull.
Two figures reproduce the two goals: 95 % cycling at bull in and 65 % settled at each heat (0.95 x 0.65 =
0.618; 0.618 + 0.382 x 0.65 = 0.866). The law then leaves 5 % open after 63 days, as another extension
veterinarian gives (Kansas State University, trade press), who also gives 60-65 % to a first service. Every
other calculation of conception takes these two figures from here, or the book's settings of them. The cycle
of 21 days is the Merck Veterinary Manual's. What counts as many heats is our own choice, no source: see
`too_many_heats`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

Days = tuple[date, date | None]
"""First and last day with a bull, both counted; no last day while he is still with her."""


@dataclass(frozen=True)
class SettlingRules:
    """The figures behind the law, the first two the keeper's to set; the module gives their sources."""

    cycling: float = 0.95
    per_heat: float = 0.65
    cycle: int = 21
    alarm_after: int = 42
    alarm_chance: float = 0.10
    alarm_least: int = 2


RULES = SettlingRules()


def settled(company: Iterable[Days], by: date, rules: SettlingRules = RULES) -> float:
    """Return the chance that a female is settled when a day begins.

    Parameters
    ----------
    company : iterable of (date, date or None)
        Her days with a bull, in any order; days between them, with no bull there, settle nobody.
    by : date
        The day; heats before it count, so that 21 days after bull in one whole cycle has passed.
    rules : SettlingRules

    Returns
    -------
    float
        0 before the first of the days; the share of a group that had the same days.
    """
    eve = by - timedelta(days=1)
    spans = ((first, eve if last is None else min(last, eve)) for first, last in company)
    return _settled(tuple(sorted((first, last) for first, last in spans if first <= last)), rules)


@lru_cache(maxsize=1024)  # the females of a run have mostly the same days
def _settled(spans: tuple[tuple[date, date], ...], rules: SettlingRules) -> float:
    """Go through the 21 days on which her heats can begin, and count those that found a bull."""
    if not spans:
        return 0.0
    begins = spans[0][0]
    days = {(first - begins).days + n for first, last in spans for n in range((last - first).days + 1)}
    cycles = range(max(days) // rules.cycle + 1)
    fails = 1.0 - rules.per_heat
    left = 0.0
    for phase in range(rules.cycle):
        met = [phase + k * rules.cycle in days for k in cycles]
        left += rules.cycling * fails ** sum(met) + (1.0 - rules.cycling) * fails ** sum(met[1:])
    return 1.0 - left / rules.cycle


def still_in_heat(rules: SettlingRules = RULES) -> float:
    """Return the share of females expected in heat in the cycle that begins on the day of the alarm."""
    bull_in = date(2000, 1, 1)  # any day
    return 1.0 - settled([(bull_in, None)], bull_in + timedelta(days=rules.alarm_after), rules)


def too_many_heats(females: int, seen: int, rules: SettlingRules = RULES) -> bool:
    """Say whether so many females seen in heat after two cycles with a bull are too many to be chance.

    They are where a bull that settles as he should would show so many in fewer than one herd of ten
    (`alarm_chance`), and never for one female alone. In a group of 12 that is 4 of them, of 30 7.

    Parameters
    ----------
    females : int
        Females that have been with the bull for `alarm_after` days or more.
    seen : int
        Those of them seen in heat, or served, on one of the days after; each counted once.

    Raises
    ------
    ValueError
        If there are more seen than females, or fewer than none.
    """
    if not 0 <= seen <= females:
        raise ValueError("There cannot be more females in heat than there are, nor fewer than none.")
    if seen < rules.alarm_least:
        return False
    share = still_in_heat(rules)
    if not 0.0 < share < 1.0:  # as set by hand: every heat settles, or none does
        return share <= 0.0
    fewer = math.fsum(_chance_of(k, females, share) for k in range(seen))
    return 1.0 - fewer < rules.alarm_chance


def _chance_of(k: int, n: int, share: float) -> float:
    """Return the chance of just `k` of `n`; by logarithms, because choices grow past any float."""
    choices = math.lgamma(n + 1) - math.lgamma(k + 1) - math.lgamma(n - k + 1)
    return math.exp(choices + k * math.log(share) + (n - k) * math.log1p(-share))
