"""Heifers that are too young to be bred and entire males: when they must be apart, and what if they were not.

Sources: heifers can conceive from about 6 months, and calving then is dangerous (a keepers' page,
lifestyleblock.co.nz; an extension answer on breeding age, beef.unl.edu); first service at 14-15 months,
Merck/MSD Veterinary Manual's table of the reproductive cycle. Common practice, no source: entire males from 4
months kept from females of 6 months and over; nothing bred under 12 months.
"""

from __future__ import annotations

from datetime import date, timedelta

from herdbook.husbandry.days import add_months, age_months, earliest, latest
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import RULES, Rules

_DAYS_PER_MONTH = 365 / 12


def beside_male_from(
    female_born: date,
    male_born: date,
    female_precision: str = "day",
    male_precision: str = "day",
    rules: Rules = RULES,
) -> date | None:
    """Return the first day on which an entire male and a female are both old enough for a mishap.

    Months count as twelfths of 365 days, rounded up, from the oldest each can be: 6 months are 183 days.

    Returns
    -------
    date or None
        None when either birth is known only as before some day: at once.
    """
    female = can_conceive_from(female_born, female_precision, rules)
    male = can_sire_from(male_born, male_precision, rules)
    return None if female is None or male is None else max(female, male)


def can_sire_from(born: date, precision: str = "day", rules: Rules = RULES) -> date | None:
    """Return the first day on which an entire male is old enough for a mishap; None when at once."""
    male = earliest(born, precision)
    return None if male is None else _months_on(male, rules.male_alert_months)


def too_young_beside_male(
    female_born: date,
    male_born: date,
    on: date,
    female_precision: str = "day",
    male_precision: str = "day",
    rules: Rules = RULES,
) -> Reason | None:
    """Return the alert for a female that can conceive, is too young to calve safely, and is with an entire
    male.

    Parameters
    ----------
    female_born, male_born : date
        Stored days of birth; the male is entire.
    on : date
        The day it is taken to be.

    Returns
    -------
    Reason or None
        None before `beside_male_from` and from the day she is surely old enough to be bred.
    """
    begins = beside_male_from(female_born, male_born, female_precision, male_precision, rules)
    grown = add_months(latest(female_born, female_precision), rules.breeding_months)
    if on >= grown or (begins is not None and on < begins):
        return None
    return Reason(
        "too_young_beside_male",
        "With an entire male and too young to be bred: separate them or castrate. "
        "If she may have been served, ask your vet soon.",
    )


def can_conceive_from(born: date, precision: str = "day", rules: Rules = RULES) -> date | None:
    """Return the first day on which a heifer may come on heat; None when at once."""
    heifer = earliest(born, precision)
    return None if heifer is None else _months_on(heifer, rules.female_alert_months)


def mated_too_young(born: date, precision: str, on: date, rules: Rules = RULES) -> Reason | None:
    """Return the alert for a heifer that was served, or with a bull, on a day when she was too young for it.

    Her age is the youngest that she can have been. Under `rules.never_under_months` it is urgent. None where
    she was surely too young to come on heat.
    """
    begins = can_conceive_from(born, precision, rules)
    if begins is not None and on < begins:
        return None
    months = max(0, age_months(latest(born, precision), on))
    if months >= rules.breeding_months:
        return None
    values = {"months": months, "day": on, "wanted": rules.breeding_months}
    if months < rules.never_under_months:
        why = (
            "Served or with a bull on {day}, {months} months old: too young to calve safely. "
            "Urgent: ask your vet now."
        )
        return Reason("mated_too_young", why, values)
    why = (
        "Served or with a bull on {day}, {months} months old, before the {wanted} wanted: "
        "ask your vet well before she calves."
    )
    return Reason("mated_young", why, values)


def _months_on(day: date, months: int) -> date:
    return day + timedelta(days=-int(-months * _DAYS_PER_MONTH // 1))
