"""The years after: a herd run forward under a policy, many times by chance, and what that leads to.

What a policy decides (which heifers are kept, when cows and bulls leave, where bulls come from) and what
chance decides (who conceives and when, which calves live, their sex, what else is lost) stand here with their
sources; `herdahead` is the herd itself. Kinship is not drawn: it is the expected one, from the real
coancestry of today's animals onward.

Every repeat has a stream of chances of its own, made of the seed and the repeat's number (NumPy's
SeedSequence and PCG64): the same seed gives the same answer, however the repeats are spread over processes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from herdbook.husbandry.paternity import CONCEPTION_RATE

if TYPE_CHECKING:
    import numpy as np
    import numpy.typing as npt

    Reals = npt.NDArray[np.float64]
    Flags = npt.NDArray[np.bool_]
    Ints = npt.NDArray[np.int64]

NEVER = -(10**6)
"""The day of a calving that has not been."""
BAND = (0.1, 0.9)
"""Quantiles of the repeats between which a band is drawn: 8 of 10 lie in it. Our choice."""
BOUGHT, HOME = "bought", "home"


@dataclass(frozen=True)
class Policy:
    """What a keeper decides for the years after.

    Parameters
    ----------
    name : str
    keep : float, optional
        Share of the heifer calves that is kept; None keeps as many as hold the number of females, those first
        for which a bull within the limit is here, otherwise by chance.
    size : int, optional
        Females to hold; None holds today's number. Not read with `keep`.
    cull_years : int
        A cow leaves before the season in which she is so old. 12: common practice, no source.
    bull_years : int, optional
        A bull leaves after so many seasons; None keeps him.
    bull_age : int, optional
        He leaves at this age in years whatever else is said. 10: common practice, no source.
    bulls : int, optional
        Bulls to use; None uses today's number.
    source : {"bought", "home"}
        Where a new bull comes from: bought, or the entire bull calf of the herd, a year old at bull-in, that
        is least kin to the females to be bred. While there is none, the old bull stays; a herd without any
        bull buys one.
    kin : float
        Coancestry of a bought bull with each animal here; 0 unrelated.
    swap_every : int, optional
        Every so many years the bull that has served longest leaves for a new one, the others stay.
    strict : bool
        Whether the limit is kept, so that females wait; otherwise whoever is left over is put to the least
        related bull that has a place.

    Raises
    ------
    ValueError
        If a number lies outside what it can mean.
    """

    name: str
    keep: float | None = None
    size: int | None = None
    cull_years: int = 12
    bull_years: int | None = 3
    bull_age: int | None = 10
    bulls: int | None = None
    source: str = BOUGHT
    kin: float = 0.0
    swap_every: int | None = None
    strict: bool = True

    def __post_init__(self) -> None:
        counts = (self.size, self.bull_years, self.bull_age, self.bulls, self.swap_every, self.cull_years)
        if any(count is not None and count < 1 for count in counts):
            raise ValueError("Years and numbers of animals are 1 or more.")
        if not 0.0 <= (self.keep or 0.0) <= 1.0 or not 0.0 <= self.kin <= 0.5:
            raise ValueError("A share lies between 0 and 1, a coancestry between 0 and 0.5.")
        if self.source not in (BOUGHT, HOME):
            raise ValueError("A bull is bought or home-bred.")


PRESETS = {
    policy.name: policy
    for policy in (
        Policy("every-3-years", bull_years=3),
        Policy("keep-home-bred", bull_years=3, source=HOME),
        Policy("swap-one", bull_years=None, swap_every=1),
        Policy("keep-bulls", bull_years=None),
    )
}
"""Policies by name: each bull changed after three seasons for a bought one; the same with the herd's own
bulls; every year one bull swapped; the bulls kept for as long as they last."""


@dataclass(frozen=True)
class Rates:
    """What chance does, and the rules of the season; each number with its source.

    Parameters
    ----------
    conception : float
        Chance at one heat. 60-65 %: a Kansas State University veterinarian in the trade press.
    cycle : int
        Days from heat to heat. 21: Merck/MSD Veterinary Manual, table of the reproductive cycle.
    first_heat : (int, int)
        Days from calving to the first heat, each as likely. 20-60: the same table.
    season_days : int
        Bull in to bull out, both counted.
    gestation : int
        283: University of Nevada Cooperative Extension. Taken without spread here.
    calving, rearing : float
        Of those in calf, the share that calves; of the calves, the share reared. 0.96 and 0.98: Arizona
        Cooperative Extension's example of marketable fertility.
    heifers : float
        Share of calves that are heifers. One half: common practice, no source.
    open_leaves : float
        Chance that a female without a calf to come leaves before the next season. Common practice, no source:
        most are sold.
    other_leaves : float
        Chance that a female leaves for another reason: death, 2 % (Nebraska Extension's examples), feet,
        udder, temper, 4 % (common practice, no source).
    bull_leaves : float
        Chance that a bull is lost within the year. Common practice, no source.
    breeding_months : int
        Age of a heifer at bull-in.
    ceiling : int
        Females for a grown bull; a younger one gets one for each month of his age.
    bought_months : int
        Age of a bought bull at bull-in. 24: common practice, no source.
    """

    conception: float = CONCEPTION_RATE
    cycle: int = 21
    first_heat: tuple[int, int] = (20, 60)
    season_days: int = 63
    gestation: int = 283
    calving: float = 0.96
    rearing: float = 0.98
    heifers: float = 0.5
    open_leaves: float = 0.8
    other_leaves: float = 0.06
    bull_leaves: float = 0.05
    breeding_months: int = 14
    ceiling: int = 30
    bought_months: int = 24

    def __post_init__(self) -> None:
        shares = (self.conception, self.calving, self.rearing, self.heifers)
        if not all(0.0 <= p <= 1.0 for p in (*shares, self.open_leaves, self.other_leaves, self.bull_leaves)):
            raise ValueError("A chance lies between 0 and 1.")


@dataclass(frozen=True)
class Coming:
    """A calf on its way: its dam's row, the day it is due, the chance of it, the possible sires' rows.

    A sire of row -1 is not known and taken to be kin to nobody.
    """

    dam: int
    due: int
    chance: float
    sires: tuple[tuple[int, float], ...]


@dataclass(frozen=True)
class Company:
    """What is said of one or more bulls that share their females, beside the bulls' own numbers.

    Parameters
    ----------
    room : int, optional
        Their number by the keeper's hand, held for as long as they are the same bulls.
    paddock : int, optional
        Most females that their paddock holds.
    """

    room: int | None = None
    paddock: int | None = None


@dataclass(frozen=True, eq=False)
class Start:
    """Today's herd. Days count from the first bull-in, so that most are below 0.

    Parameters
    ----------
    kinship : ndarray of float, shape (n, n)
        Coancestry of the animals as a limit is held against it; on the diagonal (1 + F) / 2.
    shares : ndarray of float, shape (n, f)
        Part of each animal's genes from each founder behind today's herd.
    stays : ndarray of bool, shape (n,)
        Part of the herd that goes on; False for sires of coming calves that are not here and for animals that
        are not bred from.
    female, bull, cow : ndarray of bool, shape (n,)
        Bulls in use; females that have calved or are in calf.
    ready : ndarray of bool, shape (n,)
        Females that may be bred in the first season.
    fit : ndarray of bool, shape (n,)
        Bulls marked fit for heifers.
    born, calved : ndarray of int, shape (n,)
        Day of birth; day of the last calving, or of the one to come, `NEVER` where there is none.
    served : ndarray of int, shape (n,)
        Seasons that a bull has served here.
    by_hand : ndarray of int, shape (n,)
        The keeper's own number of females for a bull, -1 by age. Held for a bull under two years until he is.
    coming : tuple of Coming
    group : ndarray of int, shape (n,), optional
        Which bulls share their females: the place in `companies`, -1 for others; each alone if not given.
    turn : ndarray of int, shape (n,), optional
        Of the bulls that share, those with one turn run together, and the turns follow one another.
    companies : tuple of Company
    """

    kinship: Reals
    shares: Reals
    stays: Flags
    female: Flags
    bull: Flags
    cow: Flags
    ready: Flags
    fit: Flags
    born: Ints
    calved: Ints
    served: Ints
    by_hand: Ints
    coming: tuple[Coming, ...] = ()
    group: Ints | None = None
    turn: Ints | None = None
    companies: tuple[Company, ...] = ()


FIGURES = (
    "mean",
    "worst",
    "over_limit",
    "bred_over",
    "founders",
    "effective_founders",
    "calves",
    "females",
    "waiting",
    "idle_bulls",
    "bulls_bought",
)
"""What is counted each season.

mean, worst: inbreeding of the calves reared. over_limit: share of all possible pairings (females to be bred
by bulls) over the limit. bred_over: share of the pairings made that are over it, 0 for a strict policy.
founders: of those behind today's herd, how many still have genes in an animal of the herd, calves with it.
effective_founders: of the females to be bred and the bulls, bought bulls being founders. waiting: females
more that the bulls had places for without the limit. idle_bulls: bulls to whom no female may go within it.
"""


def run_repeats(
    start: Start,
    policy: Policy,
    rates: Rates = Rates(),
    *,
    limit: float,
    years: int = 10,
    seed: int = 1,
    repeats: Sequence[int] = range(200),
) -> Reals:
    """Run the herd forward once for each of the repeats.

    Parameters
    ----------
    start : Start
    policy : Policy
    rates : Rates
    limit : float
        Highest inbreeding of a calf.
    years : int
        Seasons.
    seed : int
    repeats : sequence of int
        Numbers of the repeats: together with the seed they are the streams of chance.

    Returns
    -------
    ndarray of float, shape (repeats, years, len(FIGURES))
        Not a number for the inbreeding of the calves of a season without any.
    """
    import numpy as np

    from herdbook.husbandry.herdahead import HerdAhead

    found = np.empty((len(repeats), years, len(FIGURES)))
    for place, repeat in enumerate(repeats):
        chance = np.random.Generator(np.random.PCG64(np.random.SeedSequence(seed, spawn_key=(repeat,))))
        herd = HerdAhead(start, policy, rates, limit, years, chance)
        for year in range(years):
            found[place, year] = herd.season(year)
    return found


@dataclass(frozen=True)
class Spread:
    """The middle of the repeats and the band in which 8 of 10 lie; None where no repeat has a figure."""

    median: float | None
    low: float | None
    high: float | None


@dataclass(frozen=True)
class Turn:
    """When something first comes: in what share of the repeats, and the middle year of these."""

    share: float
    median: int | None


@dataclass(frozen=True)
class YearsAfter:
    """What a policy leads to.

    Parameters
    ----------
    policy : Policy
    by_year : tuple of (int, dict of str to Spread)
        The year of the season and its figures; see `FIGURES`.
    no_place_year : Turn
        The first season in which bulls have places that cannot be filled without breaking the limit.
    idle_bull_year : Turn
        The first season in which a bull has no female within the limit at all.
    bulls_bought : Spread
        Over all the years.
    """

    policy: Policy
    by_year: tuple[tuple[int, dict[str, Spread]], ...]
    no_place_year: Turn
    idle_bull_year: Turn
    bulls_bought: Spread


def years_after(policy: Policy, found: npt.NDArray[Any], first_year: int) -> YearsAfter:
    """Return what the repeats of one policy show together; their order makes no difference.

    Parameters
    ----------
    policy : Policy
    found : ndarray of float, shape (repeats, years, len(FIGURES))
        From `run_repeats`.
    first_year : int
        Year of the first season.
    """
    column = {name: place for place, name in enumerate(FIGURES)}
    by_year = tuple(
        (first_year + year, {name: spread(found[:, year, at]) for name, at in column.items()})
        for year in range(found.shape[1])
    )
    return YearsAfter(
        policy,
        by_year,
        _turn(found[:, :, column["waiting"]] > 0, first_year),
        _turn(found[:, :, column["idle_bulls"]] > 0, first_year),
        spread(found[:, :, column["bulls_bought"]].sum(axis=1)),
    )


def spread(values: npt.NDArray[Any]) -> Spread:
    """Return the median and the band of the values that are numbers."""
    import numpy as np

    told: Reals = np.asarray(values)[np.isfinite(values)]
    if not len(told):
        return Spread(None, None, None)
    low, median, high = (float(q) for q in np.quantile(told, (BAND[0], 0.5, BAND[1])))
    return Spread(median, low, high)


def _turn(come: Flags, first_year: int) -> Turn:
    """Return when each repeat first has it, over the repeats that do; of two middle years the earlier."""
    import numpy as np

    ever = np.asarray(come.any(axis=1))
    first: Ints = np.sort(come[ever].argmax(axis=1))
    median = first_year + int(first[(len(first) - 1) // 2]) if len(first) else None
    return Turn(float(ever.mean()) if len(ever) else 0.0, median)
