"""Which females may be bred this season, by what the book knows of each."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

from sqlalchemy import Connection, select

from herdbook.husbandry.days import age_months
from herdbook.husbandry.gestation import Expected
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import Candidate, Readiness, may_be_bred
from herdbook.services.breeds import days_for
from herdbook.services.facts import AnimalFacts, Herd, present
from herdbook.services.queries.butcher import weight_now
from herdbook.services.queries.clear import clear_of
from herdbook.services.queries.company import alerts_of, rules_of, too_young_heifers
from herdbook.services.queries.culls import reasons_to_cull
from herdbook.services.queries.due import breeds_of_bulls, due_rules, expected_for
from herdbook.services.settings import BookSettings
from herdbook.store import tables as t

Season = tuple[date, date]

PAST_DUE = timedelta(days=60)
"""A female this far past her expected day no longer counts as in calf for the sort."""

LAST_SEASON = timedelta(days=183)
"""Company with bulls and services within so long before the last of them count as one season. Our choice."""

MATURE_YEARS = (5, 10)
"""A mature cow is 5 to 10 years old: extension texts on heifer development."""


@dataclass(frozen=True)
class Standing:
    """Whether a female may be bred, whether she counts as a heifer, and what cannot wait."""

    readiness: Readiness
    heifer: bool
    alerts: tuple[Reason, ...] = ()


def standings(
    conn: Connection, herd: Herd, settings: BookSettings, season: Season, on: date
) -> dict[int, Standing]:
    """Return how each female of the herd stands towards the season."""
    females = [facts for facts in herd.values() if facts.sex == "F"]
    breeds = breeds_of_bulls(conn, females)
    # A run that is only planned, as by a sort accepted today, puts nobody in calf yet.
    figures = due_rules(settings)
    told = {f.id: expected_for(replace(f, planned=[]), on, settings, figures, breeds) for f in females}
    coming = {key: due for key, due in told.items() if due is not None and due.expected >= on - PAST_DUE}
    culls = reasons_to_cull(conn, herd, {key: due.expected for key, due in coming.items()}, on, settings)
    apart, mature = _quarantined(conn, on), mature_weight(herd, on, settings)
    rules = rules_of(settings)
    beside = too_young_heifers(herd, on, rules)
    found = {}
    for facts in females:
        due = coming.get(facts.id)
        candidate = replace(
            _candidate(facts, due, season[0], settings),
            mature_weight_kg=mature,
            open_last=open_last(facts, told[facts.id], facts.id in coming),
            culls=culls.get(facts.id, ()),
            apart=apart.get(facts.id),
        )
        found[facts.id] = Standing(
            may_be_bred(candidate, season, rules),
            heifer=not facts.has_calved
            and (not candidate.in_calf or due is None or due.expected > season[0]),
            alerts=alerts_of(facts, beside, herd, on),
        )
    return found


def _candidate(facts: AnimalFacts, due: Expected | None, bull_in: date, settings: BookSettings) -> Candidate:
    now = weight_now(facts, bull_in, settings.usual_gain)
    hardly = due is not None and due.hardly
    return Candidate(
        born=facts.born,
        precision=facts.born_precision,
        calvings=max(len(facts.calvings), int(facts.has_calved)),
        last_calved=facts.calvings[-1].day if facts.calvings else None,
        in_calf=due is not None and not hardly,
        sure_in_calf=due is not None and (due.confirmed or facts.statement is not None),
        due=due.expected if due and not hardly else None,
        brief_due=due.expected if due and hardly else None,
        gestation=due.days if due else days_for(facts.breed, None, settings.gestation_days),
        weight_kg=now.kg if now else None,
        weighed=now.rests_on if now else None,
        left_on=facts.leaves,
        kept_back=facts.do_not_breed,
        twin=facts.freemartin,
        not_bred_through=_not_bred_through(facts),
        medicine_through=clear_of(facts, settings).running_to,
    )


def _not_bred_through(facts: AnimalFacts) -> tuple[str, date] | None:
    """Return the medicine that forbids breeding longest, and through which day."""
    forbids = [
        (treated.last_day + timedelta(days=math.ceil(treated.no_breeding_days)), treated.product)
        for treated in facts.treatments
        if treated.no_breeding_days
    ]
    if not forbids:
        return None
    through, product = max(forbids)
    return product, through


def open_last(facts: AnimalFacts, told: Expected | None, coming: bool) -> Reason | None:
    """Return that she was with a bull last season and did not hold, told with its days.

    A check found her open, or the last day for a calf of it is long past and none is written.
    """
    opened = facts.found_open
    if opened is None and (told is None or coming):
        return None
    ended = facts.ended[0] if facts.ended else date.min
    before = opened or date.max
    days = [(s.day, s.day) for s in facts.services] + [(r.first, r.last or r.first) for r in facts.runs]
    days = [(first, last) for first, last in days if ended < last and first <= before]
    if not days:
        return None if opened is None else Reason("open_last", "Found open on {day}.", {"day": opened})
    last = max(last for _, last in days)
    first = min(first for first, end in days if end >= last - LAST_SEASON)
    values = {"first": first, "last": last}
    if opened is None:
        why = "With a bull or served from {first} to {last}, and no calf is written since."
        return Reason("open_last", why, values)
    why = "With a bull or served from {first} to {last}, and found open on {day}."
    return Reason("open_last", why, {**values, "day": opened})


def _quarantined(conn: Connection, on: date) -> Mapping[int, tuple[date, date | None]]:
    """Return since when animals here are in quarantine and until when, the last word of each."""
    q = t.columns(t.Quarantine)
    query = select(q.animal_id, q.day, q.until).where(q.day <= on, q.animal_id.in_(present(on)))
    return {animal: (since, until) for animal, since, until in conn.execute(query.order_by(q.day, q.id))}


def mature_weight(herd: Herd, on: date, settings: BookSettings) -> float | None:
    """Return what the herd's grown cows weigh: the setting, else the mean of those weighed, else None."""
    if settings.mature_kg is not None:
        return settings.mature_kg
    weights: Sequence[float] = [
        facts.weighings[-1].kg
        for facts in herd.values()
        if facts.has_calved and facts.weighings and facts.born
        if MATURE_YEARS[0] <= age_months(facts.born, on) // 12 <= MATURE_YEARS[1]
    ]
    return sum(weights) / len(weights) if weights else None
