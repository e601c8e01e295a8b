"""Who is with whom: the groups, calves at foot with their dams, and bulls where they run.

The one place that says which heifers are too young to be bred and with an entire male. `too_young_heifers`
asks it of a herd whose facts are read; `alerts_among` and `newly_beside` read no more of the herd than what
stands where these animals do.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping, Sequence
from datetime import date, timedelta

from sqlalchemy import ColumnElement, Connection, exists, false, or_, select

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

    Together are animals of one group, calves at foot where their dam is, and what runs with a bull, calves
    at foot too. Animals in no group at all count as together, because a small herd that keeps no groups is
    one; only grown bulls without a group are taken to be by themselves, since their company is written as
    bull runs.
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
    young = _young(conn, on, rules, animals)
    if not young:
        return {}
    herd = load_herd(conn, on, _with_dams(conn, on, young), measured=False)
    males = _males(conn, on, rules, {_place(facts, herd) for facts in herd.values()}, _bulls_of(herd))
    _add(conn, herd, males, on)
    beside = too_young_heifers(herd, on, rules)
    told = {animal: alerts_of(herd[animal], beside, herd, on) for animal in young}
    return {animal: reasons for animal, reasons in told.items() if reasons}


def newly_beside(
    conn: Connection, on: date, animals: Collection[int], change: Callable[[Herd], None]
) -> tuple[dict[int, list[int]], Herd]:
    """Return the heifers that a change of these animals would bring together with males, and the herd then.

    Parameters
    ----------
    on : date
        The day on which they would be together.
    animals : collection of int
        What is moved, weaned or put to a bull; calves at foot go with their dams.
    change : callable
        Puts the change into the facts of a herd, adds to it what comes, or marks it as here.
    """
    rules = rules_of(load_settings(conn))
    moving = _with_dams(conn, on, {*animals, *_at_foot(conn, on, animals)})
    before, after = (load_herd(conn, on, moving, measured=False) for _ in range(2))
    change(after)
    places = {_place(facts, herd) for herd in (before, after) for facts in herd.values()}
    near = {*_young(conn, on, rules, places=places), *_males(conn, on, rules, places, _bulls_of(after))}
    for herd in (before, after):
        _add(conn, herd, near, on)
        for animal in [key for key, facts in herd.items() if facts.here_since is None]:
            del herd[animal]
    was = too_young_heifers(before, on, rules)
    now = too_young_heifers(after, on, rules)
    new = {key: [male for male in males if male not in was.get(key, ())] for key, males in now.items()}
    return {key: males for key, males in new.items() if males}, after


def _add(conn: Connection, herd: Herd, animals: Collection[int], on: date) -> None:
    """Add animals to a herd, with the dams of those at foot; what is in it stays as it is."""
    others = [animal for animal in _with_dams(conn, on, animals) if animal not in herd]
    herd.update(load_herd(conn, on, others, measured=False))


def _bulls_of(herd: Herd) -> set[int]:
    """Return the bulls of all runs of a herd."""
    bulls = {bull for facts in herd.values() for run in facts.runs for bull in run.sires}
    return {bull for bull in bulls if isinstance(bull, int)}


def _young(
    conn: Connection,
    on: date,
    rules: Rules,
    animals: Collection[int] | None = None,
    places: Collection[Place] | None = None,
) -> list[int]:
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
    if places is not None:
        query = query.where(or_(_in_groups(places, on), _without_group(places, on)))
    return list(conn.scalars(query))


def _in_groups(places: Collection[Place], on: date) -> ColumnElement[bool]:
    """Return the condition on `Animal` that it is in one of these groups, or its dam is."""
    a, m = t.columns(t.Animal), t.columns(t.Membership)
    groups = [key for kind, key in places if kind == "group"]
    inside = select(m.animal_id).where(_lasting(on), m.group_id.in_(groups))
    return or_(a.id.in_(inside), a.dam_id.in_(inside))


def _without_group(places: Collection[Place], on: date) -> ColumnElement[bool]:
    """Return the condition on `Animal` that it is in no group, if that is one of these places."""
    a, m = t.columns(t.Animal), t.columns(t.Membership)
    return ~exists().where(m.animal_id == a.id, _lasting(on)) if _NOWHERE in places else false()


def _lasting(on: date) -> ColumnElement[bool]:
    m = t.columns(t.Membership)
    lasting: ColumnElement[bool] = (m.from_day <= on) & (m.to_day.is_(None) | (m.to_day > on))
    return lasting


def _at_foot(conn: Connection, on: date, dams: Collection[int]) -> list[int]:
    """Return the calves of these dams that are not weaned."""
    a, w = t.columns(t.Animal), t.columns(t.Weaning)
    weaned = exists().where(w.animal_id == a.id, w.day <= on)
    return list(conn.scalars(select(a.id).where(a.dam_id.in_(dams), _is_here(on), ~weaned)))


def _males(
    conn: Connection, on: date, rules: Rules, places: Collection[Place], running: Collection[int]
) -> list[int]:
    """Return the entire males here, old enough, that could be at any of these places, or run with them.

    Grown bulls without a group are by themselves; a birth known by its year may be a year off.
    """
    a, c = t.columns(t.Animal), t.columns(t.Castration)
    cut = exists().where(c.animal_id == a.id, c.day <= on, c.method != "rig")
    again = exists().where(c.animal_id == a.id, c.day <= on, c.method == "rig")
    alone = _without_group(places, on) & (a.born > on - 3 * YEAR)
    query = select(a.id).where(
        a.sex == "M",
        a.born <= on - timedelta(days=30 * rules.male_alert_months),
        _is_here(on),
        or_(~cut, again),
        or_(a.id.in_(running), _in_groups(places, on), alone),
    )
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
    if facts.group is None and (dam := _dam_of_foot(facts, herd)) is not None:
        facts = dam
    return _NOWHERE if facts.group is None else ("group", facts.group[0])


def _dam_of_foot(facts: AnimalFacts, herd: Herd) -> AnimalFacts | None:
    """Return the dam with whom a calf still is."""
    if facts.dam is None or facts.weaned is not None or facts.has_calved:
        return None
    return herd.get(facts.dam)


def _running_with(facts: AnimalFacts, herd: Herd, on: date) -> list[AnimalFacts]:
    """Return the bulls with whom a female runs, or her dam while she is at foot."""
    dam = _dam_of_foot(facts, herd)
    follows = dam is not None and facts.group is None and facts.class_on(on) is AnimalClass.CALF
    runs = (*facts.runs, *(dam.runs if dam is not None and follows else ()))
    bulls = [b for run in runs if run.first <= on and (run.last is None or on <= run.last) for b in run.sires]
    return [herd[bull] for bull in bulls if isinstance(bull, int) and bull in herd]
