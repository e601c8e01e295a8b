"""The breeding season: how many females a bull can serve, and which females may be bred.

The thresholds are a keeper's to set (`Rules`); each carries its source. Nothing here decides for the
keeper: every answer says why.

Sources: one female per month of a bull's age at turn-in until 24 months, then 25-35, Oklahoma State
University Extension (breeding-season column). Heifers at 65 % of mature weight at first breeding, 60 %
acceptable, extension texts; first service at 14-15 months and first heat 20-60 days after calving, Merck/MSD
Veterinary Manual's table of the reproductive cycle. The womb is ready about 50 days after calving, the same
for 365 days from calf to calf, University of Nebraska Extension. Common practice, no source: nothing bred
under 12 months; entire males from 4 months kept from females of 6 months and over.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from herdbook.husbandry.days import add_months, age_months, earliest, latest
from herdbook.husbandry.reasons import Reason

TOO_YOUNG = "too_young"
IN_CALF = "in_calf"
LEFT = "left"
CHOSEN = "chosen"
OTHER = "other"

GESTATION = 283
_DAYS_PER_MONTH = 365 / 12


@dataclass(frozen=True)
class Rules:
    """What the keeper asks of a female before she goes to the bull.

    Herds that calve at three years set `breeding_months` to 24-27.
    """

    breeding_months: int = 14
    never_under_months: int = 12
    ready_share: float = 0.65
    acceptable_share: float = 0.60
    first_heat_days: int = 20
    low_chance_days: int = 50
    male_alert_months: int = 4
    female_alert_months: int = 6


RULES = Rules()


Season = tuple[date, date]
"""First and last day with the bull, both counting."""


@dataclass(frozen=True)
class Candidate:
    """What bears on breeding one female.

    Attributes
    ----------
    born, precision
        Stored day of birth and how exactly it is known; None when it is not known at all.
    calvings : int
        How often she has calved.
    last_calved : date or None
    in_calf : bool
        Known or stated to be in calf now.
    due : date or None
        Expected day of calving, where she is in calf.
    weight_kg : float or None
        Her weight at bull-in, weighed or expected.
    mature_weight_kg : float or None
        What cows of her kind weigh at 5-10 years.
    left_on : date or None
        Day she left or died, or will leave.
    kept_back : str or None
        The keeper's reason for not breeding her; empty text when none was given.
    twin_to_male : bool
        Born twin to a male, alive or dead, and not proven fertile.
    open_last_season : bool
        With a bull last season and not in calf after it.
    """

    born: date | None = None
    precision: str = "day"
    calvings: int = 0
    last_calved: date | None = None
    in_calf: bool = False
    due: date | None = None
    weight_kg: float | None = None
    mature_weight_kg: float | None = None
    left_on: date | None = None
    kept_back: str | None = None
    twin_to_male: bool = False
    open_last_season: bool = False


@dataclass(frozen=True)
class Readiness:
    """Whether a female may be bred: a code where not, and reasons, which are cautions where she may."""

    ok: bool
    code: str | None
    reasons: tuple[Reason, ...]


def bull_capacity(
    born: date | None,
    bull_in: date,
    ceiling: int = 30,
    by_hand: int | None = None,
    precision: str = "day",
    rules: Rules = RULES,
) -> int | None:
    """Return how many females a bull is given.

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
    return min(months, ceiling) if months < 24 else ceiling


def bulls_needed(females: int, capacity: int) -> int:
    """Return how many bulls of one capacity serve so many females, rounded up.

    Raises ValueError if there are females and the capacity is not above 0.
    """
    if females <= 0:
        return 0
    if capacity <= 0:
        raise ValueError("Bulls that serve no females are never enough.")
    return -(-females // capacity)


def latest_conception(calved: date, gestation: int = GESTATION, interval: int = 365) -> date:
    """Return the last day to conceive for a calf every `interval` days: that less `gestation` days on."""
    return calved + timedelta(days=interval - gestation)


def may_be_bred(female: Candidate, season: Season, rules: Rules = RULES) -> Readiness:
    """Say whether a female may go to the bull this season, and why not or with what caution.

    Age is the youngest she can be at bull-in. A cow that has calved needs neither age nor weight. One that is
    in calf may go if she is due early enough to come on heat before the bull leaves.

    Parameters
    ----------
    female : Candidate
    season : Season
    rules : Rules

    Returns
    -------
    Readiness
        `code` is one of ``left``, ``chosen``, ``in_calf``, ``too_young``, ``other``; the first that applies.

    Raises
    ------
    ValueError
        If the season ends before it begins.
    """
    if season[1] < season[0]:
        raise ValueError("The bull's last day must not be before his first.")
    cautions: list[Reason] = []
    for code, bar in (
        (LEFT, _left(female, season)),
        (CHOSEN, _kept_back(female)),
        (IN_CALF, _in_calf(female, season, rules)),
        *_heifer(female, season, rules, cautions),
    ):
        if bar is not None:
            return Readiness(False, code, (bar,))
    cautions += _after_calving(female, season, rules)
    if female.open_last_season:
        cautions.append(Reason("open_last_season", "Was with a bull last season and did not hold."))
    return Readiness(True, None, tuple(cautions))


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
    female, male = earliest(female_born, female_precision), can_sire_from(male_born, male_precision, rules)
    if female is None or male is None:
        return None
    return max(_months_on(female, rules.female_alert_months), male)


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
        "If she may have been served, ask the vet soon.",
    )


