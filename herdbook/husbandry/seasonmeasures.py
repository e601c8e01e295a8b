"""What a breeding season gave: calvings by 21 days, and percentages, each with what it is a share of.

A season is that of a group that was exposed to bulls together, never a calendar year. The percentages are
those of Standardized Performance Analysis as University of Nebraska Extension G2094 and Virginia Tech tell
them: all are shares of the females exposed, less those that died or left for other reasons before they were
to calve; a cow that was found open and then sold stays in. Calves are counted, not cows, so that twins can
bring a calving percentage above 100.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from enum import StrEnum
from statistics import fmean

from herdbook.husbandry.days import add_months
from herdbook.husbandry.exposures import Outcome

PERIOD_DAYS = 21
"""A heat cycle."""
GROWN_MONTHS = 36
"""From 3 years a cow is mature for the third of the rules below: University of Nebraska Extension (SPA)."""
GOAL_CUMULATIVE = (0.65, 0.85, 0.95)
"""Calved by the end of each period as a goal, of all exposed in 63 days: 65 %, 20 % and 10 %, and 5 % open.
Kansas State University in the cattle press."""


class Starts(StrEnum):
    """When the first 21 days begin: three published rules.

    Days after bull in: University of Missouri Extension, "Evaluate your calving distribution". 285 days, and
    the day on which the third mature cow calves: University of Nebraska Extension, "Calving distribution".
    """

    AFTER_283 = "283"
    AFTER_285 = "285"
    THIRD_COW = "third"


@dataclass(frozen=True)
class BornOn:
    """A calving at full term, with a dead calf too: its day, whether her first, whether she is 3 or older."""

    day: date
    first: bool = False
    grown: bool = True


@dataclass(frozen=True)
class PeriodCount:
    """Calvings in a period, of all that calved; first and last day both count."""

    first: date
    last: date
    calved: int
    so_far: int
    of: int


def starts_on(rule: Starts, bull_in: date, calvings: Iterable[BornOn]) -> date | None:
    """Return the first day of the first period; None while fewer than three mature cows have calved."""
    if rule is Starts.THIRD_COW:
        grown = sorted(calving.day for calving in calvings if calving.grown)
        return grown[2] if len(grown) > 2 else None
    return bull_in + timedelta(days=283 if rule is Starts.AFTER_283 else 285)


def calvings_by_period(
    days: Iterable[date], start: date, length: int = PERIOD_DAYS
) -> tuple[PeriodCount, ...]:
    """Return the calvings of each period from the first to the last in which one calved.

    What was born before the start counts in the first period (University of Missouri Extension).
    """
    in_period = Counter(max((day - start).days // length, 0) for day in days)
    whole, so_far, found = in_period.total(), 0, []
    for n in range(max(in_period, default=-1) + 1):
        so_far += in_period[n]
        first = start + timedelta(days=n * length)
        found.append(PeriodCount(first, first + timedelta(days=length - 1), in_period[n], so_far, whole))
    return tuple(found)


def is_grown(born: date | None, calved: date, first: bool) -> bool:
    """Whether a female counts as a mature cow at a calving; of one of unknown age, from her second on."""
    return not first if born is None else add_months(born, GROWN_MONTHS) <= calved


# ---------------------------------------------------------------- percentages


@dataclass(frozen=True)
class Share:
    """So many of so many; of nobody there is no percentage."""

    n: int
    of: int

    @property
    def percent(self) -> float | None:
        """The percentage."""
        return 100 * self.n / self.of if self.of else None


@dataclass(frozen=True)
class Calf:
    """What became of a calf: born dead, or died before weaning, or weaned and at what weight."""

    born_dead: bool = False
    died: bool = False
    weaned: bool = False
    weaned_kg: float | None = None


@dataclass(frozen=True)
class Exposed:
    """A female of the group.

    Parameters
    ----------
    outcome : Outcome
    found_in_calf : bool
        Whether a check said so, rightly or not.
    gone : bool
        Whether she died or left before she calved, was found open or lost it.
    calves : sequence of Calf
    """

    outcome: Outcome
    found_in_calf: bool = False
    gone: bool = False
    calves: tuple[Calf, ...] = ()

    @property
    def left(self) -> bool:
        """Whether she is left out: gone before it was known whether she would calve, or gone in calf."""
        return self.gone and self.outcome in (Outcome.NOT_KNOWN, Outcome.IN_CALF)


@dataclass(frozen=True)
class SeasonRates:
    """The percentages of a group, with the counts that are not known yet.

    Parameters
    ----------
    exposed, left : int
    pregnancy : Share
        Found in calf (or known to have been by calving or losing it), of those that count.
    loss : Share
        Of those in calf, the ones that did not calve; `in_calf` have yet to.
    calving, live : Share
        Calves born at full term, and those born alive, of the females that count.
    deaths_of_born, deaths : Share
        Calves dead before weaning, those born dead too: of calves born, and of the females that count.
    weaning : Share
        Calves weaned, of the females that count; the calf crop.
    in_calf, not_known, at_foot : int
        Still in calf, nothing known yet, calves alive of which no weaning is written.
    weaned_kg : float or None
        Mean weaning weight of the `weighed` calves that have one.
    kg_per_exposed : float or None
        Their mean times the calves weaned, by females that count.
    """

    exposed: int
    left: int
    pregnancy: Share
    loss: Share
    calving: Share
    live: Share
    deaths_of_born: Share
    deaths: Share
    weaning: Share
    in_calf: int
    not_known: int
    at_foot: int
    weighed: int
    weaned_kg: float | None
    kg_per_exposed: float | None

    @property
    def whole(self) -> int:
        """The females that count."""
        return self.exposed - self.left

    @property
    def twins_above_all(self) -> bool:
        """Whether more calves were born than females count, which only twins can bring."""
        return self.calving.n > self.calving.of


def season_rates(females: Sequence[Exposed]) -> SeasonRates:
    """Return the percentages of a group of females that were exposed together.

    SOURCE: University of Nebraska Extension G2094; Virginia Tech; kg weaned for each female exposed is the
    mean weaning weight times the calves weaned, by the same females.
    """
    counted = [female for female in females if not female.left]
    outcomes = Counter(female.outcome for female in counted)
    e = len(counted)
    held = (Outcome.CALVED, Outcome.IN_CALF, Outcome.LOST)
    pregnant = sum(female.found_in_calf or female.outcome in held for female in counted)
    calves = [calf for female in counted for calf in female.calves]
    dead = sum(calf.born_dead or calf.died for calf in calves)
    weaned = sum(calf.weaned for calf in calves)
    weights = [calf.weaned_kg for calf in calves if calf.weaned and calf.weaned_kg is not None]
    mean = fmean(weights) if weights else None
    waiting = outcomes[Outcome.IN_CALF]
    not_calved = pregnant - outcomes[Outcome.CALVED] - waiting
    return SeasonRates(
        exposed=len(females),
        left=len(females) - e,
        pregnancy=Share(pregnant, e),
        loss=Share(not_calved, pregnant),
        calving=Share(len(calves), e),
        live=Share(sum(not calf.born_dead for calf in calves), e),
        deaths_of_born=Share(dead, len(calves)),
        deaths=Share(dead, e),
        weaning=Share(weaned, e),
        in_calf=waiting,
        not_known=outcomes[Outcome.NOT_KNOWN],
        at_foot=sum(not (calf.born_dead or calf.died or calf.weaned) for calf in calves),
        weighed=len(weights),
        weaned_kg=mean,
        kg_per_exposed=mean * weaned / e if mean is not None and e else None,
    )


# ---------------------------------------------------------------- days


@dataclass(frozen=True)
class Days:
    """Some numbers of days: how many there are, their mean, the least and the most."""

    n: int
    mean: float
    least: int
    most: int


def days_summed(days: Sequence[int]) -> Days | None:
    """Return the summary; None of no days at all."""
    return Days(len(days), fmean(days), min(days), max(days)) if days else None


def days_open(previous: date, calved: date, gestation: int) -> int:
    """Return the days from a calving to the conception after it, as the next calving tells it.

    At least 0: a calf that came early would else have been conceived before its dam calved.
    """
    return max((calved - previous).days - gestation, 0)
