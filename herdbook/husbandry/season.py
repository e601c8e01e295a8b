"""The breeding season: which females may be bred, what speaks against it, and what that rests on.

The thresholds are a keeper's to set (`Rules`); each carries its source. Nothing here decides for the
keeper: every answer says why. How many females a bull serves stands in `bullpower`, heifers too young beside
entire males in `mishaps`.

Sources: heifers at 65 % of mature weight at first breeding, 60 % acceptable, extension texts; first service
at 14-15 months and first heat 20-60 days after calving, Merck/MSD Veterinary Manual's table of the
reproductive cycle. The womb is ready about 50 days after calving, and a calf every 365 days wants her in calf
within 365 days less her gestation, University of Nebraska Extension. Over nine in ten heifers twin to a bull
are sterile; a test failed is conclusive, a test passed is not, extension page on twins. Common practice, no
source: nothing bred under 12 months.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from herdbook.husbandry.days import age_months, latest
from herdbook.husbandry.reasons import Reason

TOO_YOUNG = "too_young"
IN_CALF = "in_calf"
LEFT = "left"
CHOSEN = "chosen"
MEDICINE = "medicine"
OTHER = "other"

GESTATION = 283
"""Days, all beef breeds averaged: University of Nevada Cooperative Extension."""


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
    interval_days: int = 365
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
        In calf, or may be.
    sure_in_calf : bool
        Found in calf by a check, or sold as such; otherwise a bull or a service is all that speaks for it.
    due : date or None
        Expected day of calving, where she is in calf.
    brief_due : date or None
        When she would be due from a few days with a bull, in which most do not hold: not `in_calf`.
    gestation : int
        Days she carries a calf.
    weight_kg : float or None
        Her weight at bull-in, weighed or expected.
    weighed : Reason or None
        What that weight rests on.
    mature_weight_kg : float or None
        What cows of her kind weigh at 5-10 years.
    left_on : date or None
        Day she left or died, or will leave.
    kept_back : str or None
        The keeper's reason for not breeding her; empty text when none was given.
    twin : {"probable", "confirmed", "tested_free"} or None
        What is known of a heifer born twin to a male, alive or dead: as a freemartin.
    open_last : Reason or None
        That she was with a bull last season and did not hold.
    culls : tuple of Reason
        What her records give as reasons to cull her.
    not_bred_through : (str, date) or None
        A medicine whose label or vet forbids breeding, and the last day of that.
    medicine_through : date or None
        Last day of a medicine period for meat.
    apart : (date, date or None) or None
        Since when she is in quarantine, and until when.
    """

    born: date | None = None
    precision: str = "day"
    calvings: int = 0
    last_calved: date | None = None
    in_calf: bool = False
    sure_in_calf: bool = False
    due: date | None = None
    brief_due: date | None = None
    gestation: int = GESTATION
    weight_kg: float | None = None
    weighed: Reason | None = None
    mature_weight_kg: float | None = None
    left_on: date | None = None
    kept_back: str | None = None
    twin: str | None = None
    open_last: Reason | None = None
    culls: tuple[Reason, ...] = ()
    not_bred_through: tuple[str, date] | None = None
    medicine_through: date | None = None
    apart: tuple[date, date | None] | None = None

    @property
    def has_calved(self) -> bool:
        """Whether she ever has."""
        return self.calvings > 0 or self.last_calved is not None


