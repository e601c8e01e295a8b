"""Civil days: months and ages by the calendar, and what a date known only roughly can mean."""

from __future__ import annotations

from calendar import monthrange
from datetime import date, timedelta
from enum import StrEnum
from functools import lru_cache

from dateutil.relativedelta import relativedelta


class Precision(StrEnum):
    """How exactly a date is known; the stored day is the first of the period, or the day it was before."""

    DAY = "day"
    MONTH = "month"
    YEAR = "year"
    BEFORE = "before"


@lru_cache(maxsize=1024)  # asked for every animal of a herd, most of which share their days of birth
def add_months(day: date, n: int) -> date:
    """Return the same day of the month `n` calendar months later (earlier when negative).

    Where that month is too short its last day is taken: 31 August and 6 months give 28 (or 29) February.
    Raises ValueError when the year leaves 1-9999.
    """
    moved: date = day + relativedelta(months=n)
    return moved


def age_days(born: date, on: date) -> int:
    """Return the age in days on a day: 0 on the day of birth, negative before it."""
    return (on - born).days


def age_months(born: date, on: date) -> int:
    """Return the age in whole calendar months: the greatest n with ``add_months(born, n) <= on``."""
    months = (on.year - born.year) * 12 + on.month - born.month
    # Compared by day of month, clamped, so that the first months of the calendar need no date before year 1.
    completed = on.day >= min(born.day, monthrange(on.year, on.month)[1])
    return months if completed else months - 1


def earliest(day: date, precision: str) -> date | None:
    """Return the earliest day that a stored date can mean; None for "before", which has no earliest day.

    Parameters
    ----------
    day : date
        The stored day.
    precision : str
        "day", "month", "year" or "before".

    Raises
    ------
    ValueError
        For any other precision.
    """
    match Precision(precision):
        case Precision.DAY:
            return day
        case Precision.MONTH:
            return day.replace(day=1)
        case Precision.YEAR:
            return date(day.year, 1, 1)
        case Precision.BEFORE:
            return None


def latest(day: date, precision: str) -> date:
    """Return the latest day that a stored date can mean; see `earliest`. For "before", the day before it."""
    match Precision(precision):
        case Precision.DAY:
            return day
        case Precision.MONTH:
            return day.replace(day=monthrange(day.year, day.month)[1])
        case Precision.YEAR:
            return date(day.year, 12, 31)
        case Precision.BEFORE:
            return day - timedelta(days=1)
