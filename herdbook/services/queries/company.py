"""Who is with whom: the groups, calves at foot with their dams, and bulls where they run.

The one place that says which heifers are too young to be bred and with an entire male.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from sqlalchemy import ColumnElement, Connection, exists, or_, select

from herdbook.husbandry.classes import AnimalClass
from herdbook.husbandry.mishaps import (
    can_conceive_from,
    can_sire_from,
    mated_too_young,
    too_young_beside_male,
)
from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.season import GESTATION, RULES, Rules
from herdbook.services.facts import AnimalFacts, Herd, here_on, load_herd
from herdbook.services.saying import listed
from herdbook.services.settings import BookSettings, load_settings
from herdbook.store import tables as t

Place = tuple[str, int]
_NOWHERE: Place = ("no group", 0)

YEAR = timedelta(days=366)
BORNE = timedelta(days=GESTATION + 60)
"""So long after being with a bull, a heifer that has not calved did not conceive of it."""


def rules_of(settings: BookSettings) -> Rules:
    """Return the book's rules for who may be bred."""
    return Rules(
        breeding_months=settings.breed_from_months,
        ready_share=settings.breed_from_share,
        acceptable_share=settings.breed_caution_share,
        low_chance_days=settings.low_chance_days,
        interval_days=settings.calving_interval_days,
    )


def too_young_heifers(herd: Herd, on: date, rules: Rules = RULES) -> dict[int, list[int]]:
    """Return the heifers that can conceive, are too young to, and are with entire males; with those males.

    Together are animals of one group, calves at foot where their dam is, and what runs with a bull. Animals
    in no group at all count as together, because a small herd that keeps no groups is one; only grown bulls
    without a group are taken to be by themselves, since their company is written as bull runs.
    """
    males: dict[Place, list[AnimalFacts]] = defaultdict(list)
    for facts in herd.values():
        if facts.sex == "M" and facts.castrated is None and facts.born is not None:
            place = _place(facts, herd)
            alone = place == _NOWHERE and facts.class_on(on) is AnimalClass.BULL
            if not alone and _can_sire(facts, on, rules):
                males[place].append(facts)
    found: dict[int, list[int]] = {}
    for facts in herd.values():
        if facts.sex == "F" and facts.born is not None and not facts.has_calved:
            running = [male for male in _running_with(facts, herd, on) if _can_sire(male, on, rules)]
            near = [*males[_place(facts, herd)], *running]
            # Each of them is old enough, so that one speaks for all: a large herd has very many pairs.
            if near and _mishap(facts, near[0], on, rules):
                found[facts.id] = sorted({male.id for male in near})
    return found


def alerts_of(
    facts: AnimalFacts, beside: Mapping[int, Sequence[int]], herd: Herd, on: date
) -> tuple[Reason, ...]:
    """Return what cannot wait about a heifer: males that she is too young to be with, and that she was mated.

    Parameters
    ----------
    beside : mapping of animal to males
        As `too_young_heifers` has it.
    """
    found = []
    if males := beside.get(facts.id):
        why = (
            "Too young to be bred, and with an entire male ({males}): part them, or castrate. "
            "If she may have been served, ask your vet soon."
        )
        tags = listed([herd[male].tag for male in males])
        found.append(Reason("too_young_beside_male", why, {"males": tags}))
    if mated := mated_young(facts, on):
        found.append(mated)
    return tuple(found)


def mated_young(facts: AnimalFacts, on: date) -> Reason | None:
    """Return the alert for a heifer that may be in calf since she was too young, the youngest day of it."""
    if facts.sex != "F" or facts.born is None or facts.has_calved:
        return None
    settled = max(
        [day for day in (facts.found_open, *facts.losses[-1:]) if day is not None], default=date.min
    )
    begins = can_conceive_from(facts.born, facts.born_precision) or date.min
    days = [s.day for s in facts.services]
    days += [max(run.first, begins) for run in facts.runs if max(run.first, begins) <= (run.last or on)]
    for day in sorted(day for day in days if settled < day <= on <= day + BORNE):
        if reason := mated_too_young(facts.born, facts.born_precision, day):
            return reason
    return None