@dataclass(frozen=True)
class Readiness:
    """Whether a female may be bred.

    Attributes
    ----------
    ok : bool
    code : str or None
        Why she may not: the first of ``left``, ``chosen``, ``in_calf``, ``too_young``, ``other``,
        ``medicine`` that holds.
    reasons : tuple of Reason
        What bars her, all of it, the first the one of `code`; where she may be bred, the cautions.
    facts : tuple of Reason
        What the answer rests on: her age, weight, calving, the day by which she should be in calf.
    """

    ok: bool
    code: str | None
    reasons: tuple[Reason, ...]
    facts: tuple[Reason, ...] = ()


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

    Raises
    ------
    ValueError
        If the season ends before it begins.
    """
    if season[1] < season[0]:
        raise ValueError("The bull's last day must not be before his first.")
    found = [
        (LEFT, _left(female, season)),
        (CHOSEN, _kept_back(female)),
        (IN_CALF, _in_calf(female, season, rules)),
        *_heifer(female, season, rules),
        (MEDICINE, _no_breeding(female, season)),
    ]
    bars = [(code, bar) for code, bar in found if bar is not None]
    facts = (*_age_and_weight(female, season, rules), *_calving(female, season, rules))
    if bars:
        return Readiness(False, bars[0][0], tuple(bar for _, bar in bars), facts)
    return Readiness(True, None, tuple(_cautions(female, season, rules)), facts)


# ---------------------------------------------------------------- what bars her


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
    why = "In calf and due {due}: not on heat again before the bull leaves on {out}."
    if not female.sure_in_calf:
        why = (
            "May be in calf and due {due}, not on heat again before the bull leaves on {out}: "
            "have her checked."
        )
    return Reason("in_calf", why, {"due": female.due, "out": season[1]})


def _heifer(female: Candidate, season: Season, rules: Rules) -> list[tuple[str, Reason | None]]:
    """Return what bars a female that has not calved; one that is in calf is not judged by age or weight."""
    if female.has_calved:
        return []
    barren = (OTHER, None if female.sure_in_calf else _freemartin(female))
    if female.in_calf:
        return [barren]
    return [barren, _too_young(female, season, rules), (TOO_YOUNG, _too_light(female, rules))]


def _freemartin(female: Candidate) -> Reason | None:
    if female.twin == "confirmed":
        return Reason("freemartin", "A freemartin, confirmed: barren.")
    if female.twin == "probable":
        why = "Twin to a male, so probably a freemartin: have her tested before breeding."
        return Reason("freemartin", why)
    return None


def _too_young(female: Candidate, season: Season, rules: Rules) -> tuple[str, Reason | None]:
    if female.born is None:
        why = "Age not known: ask, and enter when she was born; a year will do."
        return OTHER, Reason("age_unknown", why)
    months, wanted = _months(female.born, female.precision, season[0]), _wanted_months(rules)
    if months >= wanted:
        return TOO_YOUNG, None
    one = "1 month old at bull-in; {wanted} months wanted."
    why = one if months == 1 else "{months} months old at bull-in; {wanted} wanted."
    return TOO_YOUNG, Reason("too_young", why, {"months": months, "wanted": wanted})


def _too_light(female: Candidate, rules: Rules) -> Reason | None:
    share = _share(female)
    if share is None or share >= rules.acceptable_share:
        return None
    facts = {"share": int(100 * share), "wanted": round(100 * rules.ready_share)}
    return Reason("too_light", "{share} % of mature weight at bull-in; {wanted} % wanted.", facts)


def _no_breeding(female: Candidate, season: Season) -> Reason | None:
    if female.not_bred_through is None or female.not_bred_through[1] < season[0]:
        return None
    product, through = female.not_bred_through
    why = "Not to be bred through {day} after {product}, by its label or the vet."
    return Reason("medicine_forbids", why, {"day": through, "product": product})


# ---------------------------------------------------------------- what speaks against it


def _cautions(female: Candidate, season: Season, rules: Rules) -> list[Reason]:
    found = [] if female.has_calved or female.in_calf else [_weight_caution(female, rules)]
    found += [_low_chance(female, season, rules), _later_each_year(female, season, rules), female.open_last]
    if not female.has_calved and not female.sure_in_calf and female.twin == "tested_free":
        why = "Twin to a male and tested as none: that is no proof; see that she comes on heat."
        found.append(Reason("twin_tested", why))
    if female.brief_due is not None:
        why = "With a bull for a few days: she may be in calf and due {due}; have her checked."
        found.append(Reason("brief", why, {"due": female.brief_due}))
    found += [_medicine(female, season), _quarantine(female, season)]
    told = {reason.code for reason in found if reason is not None}
    # Found open stands in her reasons to be culled as well.
    culls = tuple(r for r in female.culls if not (r.code == "open" and "open_last" in told))
    if culls:
        found.append(Reason("culls", "She has reasons to be culled: {reasons}", {"reasons": culls}))
    return [reason for reason in found if reason is not None]


def _weight_caution(female: Candidate, rules: Rules) -> Reason | None:
    if female.weight_kg is None:
        return Reason("no_weight", "No weight to go by: judged by age alone.")
    share = _share(female)
    if share is None:
        why = "No cow's weight to hold hers against: judged by age alone; weigh grown cows, or see Settings."
        return Reason("no_mature_weight", why)
    if share >= rules.ready_share:
        return None
    facts = {"share": int(100 * share), "wanted": round(100 * rules.ready_share)}
    return Reason("light", "{share} % of mature weight at bull-in; {wanted} % is better.", facts)


def _low_chance(female: Candidate, season: Season, rules: Rules) -> Reason | None:
    """Return the caution for a cow that calves too late to have a good chance before the bull leaves."""
    calving = _last_calving(female)
    if calving is None or (days := (season[1] - calving).days) >= rules.low_chance_days:
        return None
    why = "Only {days} days from calving to the bull's last day: a low chance this season."
    return Reason("low_chance", why, {"days": max(days, 0)})


def _later_each_year(female: Candidate, season: Season, rules: Rules) -> Reason | None:
    """Return the caution for a cow that cannot keep her yearly calving, whatever the bull does."""
    by = _in_calf_by(female, season, rules)
    calving = _last_calving(female)
    if by is None or calving is None:
        return None
    if by < season[0]:
        why = (
            "To calve within {n} days of her last she had to be in calf by {by}; the bull comes on {bull_in}."
        )
        return Reason("late_for_a_year", why, {"by": by, "bull_in": season[0], "n": rules.interval_days})
    heat = calving + timedelta(days=rules.first_heat_days)
    if by < heat:
        why = "To calve within {n} days of her last she must be in calf by {by}; no heat before {heat}."
        return Reason("late_for_a_year", why, {"by": by, "heat": heat, "n": rules.interval_days})
    return None


def _in_calf_by(female: Candidate, season: Season, rules: Rules) -> date | None:
    """Return the last day for a calf a year; None where she has not calved or has missed a year already."""
    calving = _last_calving(female)
    if calving is None or (season[0] - calving).days >= rules.interval_days:
        return None
    return latest_conception(calving, female.gestation, rules.interval_days)


def _medicine(female: Candidate, season: Season) -> Reason | None:
    if female.medicine_through is None or female.medicine_through < season[0]:
        return None
    why = "In a medicine period through {day}: read the label on breeding, or ask your vet."
    return Reason("medicine", why, {"day": female.medicine_through})


def _quarantine(female: Candidate, season: Season) -> Reason | None:
    if female.apart is None:
        return None
    since, until = female.apart
    if until is None:
        why = "In quarantine since {day}, with no last day written."
        return Reason("quarantine", why, {"day": since})
    if until < season[0]:
        return None
    return Reason("quarantine", "In quarantine through {day}.", {"day": until})


# ---------------------------------------------------------------- what it rests on


def _age_and_weight(female: Candidate, season: Season, rules: Rules) -> list[Reason]:
    if female.has_calved or female.in_calf:
        return []
    found = []
    if female.born is not None:
        months = _months(female.born, female.precision, season[0])
        values = {"months": months, "wanted": _wanted_months(rules)}
        found.append(Reason("age", "{months} months old at bull-in; bred from {wanted}.", values))
    share = _share(female)
    if share is not None:
        facts = {
            "share": int(100 * share),
            "kg": female.weight_kg,
            "mature": female.mature_weight_kg,
            "weighed": female.weighed or Reason("weighed", ""),
        }
        why = "{kg:.0f} kg at bull-in, {share} % of a grown cow's {mature:.0f} kg. {weighed}"
        found.append(Reason("weight", why, facts))
    return found


def _calving(female: Candidate, season: Season, rules: Rules) -> list[Reason]:
    calving = _last_calving(female)
    if calving is None:
        return []
    found = []
    days = (season[1] - calving).days
    if days >= 0:
        why = "Calved {day}, {days} days before the bull's last day."
        if female.in_calf:
            why = "Due {day}, {days} days before the bull's last day."
        found.append(Reason("calving", why, {"day": calving, "days": days}))
    by = _in_calf_by(female, season, rules)
    if by is not None and _later_each_year(female, season, rules) is None:
        why = "To calve again within {n} days of her last: in calf by {by}."
        found.append(Reason("in_calf_by", why, {"by": by, "n": rules.interval_days}))
    return found


def _last_calving(female: Candidate) -> date | None:
    return female.due if female.in_calf else female.last_calved


def _share(female: Candidate) -> float | None:
    if female.weight_kg is None or not female.mature_weight_kg:
        return None
    return female.weight_kg / female.mature_weight_kg


def _months(born: date, precision: str, on: date) -> int:
    return max(0, age_months(latest(born, precision), on))


def _wanted_months(rules: Rules) -> int:
    return max(rules.breeding_months, rules.never_under_months)
