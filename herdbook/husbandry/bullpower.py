"""How many females a bull, or bulls together, are given, and what that number rests on.

A guide for the keeper, who may set another number. It never says that a bull is fertile: only an examination
by a vet, and calves, do.

Sources: one female per month of a bull's age at turn-in until 24 months, then 25-35, and young bulls not
with old, Oklahoma State University Extension (breeding-season column). Examined 30 to 60 days before turn-in,
Arkansas Extension; satisfactory, deferred or unsatisfactory, Society for Theriogenology (as a trade article
by a vet has it). About one bull in five fails, a review in Animal, 2018. Nothing used under 12 months: common
practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from herdbook.husbandry.days import age_months, latest
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import RULES, Rules

GROWN_MONTHS = 24
"""Age from which a bull counts as grown. Oklahoma State University Extension."""


@dataclass(frozen=True)
class Exam:
    """A breeding soundness examination: "satisfactory", "deferred" or "unsatisfactory"."""

    day: date
    result: str


@dataclass(frozen=True)
class BullPower:
    """How many females a bull is given.

    Attributes
    ----------
    capacity : int or None
        None when his age is not known and the keeper has given no number: ask.
    rests_on : Reason
        What gives the number.
    cautions : tuple of Reason
        What else the keeper should know before relying on it.
    """

    capacity: int | None
    rests_on: Reason
    cautions: tuple[Reason, ...] = ()

    @property
    def reasons(self) -> tuple[Reason, ...]:
        """All that is to be said of the number."""
        return (self.rests_on, *self.cautions)


@dataclass(frozen=True)
class BullInGroup:
    """A bull of a group: how many females by himself, first and last day with them, whole months then."""

    capacity: int
    first: date
    last: date
    months: int | None = None


def bull_capacity(
    born: date | None,
    bull_in: date,
    ceiling: int = 30,
    by_hand: int | None = None,
    precision: str = "day",
    rules: Rules = RULES,
) -> int | None:
    """Return how many females a bull is given by his age.

    One for each month of his age at turn-in (the youngest he can be) until 24 months, then `ceiling`. None
    under the age at which anything is bred. A guide that assumes he has passed a soundness examination.

    Parameters
    ----------
    born : date or None
        Stored day of birth.
    bull_in : date
        Day of turn-in.
    ceiling : int
        Females for a grown bull; 25-35 is published, 30 the default.
    by_hand : int, optional
        The keeper's own number, taken as it is.
    precision : str
        How exactly the birth is known; see `herdbook.husbandry.days.latest`.

    Returns
    -------
    int or None
        None when his age is not known and the keeper has given no number: ask.

    Raises
    ------
    ValueError
        If a number of females is below 0.
    """
    if ceiling < 0 or (by_hand is not None and by_hand < 0):
        raise ValueError("A bull's number of females cannot be below 0.")
    if by_hand is not None:
        return by_hand
    if born is None:
        return None
    months = age_months(latest(born, precision), bull_in)
    if months < rules.never_under_months:
        return 0
    return min(months, ceiling) if months < GROWN_MONTHS else ceiling


def bull_power(
    born: date | None,
    bull_in: date,
    ceiling: int = 30,
    by_hand: int | None = None,
    precision: str = "day",
    exam: Exam | None = None,
    exam_days: int = 60,
    rules: Rules = RULES,
) -> BullPower:
    """Return how many females a bull is given, by his age, his last examination and the keeper's number.

    Found unsatisfactory he is given none until he is examined again; deferred, or not examined within
    `exam_days` before he goes in, he keeps his number with a caution. The keeper's own number stands over all
    of it, and the cautions stand beside it.

    Parameters
    ----------
    born, bull_in, ceiling, by_hand, precision, rules
        As `bull_capacity` takes them.
    exam : Exam, optional
        His last examination.
    exam_days : int
        How long before turn-in an examination still speaks for him.

    Raises
    ------
    ValueError
        If a number of females is below 0.
    """
    guide = bull_capacity(born, bull_in, ceiling, precision=precision, rules=rules)
    failed = exam is not None and exam.result == "unsatisfactory"
    months = None if born is None else max(0, age_months(latest(born, precision), bull_in))
    capacity, rests_on = _by_age(months, guide, rules)
    cautions = list(_examined(exam, bull_in, exam_days))
    if by_hand is not None:
        bull_capacity(born, bull_in, ceiling, by_hand)
        if guide is not None and by_hand > guide:
            values = {"n": by_hand, "guide": guide}
            cautions.insert(0, Reason("over_guide", "{n} by hand; the guide for his age is {guide}.", values))
        return BullPower(by_hand, Reason("by_hand", "{n} by hand.", {"n": by_hand}), tuple(cautions))
    if failed:
        return BullPower(0, cautions[0], tuple(cautions[1:]))
    return BullPower(capacity, rests_on, tuple(cautions))


def _by_age(months: int | None, guide: int | None, rules: Rules) -> tuple[int | None, Reason]:
    if months is None or guide is None:
        return None, Reason(
            "age_not_known", "Age not known: ask, and enter when he was born; a year will do."
        )
    values = {"months": months, "n": guide}
    if months < rules.never_under_months:
        values["least"] = rules.never_under_months
        template = "{months} months old at bull-in: too young, under {least} months none is given a female."
        return guide, Reason("bull_too_young", template, values)
    if months < GROWN_MONTHS:
        template = "{months} months old at bull-in: {n} females, one for each month of age."
        if guide < months:
            template = "{months} months old at bull-in: {n} females, no more than a grown bull."
        return guide, Reason("by_age", template, values)
    return guide, Reason("grown", "Two years old or more: {n} females, as a grown bull.", values)


def _examined(exam: Exam | None, bull_in: date, exam_days: int) -> list[Reason]:
    """Return what his examination says against him; nothing where it is satisfactory and recent."""
    if exam is None:
        why = "No soundness examination on record: have your vet examine him before he goes in on {day}."
        return [Reason("exam_missing", why, {"day": bull_in})]
    values = {"day": exam.day, "bull_in": bull_in}
    if exam.result == "unsatisfactory":
        why = "Examined on {day} and found unsatisfactory: not to be used until he passes; ask your vet."
        return [Reason("exam_unsatisfactory", why, values)]
    if exam.result == "deferred":
        why = "Examined on {day} and deferred: have him examined again before he goes in on {bull_in}."
        return [Reason("exam_deferred", why, values)]
    if (bull_in - exam.day).days > exam_days:
        why = "Last examined on {day}: have your vet examine him again before he goes in on {bull_in}."
        return [Reason("exam_old", why, values)]
    return []


def bulls_needed(females: int, capacity: int) -> int:
    """Return how many bulls of one capacity serve so many females, rounded up.

    Raises ValueError if there are females and the capacity is not above 0.
    """
    if females <= 0:
        return 0
    if capacity <= 0:
        raise ValueError("Bulls that serve no females are never enough.")
    return -(-females // capacity)


def group_capacity(bulls: Sequence[BullInGroup], by_hand: int | None = None) -> int:
    """Return how many females bulls are given that share them.

    Bulls that run together share the work, so that their numbers are added. Of bulls that follow one another
    each meets every female, so that the least counts. Our choice, no source. The keeper's number stands over
    it.

    Raises ValueError for no bulls without a number by hand, or a number below 0.
    """
    if by_hand is not None:
        if by_hand < 0:
            raise ValueError("A group's number of females cannot be below 0.")
        return by_hand
    if not bulls:
        raise ValueError("A group without bulls serves no females.")
    return min(sum(bull.capacity for bull in each) for each in together(bulls))


def together(bulls: Sequence[BullInGroup]) -> list[list[BullInGroup]]:
    """Return the bulls in order of their days, parted into those whose days run into one another."""
    parts: list[list[BullInGroup]] = []
    for bull in sorted(bulls, key=lambda one: one.first):
        if parts and bull.first <= max(other.last for other in parts[-1]):
            parts[-1].append(bull)
        else:
            parts.append([bull])
    return parts


def young_with_old(bulls: Sequence[BullInGroup]) -> Reason | None:
    """Return the caution for a bull under two years and one over that at the same time.

    A young bull that follows an old one is well. Source: Oklahoma State University Extension, young with
    young and old with old. A caution only: the old one dominates, yet some yearlings sire many (a breeders'
    page, yourcattle.com 2017).
    """
    for part in together(bulls):
        months = [bull.months for bull in part if bull.months is not None]
        if months and min(months) < GROWN_MONTHS <= max(months):
            why = "A young bull with a grown one, who will mostly keep him off: better young with young."
            return Reason("young_with_old", why)
    return None