def alerts_among(
    conn: Connection, on: date, animals: Collection[int] | None = None
) -> dict[int, tuple[Reason, ...]]:
    """Return the alerts of heifers that are here, without reading the rest of the herd.

    Parameters
    ----------
    animals : collection of int, optional
        Only these; all that are here when not given.
    """
    rules = rules_of(load_settings(conn))
    young = _young(conn, on, animals, rules)
    if not young:
        return {}
    herd = load_herd(conn, on, _with_dams(conn, on, young), measured=False)
    places = {_place(herd[animal], herd) for animal in young}
    running = {bull for animal in young for run in herd[animal].runs for bull in run.sires}
    males = _males(conn, on, places, {bull for bull in running if isinstance(bull, int)}, rules)
    others = [male for male in _with_dams(conn, on, males) if male not in herd]
    herd.update(load_herd(conn, on, others, measured=False))
    beside = too_young_heifers(herd, on, rules)
    told = {animal: alerts_of(herd[animal], beside, herd, on) for animal in young}
    return {animal: reasons for animal, reasons in told.items() if reasons}


def _young(conn: Connection, on: date, animals: Collection[int] | None, rules: Rules) -> list[int]:
    """Return the females here that have not calved, of an age at which an alert could hold."""
    a, c = t.columns(t.Animal), t.columns(t.Calving)
    # A year more, because a birth known by its year is stored as the first of January; and what a mating
    # while she was too young may still bring.
    oldest = on - timedelta(days=31 * rules.breeding_months + 366) - BORNE
    query = select(a.id).where(
        a.sex == "F", a.born > oldest, a.born <= on, _is_here(on), ~exists().where(c.animal_id == a.id)
    )
    if animals is not None:
        query = query.where(a.id.in_(animals))
    return list(conn.scalars(query))


def _is_here(on: date) -> ColumnElement[bool]:
    s, h = t.columns(t.Stay), t.columns(t.Holding)
    own = select(h.id).where(h.ours)
    return exists().where(s.animal_id == t.columns(t.Animal).id, here_on(on), s.holding_id.in_(own))


def _with_dams(conn: Connection, on: date, animals: Collection[int]) -> list[int]:
    """Return these animals, and of those not weaned their dams, with whom they are."""
    a, w = t.columns(t.Animal), t.columns(t.Weaning)
    weaned = select(w.animal_id).where(w.animal_id.in_(animals), w.day <= on)
    dams = select(a.dam_id).where(a.id.in_(animals), a.dam_id.is_not(None), a.id.not_in(weaned))
    return list({*animals, *conn.scalars(dams)})


def _males(
    conn: Connection, on: date, places: Collection[Place], running: Collection[int], rules: Rules
) -> list[int]:
    """Return the entire males here, old enough, that could be at any of these places, or run with them."""
    a, m, c = t.columns(t.Animal), t.columns(t.Membership), t.columns(t.Castration)
    lasting = (m.from_day <= on) & (m.to_day.is_(None) | (m.to_day > on))
    inside = select(m.animal_id).where(
        lasting, m.group_id.in_([key for kind, key in places if kind == "group"])
    )
    near: list[Any] = [a.id.in_(running), a.id.in_(inside), a.dam_id.in_(inside)]
    if _NOWHERE in places:
        # Grown bulls without a group are by themselves; a birth known by its year may be a year off.
        near.append((a.born > on - 3 * YEAR) & ~exists().where(m.animal_id == a.id, lasting))
    cut = exists().where(c.animal_id == a.id, c.day <= on, c.method != "rig")
    again = exists().where(c.animal_id == a.id, c.day <= on, c.method == "rig")
    query = select(a.id).where(
        a.sex == "M",
        a.born <= on - timedelta(days=30 * rules.male_alert_months),
        _is_here(on),
        or_(~cut, again),
        or_(*near),
    )
    return list(conn.scalars(query))


def _can_sire(male: AnimalFacts, on: date, rules: Rules) -> bool:
    """Whether a male of known age is old enough for a mishap."""
    if male.born is None:
        return False
    begins = can_sire_from(male.born, male.born_precision, rules)
    return begins is None or begins <= on


def _mishap(female: AnimalFacts, male: AnimalFacts, on: date, rules: Rules) -> bool:
    if female.born is None or male.born is None:
        return False
    alert = too_young_beside_male(
        female.born, male.born, on, female.born_precision, male.born_precision, rules
    )
    return alert is not None


def _place(facts: AnimalFacts, herd: Herd) -> Place:
    """Return the group an animal is in; an unweaned calf without one is where its dam is."""
    dam = herd.get(facts.dam) if facts.dam is not None else None
    if facts.group is None and facts.weaned is None and dam is not None and not facts.has_calved:
        facts = dam
    return _NOWHERE if facts.group is None else ("group", facts.group[0])


def _running_with(facts: AnimalFacts, herd: Herd, on: date) -> list[AnimalFacts]:
    bulls = [
        b for run in facts.runs if run.first <= on and (run.last is None or on <= run.last) for b in run.sires
    ]
    return [herd[bull] for bull in bulls if isinstance(bull, int) and bull in herd]