def _left(female: Candidate, season: Season) -> Reason | None:
    if female.left_on is None or female.left_on > season[0]:
        return None
    return Reason("left", "Not here from {day}.", {"day": female.left_on})


def _kept_back(female: Candidate) -> Reason | None:
    if female.kept_back is None:
        return None
    if not female.kept_back:
        return Reason("kept_back", "Marked not to be bred.")
    return Reason("kept_back", "Marked not to be bred: {why}", {"why": female.kept_back})


def _in_calf(female: Candidate, season: Season, rules: Rules) -> Reason | None:
    if not female.in_calf:
        return None
    if female.due is None:
        return Reason("in_calf", "In calf, due day not known.")
    if female.due + timedelta(days=rules.first_heat_days) <= season[1]:
        return None
    return Reason(
        "in_calf",
        "In calf and due {due}: not on heat again before the bull leaves on {out}.",
        {"due": female.due, "out": season[1]},
    )


def _heifer(
    female: Candidate, season: Season, rules: Rules, cautions: list[Reason]
) -> list[tuple[str, Reason | None]]:
    """Return what bars a female that has not calved; anything milder is added to `cautions`."""
    if female.calvings > 0 or female.last_calved is not None or female.in_calf:
        return []
    if female.twin_to_male:
        why = "Twin to a male, so probably a freemartin: have her tested before breeding."
        return [(OTHER, Reason("freemartin", why))]
    if female.born is None:
        why = "Age not known: ask, and enter when she was born; a year will do."
        return [(OTHER, Reason("age_unknown", why))]
    months = age_months(latest(female.born, female.precision), season[0])
    wanted = max(rules.breeding_months, rules.never_under_months)
    if months < wanted:
        facts = {"months": max(months, 0), "wanted": wanted}
        one = "1 month old at bull-in; {wanted} months wanted."
        why = one if months == 1 else "{months} months old at bull-in; {wanted} wanted."
        return [(TOO_YOUNG, Reason("too_young", why, facts))]
    return [(TOO_YOUNG, _weight(female, rules, cautions))]


def _weight(female: Candidate, rules: Rules, cautions: list[Reason]) -> Reason | None:
    """Return what bars a heifer by her weight; a mild lack, or no weight, goes to `cautions`."""
    if female.weight_kg is None or not female.mature_weight_kg:
        cautions.append(Reason("no_weight", "No weight to go by: judged by age alone."))
        return None
    share = female.weight_kg / female.mature_weight_kg
    facts = {"share": int(100 * share), "wanted": round(100 * rules.ready_share)}
    if share < rules.acceptable_share:
        return Reason("too_light", "{share} % of mature weight at bull-in; {wanted} % wanted.", facts)
    if share < rules.ready_share:
        cautions.append(
            Reason("light", "{share} % of mature weight at bull-in; {wanted} % is better.", facts)
        )
    return None


def _after_calving(female: Candidate, season: Season, rules: Rules) -> list[Reason]:
    """Return the caution for a cow that calves too late to have a good chance before the bull leaves."""
    calving = female.due if female.in_calf else female.last_calved
    if calving is None or (days := (season[1] - calving).days) >= rules.low_chance_days:
        return []
    why = "Only {days} days from calving to the bull's last day: a low chance this season."
    return [Reason("low_chance", why, {"days": max(days, 0)})]


def _months_on(day: date, months: int) -> date:
    return day + timedelta(days=-int(-months * _DAYS_PER_MONTH // 1))
