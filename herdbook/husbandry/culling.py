"""Why a female might be culled: the reasons that her records give. Never an order, a rank or a score."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType

from herdbook.husbandry.days import age_months, earliest
from herdbook.husbandry.reasons import Reason


@dataclass(frozen=True)
class CullRules:
    """From where a record gives a reason; each a setting. Where each comes from stands in `CULL_SOURCES`."""

    late_days: int = 42
    age_years: int = 12
    udder_up_to: float = 3
    teat_up_to: float = 3
    feet_up_to: float = 3
    feet_from: float = 8
    temper_from: float = 4
    poor_ratio: float = 90.0
    poor_calves: int = 2
    open_times: int = 2


CULL_SOURCES: Mapping[str, str] = MappingProxyType(
    {
        "late_days": "common practice: in or after the third 21-day period of the season",
        "age_years": "common practice, no source",
        "udder_up_to": "BIF scale, 9 tight to 1 pendulous; that 1-3 is poor: common practice",
        "teat_up_to": "BIF scale, 9 very small to 1 very large; that 1-3 is poor: common practice",
        "feet_up_to": "BIF scale 1-9 with 5 ideal; that 1-3 is poor: common practice",
        "feet_from": "BIF scale 1-9 with 5 ideal; that 8-9 is poor: common practice",
        "temper_from": "BIF docility scale, 4 flighty to 6 worst; that these are poor: common practice",
        "poor_ratio": "common practice, no source",
        "poor_calves": "common practice, no source: one calf tells little of a cow",
        "open_times": "trade press, 2013: an open cow may be rolled to the other season once, not twice",
    }
)


@dataclass(frozen=True)
class Scored:
    """A score of one kind ("udder", "teat", "feet", "claw", "temper") on its scale ("1-9", "1-6")."""

    day: date
    kind: str
    value: float
    scale: str


@dataclass(frozen=True)
class LostCalf:
    """A calf or pregnancy lost: "aborted", "stillborn" or "died"."""

    day: date
    how: str


@dataclass(frozen=True)
class FemaleRecord:
    """What bears on keeping one female.

    Parameters
    ----------
    born, precision : date or None, str
        Her birth.
    open_on : date, optional
        The check that found her open, if nothing since says that she may be in calf.
    calved_on, season_start : date, optional
        Her latest calving, and the first day of the herd's calving season in which it fell.
    expected, next_start : date, optional
        When she is due, and the first day of the calving season in which that falls.
    lost : tuple of LostCalf
        In her latest season.
    scores : tuple of Scored
        Any; the latest of each kind counts.
    calf_ratios : tuple of float
        Her calves' weaning weight ratios (100 is the mean of the calf's group).
    open_after : tuple of date
        The checks that found her open after a time with a bull, see `exposures.found_open`.
    """

    born: date | None = None
    precision: str = "day"
    open_on: date | None = None
    calved_on: date | None = None
    season_start: date | None = None
    expected: date | None = None
    next_start: date | None = None
    lost: tuple[LostCalf, ...] = ()
    scores: tuple[Scored, ...] = ()
    calf_ratios: tuple[float, ...] = ()
    open_after: tuple[date, ...] = ()


RULES = CullRules()


def cull_reasons(record: FemaleRecord, on: date, rules: CullRules = RULES) -> tuple[Reason, ...]:
    """Return the reasons that a female's records give for culling her, with their day and evidence.

    They stand in the order in which keepers commonly weigh them (common practice): open, open again, lost
    calf, late,
    age, udder, feet, temper, poor calves. They are for the keeper to judge. A cull that may be in calf: check
    first.
    """
    reasons: list[Reason] = []
    if record.open_on is not None and record.open_on <= on:
        reasons.append(Reason("open", "Found open on {day}.", {"day": record.open_on}))
    failed = [day for day in record.open_after if day <= on]
    if len(failed) >= rules.open_times:
        template = "Found open after {n} times with a bull, first on {first}, last on {last}."
        values = {"n": len(failed), "first": min(failed), "last": max(failed)}
        reasons.append(Reason("open_again", template, values))
    reasons += [_lost(calf) for calf in record.lost if calf.day <= on]
    reasons += _late(record, on, rules)
    reasons += _age(record, on, rules)
    reasons += _scores(record, on, rules)
    if len(record.calf_ratios) >= rules.poor_calves:
        mean = math.fsum(record.calf_ratios) / len(record.calf_ratios)
        if mean < rules.poor_ratio:
            template = "Her {n} calves averaged {mean:.0f} against 100 for their groups."
            reasons.append(Reason("poor_calves", template, {"n": len(record.calf_ratios), "mean": mean}))
    return tuple(reasons)


def _lost(calf: LostCalf) -> Reason:
    match calf.how:
        case "aborted":
            template = "Lost her pregnancy on {day}."
        case "stillborn":
            template = "Calf born dead on {day}."
        case _:
            template = "Calf died on {day}."
    return Reason("lost_calf", template, {"day": calf.day, "how": calf.how})


def _late(record: FemaleRecord, on: date, rules: CullRules) -> list[Reason]:
    reasons = []
    limit = timedelta(days=rules.late_days)
    if record.calved_on is not None and record.season_start is not None and record.calved_on <= on:
        late = record.calved_on - record.season_start
        if late >= limit:
            template = "Calved late: {day}, {n} days into the season."
            reasons.append(Reason("late", template, {"day": record.calved_on, "n": late.days}))
    if record.expected is not None and record.next_start is not None:
        late = record.expected - record.next_start
        if late >= limit:
            template = "Due late: {day}, {n} days into the season."
            reasons.append(Reason("due_late", template, {"day": record.expected, "n": late.days}))
    return reasons


def _age(record: FemaleRecord, on: date, rules: CullRules) -> list[Reason]:
    first = None if record.born is None else earliest(record.born, record.precision)
    if first is None or (years := age_months(first, on) // 12) < rules.age_years:
        return []
    if record.precision == "day":
        return [Reason("age", "{years} years old: look at her teeth.", {"years": years})]
    return [Reason("age", "May be {years} years old: look at her teeth.", {"years": years})]


def _scores(record: FemaleRecord, on: date, rules: CullRules) -> list[Reason]:
    latest: dict[str, Scored] = {}
    for score in sorted(record.scores, key=lambda score: score.day):
        if score.day <= on:
            latest[score.kind] = score
    reasons = []
    for kind, score in latest.items():
        template = _poor(kind, score, rules)
        if template is not None:
            values = {"value": score.value, "scale": score.scale, "day": score.day}
            reasons.append(Reason("feet" if kind == "claw" else kind, template, values))
    order = ("udder", "teat", "feet", "temper")
    return sorted(reasons, key=lambda reason: order.index(reason.code))


def _poor(kind: str, score: Scored, rules: CullRules) -> str | None:
    """Return the sentence for a score that gives a reason, or None.

    Udder, teats and feet count on the 1-9 scale only, since 3 of 5 is not poor; temper has one scale.
    """
    value = score.value
    match kind, score.scale:
        case "udder", "1-9" if value <= rules.udder_up_to:
            return "Udder {value:g} of 9 on {day}: slack."
        case "teat", "1-9" if value <= rules.teat_up_to:
            return "Teats {value:g} of 9 on {day}: large."
        case "feet" | "claw", "1-9" if value <= rules.feet_up_to or value >= rules.feet_from:
            return "Feet {value:g} of 9 on {day}, where 5 is ideal."
        case "temper", _ if value >= rules.temper_from:
            return "Temper {value:g} of 6 on {day}: take care with her."
        case _:
            return None
