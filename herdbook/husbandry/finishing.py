"""On the way to the butcher: ready day, clear of medicine, 30-month point, fitness to travel, carcass."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from herdbook.husbandry.days import add_months, earliest
from herdbook.husbandry.gestation import unfit_to_travel_from
from herdbook.husbandry.growth import days_to_weight
from herdbook.husbandry.reasons import Reason


def ready_date(weight_kg: float, on: date, target_kg: float, daily_gain_kg: float) -> date | None:
    """Return the day on which an animal of `weight_kg` reaches its target; None if it is not gaining.

    Whole days, rounded up. Gain changes with the season: a day far ahead is a guess.
    """
    days = days_to_weight(weight_kg, target_kg, daily_gain_kg)
    if days is None or days > (date.max - on).days:
        return None
    return on + timedelta(days=days)


# ---------------------------------------------------------------- medicine


@dataclass(frozen=True)
class Dose:
    """A medicine's last dose and the meat period on its label: days, or hours, or neither if not known."""

    last: date
    meat_days: float | None = None
    meat_hours: float | None = None
    product: str = ""

    def whole_days(self) -> int | None:
        """Return the meat period in whole days, a part of a day counted as one; None if it is not known."""
        if self.meat_days is None and self.meat_hours is None:
            return None
        days = max(self.meat_days or 0.0, (self.meat_hours or 0.0) / 24)
        if min(self.meat_days or 0.0, self.meat_hours or 0.0) < 0 or not math.isfinite(days):
            raise ValueError("A meat period cannot be less than nothing.")
        return math.ceil(round(days, 9))


@dataclass(frozen=True)
class Clear:
    """From which day an animal is clear of all medicines.

    `known` False reads "not known, ask": then `day` is None, and the animal is not to be taken as clear.
    Known with no day: nothing was given. `running_to` is the last day of the known periods even when others
    are not.
    """

    day: date | None
    known: bool
    reasons: tuple[Reason, ...] = ()
    running_to: date | None = None

    def on(self, day: date) -> bool | None:
        """Tell whether it is clear on a day; None if that is not known."""
        if self.running_to is not None and day <= self.running_to:
            return False
        return True if self.known else None


def clear_of_medicine(doses: Iterable[Dose], *, history_known: bool = True) -> Clear:
    """Return the first day clear of all medicines: the day after last dose + label days, the latest of all.

    Each dose counts from itself, so a repeated one restarts its period. A period that nobody typed is not
    known, and one that is not known makes the answer not known; nought counts only where it was typed. The
    label, or for other use the vet's own figure, is the authority.

    SOURCE: counted from the last dose, common practice; that animals may go only after the period has ended,
    UK rules; the day after as the first slaughter day is the safe reading, common practice.

    Parameters
    ----------
    doses : Iterable[Dose]
        All that was given, as far as known.
    history_known : bool
        False for an animal whose medicines before it came (or before this book began) were not told.
    """
    last: date | None = None
    reasons: list[Reason] = []
    known = history_known
    if not history_known:
        template = "What it was given before it came here is not known: ask."
        reasons.append(Reason("history_unknown", template))
    for dose in doses:
        days = dose.whole_days()
        if days is None:
            known = False
            template = (
                "No meat period is entered for {product} given on {day}: read the label or ask the vet."
            )
            reasons.append(Reason("period_unknown", template, {"product": dose.product, "day": dose.last}))
            continue
        until = dose.last + timedelta(days=days)
        last = until if last is None else max(last, until)
        template = "{product}, last given on {day}, {days} days for meat: through {until}."
        values = {"product": dose.product, "day": dose.last, "days": days, "until": until}
        reasons.append(Reason("period", template, values))
    day = last + timedelta(days=1) if last is not None and known else None
    return Clear(day, known, tuple(reasons), last)


# ---------------------------------------------------------------- age and travel


def thirty_months(born: date, precision: str = "day", months: int = 30) -> date | None:
    """Return the day on which an animal may reach 30 months: ask the abattoir what it means where you farm.

    Counted from the earliest day that its birth can mean, in calendar months, a month's end clamped. None
    where there is no earliest day ("before"): the age is not known, ask.

    SOURCE of the point: 9 CFR 310.22 (US); SI 2008/1180 (UK). They change: check the current rule.
    """
    first = earliest(born, precision)
    return None if first is None else add_months(first, months)


def travel_reasons(
    on: date,
    *,
    calved: date | None = None,
    conceived_first: date | None = None,
    days: int = 283,
    lame: bool = False,
) -> tuple[Reason, ...]:
    """Return why a female may not be fit to travel on a day; ask the vet before loading.

    Parameters
    ----------
    on : date
        The day of the journey.
    calved : date, optional
        Her latest calving.
    conceived_first : date, optional
        The earliest conception not ruled out, an error of staging included.
    days : int
        Her gestation.
    lame : bool
        Whether she is recorded lame.

    Notes
    -----
    SOURCE: Council Regulation (EC) 1/2005, Annex I (kept in UK law): 90 % of gestation, calved in the week
    before, not able to move without pain.
    """
    reasons = []
    if conceived_first is not None and on >= (start := unfit_to_travel_from(conceived_first, days)):
        template = "From {day} she may be past nine tenths of her time: not fit to travel; ask the vet."
        reasons.append(Reason("late_in_calf", template, {"day": start}))
    if calved is not None and 0 <= (on - calved).days <= 7:
        template = "She calved on {day}, within the week: not fit to travel."
        reasons.append(Reason("just_calved", template, {"day": calved}))
    if lame:
        reasons.append(Reason("lame", "She is recorded as lame: ask the vet before loading."))
    return tuple(reasons)


# ---------------------------------------------------------------- carcass


@dataclass(frozen=True)
class Span:
    """A low, usual and high figure."""

    low: float
    usual: float
    high: float

    def of(self, other: Span) -> Span:
        """Return this share of another span, low with low and high with high."""
        return Span(self.low * other.low, self.usual * other.usual, self.high * other.high)


DRESSING = Span(0.50, 0.53, 0.58)
"""Hanging (hot carcass) weight as a share of live weight, off grass. Common practice; published figures run
from 52.9-56.9 % off pasture (an extension answer page) to 60-64 % fed (Mississippi State University
P3489)."""

CUTTING = Span(0.60, 0.65, 0.80)
"""Meat taken home as a share of hanging weight: 60 % lean and boneless to 80 % with bone and fat, as
processors and extension print; 65 % common practice."""


@dataclass(frozen=True)
class Carcass:
    """Estimated hanging and take-home weight in kg; the shares are of live and of hanging weight."""

    hanging_kg: Span
    take_home_kg: Span


def carcass(
    live_kg: float, dressing: Span = DRESSING, cutting: Span = CUTTING, shrink: float = 0.0
) -> Carcass:
    """Return the hanging and take-home weight of an animal as ranges.

    Parameters
    ----------
    live_kg : float
        Live weight on the day.
    dressing, cutting : Span
        Shares, 0-1; the herd's own where known.
    shrink : float
        Share of hanging weight lost in the chill before cutting (2-5 %, University of Tennessee Extension
        PB1822).
    """
    if live_kg <= 0:
        raise ValueError("The live weight must be more than nothing.")
    hanging = dressing.of(Span(live_kg, live_kg, live_kg))
    chilled = hanging.of(Span(1 - shrink, 1 - shrink, 1 - shrink))
    return Carcass(hanging, cutting.of(chilled))
